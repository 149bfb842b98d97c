"""What a valid case asks for that its model cannot show, or that was perhaps not meant."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ..device.features import FEATURES
from ..errors import InputError
from .schema import WHOLE_FOOT_MESH_MM, feature_keys
from .values import Case

SLICES = {"sagittal": "the slice along the foot", "rearfoot": "the slice across the heel"}
ASK_INSTEAD = {"sagittal": "rearfoot or foot3d", "rearfoot": "sagittal or foot3d"}
ONLY_AS_HEIGHT = {
    "rearfoot_post": "for its tilt", "medial_heel_skive": "for its slope",
    "lateral_heel_skive": "for its slope", "forefoot_wedge": "for its tilt",
    "lateral_extension": "for the ray that it leaves out",
}
"""Features that work across the foot: along it they are a height; what other models show of them."""
ONLY_WHOLE = ("forefoot_wedge", "lateral_extension", "relief", "fascia_groove")
"""Features that the other slice does not show instead."""
CARRIED_BODYWEIGHTS = 5.0
"""Largest upward force with which the whole foot has been solved (benchmarks/RESULTS.md)."""
LEAST_MM = 0.05
"""A feature that changes no height of a slice by more is not seen in it."""


def cautions(case: Case) -> tuple[str, ...]:
    """Return a sentence, without full stop, for each thing to be careful about.

    Mesh, force and percentages first, then the features of each device.
    """
    found = [*_mesh(case), *_force(case), *_shares(case)]
    for device in case.devices:
        found += [f"device {device.name!r}: {sentence}" for sentence in _features(case, device)]
    return tuple(dict.fromkeys(found))


def _mesh(case: Case) -> Iterator[str]:
    if case.model == "foot3d" and case.solver.mesh_size_mm < WHOLE_FOOT_MESH_MM:
        yield (f"mesh_size_mm = {case.solver.mesh_size_mm:g}: a finer mesh of the whole foot takes two "
               "(5 to 6 mm) to five times (below 5 mm) as long, with a device perhaps more; "
               f"mesh_size_mm = {WHOLE_FOOT_MESH_MM:g} takes the coarse one")


def _force(case: Case) -> Iterator[str]:
    most = max(instant.vertical_bodyweights for instant in case.activity.instants())
    if case.model == "foot3d" and most > CARRIED_BODYWEIGHTS:
        yield (f"a force of {most:g} body weights: on its usual tissue the whole foot has not been "
               f"solved with more than {CARRIED_BODYWEIGHTS:g}; expect a long solve that may find no "
               "equilibrium, or ask the sagittal slice")


def _shares(case: Case) -> Iterator[str]:
    """Percentages of the case outside its devices that look like shares of one."""
    choice, search = case.activity, case.studies.search
    rows = choice.activity.instants
    if choice.own and max(i.stance_percent for i in rows) <= 1.0 and len(rows) > 1:
        yield "every stance_percent is 1 or less: write 0 to 100 if shares were meant"
    elif not isinstance(choice.at, str):
        yield from _share("activity.at", choice.at)
    if search is not None:
        yield from _share("search.reduction_percent", search.reduction_percent)
        for number, limit in enumerate(search.limits, 1):
            yield from _share(f"search.limit[{number}].rise_percent", limit.rise_percent)


def _share(name: str, value: float | None) -> Iterator[str]:
    if value is not None and 0.0 < value < 1.0:
        yield (f"{name} = {value:g} is less than one percent; "
               f"write {100.0 * value:g} if a share was meant")


def _features(case: Case, device) -> Iterator[str]:
    shows = _shown_by_slice(case, device) if case.model in SLICES else None
    for number, entry in enumerate(device.features):
        kind = FEATURES[entry.kind]
        title = kind.title.partition(",")[0]
        ask = "foot3d" if entry.kind in ONLY_WHOLE else ASK_INSTEAD.get(case.model)
        for key in feature_keys(kind):
            if key.unit == "percent":
                yield from _share(key.name, entry.parameters[key.name])
        if entry.parameters[kind.size] == 0.0:
            yield f"the {title} has no effect ({kind.size} = 0)"
        elif shows is not None and not shows(number):
            yield f"{SLICES[case.model]} does not show the {title}; ask {ask}"
        elif case.model == "sagittal" and entry.kind in ONLY_AS_HEIGHT:
            yield (f"{SLICES[case.model]} sees the {title} only as a change of height under its "
                   f"line; ask {ask} {ONLY_AS_HEIGHT[entry.kind]}")


def _shown_by_slice(case: Case, device):
    """Return a function that says whether a feature, by its place in the list, changes the slice."""
    import numpy as np

    from ..device.outline import edges_z_mm, ends_x_mm
    from ..device.surface import heights
    from ..foot.landmarks import landmarks, slice_x_mm, slice_z_of_x

    dimensions = case.person.dimensions()
    marks = landmarks(dimensions)
    if case.model == "sagittal":
        z_of_x = slice_z_of_x(dimensions)
        x = np.linspace(*ends_x_mm(device, marks, z_of_x, step_mm=0.5), 600)
        z = z_of_x(x)
    else:
        across = slice_x_mm(dimensions)
        z = np.linspace(*(float(edge) for edge in edges_z_mm(device, marks, across)), 200)
        x = np.full_like(z, across)

    def faces(features):
        field = heights(replace(device, features=features), marks, x, z)
        return np.stack([field.top_mm, field.bottom_mm])

    try:
        whole = faces(device.features)
    except InputError:
        return None

    def shows(number: int) -> bool:
        rest = device.features[:number] + device.features[number + 1:]
        return bool(np.abs(whole - faces(rest)).max() > LEAST_MM)

    return shows
