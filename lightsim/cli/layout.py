"""Text for terminals and pipes: wrapped sentences, tables, bold where it is shown.

Tables are drawn by rich (lightsim.cli.tables), which is loaded where there is one to draw.
"""

from __future__ import annotations

import re
import shutil
import sys
from collections.abc import Iterable, Sequence
from textwrap import wrap
from typing import NamedTuple

import typer

PIPED = 100  # columns where there is no terminal to ask
_NARROWEST, _PROSE = 40, 100
_NO_BREAK = "\N{NO-BREAK SPACE}"
_TIED = re.compile(r"(?<=[0-9]) (?=[0-9%]|mm\b|deg|stop)|(?<=l[xm]) (?=s\b)")
_STEERING = re.compile("[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]")  # controls, ends of lines, directions
_ASCII = {"±": "+-", "–": "-", "—": "-", "─": "-", "…": "...", "×": "x", "é": "e"}


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
    optional: bool = False  # adds to the row above: left out of those parts of a table where all its cells are empty


def width() -> int:
    """Columns to write in."""
    return max(_NARROWEST, shutil.get_terminal_size((PIPED, 24)).columns)


def sentence(text: str, *, indent: str = "", columns: int | None = None, bold: bool = False) -> list[Line]:
    """A text wrapped to the window, continued lines indented."""
    room = min(_PROSE, width() if columns is None else columns)
    lines = wrap(tied(printable(text), _NO_BREAK), room, subsequent_indent=indent, break_on_hyphens=False) or [""]
    return [Line(line.replace(_NO_BREAK, " "), bold) for line in lines]


def tied(text: str, sign: str) -> str:
    """A text with a sign in place of the spaces at which no line may end, between numbers and their units."""
    return _TIED.sub(sign, text)


def table(head: str, heads: Sequence[str], rows: Sequence[Row], *, columns: int | None = None) -> list[Line]:
    """A table with one label and several values a row; what does not fit beside goes below, labels repeated.

    head, heads: of the labels and of each column of values; columns: to write in, by default those of the window
    """
    from lightsim.cli.tables import drawn

    # Before anything is measured: "+-" is wider than the sign that it stands for.
    told = [Row(printable(row.label), tuple(map(_cell, row.cells)), row.optional) for row in rows]
    return drawn(printable(head), list(map(printable, heads)), told, width() if columns is None else columns)


def say(lines: Iterable[Line]) -> None:
    """Write lines to standard output, bold only where a terminal shows it and NO_COLOR does not forbid it.

    Headings wider than the window are wrapped, all else was: tables, sentences, and what is to be copied whole.
    """
    room = width()
    told = []
    for line in lines:
        whole = Line(printable(line.text), line.bold)
        told.extend(sentence(whole.text, bold=True) if whole.bold and len(whole.text) > room else [whole])
    if any(line.bold for line in told):
        from lightsim.cli.screen import emphasised

        if emphasised(told):
            return
    typer.echo("\n".join(line.text for line in told))


def printable(text: str) -> str:
    """The text in signs that standard output can write, spaces in place of what steers a terminal."""
    text = _STEERING.sub(" ", text)
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    if _writable(text, encoding):
        return text
    for sign, plain in _ASCII.items():
        if not _writable(sign, encoding):
            text = text.replace(sign, plain)
    return text.encode(encoding, errors="replace").decode(encoding)


def _cell(cell: Cell) -> Cell:
    return Cell(*map(printable, cell))


def _writable(text: str, encoding: str) -> bool:
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return False
    return True
