"""Every key a case file can hold, as data: the reader, the listing and the documents use it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..device.device import BASES, LENGTHS, UNDERSIDES
from ..device.features import FEATURES, FeatureKind
from ..device.surface import MINIMUM_LAYER_MM
from ..scan.values import ALIGNMENTS, KINDS, UNITS
from .tissues import MODELS, TISSUES

GIVEN = "given in the case file"
REQUIRED = object()
"""Default of a key that must be written."""


@dataclass(frozen=True)
class Key:
    """One key of a case file.

    Attributes
    ----------
    name : str
    kind : str
        number, integer, text, name, choice, choices, material, instant, point or pair.
        ``text`` is any words; ``name`` is short and safe for a file name; ``material`` is the
        name of a shipped material or of one the case defines.
    doc : str
    default : object
        ``REQUIRED`` when the key must be written.
    unit : str
    low, high : float
        Range of a number, both ends included.
    choices : tuple of str
        Allowed words of a choice, or of a list of them (``choices``).
    """

    name: str
    kind: str
    doc: str
    default: object = REQUIRED
    unit: str = ""
    low: float = 0.0
    high: float = 0.0
    choices: tuple[str, ...] = ()

    @property
    def allowed(self) -> str:
        """The accepted values, in words."""
        if self.kind in ("number", "integer"):
            kind = "a whole number" if self.kind == "integer" else "a number"
            return f"{kind}, {self.low:g} to {self.high:g} {self.unit}".rstrip()
        if self.kind == "choice":
            return ", ".join(repr(choice) for choice in self.choices)
        if self.kind == "choices":
            return f"a list of {', '.join(map(repr, self.choices))}"
        return {
            "text": "words in quotes, on one line",
            "name": "1 to 40 letters, digits, '_' or '-', in quotes",
            "material": "the name of a material, in quotes",
            "instant": "'peak', 'all', or a number, 0 to 100 percent of stance",
            "point": "three numbers, [x, y, z]",
            "pair": "two numbers, [right, down]",
        }[self.kind]


def _number(name, unit, low, high, default, doc):
    return Key(name, "number", doc, default, unit, low, high)


CASE = (
    Key("title", "text", "what the case is about", "untitled case"),
    Key("expect", "text", "what the author expects to see, in one or two sentences", ""),
    Key("model", "choice", "what is solved: a slice, or the whole foot", choices=MODELS),
    Key("target", "choice", "the tissue in question", choices=tuple(TISSUES)),
)
PERSON = (
    _number("body_mass_kg", "kg", 20, 250, REQUIRED, "body mass"),
    Key("side", "choice", "which foot", "right", choices=("right", "left")),
    _number("length_mm", "mm", 190, 320, 255.0, "foot length, heel to longest toe"),
    _number("heel_width_mm", "mm", 49, 81, 65.0, "width of the heel"),
    _number("forefoot_width_mm", "mm", 74, 122, 98.0, "width across the metatarsal heads"),
    _number("heel_pad_mm", "mm", 12.5, 21.5, 17.0, "thickness of the unloaded heel pad"),
    _number("metatarsal_pad_mm", "mm", 8, 14, 11.0, "soft tissue under the metatarsal heads"),
    _number("navicular_height_mm", "mm", 30, 50, 40.0, "height of the navicular, unloaded"),
    Key("plantar_tissue", "material", "material of the soft tissue", "plantar_tissue_firm"),
    _number("subtalar_axis_shift_mm", "mm", -15, 15, 0.0,
            "subtalar axis moved medially (-) or laterally (+)"),
    _number("subtalar_axis_inclination_degrees", "degrees", 15, 70, 42.0,
            "whole foot: subtalar axis above the ground"),
    _number("subtalar_axis_deviation_degrees", "degrees", 0, 50, 23.0,
            "whole foot: subtalar axis medially from the foot's long axis"),
    _number("fascia_stiffness_factor", "", 0.1, 5, 1.0,
            "stiffness of the plantar fascia over the reference"),
)
DIMENSIONS = ("length_mm", "heel_width_mm", "forefoot_width_mm", "heel_pad_mm", "metatarsal_pad_mm",
              "navicular_height_mm")
"""The person's six dimensions of the foot."""
ASSUMED = Key("assumed", "choices", "which of the six dimensions in this table nobody "
              "measured; one that is not written counts as not measured anyway", (), choices=DIMENSIONS)
"""Of the person, besides ``PERSON``."""
ACTIVITY = (
    Key("name", "text", "a shipped activity, or a name for your own instants", "walking"),
    Key("at", "instant", "which instants to solve; 'peak' has the greatest vertical force", "peak"),
    Key("source", "text", "where your own instants come from", GIVEN),
    Key("force_plate", "text", "instead of instants: a CSV file of one step on a force plate, its "
        "path from the case file's folder; the list of activities names its columns", ""),
    Key("force_plate_instants", "integer", "how many instants are read from it, at equal steps of "
        "stance", 19, "", 3, 199),
)
INSTANT = (
    _number("stance_percent", "percent", 0, 100, REQUIRED, "when in stance"),
    _number("vertical_bodyweights", "body weights", 0.05, 12, REQUIRED, "upward force"),
    _number("fore_aft_bodyweights", "body weights", -3, 3, 0.0, "forward force"),
    _number("pressure_centre_percent", "percent", 3, 95, REQUIRED,
            "centre of pressure from the heel, of foot length"),
    _number("shank_angle_degrees", "degrees", -40, 45, 0.0, "shank, leaning forward positive"),
)
DEVICE = (
    Key("name", "name", "short name, for tables and files"),
    Key("title", "text", "what it is, in plain words", ""),
    Key("length", "choice", "full, or up to just behind the metatarsal heads", "full",
        choices=LENGTHS),
    Key("base", "choice", "a plane, the foot's own plantar surface, or the scan", "flat",
        choices=BASES),
    Key("underside", "choice", "solid down to the ground, or following the top (free arch)",
        "flat", choices=UNDERSIDES),
)
SCAN = (
    Key("file", "text", "an STL, PLY or OBJ file, its path from the case file's folder"),
    Key("kind", "choice", "what was scanned; a cast is a positive one, the shape of the foot",
        choices=KINDS),
    Key("unit", "choice", "unit of the file; guessed from its size and stated", "guess",
        choices=UNITS),
    Key("align", "choice", "how it is put in place: automatic, landmarks (when the three below are "
        "given), or as_made (the axes that fefoot make writes)", "automatic", choices=ALIGNMENTS),
    Key("heel", "point", "landmark under the heel's centre, in the file's axes and unit", ()),
    Key("first_head", "point", "landmark under the first metatarsal head", ()),
    Key("fifth_head", "point", "landmark under the fifth metatarsal head", ()),
)
MEASURED_PRESSURE = (
    Key("file", "text", "a CSV grid of pressures in kPa at one instant, its path from the case file's "
        "folder; empty cells were not measured"),
    _number("spacing_mm", "mm", 1, 25, REQUIRED, "distance between neighbouring cells, both ways"),
    Key("condition", "text", "what was under the foot: barefoot, or the name of a device", "barefoot"),
    _number("stance_percent", "percent", 0, 100, (),
            "the instant that was measured, one that is solved"),
    Key("seen_from", "choice", "from where the grid is seen, first row at the top", "above",
        choices=("above", "below")),
    Key("mask_file", "text", "a CSV grid of the same size: 1 where a cell counts, 0 where not", ""),
    Key("heel", "pair", "landmark under the heel's centre, mm from the first cell", ()),
    Key("first_head", "pair", "landmark under the first metatarsal head", ()),
    Key("fifth_head", "pair", "landmark under the fifth metatarsal head", ()),
)
LAYER = (
    Key("material", "material", "what the layer is made of"),
    _number("thickness_mm", "mm", MINIMUM_LAYER_MM, 30, REQUIRED, "thickness of the layer"),
)
SOLVER = (
    _number("mesh_size_mm", "mm", 1.5, 8, 4.0, "size of the elements inside a slice; finer at the "
            "sole. The whole foot has three meshes: from 6 mm on the coarse one is taken, from 5 mm on "
            "a middle one (twice the time), below it the fine one (five times); without this key it is "
            "6 there"),
    Key("contact", "choice",
        "rough (loaded skin does not slip), gripping (friction of the whole slip, without history), "
        "coulomb (step by step), or frictionless", "rough",
        choices=("rough", "gripping", "coulomb", "frictionless")),
    Key("fascia", "choice", "in the sagittal model: a cable, or meshed fibres that press on the "
        "tissue around them (their tensions agree within 10 %; some 30 % more time)", "cable",
        choices=("cable", "meshed")),
    _number("friction", "", 0.05, 1.5, 0.5, "coefficient of friction of gripping and coulomb contact"),
    _number("penalty_factor", "", 0.1, 100, 1.0,
            "factor on the contact stiffness that the augmented Lagrangian starts from"),
    _number("tolerance", "", 1e-11, 1e-6, 1e-9, "residual over applied load at equilibrium"),
)

WHOLE_FOOT_MESH_MM = 6.0
"""Mesh size from which the whole foot takes its coarse mesh, and its default there."""


def solver_keys(model: str | None) -> tuple[Key, ...]:
    """Return the keys of the solver with the defaults of a model."""
    if model != "foot3d":
        return SOLVER
    return tuple(replace(key, default=WHOLE_FOOT_MESH_MM) if key.name == "mesh_size_mm" else key
                 for key in SOLVER)


SECTIONS: dict[str, tuple[Key, ...]] = {
    "": CASE, "person": PERSON, "activity": ACTIVITY, "activity.instant": INSTANT,
    "scan": SCAN, "measured_pressure": MEASURED_PRESSURE, "device": DEVICE,
    "device.layer": LAYER, "solver": SOLVER,
}
"""Keys by table; features and materials bring their own (``feature_keys``, material laws)."""

FEATURE_KIND = Key("kind", "choice", "which feature", choices=tuple(FEATURES))


def feature_keys(kind: FeatureKind) -> tuple[Key, ...]:
    """Return the keys of one kind of feature."""
    return tuple(
        Key(p.name, "choice" if p.choices else "number", p.doc, p.default, p.unit, p.low, p.high,
            p.choices) for p in kind.parameters)
