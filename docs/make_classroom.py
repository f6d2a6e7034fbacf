"""Write what lightsim predicts for docs/classroom.md: its tables, drawings and page: python docs/make_classroom.py

The numbers come from the rig files in docs/classroom. They go into docs/classroom.md and docs/classroom/answers.md,
between the comments that begin and end each table. The page, docs/classroom/compare.html, is what "lightsim compare
--html" writes of the four lights of demonstration 2, with fewer pictures. Takes about a minute.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator, Sequence
from math import hypot
from pathlib import Path
from typing import NamedTuple

from matplotlib.axes import Axes
from matplotlib.patches import Circle, Rectangle

import lightsim
from lightsim.cli.compare import footing
from lightsim.cli.run import Asked
from lightsim.light.light import light_of
from lightsim.measure.report import Report
from lightsim.measure.report import report as plain_report
from lightsim.page.page import Design, page_of
from lightsim.page.pictures import SECTIONS
from lightsim.picture.style import COLOURS, GREY, INK, bare_canvas, settings
from lightsim.rig.library import library_materials
from lightsim.rig.load import LoadedRig, loads, placed

HERE = Path(__file__).parent
FOLDER = HERE / "classroom"
PAGES = (HERE / "classroom.md", FOLDER / "answers.md")
POINTS = 32_768  # paths in each replicate
PAPER = "copy paper"
SHOWN = ("portrait", "highlight", "source", "edge", "hair", "falloff", "rig")  # sections of pictures on the page
_ERROR = 0.01  # asked of the illuminance on the page


class LightOn(NamedTuple):
    """One of the four lights of demonstrations 1 and 2."""

    file: str  # the end of its file's name
    words: str
    side: float  # mm
    away: float  # mm from edge or ball


LIGHTS = (
    LightOn("torch", "torch, no paper", 5, 400),
    LightOn("small-near", "small window, near", 50, 200),
    LightOn("large-far", "large window, far", 100, 400),
    LightOn("large-near", "large window, near", 100, 200),
)
EDGE = 40.0  # mm from edge to screen


class Number(NamedTuple):
    """What lightsim predicts: a value and half of its 95 % interval."""

    value: float
    half_interval: float

    def told(self, digits: int) -> str:
        """With its error bar, both to so many digits behind the point; an error bar is never told as 0."""
        return f"{self.value:.{digits}f} ± {max(self.half_interval, 10.0**-digits):.{digits}f}"


def rig_of(name: str, *, more: str = "") -> LoadedRig:
    """A rig file of the classroom, called by its name alone, wherever this folder lies; more: text put behind it."""
    file = FOLDER / f"{name}.toml"
    return loads(file.read_text(encoding="utf-8") + more, file=file.name, folder=FOLDER)


def report_of(name: str, *, points: int = POINTS, seed: int = 1, more: str = "") -> Report:
    """The report of a rig file of the classroom; more: text put behind it."""
    return plain_report(light_of(placed(rig_of(name, more=more)), points=points, seed=seed))


def number(report: Report, figure: str, *, times: float = 1.0) -> Number:
    """A figure of the report, times a factor. Raises ValueError where it has no value."""
    found = report[figure]
    if found.value is None:
        raise ValueError(f"{report.title}: {figure}: {found.why}")
    return Number(times * found.value, times * (found.half_interval or 0.0))


def shadow(light: LightOn, *, points: int = POINTS) -> Number:
    """Width of the shadow's edge from 10 to 90 % of the light [mm]."""
    return number(report_of(f"shadow-{light.file}", points=points), "shadow.edge_x")


def highlight(light: LightOn, *, points: int = POINTS) -> Number:
    """Width of the highlight in per cent of the ball's."""
    return number(report_of(f"ball-{light.file}", points=points), "highlight.diameter_share", times=100)


def darker(sheets: int, *, points: int = POINTS, more: str = "") -> Number:
    """How many stops a window of so many sheets is darker than one of a single sheet; more: a paper of one's own."""
    lost = [number(report_of(f"sheets-{count}", points=points, more=more), "loss.total") for count in (1, sheets)]
    return Number(lost[1].value - lost[0].value, hypot(*(each.half_interval for each in lost)))


def range_of(sheets: int, middle: float, *, points: int = 2048) -> tuple[float, float]:
    """From where to where darker may go with the paper [stops]: its numbers at their ends, added in quadrature.

    Where both shares would exceed 1, the reflectance gives way.
    """
    paper = library_materials()[PAPER]
    through, back = paper.diffuse_transmittance, paper.diffuse_reflectance
    ranges = [paper.origins[key] for key in ("diffuse_transmittance", "diffuse_reflectance")]
    ends = [(end, back) for end in (ranges[0].low[0], ranges[0].high[0])]
    ends += [(through, min(end, 1 - through)) for end in (ranges[1].low[0], ranges[1].high[0])]
    steps = []
    for passes, returns in ends:
        text = f'\n[material."{PAPER}"]\ndiffuse_transmittance = {passes}\ndiffuse_reflectance = {returns}\n'
        steps.append(darker(sheets, points=points, more=text).value - middle)
    return middle - hypot(*(step for step in steps if step < 0)), middle + hypot(*(step for step in steps if step > 0))


def table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table in Markdown."""
    return "\n".join(f"| {' | '.join(row)} |" for row in (heads, ["---"] * len(heads), *rows))


def shadow_table() -> str:
    """Demonstration 1."""
    rows = [
        (each.words, f"{each.side:g} mm", f"{each.away:g} mm", f"{whole_edge(each):.1f} mm", f"{found.told(1)} mm")
        for each, found in ((each, shadow(each)) for each in LIGHTS)
    ]
    return table(("light", "how wide", "from the edge", "whole blur, by the rule", "10 to 90 %, by lightsim"), rows)


def whole_edge(light: LightOn) -> float:
    """The blur from end to end [mm], by similar triangles."""
    return light.side * EDGE / light.away


def ball_table() -> str:
    """Demonstration 2."""
    rows = [
        (each.words, f"{each.side:g} mm", f"{each.away:g} mm", f"{found.told(1)} %", f"{found.value:.1f} mm")
        for each, found in ((each, highlight(each)) for each in LIGHTS)
    ]
    heads = ("light", "how wide", "from the ball", "highlight, by lightsim", "on a ball 100 mm wide")
    return table(heads, rows)


def sheets_table() -> str:
    """Demonstration 3."""
    through = library_materials()[PAPER].diffuse_transmittance
    rows = []
    for sheets in (1, 2, 3):
        guess = through ** (sheets - 1)
        if sheets == 1:
            rows.append(("one", "0", "", "all", "all"))
            continue
        found = darker(sheets)
        low, high = range_of(sheets, found.value)
        rows.append(
            (
                {2: "two", 3: "three"}[sheets],
                found.told(2),
                f"{low:.1f} to {high:.1f}",
                f"1/{2**found.value:.1f}",
                f"1/{1 / guess:.0f}",
            )
        )
    heads = (
        "sheets",
        "stops darker than one, by lightsim",
        "by what paper it is",
        "light left",
        "if each took as much",
    )
    return table(heads, rows)


TABLES: dict[str, Callable[[], str]] = {"shadow": shadow_table, "ball": ball_table, "sheets": sheets_table}


def with_tables(text: str, tables: dict[str, str]) -> str:
    """The text of a page with its tables made anew. Raises ValueError where it has none of them."""
    marks = re.compile(r"(<!-- begin (\w+)[^>]* -->\n\n).*?(\n\n<!-- end -->)", flags=re.DOTALL)
    if not marks.search(text):
        raise ValueError('no table: a page needs "<!-- begin shadow -->" and "<!-- end -->" around each')
    return marks.sub(lambda found: f"{found[1]}{tables[found[2]]}{found[3]}", text)


def page() -> str:
    """The page that compares the four lights of demonstration 2 on a beetle."""
    asked = Asked(error=_ERROR, seed=1, backward=False)
    designs = []
    for each in LIGHTS:
        loaded = rig_of(f"ball-{each.file}")
        light = lightsim.trace(loaded, error=asked.error, seed=asked.seed)
        report = lightsim.report(light)
        designs.append(Design(loaded, report, light, report.title))
    pictures = [section for section in SECTIONS if section.key in SHOWN]
    return page_of(designs, footing=footing([each.report for each in designs], asked), pictures=pictures)


def drawings() -> Iterator[tuple[str, Callable[[Axes], None], tuple[float, float]]]:
    """Name, what draws it, and width and height in mm of what it shows."""
    yield "shadow", _draw_shadow, (640, 285)
    yield "ball", _draw_ball, (560, 450)
    yield "sheets", _draw_sheets, (560, 250)
    yield "circles", _draw_circles, (560, 210)


def _say(axes: Axes, x: float, y: float, words: str, *, left: bool = False) -> None:
    axes.text(x, y, words, ha="left" if left else "center", va="center", fontsize=10, color=INK)


def _measure(axes: Axes, start: tuple[float, float], end: tuple[float, float], words: str, lift: float) -> None:
    axes.annotate("", start, end, arrowprops={"arrowstyle": "<->", "color": GREY, "lw": 1, "shrinkA": 0, "shrinkB": 0})
    _say(axes, (start[0] + end[0]) / 2, (start[1] + end[1]) / 2 + lift, words)


def _draw_shadow(axes: Axes) -> None:
    """From above: screen at 0, edge 40 before it, window 200 before the edge, lamp."""
    half, window, lamp = 50, 240, 490
    for side in (half, -half):
        axes.plot([window, 0], [side, -side * EDGE / 200], color=COLOURS[5], lw=1.2)
    axes.plot([0, 0], [-95, 95], color=INK, lw=3)
    axes.plot([0, 0], [-10, 10], color=COLOURS[1], lw=6, solid_capstyle="butt")
    axes.plot([EDGE, EDGE], [0, 90], color=COLOURS[0], lw=3)
    for side in (1, -1):
        axes.plot([window, window], [side * half, side * 105], color=INK, lw=4)
    axes.plot([window + 3] * 2, [-70, 70], color=COLOURS[5], lw=2)
    axes.add_patch(Rectangle((lamp, -30), 60, 60, facecolor=COLOURS[5], edgecolor=INK))
    _say(axes, 0, 112, "screen")
    _say(axes, EDGE + 14, 60, "edge", left=True)
    _say(axes, 16, -40, "blur", left=True)
    axes.annotate("", (3, -9), (18, -32), arrowprops={"arrowstyle": "->", "color": COLOURS[1]})
    _say(axes, window, 118, "card with a paper window")
    _say(axes, lamp + 30, 46, "lamp")
    _measure(axes, (0, -112), (EDGE, -112), "40 mm", -16)
    _measure(axes, (EDGE, -112), (window, -112), "200 or 400 mm", -16)
    _measure(axes, (window, -112), (lamp, -112), "250 mm", -16)


def _draw_ball(axes: Axes) -> None:
    """From above: ball at the origin, telephone below it, window 45 degrees to the right."""
    slant = 0.5**0.5
    middle, lamp = 200 * slant, 450 * slant

    def across(centre: float, reach: tuple[float, float]) -> tuple[list[float], list[float]]:
        return [centre - each * slant for each in reach], [-centre - each * slant for each in reach]

    axes.plot([0, lamp], [0, -lamp], color=GREY, lw=0.8, ls="--")
    axes.plot([0, 0], [0, -280], color=GREY, lw=0.8, ls="--")
    axes.scatter([0], [0], s=160, color=INK, zorder=3)
    axes.add_patch(Rectangle((-38, -312), 76, 12, facecolor=COLOURS[0], edgecolor=INK))
    for reach in ((50, 105), (-50, -105)):
        axes.plot(*across(middle, reach), color=INK, lw=4)
    axes.plot(*across(middle + 3, (-70, 70)), color=COLOURS[5], lw=2)
    axes.add_patch(
        Rectangle((lamp, -lamp - 42), 60, 60, angle=45, rotation_point="center", facecolor=COLOURS[5], edgecolor=INK)
    )
    _say(axes, 0, 24, "ball")
    _say(axes, 0, -330, "telephone")
    _say(axes, 240, -96, "card with a\npaper window", left=True)
    _say(axes, lamp + 30, -lamp + 52, "lamp")
    _say(axes, -46, -160, "300 mm")
    _say(axes, 108, -60, "200 or\n400 mm", left=True)
    _say(axes, 200, -270, "250 mm")
    _say(axes, 22, -70, "45°", left=True)


def _draw_sheets(axes: Axes) -> None:
    """The window from the front: three strips; beside it the layers from above."""
    axes.add_patch(Rectangle((0, -105), 210, 210, facecolor="#B08D57", edgecolor=INK))
    for place, shade in enumerate(("#FFF3D0", "#CFC09A", "#9C8F70")):
        axes.add_patch(Rectangle((55 + 100 * place / 3, -50), 100 / 3, 100, facecolor=shade, edgecolor=GREY))
        _say(axes, 55 + 100 * (place + 0.5) / 3, 0, str(place + 1))
    _say(axes, 105, 122, "from the front")
    for sheet, start in enumerate((-70, -17, 17)):
        axes.plot([330 + start, 400], [-10 + 14 * sheet] * 2, color=COLOURS[5], lw=3)
    axes.plot([225, 280], [-26, -26], color=INK, lw=4)
    axes.plot([380, 435], [-26, -26], color=INK, lw=4)
    _say(axes, 330, 122, "from above")
    _say(axes, 412, 18, "sheets,\ntaped flat", left=True)
    _say(axes, 443, -30, "card", left=True)
    _say(axes, 330, 70, "lamp, 250 mm behind")
    _say(axes, 330, -72, "you, about 300 mm before")


def _draw_circles(axes: Axes) -> None:
    """Two empty balls to draw in."""
    for place, words in ((0, "small window, near"), (280, "large window, near")):
        axes.add_patch(Circle((place, 0), 80, facecolor="none", edgecolor=INK, lw=1.2))
        _say(axes, place, 100, words)


def draw(name: str, paint: Callable[[Axes], None], extent: tuple[float, float]) -> None:
    """Write one drawing to docs/classroom."""
    wide, high = extent
    with settings():
        figure, axes = bare_canvas((6.4, 6.4 * high / wide))
        axes.set_position((0, 0, 1, 1))
        paint(axes)
        left, bottom = {"shadow": (-45, -140), "ball": (-90, -400), "sheets": (-15, -115), "circles": (-140, -90)}[name]
        axes.set(xlim=(left, left + wide), ylim=(bottom, bottom + high), aspect="equal")
        axes.set_axis_off()
        figure.savefig(FOLDER / f"{name}.png", dpi=100, metadata={"Software": None}, pil_kwargs={"optimize": True})


def main() -> None:
    """Write all of it."""
    for name, paint, extent in drawings():
        draw(name, paint, extent)
    if "drawings" in sys.argv[1:]:
        return
    tables = {name: make() for name, make in TABLES.items()}
    for path in PAGES:
        path.write_text(with_tables(path.read_text(encoding="utf-8"), tables), encoding="utf-8")
    (FOLDER / "compare.html").write_text(page(), encoding="utf-8")
    print("wrote the tables of docs/classroom.md and answers.md, the drawings and compare.html", file=sys.stderr)


if __name__ == "__main__":
    main()
