"""Tables of the page as plain data: figures, limits, both estimators, materials."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from lightsim.light.estimate import Estimate
from lightsim.measure.figure import Figure
from lightsim.measure.first_words import verdict_sign
from lightsim.measure.groups import called, chosen, find, limit_in_words
from lightsim.measure.left_open import not_reckoned
from lightsim.measure.report import Report
from lightsim.measure.rounding import blank, length, rounded, shown, span

_NOT_RECKONED = "not reckoned"
_NONE_RECKONED = "No range by materials is reckoned for these."
_LIKE_ANOTHER = ("budget.", "loss.", "falloff.")  # figures of one definition, of which one is told
_PER_SQUARE_METRE = 1e6  # from 1/mm^2


class Cell(NamedTuple):
    """A value, its error bar, its range by materials, a sign before it; each may be empty."""

    value: str
    bar: str = ""
    span: str = ""
    sign: str = ""


class Row(NamedTuple):
    """A line of a table."""

    label: str
    cells: tuple[Cell, ...]


class Table(NamedTuple):
    """A table with its caption; heads: one for each cell of a row, corner: over the labels."""

    caption: str
    corner: str
    heads: tuple[str, ...]
    rows: tuple[Row, ...]


class Definition(NamedTuple):
    """What a figure is and who says so."""

    label: str
    name: str
    text: str
    source: str


class FigureGroup(NamedTuple):
    """Figures under one heading, why some have no value, and what they are."""

    heading: str
    table: Table
    blanks: tuple[str, ...]
    definitions: tuple[Definition, ...]


def figure_groups(reports: Sequence[Report], names: Sequence[str]) -> tuple[FigureGroup, ...]:
    """Every figure of the reports under its heading, a column for each; names: of the columns."""
    found = []
    for heading, figures in chosen(reports, everything=True):
        none = all(not_reckoned(report).issuperset(_with_value(report, figures)) for report in reports)
        rows = tuple(_row(reports, figure, marked=not none) for figure in figures)
        note = [_NONE_RECKONED] if none and any(report.steps for report in reports) else []
        found.append(
            FigureGroup(
                heading,
                Table(heading, "figure", tuple(names), rows),
                (*note, *_blanks(reports, names, figures)),
                tuple(_definitions(reports, figures)),
            )
        )
    return tuple(found)


def _with_value(report: Report, names: Sequence[str]) -> list[str]:
    return [name for name in names if (figure := find(report, name)) is not None and figure.value is not None]


def cell(figure: Figure | None, *, reckoned: bool = True, unit: bool = False) -> Cell:
    """A figure as a cell, with its unit on demand. reckoned: whether a range by materials was asked for."""
    if figure is None:
        return Cell("–")
    text = shown(figure)
    nothing = blank(figure) is not None
    value = text.value.replace("-", "−")
    if unit and not nothing:
        value = f"{value}°" if text.unit == "deg" else f"{value} {text.unit}".rstrip()
    wide = span(figure).replace("-", "−") if reckoned else "" if nothing else _NOT_RECKONED
    bar = f"±{text.half_interval}" if text.half_interval else ""
    return Cell("–" if nothing and text.value == "-" else value, bar, wide)


def limits(reports: Sequence[Report], names: Sequence[str]) -> Table | None:
    """The verdict against the user's limits; None where nobody stated any."""
    found = {verdict.limit: verdict for report in reports for verdict in report.verdicts}
    if not found:
        return None
    differ = {
        limit: len({each.allowed for report in reports for each in report.verdicts if each.limit == limit}) > 1
        for limit in found
    }
    rows = []
    for limit, verdict in found.items():
        cells = []
        for report in reports:
            mine = next((each for each in report.verdicts if each.limit == limit), None)
            if mine is None:
                cells.append(Cell("no such limit"))
            elif blank(mine.found) is not None:
                cells.append(Cell("cannot be told"))
            else:
                own = f", limit {length(mine.allowed)}" if differ[limit] else ""
                cells.append(Cell(f"{mine.word}: {cell(mine.found).value}{own}", sign=verdict_sign(mine)))
        label = limit_in_words(verdict, number=not differ[limit])
        rows.append(Row(f"{label} ({limit})", tuple(cells)))
    return Table("Your limits", "limit", tuple(names), tuple(rows))


def second_opinions(reports: Sequence[Report], names: Sequence[str]) -> Table | None:
    """Illuminance facing the lens by both estimators, where the second one ran; None where it did not."""
    rows = []
    for report, name in zip(reports, names, strict=True):
        if report.second is not None:
            apart = Cell(f"{report.second.joint_errors:+.1f}".replace("-", "−"))
            rows.append(Row(name, (_illuminance(report.second.forward), _illuminance(report.second.backward), apart)))
    heads = ("forward, lx s per lm s", "backward, lx s per lm s", "difference in joint standard errors")
    caption = "Illuminance facing the lens by two independent estimators"
    return Table(caption, "design", heads, tuple(rows)) if rows else None


def _illuminance(estimate: Estimate) -> Cell:
    value, half = rounded(_PER_SQUARE_METRE * estimate.value, _PER_SQUARE_METRE * estimate.half_interval)
    return Cell(value, f"±{half}" if half else "")


def _row(reports: Sequence[Report], name: str, *, marked: bool) -> Row:
    """A figure of all reports; marked: with a word where no range by materials is reckoned."""
    found = [find(report, name) for report in reports]
    label = next(figure for figure in found if figure is not None)
    unit = _unit(shown(label).unit)
    cells = (
        cell(each, reckoned=not marked or name not in not_reckoned(report))
        for report, each in zip(reports, found, strict=True)
    )
    return Row(f"{_capital(called(label))}{f', {unit}' if unit else ''}", tuple(cells))


def _blanks(reports: Sequence[Report], names: Sequence[str], figures: Sequence[str]) -> Iterable[str]:
    """Why some cells hold no number, a sentence for each reason."""
    reasons: dict[tuple[str, str], dict[str, list[str]]] = {}
    for report, label in zip(reports, names, strict=True):
        for name in figures:
            figure = find(report, name)
            if figure is not None and (why := blank(figure)) is not None:
                reasons.setdefault(why, {}).setdefault(called(figure), []).append(label)
    for (sign, reason), found in reasons.items():
        words = [f"{what} ({', '.join(at)})" if len(at) < len(reports) else what for what, at in found.items()]
        yield f"{'–' if sign == '-' else sign} {'; '.join(words)}: {reason}."


def _definitions(reports: Sequence[Report], figures: Sequence[str]) -> Iterable[Definition]:
    said: set[str] = set()
    for name in figures:
        figure = next(found for report in reports if (found := find(report, name)) is not None)
        if figure.definition in said and name.startswith(_LIKE_ANOTHER):
            continue
        said.add(figure.definition)
        yield Definition(figure.label, name, figure.definition, figure.source)


def _unit(unit: str) -> str:
    return "degrees" if unit == "deg" else unit


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
