"""Published findings beside the whole foot in 3D.

The same rules as for the sections. Coarse mesh; the arch's stiffness factors are those fitted to the
sagittal slice, nothing is fitted to the whole foot. Runs are kept in a store, so that a stopped table
goes on.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator
from itertools import pairwise

from .directions import BARE, COARSE_MM, HEAD, HEEL, KOGLER, WEDGES, Condition
from .findings.arch import CARAVAGGI_FASCIA, ERDEMIR, HEEL_DOWN, NIELSEN
from .findings.feet import HEEL_LOAD, PEAK, WEIGHT_N, MASS_kg, change_percent
from .findings.forefoot import CHANG, HOLMES, LEE
from .findings.heel import SHORTEN, WEARING
from .findings.insoles import GOSKE
from .findings.lines import COLUMNS, line
from .findings.record import MET, MISSED, QUARTER, SIGN, SPREAD, UNSOLVED, Finding, near
from .findings.standing import CAVANAGH, PARTS
from .kept import rows_of

BARE_FOOT = "barefoot, 70 kg, whole foot"
STANDING, STRIKE, PUSH = ("standing", None), ("walking", HEEL_LOAD), ("walking", PEAK)
SHIPPED = {
    **{f"wedge {name}": Condition(WEDGES, name)
       for name in ("plain", "lateral_wedge", "medial_wedge")},
    **{f"head {name}": Condition(HEAD, name) for name in ("plain", "pad")},
    **{f"heel {name}": Condition(HEEL, name) for name in (BARE, "flat_6", "moulded_6")},
}
"""Conditions that the directions solve as well."""
CHEUNG = "Cheung, Zhang & An 2006, Clin Biomech 21:194-203"
LEG_MODEL = ("straight paths of the leg model of Rajagopal et al. 2016, IEEE Trans Biomed Eng "
             "63:2068-2079, whose subtalar axis (37.2 and 8.7 degrees) is taken here (4b)")
LEG_AXIS = {"inclination_degrees": 37.2, "deviation_degrees": 8.7}
ARMS_mm = {
    "achilles": (-41.4, 4.2), "tibialis_anterior": (42.6, 8.9), "tibialis_posterior": (-8.9, 17.3),
    "flexor_hallucis_longus": (-13.7, 14.7), "flexor_digitorum_longus_2": (-7.7, 16.9),
    "peroneus_longus": (-9.0, -24.5), "peroneus_brevis": (-6.0, -26.1)}
"""Ankle + dorsiflexes, subtalar + inverts, mm; the soleus for the Achilles tendon, slip to toe 2."""
TISSUE = ("the pad of middle stiffness gives way far and bottoms out; published constants of the same "
          "tissue differ 16 to 50 fold")
FRONT = ("the heel does not rise and the toes do not bend in a static instant, so that shafts and toes "
         "carry what the heads would")


def runs() -> dict:
    """Return the runs by name."""
    from fefoot.case.reader import case_from_dict
    from fefoot.study.run import Run

    out = {}
    for name, at in (STANDING, STRIKE, PUSH):
        case = case_from_dict({
            "title": "finding", "model": "foot3d", "target": "plantar_fascia",
            "person": {"body_mass_kg": MASS_kg}, "solver": {"mesh_size_mm": COARSE_MM},
            "activity": {"name": name} | ({} if at is None else {"at": at})})
        label = name if at is None else f"{name} {at:g}"
        out[label] = Run.of(case, None, case.activity.instants()[0])
    return out | {name: condition.run() for name, condition in SHIPPED.items()}


def value_of(known: dict) -> Callable[[str, str, str], float]:
    """Return a function of run, tissue and quantity; nan where there is no number."""
    def value(run, tissue, quantity):
        row = known[run]
        return math.nan if row is None else row.values.get((tissue, quantity), math.nan)

    return value


def standing_rows(value) -> list[Finding]:
    """Shares, pressures, arch and tendon in standing."""
    shares = {part: sum(value("standing", t, "load_share_percent") for t in tissues)
              for part, (_, tissues) in PARTS.items()}
    heel, fore = (value("standing", t, "peak_pressure_kPa") for t in ("heel_pad", "metatarsal_pad"))
    drop = value("standing", "whole_foot", "navicular_drop_mm")
    condition = f"{BARE_FOOT}, half the weight on the foot"
    small = ("the shafts and, pressed down by the fascia's pull, the toes carry what the heads would; "
             "softer or stiffer ligaments did not change that much")
    rolls = ("the ligaments' factors were fitted to the sagittal slice; in space the midfoot also "
             "rolls in")
    return [
        *(Finding(f"share of the load, {part} [%]", f"{share} %", *near(share), shares[part],
                  CAVANAGH, "recalled", f"{condition}; the centre of pressure is computed from these "
                  "four shares", QUARTER, small) for part, (share, _) in PARTS.items()),
        Finding("peak pressure, heel [kPa]", "139 kPa", *near(139.0), heel, CAVANAGH, "recalled",
                f"{condition}; pressure averaged over 8 mm", QUARTER, TISSUE),
        Finding("peak pressure, forefoot [kPa]", "53 kPa", *near(53.0), fore, CAVANAGH, "recalled",
                f"{condition}; pressure averaged over 8 mm", QUARTER, small),
        Finding("navicular drop in standing [mm]", "3.6 to 8.1 mm, healthy means", 3.6, 8.1, drop,
                NIELSEN, "read", f"{condition}, from the unloaded foot (the test: from sitting)",
                "published range of means", rolls),
        Finding("Achilles force over the force on the foot", "0.75 matches the measured centre of "
                "pressure best (350 N on the foot)", *near(0.75),
                value("standing", "achilles", "tension_N") / (0.5 * WEIGHT_N), CHEUNG, "read",
                f"{condition} (343 N)", QUARTER, "other tendons share the ankle moment here")]


def walking_rows(value) -> list[Finding]:
    """Pressures and tensions in walking."""
    strike, push = f"walking {HEEL_LOAD:g}", f"walking {PEAK:g}"
    slips = [value(push, f"plantar_fascia_{ray}", "tension_N") for ray in range(1, 6)]
    known = all(map(math.isfinite, slips))
    falls = float(sum(a > b for a, b in pairwise(slips))) if known else math.nan
    at = f"{BARE_FOOT}, walking at {PEAK:g} % of stance"
    return [
        Finding("peak pressure, heel [kPa]", "517 +/- 158 kPa at 1.5 m/s", 359.0, 675.0,
                value(strike, "heel_pad", "peak_pressure_kPa"), SHORTEN, "read",
                f"{BARE_FOOT}, walking at {HEEL_LOAD:g} % of stance, over 8 mm", SPREAD, TISSUE),
        Finding("peak pressure, forefoot [kPa]", "737 +/- 226 kPa at 1.5 m/s", 511.0, 963.0,
                value(push, "metatarsal_pad", "peak_pressure_kPa"), SHORTEN, "read",
                f"{at}, over 8 mm", SPREAD, FRONT),
        Finding("compression of the heel pad [%]", "10.3 of 19 mm, 54 %", *near(54.0),
                value(strike, "heel_pad", "compression_percent"), WEARING, "recalled",
                f"{BARE_FOOT}, walking at {HEEL_LOAD:g} % of stance", QUARTER, TISSUE),
        Finding("fascia tension at push-off [body weights]", "0.96 +/- 0.36 (cadaver, walking)",
                0.60, 1.32, value(push, "plantar_fascia", "tension_N") / WEIGHT_N, ERDEMIR, "read",
                f"{at}; the factors of the slice were fitted to this number there, not here", SPREAD,
                HEEL_DOWN),
        Finding("steps from slip to slip in which the tension falls, medial to lateral",
                "decreasing medial to lateral", 4.0, 4.0, falls,
                CARAVAGGI_FASCIA, "read", f"{at}: {', '.join(f'{s:.0f}' for s in slips)} N",
                "order alone",
                "the stiffness is shared out evenly, and the middle rays are pressed hardest here"),
        Finding("tibialis posterior in stance [N]", "150 to 500 N", 150.0, 500.0,
                value(push, "tibialis_posterior", "tension_N"), "10 to 35 % of the largest force",
                "recalled", at, "published range",
                "tendons other than the Achilles carry a resting force and a stiffness here, and are "
                "not activated")]


def device_rows(value) -> list[Finding]:
    """What devices change."""
    def change(start, end, tissue, quantity):
        return change_percent(value(end, tissue, quantity), value(start, tissue, quantity))

    wedge = "68 kg, walking at 55 % of stance, wedge of 4 degrees (6 in the paper, cadavers in a frame)"
    slip, fascia = ("plantar_fascia_1", "tension_N"), ("plantar_fascia", "tension_N")
    sides = ("wedge plain", "wedge lateral_wedge"), ("wedge plain", "wedge medial_wedge")
    rolls = ("the wedge turns the whole forefoot and rolls the arch with it; in a frame the hindfoot "
             "is held and the force comes straight down")
    pad = ("74 kg, walking at 70 % of stance, flat soft EVA of 8 mm, pad 6 mm high, 18 mm behind the "
           "heads")
    heads = change("head plain", "head pad", "metatarsal_pad", "peak_pressure_kPa")
    bare = f"heel {BARE}", "heel flat_6", "heel moulded_6"
    flat, moulded = (change(bare[0], one, "heel_pad", "peak_pressure_kPa") for one in bare[1:])
    heel = f"whole foot of {HEEL}, standing, soft EVA of 6 mm"
    goske = ("peak pressure moves with how the load spreads between heel and forefoot, which the "
             "published heel model does not have")
    return [
        *(Finding(f"change of the {what}, {side} forefoot wedge [%]", published, low, high,
                  change(*runs_, *key), KOGLER, "read", wedge, SIGN, rolls)
          for side, published, low, high, runs_ in (
              ("lateral", "strain falls", -math.inf, 0.0, sides[0]),
              ("medial", "strain rises", 0.0, math.inf, sides[1]))
          for what, key in (("slip to the hallux", slip), ("whole fascia", fascia))),
        Finding("change of the peak under the shafts, pad [%]", "rises", 0.0, math.inf,
                change("head plain", "head pad", "shaft_sole", "peak_pressure_kPa"), CHANG, "read", pad,
                SIGN),
        Finding("change of the peak under heads 1 and 2, pad [%]", "mild fall", -math.inf, 0.0, max(
            change("head plain", "head pad", f"metatarsal_pad_{ray}", "peak_pressure_kPa")
            for ray in (1, 2)), CHANG, "read", f"{pad}; the larger of the two changes", SIGN,
                "the pad lifts the shafts, and the heads are pressed down beside it"),
        Finding("change of the peak under the heads, pad [%]",
                "-60 to -12 % (women), -44 to +28 % (men)", -60.0, 28.0, heads, HOLMES, "read", pad,
                "published range"),
        Finding("change of the peak under the heads, pad [%]", "-17 % (dome of 5 mm)", *near(-17.0),
                heads, LEE, "read", f"{pad}; the paper's dome lies 5 mm in front of the line of heads",
                QUARTER, "another place of the pad"),
        Finding("change of the heel's peak, flat insole [%]", "-24 % (simulation)", *near(-24.0), flat,
                GOSKE, "read", heel, QUARTER, goske),
        Finding("change of the heel's peak, moulded insole [%]", "up to -44 % (simulation)",
                *near(-44.0), moulded, GOSKE, "read", heel, QUARTER, goske)]


def arm_rows() -> list[Finding]:
    """Moment arms at neutral about the axes of the leg model that they were computed from."""
    from fefoot.foot.moment_arms import moment_arms_mm
    from fefoot.foot.structure3d import structure3d

    ours = moment_arms_mm(structure3d(**LEG_AXIS))
    return [Finding(
        f"moment arm, {name.replace('_', ' ')}, {joint.replace('_', ' ')} [mm]", f"{published} mm",
        *near(published), ours[name][joint], LEG_MODEL, "computed", "reference foot, neutral",
        QUARTER,
        "the skin in front of the ankle lies 31 mm from the axis in this anatomy and the tendon is "
        "kept inside it; the published path is straight and bows out")
        for name, pair in ARMS_mm.items()
        for joint, published in zip(("ankle_joint", "subtalar_joint"), pair, strict=True)]


def studies(known: dict) -> dict[str, list[Finding]]:
    """Return the findings by study."""
    value = value_of(known)
    return {"3D standing": standing_rows(value), "3D walking": walking_rows(value),
            "3D devices": device_rows(value), "3D moment arms": arm_rows()}


def whole_foot_finding_lines(compute: bool = True) -> Iterator[str]:
    """Yield the lines of the table."""
    yield f"\n{' '.join(__doc__.split())}\n\n| {' | '.join(COLUMNS)} |\n|{'---|' * len(COLUMNS)}"
    tally = Counter()
    for name, rows in studies(rows_of(runs(), compute)).items():
        for row in rows:
            tally[row.status] += 1
            yield line(name, row)
    yield f"\n{tally[MET]} met, {tally[MISSED]} missed, {tally[UNSOLVED]} without a solution."
