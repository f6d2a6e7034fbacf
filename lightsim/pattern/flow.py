"""Blocks of words and small drawings that flow from column to column, so that long texts never run off a page."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from reportlab.pdfgen.canvas import Canvas

from lightsim.pattern.ink import BODY, INK, POINT, words, wrapped

Draw = Callable[[Canvas, float, float], None]  # canvas, left and top [mm]
_LEADING = 1.25  # from line to line, in parts of the font's size
_TOGETHER = 4  # lines of a paragraph that stay together


@dataclass(frozen=True)
class Block:
    """What must not be broken: a line of words, a row of drawings."""

    height: float  # mm
    draw: Draw
    before: float = 0.0  # mm left free above it, except at the top of a column


Column = tuple[tuple[Block, float], ...]  # blocks, and how far their tops lie below the column's [mm]


def text_blocks(
    text: str, width: float, *, size: float = BODY, bold: bool = False, before: float = 0.0, colour: str = INK
) -> list[Block]:
    """A paragraph, a block a line; size in points."""
    lines = wrapped(text, width, size=size, bold=bold)
    blocks = [_line(each, size=size, bold=bold, colour=colour) for each in lines]
    return [replace(blocks[0], before=before), *blocks[1:]]


def headed(heading: str, blocks: Sequence[Block], width: float) -> list[Block]:
    """Blocks under a heading that stays with the first of them; nothing if there are none."""
    if not blocks:
        return []
    head = stacked([*text_blocks(heading, width, bold=True), replace(blocks[0], before=max(blocks[0].before, 0.6))])
    return [replace(head, before=3.0), *blocks[1:]]


def listing(texts: Iterable[str], width: float) -> list[Block]:
    """Paragraphs one below the other; only long ones are broken between two columns."""
    blocks: list[Block] = []
    for text in texts:
        lines = text_blocks(text, width, before=0.8)
        blocks += lines if len(lines) > _TOGETHER else [replace(stacked(lines), before=0.8)]
    return blocks


def stacked(blocks: Sequence[Block]) -> Block:
    """Several blocks as one."""
    placed, height = _tops(blocks)

    def draw(canvas: Canvas, left: float, top: float) -> None:
        for block, down in placed:
            block.draw(canvas, left, top - down)

    return Block(height, draw)


def flowed(blocks: Sequence[Block], *, height: float) -> list[Column]:
    """Blocks in columns of a height [mm]; one that is higher gets a column of its own."""
    columns: list[list[Block]] = [[]]
    for block in blocks:
        if columns[-1] and _tops([*columns[-1], block])[1] > height:
            columns.append([])
        columns[-1].append(block)
    return [tuple(_tops(column)[0]) for column in columns if column]


def balanced(blocks: Sequence[Block], *, columns: int) -> tuple[list[Column], float]:
    """Blocks in at most so many columns that are as low as they can be, to a millimetre, and their height [mm]."""
    height = max(block.height for block in blocks)
    while len(found := flowed(blocks, height=height)) > columns:
        height += 1.0
    return found, height


def drawn_column(canvas: Canvas, column: Column, *, left: float, top: float) -> None:
    """Draw a column whose upper left corner lies there [mm]."""
    for block, down in column:
        block.draw(canvas, left, top - down)


def _tops(blocks: Sequence[Block]) -> tuple[list[tuple[Block, float]], float]:
    """Blocks one below the other, and the height of them all."""
    placed: list[tuple[Block, float]] = []
    down = 0.0
    for block in blocks:
        down += block.before if placed else 0.0
        placed.append((block, down))
        down += block.height
    return placed, down


def _line(text: str, *, size: float, bold: bool, colour: str) -> Block:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        words(canvas, text, (left, top - size * POINT), size=size, bold=bold, colour=colour)

    return Block(size * POINT * _LEADING, draw)
