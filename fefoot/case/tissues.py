"""The tissues a case can ask about: plain title, models that hold them, quantities reported."""

from __future__ import annotations

from dataclasses import dataclass

MODELS = ("sagittal", "rearfoot", "foot3d")


@dataclass(frozen=True)
class Tissue:
    """A tissue: plain title, the models that contain it, the quantities computed for it."""

    title: str
    models: tuple[str, ...]
    quantities: tuple[str, ...]


_SAGITTAL, _FOOT = ("sagittal",), ("foot3d",)
_LONG, _ACROSS, _ALL = ("sagittal", "foot3d"), ("rearfoot", "foot3d"), MODELS
_CABLE = ("tension_N", "stretch_percent")
_SOLE = ("peak_pressure_kPa", "mean_pressure_kPa", "load_share_percent")
_PAD = (*_SOLE, "strain_energy_density_kPa", "compression_percent")
_JOINT = ("force_N", "moment_Nm", "rotation_degrees")
_LINK = ("force_N", "rotation_degrees")

TISSUES: dict[str, Tissue] = {
    "plantar_fascia": Tissue("plantar fascia", _LONG, _CABLE),
    "achilles": Tissue("Achilles tendon", _LONG, ("tension_N",)),
    "spring_ligament": Tissue("spring (calcaneonavicular) ligament", _LONG, _CABLE),
    "long_plantar_ligament": Tissue("long plantar ligament", _LONG, _CABLE),
    "short_plantar_ligament": Tissue("short plantar ligament", _LONG, _CABLE),
    "tibialis_posterior": Tissue("tibialis posterior tendon", _ALL, _CABLE),
    "tibialis_anterior": Tissue("tibialis anterior tendon", _LONG, ("tension_N",)),
    "toe_flexors": Tissue("long toe flexor tendons", _SAGITTAL, _CABLE),
    "heel_pad": Tissue("heel pad", _ALL, _PAD),
    "metatarsal_pad": Tissue("soft tissue under the metatarsal heads", _LONG, _PAD),
    "midfoot_sole": Tissue("sole under the midfoot", _LONG, _SOLE),
    "shaft_sole": Tissue("sole under the metatarsal shafts", _LONG, _SOLE),
    "toe_pads": Tissue("soft tissue under the toes", _LONG, _SOLE),
    "deltoid_ligament": Tissue("deltoid ligament", _ACROSS, _CABLE),
    "calcaneofibular_ligament": Tissue("calcaneofibular ligament", _ACROSS, _CABLE),
    "subtalar_joint": Tissue("subtalar joint", _ALL, _JOINT),
    "ankle_joint": Tissue("ankle joint", _LONG, _JOINT),
    "midtarsal_joint": Tissue("midtarsal joint", _SAGITTAL, _JOINT),
    "tarsometatarsal_joint": Tissue("tarsometatarsal joint", _SAGITTAL, _JOINT),
    "metatarsophalangeal_joint": Tissue("metatarsophalangeal joint", _SAGITTAL, _JOINT),
    "metatarsal_shaft": Tissue("metatarsal shaft", _SAGITTAL, ("bending_stress_MPa",)),
    **{f"metatarsal_shaft_{ray}": Tissue(f"shaft of metatarsal {ray}", _FOOT, ("bending_stress_MPa",))
       for ray in range(1, 6)},
    **{f"metatarsal_pad_{ray}": Tissue(f"soft tissue under metatarsal head {ray}", _FOOT, _PAD)
       for ray in range(1, 6)},
    **{f"plantar_fascia_{ray}": Tissue(f"slip {ray} of the plantar fascia", _FOOT, _CABLE)
       for ray in range(1, 6)},
    "deep_transverse_ligament": Tissue(
        "deep transverse metatarsal ligament, its most loaded part", _FOOT, _CABLE),
    "flexor_hallucis_longus": Tissue("flexor hallucis longus tendon", _FOOT, _CABLE),
    "flexor_digitorum_longus": Tissue("flexor digitorum longus tendons", _FOOT, _CABLE),
    "peroneus_longus": Tissue("peroneus longus tendon", _FOOT, _CABLE),
    "peroneus_brevis": Tissue("peroneus brevis tendon", _FOOT, _CABLE),
    "talonavicular_joint": Tissue("talonavicular joint", _FOOT, _LINK),
    "calcaneocuboid_joint": Tissue("calcaneocuboid joint", _FOOT, _LINK),
    "cuboid_midfoot_joint": Tissue("joint of cuboid and medial midfoot", _FOOT, _LINK),
    **{f"tarsometatarsal_joint_{ray}": Tissue(f"tarsometatarsal joint {ray}", _FOOT, _LINK)
       for ray in range(1, 6)},
    **{f"metatarsophalangeal_joint_{ray}": Tissue(
        f"metatarsophalangeal joint {ray}", _FOOT, _LINK) for ray in range(1, 6)},
    "whole_foot": Tissue(
        "the whole foot", _ALL,
        ("pressure_centre_percent", "pressure_centre_mm", "navicular_drop_mm")),
}
"""Every tissue by name; tension is positive."""


def tissues_of(model: str) -> tuple[str, ...]:
    """Return the names of the tissues that a model contains."""
    return tuple(name for name, tissue in TISSUES.items() if model in tissue.models)
