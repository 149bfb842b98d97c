"""The part of the page that shows each device: plan and sections with dimensions, and its sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ..case.values import Case
from .method import sheet_rows
from .style import svg_uri
from .tables import figure, image, plain_table, text
from .wording import capital

PLAN_MM = 120.0


def device_part(case: Case, sheets: Mapping[str, Iterable[tuple]]) -> str:
    """Return drawings of every device, and its dimensions folded away; nothing without devices."""
    from ..foot.landmarks import landmarks

    if not case.devices:
        return ""
    foot = landmarks(case.person.dimensions())
    side = "left" if case.person.side == "right" else "right"
    parts = [
        '<p class="key">Unloaded. Plan from above, toes up, medial side on the '
        f"{side}; thin lines: height of the top above the ground, every 2 mm; sections across are "
        "seen from behind. Numbers in mm: lengths and widths; on sections the thickness, and in grey "
        "the free height below. fefoot make writes the build sheet and STL files.</p>"]
    for device in case.devices:
        title = capital(device.title or device.name)
        sheet = "" if device.name not in sheets else (
            "<details><summary>Build sheet: all dimensions</summary>"
            f'{plain_table(sheet_rows(sheets[device.name]), kind="pairs")}</details>')
        parts.append(f'<div class="device"><h3>{text(title)}</h3>'
                     f"{_drawings(device, foot, case.person.side, title)}{sheet}</div>")
    return "".join(parts)


def _drawings(device, foot, side: str, title: str) -> str:
    from ..making.drawings import cuts, plan_figure, section_figure

    plan = figure(image(svg_uri(plan_figure(device, foot, side, PLAN_MM)),
                        f"Plan of {title}, dimensioned"), "", "plan")
    sections = "".join(
        figure(image(svg_uri(section_figure(cut, side)),
                     f"Section {cut.letter} of {title}, {cut.title}"),
               f"<b>{text(cut.letter)}</b> {text(cut.title)}", "cut") for cut in cuts(device, foot))
    return f'<div class="drawings">{plan}<div>{sections}</div></div>'
