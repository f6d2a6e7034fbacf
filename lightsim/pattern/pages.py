"""Pieces laid out on the pages of a printer: small ones whole, several on a page, large ones as tiles that overlap.

Every page keeps a margin that printers may leave blank and a band at the bottom for its header and check bar; the rest
is its room. Coordinates are mm from the lower left of the page, or of the lowest left tile of a tiling.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from lightsim.pattern.clip import Box, crossed, segments
from lightsim.pattern.drawing import Drawing, drawn, extent, moved
from lightsim.pattern.pack import CutSheet, packed
from lightsim.pattern.piece import Label, Pattern, Piece, Ring
from lightsim.pattern.sizes import EDGE, PAPERS
from lightsim.rig.errors import alternatives, closest, fault, quoted

MARGIN = 10.0  # mm at every side of a page, where many printers cannot print
BAND = 14.0  # mm above the lower margin, for header and check bar
OVERLAP = 10.0  # mm that neighbouring tiles have in common; they are trimmed and joined along its middle
_INSET = 0.5  # mm by which the room keeps clear of the margin: lines have a width
_ROUNDING = 1e-6  # mm, by which a piece may be larger than what it just fits
_CLEAR = 2.0  # mm between a tiled piece and the frame of its tiles
_MANY = 60  # tiles, from which on a piece is only tried in the middle of them

Tile = tuple[int, int]  # column from the left, row from the top, from 0


@dataclass(frozen=True)
class Page:
    """A sheet in the printer."""

    width: float  # mm
    height: float  # mm


@dataclass(frozen=True)
class Stand:
    """A copy of a piece that stands whole on a page."""

    piece: Piece
    copy: int  # from 1
    turned: bool  # by a quarter
    drawing: Drawing  # where it stands


@dataclass(frozen=True)
class SharedPage:
    """A page with whole pieces, all of one material."""

    page: Page
    stands: tuple[Stand, ...]


@dataclass(frozen=True)
class Tiling:
    """A copy of a piece that is larger than a page, and the tiles that it is cut into."""

    piece: Piece
    copy: int  # from 1
    page: Page
    drawing: Drawing  # in the frame of the tiling
    columns: int
    rows: int
    kept: tuple[Tile, ...]  # that bear lines or join those that do, row by row


@dataclass(frozen=True)
class TilePage:
    """A page with one tile."""

    tiling: Tiling
    tile: Tile


@dataclass(frozen=True)
class Layout:
    """All pages with pieces, in the order in which they are printed."""

    pages: tuple[SharedPage | TilePage, ...]
    tilings: tuple[Tiling, ...]


def laid_out(pattern: Pattern, *, paper: str) -> Layout:
    """The pieces of a pattern on pages of this paper ("A4" or "Letter"), all copies: tiles first, then shared pages.

    Raises RigError for another paper.
    """
    portrait, landscape = page_of(paper, landscape=False), page_of(paper, landscape=True)
    drawings = [(piece, drawn(piece)) for piece in pattern.pieces]
    small = [each for each in drawings if _fits(each[1], portrait) or _fits(each[1], landscape)]
    large = [piece for piece, drawing in drawings if not (_fits(drawing, portrait) or _fits(drawing, landscape))]
    tilings = [
        replace(tiling, copy=copy)
        for piece in large
        for tiling in [tiled(piece, (portrait, landscape))]
        for copy in range(1, piece.copies + 1)
    ]
    tiles = [TilePage(tiling, tile) for tiling in tilings for tile in tiling.kept]
    return Layout((*tiles, *_shared(small, portrait, landscape)), tuple(tilings))


def page_of(paper: str, *, landscape: bool) -> Page:
    """A page of a paper; raises RigError for one that is not known."""
    known = {name.casefold(): size for name, size in PAPERS.items()}
    if paper.casefold() not in known:
        near = closest(paper, PAPERS) or "A4"
        allowed = alternatives(PAPERS)
        raise fault(f"paper {quoted(paper)}", what="tiles are not made for this paper", allowed=allowed, remedy=near)
    width, height = known[paper.casefold()]
    return Page(height, width) if landscape else Page(width, height)


def room(page: Page) -> Box:
    """Where lines of pieces may be on a page."""
    return np.array(
        [
            [MARGIN + _INSET, MARGIN + BAND],
            [page.width - MARGIN - _INSET, page.height - MARGIN - _INSET],
        ]
    )


def room_size(page: Page) -> NDArray[np.float64]:
    """Width and height of the room of a page, which is the size of a tile, (2,) mm."""
    low, high = room(page)
    return np.asarray(high - low)


def _fits(drawing: Drawing, page: Page) -> bool:
    low, high = extent(drawing)
    sides, size = high - low, room_size(page) + _ROUNDING
    return bool((sides <= size).all() or (sides[::-1] <= size).all())


# Whole pieces

_Drawn = tuple[Piece, Drawing]


def _shared(pieces: Sequence[_Drawn], portrait: Page, landscape: Page) -> Iterator[SharedPage]:
    """Pages of whole pieces: one material a page, so that what a printer takes can be printed on directly."""
    for material in dict.fromkeys(piece.material for piece, _ in pieces):
        own = [each for each in pieces if each[0].material == material]
        ways = [
            [*_whole(own, first, leave=None), *_whole(own, second, leave=first)]
            for first, second in ((portrait, landscape), (landscape, portrait))
        ]
        yield from min(ways, key=lambda way: (len(way), sum(stand.turned for page in way for stand in page.stands)))


def _whole(pieces: Sequence[_Drawn], page: Page, *, leave: Page | None) -> list[SharedPage]:
    """Pages with those pieces that fit on them and not on the pages named by leave."""
    own = [each for each in pieces if _fits(each[1], page) and not (leave and _fits(each[1], leave))]
    # Pieces are packed by the box of all their lines, under their numbers; the packer keeps an edge of its own.
    boxes = [
        Piece(str(number), piece.name, piece.material, _ring(extent(drawing)), copies=piece.copies)
        for number, (piece, drawing) in enumerate(own)
    ]
    width, height = room_size(page) + 2 * EDGE
    copies = [0] * len(own)
    sheets = packed(boxes, sizes={}, usual=(width, height))
    return [SharedPage(page, _centred(list(_stands(sheet, own, copies)), page)) for sheet in sheets]


def _ring(box: Box) -> Ring:
    (left, bottom), (right, top) = box
    return np.array([[left, bottom], [right, bottom], [right, top], [left, top]])


def _stands(sheet: CutSheet, pieces: Sequence[_Drawn], copies: list[int]) -> Iterator[Stand]:
    """The pieces of a sheet; copies counts how many there were of each."""
    for place in sheet.places:
        number = int(place.piece.part)
        piece, drawing = pieces[number]
        copies[number] += 1
        # A piece alone on its page stands as it is read, if it fits.
        low, high = extent(drawing)
        size = np.array([sheet.width, sheet.height]) - 2 * EDGE + _ROUNDING
        turned = place.turned and not (len(sheet.places) == 1 and bool((high - low <= size).all()))
        as_read = moved(drawing, shift=np.zeros(2), turned=turned)
        there = moved(as_read, shift=place.corner - extent(as_read)[0])
        yield Stand(piece, copies[number], turned, there)


def _centred(stands: Sequence[Stand], page: Page) -> tuple[Stand, ...]:
    """Pieces moved together to the middle of the room of a page."""
    corners = np.concatenate([extent(stand.drawing) for stand in stands])
    shift = room(page).mean(axis=0) - (corners.min(axis=0) + corners.max(axis=0)) / 2
    return tuple(replace(stand, drawing=moved(stand.drawing, shift=shift)) for stand in stands)


# Tiles


def tiled(piece: Piece, pages: Sequence[Page]) -> Tiling:
    """A piece on as few tiles as are found: either way round, on any of these pages, in several places on them."""
    given = drawn(piece)
    found: list[tuple[int, int, Tiling, NDArray[np.float64], bool]] = []
    for turned, page in product((False, True), pages):
        drawing = moved(given, shift=np.zeros(2), turned=turned)
        low, high = extent(drawing)
        size, step = room_size(page), tile_step(page)
        columns, rows = (int(count) for count in 1 + np.ceil(np.maximum(high - low + 2 * _CLEAR - size, 0) / step))
        slack = step * (np.array([columns, rows]) - 1) + size - (high - low) - 2 * _CLEAR
        shares = (0.5, 0.25, 0.75, 0.0, 1.0) if columns * rows <= _MANY else (0.5,)
        for across, up in product(shares, shares):
            shift = _CLEAR + slack * (across, up) - low
            empty = Tiling(piece, 1, page, moved(drawing, shift=shift), columns, rows, ())
            tiling = replace(empty, kept=_kept(empty))
            found.append((len(tiling.kept), _cut_through(tiling, piece), tiling, shift, turned))
    *_, best, shift, turned = min(found, key=lambda each: each[:2])
    # The caption stands where no seam cuts it and no tile is left out.
    back = np.array([[0.0, -1.0], [1.0, 0.0]]) if turned else np.eye(2)
    corners = [(box - shift) @ back for box in _unprinted(best)]
    boxes = [np.array([each.min(axis=0), each.max(axis=0)]) for each in corners]
    best = replace(best, drawing=moved(drawn(piece, keep_clear=boxes), shift=shift, turned=turned))
    return replace(best, drawing=replace(best.drawing, labels=_told_whole(best)))


def _cut_through(tiling: Tiling, piece: Piece) -> int:
    """How many of the letters and words that a piece states are cut by the seams of its tiles."""
    step = tile_step(tiling.page)
    cuts = 0
    for label in tiling.drawing.labels[: len(piece.labels)]:
        way = _along(label)
        tiles = np.floor((np.array([way.min(axis=0), way.max(axis=0)]) - OVERLAP / 2) / step)
        first, last = np.clip(tiles, 0, np.array([tiling.columns, tiling.rows]) - 1)
        cuts += bool((first < last).any())
    return cuts


def _unprinted(tiling: Tiling) -> Iterator[Box]:
    """The overlaps of tiles, and the tiles that are left out, as boxes in the frame of a tiling."""
    step, size = tile_step(tiling.page), room_size(tiling.page)
    whole = step * (tiling.columns - 1, tiling.rows - 1) + size
    for column in range(1, tiling.columns):
        yield np.array([[step[0] * column, 0.0], [step[0] * column + OVERLAP, whole[1]]])
    for row in range(1, tiling.rows):
        yield np.array([[0.0, step[1] * row], [whole[0], step[1] * row + OVERLAP]])
    for tile in product(range(tiling.columns), range(tiling.rows)):
        if tile not in tiling.kept:
            yield tile_box(tiling, tile)


def tile_step(page: Page) -> NDArray[np.float64]:
    """From one tile to the next, across and up, (2,) mm."""
    return room_size(page) - OVERLAP


def tile_box(tiling: Tiling, tile: Tile) -> Box:
    """The frame of a tile."""
    column, row = tile
    corner = tile_step(tiling.page) * (column, tiling.rows - 1 - row)
    return np.array([corner, corner + room_size(tiling.page)])


def own_box(tiling: Tiling, tile: Tile) -> Box:
    """What is left of a tile when its overlaps are trimmed along their middle: these boxes meet and do not overlap."""
    column, row = tile
    low, high = tile_box(tiling, tile)
    half = OVERLAP / 2
    inner_low = np.array([column > 0, row < tiling.rows - 1])
    inner_high = np.array([column < tiling.columns - 1, row > 0])
    return np.array([low + half * inner_low, high - half * inner_high])


def neighbours(tiling: Tiling, tile: Tile) -> dict[str, Tile]:
    """The kept tiles at the sides of a tile: "left", "right", "top" and "bottom"."""
    column, row = tile
    beside = {
        "left": (column - 1, row),
        "right": (column + 1, row),
        "top": (column, row - 1),
        "bottom": (column, row + 1),
    }
    return {side: each for side, each in beside.items() if each in tiling.kept}


def tile_name(tile: Tile) -> str:
    """A tile by letter and number, A1 at the upper left."""
    column, row = tile
    letters = ""
    column += 1
    while column:
        column, letter = divmod(column - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return f"{letters}{row + 1}"


def crosses(tiling: Tiling, tile: Tile) -> dict[str, NDArray[np.float64]]:
    """Names and places (2,) mm of the four registration crosses of a tile, in the frame of the tiling.

    They stand where the middles of overlaps meet; tiles that share one give it the same name, in small letters.
    """
    column, row = tile
    low, high = tile_box(tiling, tile)
    inner = np.array([low + OVERLAP / 2, high - OVERLAP / 2])
    return {
        tile_name((column + right, row + below)).lower(): np.array([inner[right, 0], inner[1 - below, 1]])
        for right, below in product((0, 1), (0, 1))
    }


def _kept(tiling: Tiling) -> tuple[Tile, ...]:
    """The tiles that lines cross, and those without which some of these would join none of the others."""
    starts, ends = segments(tiling.drawing)
    tiles = [(column, row) for row in range(tiling.rows) for column in range(tiling.columns)]
    crossing = {tile for tile in tiles if crossed(starts, ends, tile_box(tiling, tile))}
    linked = _linked(crossing)
    return tuple(tile for tile in tiles if tile in linked)


def _linked(tiles: set[Tile]) -> set[Tile]:
    """Tiles and the fewest that are found between them, so that each joins others along an edge."""
    linked = _reached(min(tiles), tiles)
    while apart := tiles - linked:
        _, (column, row), end = min(
            (abs(one[0] - other[0]) + abs(one[1] - other[1]), one, other) for one in linked for other in apart
        )
        while (column, row) != end:
            if column != end[0]:
                column += 1 if end[0] > column else -1
            else:
                row += 1 if end[1] > row else -1
            linked.add((column, row))
        linked = _reached(end, tiles | linked)
    return linked


def _reached(start: Tile, tiles: set[Tile]) -> set[Tile]:
    """The tiles to which a way from edge to edge leads."""
    reached, waiting = {start}, [start]
    while waiting:
        column, row = waiting.pop()
        for near in ((column - 1, row), (column + 1, row), (column, row - 1), (column, row + 1)):
            if near in tiles and near not in reached:
                reached.add(near)
                waiting.append(near)
    return reached


def _told_whole(tiling: Tiling) -> tuple[Label, ...]:
    """The labels of which nothing is lost with tiles that are left out; headers name the piece all the same."""
    boxes = [tile_box(tiling, tile) for tile in tiling.kept]
    return tuple(
        label
        for label in tiling.drawing.labels
        if all(any(_inside(point, box) for box in boxes) for point in _along(label))
    )


def _along(label: Label) -> NDArray[np.float64]:
    """Points along the words of a label, (n, 2) mm; letters are taken to be about two thirds as wide as high."""
    reach = label.height * len(label.text) / 3
    way = np.array([np.cos(label.angle), np.sin(label.angle)])
    return np.asarray(label.place + np.linspace(-reach, reach, 9)[:, None] * way)


def _inside(point: NDArray[np.float64], box: Box) -> bool:
    return bool((box[0] <= point).all() and (point <= box[1]).all())
