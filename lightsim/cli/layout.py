"""Text for terminals and pipes: tables that split rather than overflow, wrapped sentences, bold where it is shown."""

from __future__ import annotations

import os
import re
import shutil
import sys
from collections.abc import Iterable, Sequence
from textwrap import wrap
from typing import NamedTuple

import typer

_PIPED = 100  # columns where there is no terminal to ask
_NARROWEST, _PROSE = 40, 100
_GAP = "  "
_HEAD_LINES = 4
_NO_BREAK = "\N{NO-BREAK SPACE}"
_TIED = re.compile(r"(?<=[0-9]) (?=[0-9%]|mm\b|deg|stop)|(?<=lx) (?=s\b)")
_ASCII = {"±": "+-", "–": "-", "—": "-", "…": "...", "×": "x", "é": "e"}


class Line(NamedTuple):
    """A line of output."""

    text: str
    bold: bool = False


class Cell(NamedTuple):
    """A value and its error bar, each aligned with those above and below."""

    value: str
    error: str = ""


class Row(NamedTuple):
    """A line of a table: label and cells. Without cells it is a heading."""

    label: str
    cells: tuple[Cell, ...] = ()


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
    values = [_column(text, [row.cells[n] for row in rows if row.cells]) for n, text in enumerate(heads)]
    natural = max(len(line) for line in (head, *(row.label for row in rows if row.cells)))
    least = min(natural, max(16, room * 2 // 5))
    lines: list[Line] = []
    for block in _blocks(values, room - least):
        taken = sum(column.width + len(_GAP) for column in block)
        label = max(least, min(natural, room - taken))
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


def _column(head: str, cells: Sequence[Cell]) -> _Column:
    value = max((len(cell.value) for cell in cells), default=0)
    error = max((len(cell.error) for cell in cells), default=0)
    texts = [f"{cell.value:>{value}} {cell.error:<{error}}" if error else f"{cell.value:>{value}}" for cell in cells]
    words = head.split() or [""]
    wide = max(max(map(len, words)), max(map(len, texts), default=0))
    while len(wrap(head, wide)) > _HEAD_LINES:
        wide += 1
    return _Column(wrap(head, wide) or [""], texts, wide)


def _blocks(values: Sequence[_Column], room: int) -> list[list[_Column]]:
    blocks: list[list[_Column]] = [[]]
    left = room
    for column in values:
        need = column.width + len(_GAP)
        if need > left and blocks[-1]:
            blocks.append([])
            left = room
        blocks[-1].append(column)
        left -= need
    return blocks


def _block(head: str, columns: Sequence[_Column], rows: Sequence[Row], label: int) -> list[Line]:
    height = max((len(column.head) for column in columns), default=1)
    lines = []
    for number in range(height):
        left = head if number == height - 1 else ""
        texts = [["", *([""] * height), *column.head][number - height] for column in columns]
        lines.append(Line(_joined(left, texts, columns, label), bold=True))
    lines.append(Line("-" * (label + sum(column.width + len(_GAP) for column in columns))))
    number = 0
    for row in rows:
        if not row.cells:
            lines.append(Line(row.label, bold=True))
            continue
        first, *others = _wrapped(row.label, label, "  ")
        lines.append(Line(_joined(first, [column.cells[number] for column in columns], columns, label)))
        lines.extend(Line(other) for other in others)
        number += 1
    return lines


def _wrapped(text: str, room: int, indent: str) -> list[str]:
    """Lines of a text that never part a number from its unit; at least one, continued ones indented."""
    tied = _TIED.sub(_NO_BREAK, text)
    lines = wrap(tied, room, subsequent_indent=indent, break_on_hyphens=False) or [""]
    return [line.replace(_NO_BREAK, " ") for line in lines]


def _joined(label: str, texts: Sequence[str], columns: Sequence[_Column], width_of_label: int) -> str:
    cells = [f"{text:>{column.width}}" for text, column in zip(texts, columns, strict=True)]
    return _GAP.join([f"{label:<{width_of_label}}", *cells]).rstrip()
