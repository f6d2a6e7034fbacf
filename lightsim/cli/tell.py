"""The report on one rig: figures under plain headings, a column a magnification, verdict, test frame, cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lightsim.cli.compare import cell_in, cell_of, footing, seconds
from lightsim.cli.holds import sources, unit_of_lengths
from lightsim.cli.layout import Cell, Line, Row, sentence, table
from lightsim.cli.moves import moves
from lightsim.cli.notes import told as noted
from lightsim.cli.run import Asked, Result
from lightsim.cli.shot import in_short
from lightsim.measure.findings import changed, described, test_frame
from lightsim.measure.groups import BUDGET, called, chosen, find, limit_in_words
from lightsim.measure.left_open import matters_most, not_reckoned, without_range
from lightsim.measure.report import CAUTIONS, Report
from lightsim.measure.rounding import blank, length, rounded, shown

_MOST_NAMED = 3  # figures, with one reason why they have no value


def told(results: Sequence[Result], asked: Asked, *, everything: bool = False, explain: bool = False) -> list[Line]:
    """The whole report of one rig; results: one for each magnification."""
    reports = [each.report for each in results]
    lines = [Line(reports[0].title, bold=True), *unit_of_lengths(results[0].loaded)]
    for report in reports:
        start = f"{report.magnification:g}x: " if len(reports) > 1 else ""
        lines.extend(sentence(start + " ".join(described(report)), indent="  "))
    if len(reports) > 1:
        ends = [f"{report.magnification:g}x" for report in (reports[0], reports[-1])]
        lines.extend(sentence(changed(reports[0], reports[-1], start=ends[0], end=ends[1])))
    lines.extend(_matters(reports))
    lines.extend(noted([report.notes for report in reports], _labels(reports)))
    lines.extend([Line(""), *_figures(reports, everything, explain), Line("")])
    if plain := without_range(reports):
        lines.extend([*sentence(plain), Line("")])
    lines.extend(seconds(reports, [f"at {report.magnification:g}x" for report in reports]))
    lines.extend(_verdicts(reports))
    lines.append(Line("In a test frame", bold=True))
    for report in reports:
        start = f"{report.magnification:g}x: " if len(reports) > 1 else ""
        lines.extend(sentence(start + test_frame(report), indent="  "))
    plans = [each.plan for each in results if each.plan is not None]
    lines.extend([Line(""), *in_short(plans)] if plans else [])
    origins = sources(results[0].loaded)
    lines.extend([Line(""), *origins, *([Line("")] if origins else []), *sentence(footing(reports, asked))])
    return [*lines, *sentence(f"Care: {' '.join(CAUTIONS)}")]


def _matters(reports: Sequence[Report]) -> list[Line]:
    """Which number of the materials matters most, once where it is the same at all magnifications."""
    heaviest = {step.known_by if (step := report.heaviest) else None for report in reports}
    spoken = reports if len(heaviest) > 1 else reports[:1]
    texts = [matters_most(report, at=at) for report, at in zip(spoken, _labels(reports), strict=False)]
    return [line for text in texts for line in sentence(text)] if any(texts) else []


def broken(reports: Sequence[Report]) -> bool:
    """Whether any limit of the user is broken."""
    return any(verdict.kept is False for report in reports for verdict in report.verdicts)


def _figures(reports: Sequence[Report], everything: bool, explain: bool) -> list[Line]:
    heads = [f"{report.magnification:g}x, {length(report.working_distance)} mm" for report in reports]
    rows: list[Row] = []
    for heading, names in chosen(reports, everything):
        none = all(not_reckoned(report).issuperset(names) for report in reports)
        rows.append(Row(f"{heading} (by materials: not reckoned)" if none else heading))
        rows.extend(Row(label, cells) for label, cells in _rows(reports, names, marked=not none))
        if heading.startswith("Where") and not everything:
            rows.append(_remainder(reports, names))
    names = [name for _, group in chosen(reports, everything) for name in group]
    lines = [*table("magnification, subject to lens", heads, rows), *_blanks(reports, names)]
    return [*lines, Line(""), *_definitions(reports, everything), *moves(reports)] if explain else lines


def _rows(reports: Sequence[Report], names: Sequence[str], *, marked: bool) -> Iterator[tuple[str, tuple[Cell, ...]]]:
    """Labels and cells of figures; marked: with a word where no range by materials is reckoned."""
    for name in names:
        found = [find(report, name) for report in reports]
        label = next(figure for figure in found if figure is not None)
        unit = shown(label).unit
        yield (
            f"  {called(label)}{f', {unit}' if unit else ''}",
            tuple(
                Cell("-") if figure is None else cell_in(report, name) if marked else cell_of(figure)
                for report, figure in zip(reports, found, strict=True)
            ),
        )


def _blanks(reports: Sequence[Report], names: Sequence[str]) -> list[Line]:
    """Why some cells hold no number, a line for each reason."""
    reasons: dict[tuple[str, str], dict[str, list[str]]] = {}
    for report, label in zip(reports, _labels(reports), strict=True):
        for name in names:
            figure = find(report, name)
            if figure is not None and (why := blank(figure)) is not None:
                reasons.setdefault(why, {}).setdefault(called(figure), []).append(label)
    lines = []
    for (sign, reason), figures in reasons.items():
        words = [f"{what} at {at[0]}" if len(at) < len(reports) else what for what, at in figures.items()]
        more = f" and {len(words) - _MOST_NAMED} more" if len(words) > _MOST_NAMED else ""
        lines.extend(sentence(f"{sign}  {'; '.join(words[:_MOST_NAMED])}{more}: {reason}.", indent="   "))
    return lines


def _labels(reports: Sequence[Report]) -> list[str]:
    """Magnifications, where there are several."""
    return [f"{report.magnification:g}x" if len(reports) > 1 else "" for report in reports]


def _remainder(reports: Sequence[Report], named: Sequence[str]) -> Row:
    """What the short report does not name of the light emitted."""
    cells = []
    for report in reports:
        rest = sum(
            figure.value or 0.0
            for figure in report.figures
            if figure.name.startswith(BUDGET) and figure.name not in named
        )
        cells.append(Cell(rounded(100 * rest, 0.0, finest=-1)[0]))
    return Row("  everything else, %", tuple(cells))


def _definitions(reports: Sequence[Report], everything: bool) -> list[Line]:
    lines = [Line("What the figures are", bold=True)]
    said: set[str] = set()
    for _, names in chosen(reports, everything):
        for name in names:
            figure = next(found for report in reports if (found := find(report, name)) is not None)
            if figure.definition in said and name.startswith((BUDGET, "loss.", "falloff.")):
                continue
            said.add(figure.definition)
            why = f" Here without a value: {figure.why}." if figure.value is None else ""
            text = f"{figure.label} ({name}): {figure.definition}{why} [{figure.source}]"
            lines.extend(sentence(text, indent="  "))
    return lines


def _verdicts(reports: Sequence[Report]) -> list[Line]:
    limits = {verdict.limit: verdict for report in reports for verdict in report.verdicts}
    if not limits:
        return [
            *sentence("No limits in the rig file: a table [limits] may hold most_stops, least_angle, ..."),
            Line(""),
        ]
    rows = [
        Row(f"  {limit_in_words(verdict)} ({limit})", tuple(_verdict(report, limit) for report in reports))
        for limit, verdict in limits.items()
    ]
    return [*table("Your limits", [f"{report.magnification:g}x" for report in reports], rows), Line("")]


def _verdict(report: Report, limit: str) -> Cell:
    found = [verdict for verdict in report.verdicts if verdict.limit == limit]
    if not found:
        return Cell("-")
    if blank(found[0].found) is not None:
        return Cell("cannot be told")
    return Cell(f"{found[0].word}, {shown(found[0].found).value}")
