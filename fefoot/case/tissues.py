"""The tissues a case can ask about: plain title, models that hold them, quantities reported."""

from __future__ import annotations

from dataclasses import dataclass

MODELS = ("sagittal", "rearfoot")


@dataclass(frozen=True)
class Tissue:
    """A tissue: plain title, the models that contain it, the quantities computed for it."""

    title: str
    models: tuple[str, ...]
    quantities: tuple[str, ...]


_SAGITTAL, _REARFOOT, _BOTH = ("sagittal",), ("rearfoot",), MODELS
_CABLE = ("tension_N", "stretch_percent")
_SOLE = ("peak_pressure_kPa", "mean_pressure_kPa", "load_share_percent")
_PAD = (*_SOLE, "strain_energy_density_kPa", "compression_percent")
_JOINT = ("force_N", "moment_Nm", "rotation_degrees")

TISSUES: dict[str, Tissue] = {
    "plantar_fascia": Tissue("plantar fascia", _SAGITTAL, _CABLE),
    "achilles": Tissue("Achilles tendon", _SAGITTAL, ("tension_N",)),
    "spring_ligament": Tissue("spring (calcaneonavicular) ligament", _SAGITTAL, _CABLE),
    "long_plantar_ligament": Tissue("long plantar ligament", _SAGITTAL, _CABLE),
    "short_plantar_ligament": Tissue("short plantar ligament", _SAGITTAL, _CABLE),
    "tibialis_posterior": Tissue("tibialis posterior tendon", _BOTH, _CABLE),
    "tibialis_anterior": Tissue("tibialis anterior tendon", _SAGITTAL, ("tension_N",)),
    "toe_flexors": Tissue("long toe flexor tendons", _SAGITTAL, _CABLE),
    "heel_pad": Tissue("heel pad", _BOTH, _PAD),
    "metatarsal_pad": Tissue("soft tissue under the metatarsal heads", _SAGITTAL, _PAD),
    "midfoot_sole": Tissue("sole under the midfoot", _SAGITTAL, _SOLE),
    "shaft_sole": Tissue("sole under the metatarsal shafts", _SAGITTAL, _SOLE),
    "toe_pads": Tissue("soft tissue under the toes", _SAGITTAL, _SOLE),
    "deltoid_ligament": Tissue("deltoid ligament", _REARFOOT, _CABLE),
    "calcaneofibular_ligament": Tissue("calcaneofibular ligament", _REARFOOT, _CABLE),
    "subtalar_joint": Tissue("subtalar joint", _BOTH, _JOINT),
    "ankle_joint": Tissue("ankle joint", _SAGITTAL, _JOINT),
    "midtarsal_joint": Tissue("midtarsal joint", _SAGITTAL, _JOINT),
    "tarsometatarsal_joint": Tissue("tarsometatarsal joint", _SAGITTAL, _JOINT),
    "metatarsophalangeal_joint": Tissue("metatarsophalangeal joint", _SAGITTAL, _JOINT),
    "metatarsal_shaft": Tissue("metatarsal shaft", _SAGITTAL, ("bending_stress_MPa",)),
    "whole_foot": Tissue(
        "the whole foot", _BOTH,
        ("pressure_centre_percent", "pressure_centre_mm", "navicular_drop_mm")),
}
"""Every tissue by name; tension is positive."""


def tissues_of(model: str) -> tuple[str, ...]:
    """Return the names of the tissues that a model contains."""
    return tuple(name for name, tissue in TISSUES.items() if model in tissue.models)
