"""Text for terminals and pipes: tables that split rather than overflow, wrapped sentences, bold where it is shown."""

from __future__ import annotations

import os
import re
import shutil
import sys
from collections.abc import Iterable, Sequence
from itertools import accumulate, pairwise
from textwrap import wrap
from typing import NamedTuple

import typer

_PIPED = 100  # columns where there is no terminal to ask
_NARROWEST, _PROSE = 40, 100
_GAP = "  "
_SPANS = "by materials"  # over or before ranges
_HEAD_LINES = 4
_NO_BREAK = "\N{NO-BREAK SPACE}"
_TIED = re.compile(r"(?<=[0-9]) (?=[0-9%]|mm\b|deg|stop)|(?<=lx) (?=s\b)")
_ASCII = {"±": "+-", "–": "-", "—": "-", "…": "...", "×": "x", "é": "e"}


class Line(NamedTuple):
    """A line of output."""

    text: str
    bold: bool = False


class Cell(NamedTuple):
    """A value and its error bar, each aligned with those above and below: values at the right, error bars at the left.

    A word alone in the place of the error bar makes a column of words. A span ("1.5 to 2.4") has a column of its own
    where the window is wide enough, else it stands on a line of its own below the value.
    """

    value: str
    error: str = ""
    span: str = ""


class Row(NamedTuple):
    """A line of a table: label and cells. Without cells it is a heading."""

    label: str
    cells: tuple[Cell, ...] = ()
    optional: bool = False  # left out of those parts of a table where all its cells are empty


class _Column(NamedTuple):
    head: list[str]
    cells: list[str]  # one a row that has cells
    width: int


def width() -> int:
    """Columns to write in."""
    return max(_NARROWEST, shutil.get_terminal_size((_PIPED, 24)).columns)


def sentence(text: str, *, indent: str = "", columns: int | None = None, bold: bool = False) -> list[Line]:
    """A text wrapped to the window, continued lines indented."""
    room = min(_PROSE, width() if columns is None else columns)
    return [Line(line, bold) for line in _wrapped(text, room, indent)]


def table(head: str, heads: Sequence[str], rows: Sequence[Row], *, columns: int | None = None) -> list[Line]:
    """A table with one label and several values a row; what does not fit beside goes below, labels repeated.

    head, heads: of the labels and of each column of values; columns: to write in, by default those of the window
    """
    room = width() if columns is None else columns
    heads_beside, rows_beside = _beside(heads, rows)
    blocks = _blocks(head, heads_beside, rows_beside, room)
    if len(blocks) > 1:
        rows = _below(rows)
        blocks = _blocks(head, heads, rows, room)
    lines: list[Line] = []
    for label, block in blocks:
        lines.extend([Line("")] if lines else [])
        lines.extend(_block(head, block, rows, label))
    return lines


def say(lines: Iterable[Line]) -> None:
    """Write lines to standard output, bold only where a terminal shows it and NO_COLOR does not forbid it."""
    bold = _styled()
    text = "\n".join(typer.style(line.text, bold=True) if bold and line.bold else line.text for line in lines)
    typer.echo(_printable(text))


def _styled() -> bool:
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def _printable(text: str) -> str:
    """The text in signs that standard output can write."""
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        for sign, plain in _ASCII.items():
            text = text.replace(sign, plain)
        return text.encode(encoding, errors="replace").decode(encoding)
    return text


def _beside(heads: Sequence[str], rows: Sequence[Row]) -> tuple[list[str], list[Row]]:
    """Heads and rows with a column for the spans of each column that has any."""
    spanned = [any(row.cells[number].span for row in rows if row.cells) for number in range(len(heads))]
    wide_heads = [text for head, has in zip(heads, spanned, strict=True) for text in (head, *[_SPANS] * has)]
    wide_rows = []
    for row in rows:
        cells: list[Cell] = []
        for cell, has in zip(row.cells, spanned if row.cells else [], strict=True):
            cells.extend([cell._replace(span=""), *[Cell(cell.span)] * has])
        wide_rows.append(row._replace(cells=tuple(cells)))
    return wide_heads, wide_rows


def _below(rows: Sequence[Row]) -> list[Row]:
    """Rows with one more for the spans below each that has any."""
    found = []
    for row in rows:
        found.append(row._replace(cells=tuple(cell._replace(span="") for cell in row.cells)))
        if any(cell.span for cell in row.cells):
            indent = " " * (len(row.label) - len(row.label.lstrip()))
            spans = tuple(Cell("", "", cell.span) for cell in row.cells)
            found.append(Row(f"{indent}  {_SPANS}", spans, optional=True))
    return found


def _column(head: str, cells: Sequence[Cell]) -> _Column:
    value = max((len(cell.value) for cell in cells), default=0)
    error = max((len(cell.error) for cell in cells), default=0)
    texts = [
        cell.span or (f"{cell.value:>{value}} {cell.error:<{error}}" if error else f"{cell.value:>{value}}")
        for cell in cells
    ]
    words = head.split() or [""]
    wide = max(max(map(len, words)), max(map(len, texts), default=0))
    while len(wrap(head, wide)) > _HEAD_LINES:
        wide += 1
    lines = wrap(head, wide) or [""]
    if error and not value:  # words in the place of error bars stand at the left, and so does their head
        lines = [f" {line:<{error}}" for line in lines]
    return _Column(lines, texts, wide)


def _blocks(head: str, heads: Sequence[str], rows: Sequence[Row], room: int) -> list[tuple[int, Sequence[_Column]]]:
    """Which columns stand beside each other, and the width of the labels before them."""
    filled = [row for row in rows if row.cells]
    natural = max(len(line) for line in (head, *(row.label for row in filled)))
    least = min(natural, max(16, room * 2 // 5))
    columns = [_column(text, [row.cells[number] for row in filled]) for number, text in enumerate(heads)]
    blocks = _shared_out(columns, room - least)
    taken = [sum(column.width + len(_GAP) for column in block) for block in blocks]
    return [(max(least, min(natural, room - wide)), block) for wide, block in zip(taken, blocks, strict=True)]


def _shared_out(columns: Sequence[_Column], room: int) -> list[Sequence[_Column]]:
    """The columns in as few blocks as the room allows, and those as alike in width as can be."""
    taken = list(accumulate((column.width + len(_GAP) for column in columns), initial=0))
    # Of the first so many columns: how many blocks, the squares of their widths, and where each ends.
    best: list[tuple[int, int, tuple[int, ...]]] = [(0, 0, ())]
    for end in range(1, len(taken)):
        fits = [start for start in range(end) if start == end - 1 or taken[end] - taken[start] <= room]
        ways = [(*best[start], taken[end] - taken[start]) for start in fits]
        best.append(min((count + 1, squares + wide**2, (*ends, end)) for count, squares, ends, wide in ways))
    return [columns[start:end] for start, end in pairwise((0, *best[-1][2]))] or [columns]


def _block(head: str, columns: Sequence[_Column], rows: Sequence[Row], label: int) -> list[Line]:
    name = _wrapped(head, label, "")
    height = max(len(name), *(len(column.head) for column in columns))
    lines = []
    for number in range(height):
        left, *texts = (
            [*[""] * height, *each][number - height] for each in (name, *(column.head for column in columns))
        )
        lines.append(Line(_joined(left, texts, columns, label), bold=True))
    lines.append(Line("-" * (label + sum(column.width + len(_GAP) for column in columns))))
    number = 0
    for row in rows:
        if not row.cells:
            lines.append(Line(row.label, bold=True))
            continue
        texts = [column.cells[number] for column in columns]
        number += 1
        if row.optional and not "".join(texts).strip():
            continue
        first, *others = _wrapped(row.label, label, "  ")
        lines.append(Line(_joined(first, texts, columns, label)))
        lines.extend(Line(other) for other in others)
    return lines


def _wrapped(text: str, room: int, indent: str) -> list[str]:
    """Lines of a text that never part a number from its unit; at least one, continued ones indented."""
    tied = _TIED.sub(_NO_BREAK, text)
    lines = wrap(tied, room, subsequent_indent=indent, break_on_hyphens=False) or [""]
    return [line.replace(_NO_BREAK, " ") for line in lines]


def _joined(label: str, texts: Sequence[str], columns: Sequence[_Column], width_of_label: int) -> str:
    cells = [f"{text:>{column.width}}" for text, column in zip(texts, columns, strict=True)]
    return _GAP.join([f"{label:<{width_of_label}}", *cells]).rstrip()
