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
_PAD = ("peak_pressure_kPa", "mean_pressure_kPa", "strain_energy_density_kPa")
_JOINT = ("force_N", "moment_Nm")

TISSUES: dict[str, Tissue] = {
    "plantar_fascia": Tissue("plantar fascia", _SAGITTAL, _CABLE),
    "achilles": Tissue("Achilles tendon", _SAGITTAL, ("tension_N",)),
    "spring_ligament": Tissue("spring (calcaneonavicular) ligament", _SAGITTAL, _CABLE),
    "long_plantar_ligament": Tissue("long plantar ligament", _SAGITTAL, _CABLE),
    "short_plantar_ligament": Tissue("short plantar ligament", _SAGITTAL, _CABLE),
    "tibialis_posterior": Tissue("tibialis posterior tendon", _BOTH, _CABLE),
    "toe_flexors": Tissue("long toe flexor tendons", _SAGITTAL, _CABLE),
    "heel_pad": Tissue("heel pad", _BOTH, _PAD),
    "metatarsal_pad": Tissue("soft tissue under the metatarsal heads", _SAGITTAL, _PAD),
    "deltoid_ligament": Tissue("deltoid ligament", _REARFOOT, _CABLE),
    "calcaneofibular_ligament": Tissue("calcaneofibular ligament", _REARFOOT, _CABLE),
    "subtalar_joint": Tissue("subtalar joint", _REARFOOT, _JOINT),
    "ankle_joint": Tissue("ankle joint", _SAGITTAL, _JOINT),
    "midtarsal_joint": Tissue("midtarsal joint", _SAGITTAL, _JOINT),
    "metatarsophalangeal_joint": Tissue("metatarsophalangeal joint", _SAGITTAL, _JOINT),
    "metatarsal_shaft": Tissue("metatarsal shaft", _SAGITTAL, ("bending_stress_MPa",)),
}
"""Every tissue by name; tension is positive."""


def tissues_of(model: str) -> tuple[str, ...]:
    """Return the names of the tissues that a model contains."""
    return tuple(name for name, tissue in TISSUES.items() if model in tissue.models)
