"""What is told before the pieces: size check, summary, kinds of lines, cautions, a map of the pages."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray
from reportlab.pdfgen.canvas import Canvas

from lightsim.pattern.clip import Box
from lightsim.pattern.drawing import Drawing
from lightsim.pattern.flow import Block, headed, listing, stacked, text_blocks
from lightsim.pattern.ink import (
    BAR,
    BY,
    GREY,
    LINES,
    SMALL,
    SQUARE,
    TOWARD,
    check_bars,
    line,
    listed,
    rectangle,
    width_of,
    words,
)
from lightsim.pattern.pages import Layout, Page, SharedPage, TilePage, Tiling, own_box, room_size, tile_step
from lightsim.pattern.piece import Layer, Pattern, Piece, extent
from lightsim.pattern.sizes import sizes_told

WIDTH = 189.0  # mm, of a column of words: what both papers have room for
FULL_SIZE = "Print at 100 % (no fit to page)"
_BESIDE = 130.0  # mm, of what stands beside the square
_BARS = 7.0  # mm, of one or two check bars
_CELL = 33.8  # mm, least width of a part of the map, and size of its drawing where numbers have room
_PAGE = 28.0  # mm, of a page on the map
_NUMBER = 8.0  # mm, least size of a tile on the map
_HIGHEST = 190.0  # mm, of a drawing on the map
_GAP = 5.0  # mm, between parts of the map
_HEADING = 75.0  # mm, of the words above it
_NARROWEST = 75.0  # mm, of notes beside it
_LEGEND = {
    Layer.CUT: "solid: cut through",
    Layer.SCORE: "dashed: crease along a rule, then fold away from you",
    Layer.MARK: "dotted grey: mark, do not cut",
}
_TOWARD = "dash-dot: crease, then fold toward you"
_CAUTION = (
    "Blades: use a fresh one and a steel rule, cut away from your fingers, cap it when you put it down.",
    "Heat: a flash head gets hot and can scorch paper and melt foam or film. Keep them off its window, start at low "
    "power, feel the head between bursts. More in docs/building.md; the makers' instructions go first.",
)
_BACK = (
    "Every piece is drawn as its back is seen, the side away from the subject (the outside of boxes, cones and domes): "
    "lay the print on the back of the sheet. Crease with a blunt point; only what is thicker than half a millimetre is "
    "cut half through."
)
_GRAIN = "A double arrow shows which way the grain of paper or card should run; other sheets have none."
_JOIN = (
    "Large pieces come as tiles, see the map. Begin at the upper left of a piece. Where an arrow points over the right "
    "or the bottom edge, cut that edge off along its short trim marks, through the crosses. Lay the page on the one "
    "that the arrow names, crosses of the same name on each other, and tape it. The thin frame is not cut."
)


def title_blocks(pattern: Pattern, kind: str, width: float) -> list[Block]:
    """The title of a pattern, and what kind of print this is."""
    return [*text_blocks(pattern.title, width, size=15, bold=True), *text_blocks(kind, width, before=1.0, colour=GREY)]


def check_block(pattern: Pattern) -> Block:
    """Check bar, square of 50 mm, what to do with them, the kinds of lines and the side shown; WIDTH wide."""
    unit = pattern.unit
    toward = any(fold.angle < 0 for piece in pattern.pieces for fold in piece.folds)
    bar, square = (
        f"{length:g} mm ({sizes_told((length,), unit)})" if unit == "inch" else f"{length:g} mm"
        for length in (BAR, SQUARE)
    )
    head = stacked(text_blocks(f"{FULL_SIZE}, then measure bar and square before cutting.", WIDTH, bold=True))
    lines = stacked(
        [
            *text_blocks(
                f"The bar is {bar} long, the square {square} wide and high. If not, choose “actual size” or “scale "
                "100 %” where you print, and print again.",
                _BESIDE,
            ),
            *(_legend(LINES[layer], words_) for layer, words_ in _LEGEND.items()),
            *([_legend(TOWARD, _TOWARD)] if toward else []),
            *text_blocks(_BACK, _BESIDE, before=2.0),
        ]
    )

    def draw(canvas: Canvas, left: float, top: float) -> None:
        head.draw(canvas, left, top)
        top -= head.height + 1.5
        check_bars(canvas, left, top, unit=unit)
        lines.draw(canvas, left, top - _BARS - 3)
        corner = np.array([left + WIDTH - SQUARE, top - SQUARE])
        line(canvas, rectangle(np.array([corner, corner + SQUARE])))
        middle = left + WIDTH - SQUARE / 2
        words(canvas, "50 mm", (middle, top - 24), align=0.5)
        if unit == "inch":
            words(canvas, f"= {sizes_told((SQUARE,), unit)}", (middle, top - 28), size=SMALL, align=0.5)

    return Block(head.height + 1.5 + max(SQUARE, _BARS + 3 + lines.height) + 0.2, draw, before=4.0)


def _legend(look: tuple[str, float, tuple[float, ...]], text: str) -> Block:
    colour, width, dashes = look

    def draw(canvas: Canvas, left: float, top: float) -> None:
        line(canvas, np.array([[left, top - 3], [left + 25, top - 3]]), colour=colour, width=width, dashes=dashes)
        words(canvas, text, (left + 28, top - 4))

    return Block(4.6, draw, before=1.2)


def word_blocks(pattern: Pattern, summary: Sequence[str], width: float, *, tiles: bool) -> list[Block]:
    """Summary, parts without a pattern, how to use the print, cautions."""
    refused = [f"{each.part}: {each.reason}" for each in pattern.refused]
    grained = any(piece.grain is not None for piece in pattern.pieces)
    using = [*([_JOIN] if tiles else []), *([_GRAIN] if grained else [])]
    return [
        *headed("Summary", listing(summary, width), width),
        *headed("Not in this pattern", listing(refused, width), width),
        *headed("How to use these pages", listing(using, width), width),
        *headed("Take care", listing(_CAUTION, width), width),
    ]


def note_blocks(pattern: Pattern, width: float) -> list[Block]:
    """What whoever builds it should know of each piece."""
    notes = [f"{piece.name}: {' '.join(piece.notes)}" for piece in pattern.pieces if piece.notes]
    return headed("Notes on the pieces", listing(dict.fromkeys(notes), width), width)


def copy_name(piece: Piece, copy: int) -> str:
    """A piece by name, and which of its copies it is."""
    return f"{piece.name} ({copy} of {piece.copies})" if piece.copies > 1 else piece.name


def shared_name(page: SharedPage) -> str:
    """The pieces on a page."""
    return listed(stand.piece.name for stand in page.stands)


# The map


@dataclass(frozen=True)
class _Cell:
    """A part of the map."""

    width: float
    block: Block


def map_blocks(layout: Layout, pattern: Pattern, *, first: int, width: float) -> list[Block]:
    """A small drawing of every tiled piece with its page numbers and of the shared pages, and notes on the pieces.

    first : number of the first page with pieces
    """
    numbers = dict(enumerate(layout.pages, start=first))
    tiles: dict[int, dict[tuple[int, int], int]] = {}
    for number, page in numbers.items():
        if isinstance(page, TilePage):
            tiles.setdefault(id(page.tiling), {})[page.tile] = number
    cells = [_tiling_cell(tiling, tiles[id(tiling)], pattern.unit, width) for tiling in layout.tilings]
    shared = [(number, page) for number, page in numbers.items() if isinstance(page, SharedPage)]
    cells += [_shared_cell([page for _, page in alike], alike[0][0]) for alike in _alike(shared)]
    blocks = headed("Map of the pages (small, not for cutting)", list(_rows(cells, width)), width)
    # Notes stand beside a small map, so that the words take fewer pages.
    left = max(_HEADING, sum(cell.width + _GAP for cell in cells)) + _GAP
    narrow = note_blocks(pattern, width - left) if blocks and width - left >= _NARROWEST else []
    if narrow and stacked(narrow).height <= 1.3 * stacked(blocks).height:
        return [_beside(stacked(blocks), stacked(narrow), left)]
    return [*blocks, *note_blocks(pattern, width)]


def _beside(one: Block, other: Block, left: float) -> Block:
    """Two blocks, the other so many mm to the right."""

    def draw(canvas: Canvas, start: float, top: float) -> None:
        one.draw(canvas, start, top)
        other.draw(canvas, start + left, top)

    return Block(max(one.height, other.height), draw, before=3.0)


def _rows(cells: Sequence[_Cell], width: float) -> Iterator[Block]:
    row: list[_Cell] = []
    for cell in cells:
        if row and sum(each.width + _GAP for each in row) + cell.width > width:
            yield _row(row)
            row = []
        row.append(cell)
    if row:
        yield _row(row)


def _row(cells: Sequence[_Cell]) -> Block:
    cells = tuple(cells)

    def draw(canvas: Canvas, left: float, top: float) -> None:
        for cell in cells:
            cell.block.draw(canvas, left, top)
            left += cell.width + _GAP

    return Block(max(cell.block.height for cell in cells), draw, before=3.0)


def _tiling_cell(tiling: Tiling, numbers: Mapping[tuple[int, int], int], unit: str, width: float) -> _Cell:
    whole = tile_step(tiling.page) * (tiling.columns - 1, tiling.rows - 1) + room_size(tiling.page)
    scale = _CELL / float(whole.max())
    # A tile must be large enough for its number, the drawing small enough for the page.
    scale = max(scale, _NUMBER / float(tile_step(tiling.page).min()))
    scale = min(scale, width / float(whole[0]), _HIGHEST / float(whole[1]))
    low, high = extent(tiling.piece)
    first, last = min(numbers.values()), max(numbers.values())
    told_pages = f"page {first}" if first == last else f"pages {first} to {last}"
    caption = [f"{sizes_told(high - low, unit, by=BY)}, {tiling.piece.material}", told_pages]
    wide = max(_CELL, float(whole[0]) * scale)

    def draw(canvas: Canvas, left: float, top: float) -> None:
        corner = np.array([left, top - whole[1] * scale])
        _outline(canvas, tiling.drawing, scale, corner)
        for tile, number in numbers.items():
            box = own_box(tiling, tile) * scale + corner
            line(canvas, rectangle(box), colour=GREY, width=0.15)
            _number(canvas, number, box)

    return _captioned(copy_name(tiling.piece, tiling.copy), caption, wide, Block(float(whole[1]) * scale, draw, 1.0))


def _alike(shared: Iterable[tuple[int, SharedPage]]) -> Iterator[list[tuple[int, SharedPage]]]:
    """Pages by their numbers, those together that follow each other with the same pieces."""

    def kinds(numbered: tuple[int, SharedPage]) -> tuple[Page, list[int]]:
        return numbered[1].page, [id(stand.piece) for stand in numbered[1].stands]

    for _, alike in groupby(shared, key=kinds):
        yield list(alike)


def _shared_cell(alike: Sequence[SharedPage], number: int) -> _Cell:
    """The first of some pages alike, of which the first has this number."""
    shared = alike[0]
    page = shared.page
    last = number + len(alike) - 1
    told_pages = f"page {number}" if len(alike) == 1 else f"pages {number} to {last}"
    each = " on each" if len(alike) > 1 else ""
    scale = _PAGE / max(page.width, page.height)
    material = shared.stands[0].piece.material

    def draw(canvas: Canvas, left: float, top: float) -> None:
        corner = np.array([left, top - page.height * scale])
        line(canvas, rectangle(np.array([corner, [left + page.width * scale, top]])), colour=GREY, width=0.15)
        for stand in shared.stands:
            _outline(canvas, stand.drawing, scale, corner)

    caption = [f"{shared_name(shared)}{each}", material]
    return _captioned(told_pages, caption, _CELL, Block(page.height * scale, draw, 1.0))


def _captioned(title: str, lines: Sequence[str], width: float, drawing: Block) -> _Cell:
    caption = text_blocks(title, width, size=8, bold=True)
    for each in lines:
        caption += text_blocks(each, width, size=SMALL)
    return _Cell(width, stacked([*caption, drawing]))


def _outline(canvas: Canvas, drawing: Drawing, scale: float, shift: NDArray[np.float64]) -> None:
    for stroke in drawing.strokes:
        if stroke.layer == Layer.CUT:
            points = np.concatenate([stroke.points, stroke.points[:1]]) if stroke.closed else stroke.points
            line(canvas, points * scale + shift, width=0.15)


def _number(canvas: Canvas, number: int, box: Box) -> None:
    """The number of a page in its tile, on white so that lines do not cross it; none where it has no room."""
    text, size = str(number), 8.0
    half = np.array([width_of(text, size=size) / 2 + 0.4, 1.4])
    if (2 * half > box[1] - box[0]).any():
        return
    middle = box.mean(axis=0)
    line(canvas, rectangle(np.array([middle - half, middle + half])), colour="#FFFFFF", fill=True)
    words(canvas, text, (middle[0], middle[1] - 1.0), size=size, align=0.5)
