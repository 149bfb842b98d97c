"""The part of the page with the pictures of one instant: sections, or maps of the whole foot's sole."""

from __future__ import annotations

from ..case.values import Case
from ..outcome.quantities import PATCH_MM
from ..outcome.values import Comparison, Outcome
from .answer import leading_row
from .charts import pressure_profile
from .pictures import Limits, cable_names, colour_bar, is_target, section_picture, shared_limits
from .print_map import print_map
from .ranking import ON_PAPER, order
from .style import png_uri, svg_uri
from .tables import figure, image, text
from .wording import capital, failure_text, labels, percent_text, phrase, value_text

PICTURE_DPI, MANY_PICTURES, LOW_DPI = 180, 6, 110


def picture_part(case: Case, shown: Comparison) -> str:
    """Return key, one picture per condition and the pressure profile; nothing without pictures."""
    limits = shared_limits(shown.outcomes)
    if limits is None:
        return ""
    printed = case.model == "foot3d"
    beyond = set(order(case, shown)[ON_PAPER:])
    figures = "".join(
        _one(case, shown, i, name, limits, "section beyond" if i in beyond else "section")
        for i, name in enumerate(labels(shown.outcomes)))
    profile = figure(
        image(svg_uri(pressure_profile(shown.outcomes, limits, case.model)),
              "Contact pressure along the sole, one line per condition", "chart"),
        "Largest contact pressure across the sole, from heel to toes, averaged over a patch of "
        f"{PATCH_MM:g} mm, all conditions." if printed
        else f"Contact pressure on the sole, averaged over {PATCH_MM:g} mm, all conditions.", "profile")
    bar = figure(
        image(svg_uri(colour_bar(limits, printed)), "Colour bar of "
              f"{'contact pressure' if printed else 'equivalent stress'}, 0 to "
              f"{limits.stress_kPa:.0f} kPa", "bar"), text(_key(case, shown, printed)), "key")
    return f'{bar}<div class="pictures {case.model}">{figures}</div>{profile}'


def _key(case: Case, shown: Comparison, printed: bool) -> str:
    mapped = printed and any(_scene(o) is not None for o in shown.outcomes)
    target = any(is_target(n, case.target) for o in shown.outcomes if o.picture is not None
                 for n in o.picture.cables)
    medial = "left" if case.person.side == "right" else "right"
    words = ["One colour range, one pressure range and one line width per newton for all pictures."]
    if mapped:
        words = [f"One colour range for all maps. The sole from above, toes up, medial side on the "
                 f"{medial}, coloured by the pressure on it. Numbers: largest pressures, kPa, averaged "
                 f"over a patch of {PATCH_MM:g} mm. Cross: centre of pressure."]
    elif printed:
        words.append("The sole from above, medial side down, coloured by the pressure on it.")
    else:
        words.append("Pale: bones. Grey: device.")
    if not mapped:
        words.append("Blue-green lines: tendons and ligaments, thicker with more tension, dotted where "
                     "slack" + ("; strong blue: the target." if target else "."))
        words.append(f"Under each foot: {'largest ' if printed else ''}contact pressure on the sole; "
                     "dashed: centre of pressure.")
    return " ".join(words)


def _one(case: Case, shown: Comparison, i: int, name: str, limits: Limits, kind: str) -> str:
    outcome, row = shown.outcomes[i], leading_row(case, shown)
    if outcome.failure is not None or outcome.picture is None:
        why = failure_text(outcome) or "no picture"
        return (f'<figure class="{kind} failed"><figcaption><strong>{text(name)}</strong> '
                f"{text(why)}</figcaption></figure>")
    dpi = PICTURE_DPI if len(shown.outcomes) <= MANY_PICTURES else LOW_DPI
    if _scene(outcome) is not None:
        peak = float(_scene(outcome).pressure_kPa.max(initial=0.0))
        drawn = image(png_uri(print_map(outcome, limits, case.person.side), dpi),
                      f"Map of the contact pressure under the foot, {name}: up to {peak:.0f} kPa")
    else:
        drawn = image(png_uri(section_picture(outcome, limits, case.target, case.model), dpi),
                      _alt(outcome, name, case.model == "foot3d"))
    value = "" if row is None or row.values[i] is None else (
        f"{capital(phrase(row.tissue, row.quantity))}: "
        f"{value_text(row.values[i], row.quantity, unit=True)}"
        + (f" ({percent_text(row.changes_percent[i])})" if i else ""))
    return figure(drawn, f"<strong>{text(name)}</strong><br>{text(value)}", kind)


def _scene(outcome: Outcome):
    return None if outcome.picture is None else outcome.picture.scene


def _alt(outcome: Outcome, name: str, printed: bool) -> str:
    peak = max((float(p.max(initial=0.0)) for _, p in outcome.picture.contacts.values()), default=0.0)
    return (f"{'Print' if printed else 'Deformed slice'} of the foot, {name}: "
            f"{'' if printed else 'stress in the soft tissue, bones, '}cables "
            f"({', '.join(cable_names(outcome))}) and contact pressure up to {peak:.0f} kPa")
