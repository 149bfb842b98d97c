"""What a case would solve, in words, with the check of its materials."""

from __future__ import annotations

from collections.abc import Iterator

from ..device.features import FEATURES
from ..material import stability
from .cautions import cautions
from .cost import study_lines
from .schema import DIMENSIONS
from .tissues import TISSUES
from .values import ORIGINS, Case

STANDARD_GRAVITY = 9.80665


def summary(case: Case) -> Iterator[str]:
    """Yield the lines of a summary; material stability is checked over each stated stretch range.

    Stability is a property of the constants, so an unstable material is reported, not refused.
    """
    person, instants = case.person, case.activity.instants()
    yield case.title
    if case.expect:
        yield f"  expected: {case.expect}"
    yield f"  model: {case.model}; target: {TISSUES[case.target].title}"
    yield f"  person: {person.body_mass_kg:g} kg, {person.side} foot"
    for name in DIMENSIONS:
        words = name.removesuffix("_mm").replace("_", " ")
        origin = case.origin(name)
        yield (f"    {words} {getattr(person, name):g} mm"
               + (f" ({origin})" if origin != ORIGINS[0] else ""))
    if case.scan is not None:
        yield f"  scan of a {case.scan.choice.kind}, {case.scan.choice.file}:"
        yield from (f"    {fact}" for fact in case.scan.facts)
    if case.measured_pressure is not None:
        given = case.measured_pressure
        yield (f"  measured pressure, {given.choice.file}: {given.force_N:.0f} N, compared with "
               f"{given.choice.condition} at {given.stance_percent:g} % of stance")
        yield from (f"    {fact}" for fact in given.place.facts)
    yield f"  activity: {case.activity.activity.title}"
    for instant in instants:
        force = instant.vertical_bodyweights * person.body_mass_kg * STANDARD_GRAVITY
        yield (f"    {instant.stance_percent:g} % of stance: {force:.0f} N up, centre of pressure "
               f"at {0.01 * instant.pressure_centre_percent * person.length_mm:.0f} mm")
    yield "  devices: " + ("none, only the bare foot" if not case.devices else "")
    for device in case.devices:
        layers = ", ".join(f"{la.thickness_mm:g} mm {la.material}" for la in device.layers)
        added = ", ".join(FEATURES[entry.kind].title for entry in device.features) or "no features"
        yield f"    {device.name}: {layers}; {added}"
    yield "  materials:"
    for name in case.material_names():
        yield f"    {_stability(case.material(name))}"
    count = (1 + len(case.devices)) * len(instants)
    yield f"  solves: {count}"
    yield from (f"  {line}" for line in study_lines(case))
    found = cautions(case)
    if found:
        yield "  cautions:"
        yield from (f"    {sentence}" for sentence in found)


def _stability(material) -> str:
    import numpy as np

    try:
        with np.errstate(all="ignore"):
            return stability(material, *material.stretch_range).sentence()
    except (ArithmeticError, np.linalg.LinAlgError):
        return f"{material.name}: its stability cannot be computed; check its constants"
