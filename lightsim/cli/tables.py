"""Tables drawn by rich. Ours is which columns stand beside each other, and how numbers stand below each other."""

from __future__ import annotations

from collections.abc import Sequence
from io import StringIO
from itertools import accumulate, pairwise
from typing import NamedTuple

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.console import Console
from rich.table import Table
from rich.text import Text

from lightsim.cli.layout import Cell, Line, Row, tied

_GAP = 2  # columns: the divider of rich and one of padding
_SPANS = "by materials"  # over or before ranges
_BETWEEN = " to "  # the ends of a range
_HEAD_LINES = 4
_DEEPER = "  "  # continued labels
_LABEL, _SHORTEST_LABEL = 16, 10
_TIE = "\ue000"  # of private use: one column wide, and no space to rich
# Draws for every width and every encoding alike; what the terminal shows of it is decided where it is written.
_BOARD = Console(file=StringIO(), width=80, height=24, force_terminal=False, force_jupyter=False, legacy_windows=False)


class _Column(NamedTuple):
    head: str
    cells: list[str]  # one a row that has cells, as wide as the column where they hold numbers
    width: int
    words: bool  # begin at the left, where numbers end at the right


def drawn(head: str, heads: Sequence[str], rows: Sequence[Row], room: int) -> list[Line]:
    """A table in as many blocks, one below the other, as it takes to fit into the room; see layout.table."""
    heads_beside, beside = _beside(heads, rows)
    blocks = _blocks(head, heads_beside, beside, room)
    if len(blocks) > 1:
        beside = _below(rows)
        blocks = _blocks(head, heads, beside, room)
    lines: list[Line] = []
    for label, columns in blocks:
        lines.extend([Line("")] if lines else [])
        lines.extend(_block(head, columns, beside, label))
    return lines


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
            found.append(Row(_SPANS, tuple(Cell("", "", cell.span) for cell in row.cells), optional=True))
    return found


def _column(head: str, cells: Sequence[Cell]) -> _Column:
    words = any(cell.error for cell in cells) and not any(cell.value or cell.span for cell in cells)
    texts = [cell.error for cell in cells] if words else _numbers(cells)
    wide = max(map(cell_len, (*texts, *tied(head, _TIE).split(), " ")))
    while len(_folded(head, wide)) > _HEAD_LINES:
        wide += 1
    return _Column(head, texts if words else [f"{text:>{wide}}" for text in texts], wide, words)


def _numbers(cells: Sequence[Cell]) -> list[str]:
    """Texts in which values, error bars and the two ends of ranges each stand below their like."""
    ranges = [cell.span or ("" if cell.error else cell.value) for cell in cells]
    ends = [text.split(_BETWEEN) if text.count(_BETWEEN) == 1 else None for text in ranges]
    low, high = (max((len(pair[side]) for pair in ends if pair), default=0) for side in (0, 1))
    plain = [cell for cell, pair in zip(cells, ends, strict=True) if pair is None]
    value, error = (max((len(cell[part]) for cell in plain), default=0) for part in (0, 1))
    texts = []
    for cell, pair in zip(cells, ends, strict=True):
        if pair:
            texts.append(f"{pair[0]:>{low}}{_BETWEEN}{pair[1]:<{high}}")
        else:
            texts.append(cell.span or f"{cell.value:>{value}}{' ' * bool(error)}{cell.error:<{error}}")
    return texts


def _blocks(head: str, heads: Sequence[str], rows: Sequence[Row], room: int) -> list[tuple[int, Sequence[_Column]]]:
    """Which columns stand beside each other, and the width of the labels before them."""
    filled = [row for row in rows if row.cells]
    natural = max(cell_len(line) for line in (head, *(row.label for row in filled)))
    least = min(natural, max(_LABEL, room * 2 // 5))
    columns = [_column(text, [row.cells[number] for row in filled]) for number, text in enumerate(heads)]
    blocks = _shared_out(columns, room - least)
    taken = [sum(column.width + _GAP for column in block) for block in blocks]
    shortest = min(natural, _SHORTEST_LABEL)
    return [(max(shortest, min(natural, room - wide)), block) for wide, block in zip(taken, blocks, strict=True)]


def _shared_out(columns: Sequence[_Column], room: int) -> list[Sequence[_Column]]:
    """The columns in as few blocks as the room allows, and those as alike in width as can be."""
    taken = list(accumulate((column.width + _GAP for column in columns), initial=0))
    # Of the first so many columns: how many blocks, the squares of their widths, and where each ends.
    best: list[tuple[int, int, tuple[int, ...]]] = [(0, 0, ())]
    for end in range(1, len(taken)):
        fits = [start for start in range(end) if start == end - 1 or taken[end] - taken[start] <= room]
        ways = [(*best[start], taken[end] - taken[start]) for start in fits]
        best.append(min((count + 1, squares + wide**2, (*ends, end)) for count, squares, ends, wide in ways))
    return [columns[start:end] for start, end in pairwise((0, *best[-1][2]))] or [columns]


def _block(head: str, columns: Sequence[_Column], rows: Sequence[Row], label: int) -> list[Line]:
    """Columns that stand beside each other: a grid of rich under each heading, all of the same widths."""
    wide = label + sum(column.width + _GAP for column in columns)
    grid, lines, number = _grid(columns, label, head=head), [], 0
    for row in rows:
        if not row.cells:
            lines.extend([*_lines(grid, wide), *(Line(text, bold=True) for text in _folded(row.label, wide, _DEEPER))])
            grid = _grid(columns, label)
            continue
        texts = [column.cells[number] for column in columns]
        number += 1
        if not row.optional or "".join(texts).strip():
            # Beside its ranges, apart from the labels at the left, whose continued lines it would seem to end.
            name = f"{row.label:>{label}}" if row.optional else row.label
            grid.add_row(_text(name, label, _DEEPER), *map(Text, texts))
    return [*lines, *_lines(grid, wide)]


def _grid(columns: Sequence[_Column], label: int, *, head: str | None = None) -> Table:
    """An empty table of rich, with heads above a rule if there is a head of the labels."""
    grid = Table(
        box=SIMPLE_HEAD,
        show_header=head is not None,
        header_style="bold",
        show_edge=False,
        pad_edge=False,
        padding=(0, _GAP - 1, 0, 0),
    )
    grid.add_column(_text(head or "", label), width=label, no_wrap=True, overflow="fold")
    for column in columns:
        text = _text(column.head, column.width)
        text.justify = "left" if column.words else "right"
        grid.add_column(text, width=column.width, no_wrap=True, overflow="fold")
    return grid


def _lines(grid: Table, wide: int) -> list[Line]:
    found = []
    for segments in _BOARD.render_lines(grid, _BOARD.options.update(width=wide), pad=False):
        text = "".join(segment.text for segment in segments).rstrip()
        found.append(Line(text, any(segment.style is not None and segment.style.bold for segment in segments)))
    return found


def _text(words: str, room: int, indent: str = "") -> Text:
    return Text("\n".join(_folded(words, room, indent)))


def _folded(words: str, room: int, indent: str = "") -> list[str]:
    """Lines that never part a number from its unit; continued ones stand below the first, and by the indent deeper."""
    if cell_len(words) <= room:
        return [words]
    lines, before, rest = [], "", tied(words, _TIE)
    while rest:
        line = Text(rest).wrap(_BOARD, max(room - len(before), 2), overflow="fold")[0].plain.rstrip()
        lines.append(before + line.replace(_TIE, " "))
        before, rest = _indent(words) + indent, rest[len(line) :].lstrip()
    return lines


def _indent(words: str) -> str:
    return " " * (len(words) - len(words.lstrip()))
