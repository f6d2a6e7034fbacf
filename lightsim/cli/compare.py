"""The table of a comparison, a line a design, and what it means."""

from __future__ import annotations

from collections.abc import Sequence
from math import comb

from lightsim.cli.layout import Cell, Line, Row, sentence, table
from lightsim.cli.notes import told
from lightsim.cli.run import Asked, Result, names_of
from lightsim.measure.figure import Figure
from lightsim.measure.findings import compared, described
from lightsim.measure.first_words import FEW, too_close
from lightsim.measure.left_open import measure_next, not_reckoned, without_range
from lightsim.measure.report import Report
from lightsim.measure.rounding import length, shown, span

_DIGITS = 3
_BACKGROUND = "falloff.background_"
_COLUMNS = (
    ("size.cone_angle", "apparent size, degrees"),
    ("size.hot_spot", "hot spot, stops"),
    ("loss.total", "light lost, stops"),
    ("loss.per_doubling", "stops per doubling of area"),
    ("exposure.headroom", "power left, stops"),
    ("shadow.edge_x", "shadow edge, mm"),
    ("highlight.diameter_share", "highlight width, % of ball"),
    ("highlight.count", "highlights"),
    ("highlight.stops_above_white", "highlight against a white card, stops"),
)
_COUNT = "highlight.count"  # told where any design has several
_BLANK = "loss.per_doubling"  # blank where the size does not grow
_TOO_CLOSE = "Too close to call, by error bars and materials"
_NOT_RECKONED = "not reckoned"
BY_MATERIALS = (
    "By materials: how far a figure moves if the numbers of the materials are off as far as they may be, each for "
    "itself (all at their worst at once can go farther); empty where that is little beside the error bar."
)
_SHARED = (
    "Designs of a common material may be told apart even where their ranges overlap: if its number is off, it is off "
    "for both."
)


def comparison(results: Sequence[Result], asked: Asked) -> list[Line]:
    """Table, sentences, and how far to trust them."""
    names, reports = names_of(results), [each.report for each in results]
    several = any((report[_COUNT].value or 0) > 1 for report in reports)
    columns = [column for column in (*_COLUMNS, *_falloff(reports)) if column[0] != _COUNT or several]
    rows = [
        Row(name, tuple(_cell(report, figure) for figure, _ in columns))
        for name, report in zip(names, reports, strict=True)
    ]
    lines = [*sentence(_where(reports)), Line(""), *table("design", [head for _, head in columns], rows), Line("")]
    notes = told([report.notes for report in reports], names)
    lines.extend([*notes, Line("")] if notes else [])
    found = compared(reports, names) if len(reports) > 1 else described(reports[0])
    for text in found:
        lines.extend(sentence(text))
    lines.extend([*_close(reports, names), *_matters(reports, names), Line("")])
    lines.extend(seconds(reports, names))
    ranged = sum(bool(report.steps) for report in reports)
    return [*lines, *sentence(f"{footing(reports, asked)}{f' {_SHARED}' if ranged > 1 else ''}")]


def footing(reports: Sequence[Report], asked: Asked) -> str:
    """What the error bars mean, what cast the rays, which random numbers."""
    fewest, most = (f"{ends(report.paths for report in reports):,}".replace(",", " ") for ends in (min, max))
    paths = most if fewest == most else f"{fewest} to {most}"
    return (
        f"±: half of the 95 % interval. Illuminance asked for to {100 * asked.error:g} % (one standard error). "
        f"{paths} light paths, seed {asked.seed}, rays cast by {reports[0].caster}."
        f"{f' {BY_MATERIALS}' if any(report.steps for report in reports) else ''}"
    )


def seconds(reports: Sequence[Report], names: Sequence[str]) -> list[Line]:
    """Illuminance facing the lens by both estimators, where the second one ran."""
    rows = []
    for name, report in zip(names, reports, strict=True):
        if report.second is not None:
            pair = (report.second.forward, report.second.backward)
            cells = [_estimate(each.value, each.half_interval) for each in pair]
            rows.append(Row(name, (*cells, Cell(f"{report.second.joint_errors:+.1f}"))))
    if not rows:
        return []
    heads = ("forward, lx s per lm s", "backward, lx s per lm s", "difference in joint standard errors")
    heading = "Illuminance facing the lens by two independent estimators"
    return [Line(heading, bold=True), *table("", heads, rows), Line("")]


def _estimate(value: float, half_interval: float) -> Cell:
    per_square_metre = 1e6  # from 1/mm^2
    figure = Figure("", "", value * per_square_metre, 0.0, half_interval * per_square_metre, "lx s per lm s", "", "")
    return cell_of(figure)


def cell_of(figure: Figure, *, digits: int = 4) -> Cell:
    """A figure as a cell: its value, its error bar with the sign, its range by materials."""
    text = shown(figure, digits=digits)
    value, _, end = text.value.partition(" ")  # "below 0.5" has no error bar, and its number stands in that place
    return Cell(value, end or (f"±{text.half_interval}" if text.half_interval else ""), span(figure))


def cell_in(report: Report, name: str, *, digits: int = 4) -> Cell:
    """The figure of a report as a cell, which says so where no range by materials is reckoned."""
    cell = cell_of(report[name], digits=digits)
    return cell._replace(span=_NOT_RECKONED) if name in not_reckoned(report) else cell


def _cell(report: Report, name: str) -> Cell:
    blank = name == _BLANK and report[name].value is None
    return Cell("") if blank else cell_in(report, name, digits=_DIGITS)


def _close(reports: Sequence[Report], names: Sequence[str]) -> list[Line]:
    """Which designs are too close to call, a line a figure; how many pairs of them where the designs are many."""
    close = too_close(reports, names)
    if not close:
        return []
    if len(reports) > FEW:
        words = ", ".join(f"{what} {count.partition(' ')[0]}" for what, count in close.items())
        text = f"{_TOO_CLOSE}, of {comb(len(reports), 2)} pairs: {words}. Compare a few alone to see which."
        return [Line(""), *sentence(text)]
    lines = [Line(""), *sentence(_TOO_CLOSE, bold=True)]
    return [*lines, *(line for what, words in close.items() for line in sentence(f"{what}: {words}", indent="  "))]


def _matters(reports: Sequence[Report], names: Sequence[str]) -> list[Line]:
    """The number of the materials to measure next, and those without a range."""
    return [line for text in (measure_next(reports, names), without_range(reports)) if text for line in _apart(text)]


def _apart(text: str) -> list[Line]:
    return [Line(""), *sentence(text)]


def _falloff(reports: Sequence[Report]) -> list[tuple[str, str]]:
    """Columns for the light just behind the subject and on the farthest background that all rigs have."""
    behind = {report["falloff.behind"].label.removeprefix("Light ") for report in reports}
    head = behind.pop() if len(behind) == 1 else "just behind"
    columns = [("falloff.behind", f"{head}, stops")]
    common = set.intersection(
        *({f.name for f in report.figures if f.name.startswith(_BACKGROUND)} for report in reports)
    )
    if common:
        name = max(common, key=lambda each: float(each.removeprefix(_BACKGROUND)))
        columns.append((name, f"{float(name.removeprefix(_BACKGROUND)):g} mm behind, stops"))
    return columns


def _where(reports: Sequence[Report]) -> str:
    places = {(report.magnification, length(round(report.working_distance, 1))) for report in reports}
    if len(places) > 1:
        return "What each design does to the light on the subject."
    magnification, distance = places.pop()
    return f"What each design does to the light on the subject, at {magnification:g}x, {distance} mm before the lens."
