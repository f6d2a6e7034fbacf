"""Pieces placed on sheets so that few sheets are needed: their bounding boxes are packed, gaps between them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import ceil, floor

import numpy as np
import rectpack

from lightsim.pattern.drawing import Drawing, Stroke, drawn, moved
from lightsim.pattern.piece import Layer, Piece, Place, extent, sides
from lightsim.pattern.sizes import EDGE, MOST, sizes_told
from lightsim.rig.errors import RigError, fault, quoted
from lightsim.rig.units import INCH

GAP = 5.0  # mm, between the boxes of two pieces
SHEET_EDGE = "edge of the sheet"  # what that stroke of a sheet's drawing is called

# The packer compares sides exactly: whole micrometres keep rounding out of what just fits.
_GRID = 1000  # steps a mm
_FEW = 60  # pieces of one material, up to which every way of packing is tried
_USUAL = {"mm": ((500, 700), (700, 1000), (1000, 1400)), "inch": ((20, 28), (28, 40), (40, 55))}  # common in shops
_STEP = {"mm": 50, "inch": 2}  # by which larger sheets are proposed


@dataclass(frozen=True)
class PiecePlace:
    """Where one copy of a piece lies on its sheet."""

    piece: Piece
    corner: Place  # (2,) mm, lower left of its bounding box, from the lower left of the sheet
    turned: bool  # by a quarter, anticlockwise


@dataclass(frozen=True)
class CutSheet:
    """A sheet of one material and what is cut from it."""

    material: str
    width: float  # mm
    height: float  # mm
    places: tuple[PiecePlace, ...]


def packed(
    pieces: Sequence[Piece],
    *,
    sizes: Mapping[str, tuple[float, float]],
    usual: tuple[float, float],
    unit: str = "mm",
) -> tuple[CutSheet, ...]:
    """All copies of all pieces on as few sheets as are found, one material a sheet; the same input gives the same.

    sizes : width and height [mm] of the sheets of a material; usual : those of every other material
    unit : "mm" or "inch", in which errors tell lengths
    Boxes keep GAP from each other and EDGE from the edges; quarter turns are allowed. The packing is the best of
    several rules of thumb (rectpack), by number of sheets, then by the heights used on them: not always the least.
    Raises RigError for a piece that fits on its sheet neither way.
    """
    sheets: list[CutSheet] = []
    for material in dict.fromkeys(piece.material for piece in pieces):
        own = [piece for piece in pieces if piece.material == material]
        size = sizes.get(material, usual)
        for piece in own:
            _require_room(piece, size, unit)
        copies = [piece for piece in own for _ in range(piece.copies)]
        sheets += _best(copies, material, size)
    return tuple(sheets)


def sheet_drawing(sheet: CutSheet) -> Drawing:
    """All pieces of a sheet where they lie, and its edge as a mark; origin at its lower left, mm."""
    copies = {id(place.piece): drawn(place.piece) for place in sheet.places}
    placed = [_moved(copies[id(place.piece)], place) for place in sheet.places]
    edge = np.array([[0.0, 0.0], [sheet.width, 0.0], [sheet.width, sheet.height], [0.0, sheet.height]])
    strokes = [Stroke(Layer.MARK, edge, True, SHEET_EDGE), *(stroke for each in placed for stroke in each.strokes)]
    return Drawing(sheet.material, tuple(strokes), tuple(label for each in placed for label in each.labels))


def _moved(drawing: Drawing, place: PiecePlace) -> Drawing:
    (left, bottom), (_, top) = extent(place.piece)
    # A quarter anticlockwise takes (x, y) to (-y, x): the lowest left of the turned box is (-top, left).
    lowest = np.array([-top, left]) if place.turned else np.array([left, bottom])
    return moved(drawing, shift=place.corner - lowest, turned=place.turned)


def _grid_box(piece: Piece) -> tuple[int, int]:
    """Width and height of a piece and one gap, in steps of the grid; a thousandth of a step more is rounding."""
    width, height = (ceil(round((side + GAP) * _GRID, 3)) for side in sides(piece))
    return width, height


def _grid_room(size: tuple[float, float]) -> tuple[int, int]:
    """What the boxes of _grid_box may fill of a sheet: the last gap in a row may reach into the edge."""
    width, height = (floor(round((side - 2 * EDGE + GAP) * _GRID, 3)) for side in size)
    return width, height


def _fits(box: tuple[int, int], room: tuple[int, int]) -> bool:
    return any(box[first] <= room[0] and box[1 - first] <= room[1] for first in (0, 1))


def _require_room(piece: Piece, size: tuple[float, float], unit: str) -> None:
    if _fits(_grid_box(piece), _grid_room(size)):
        return
    raise fault(
        f"{quoted(piece.name)}, of {piece.material}",
        what=f"this piece of {sizes_told(sides(piece), unit)} does not fit on a sheet of {sizes_told(size, unit)}",
        allowed=f"pieces of at most {sizes_told((size[0] - 2 * EDGE, size[1] - 2 * EDGE), unit)}, either way round: "
        f"{sizes_told((EDGE,), unit)} stay free along the edges",
        remedy=_larger(piece, unit),
    )


def _larger(piece: Piece, unit: str) -> str:
    """The sheet to try for a piece that is too large."""
    scale, step = (INCH if unit == "inch" else 1.0), _STEP[unit]
    box = _grid_box(piece)
    for width, height in _USUAL[unit]:
        if _fits(box, _grid_room((width * scale, height * scale))):
            return f'--sheet "{piece.material}={width}x{height}"'
    needed = sorted((side + 2 * EDGE) / scale for side in sides(piece))
    width, height = (step * ceil(side / step) for side in needed)
    if height * scale > MOST:
        return "a smaller part, or building it of several"
    return f'--sheet "{piece.material}={width}x{height}"'


def _best(copies: Sequence[Piece], material: str, size: tuple[float, float]) -> list[CutSheet]:
    boxes, room = [_grid_box(piece) for piece in copies], _grid_room(size)
    found = [rows for rows in _packings(boxes, room) if len(rows) == len(boxes)]
    if not found:
        raise RigError(f"{material}: its pieces could not be placed on sheets. Try larger sheets")
    best = min(found, key=_waste)
    numbers = sorted({row[0] for row in best})
    return [CutSheet(material, *size, tuple(_places(copies, boxes, best, number))) for number in numbers]


# Of one box: number of its sheet, left, bottom, width, height on the grid, number of the piece.
_Row = tuple[int, int, int, int, int, int]


def _packings(boxes: Sequence[tuple[int, int]], room: tuple[int, int]) -> Iterator[list[_Row]]:
    """Packings by several rules; one that may not turn boxes can leave some out."""
    few = len(boxes) <= _FEW
    rules = (
        rectpack.MaxRectsBl,
        rectpack.MaxRectsBssf,
        rectpack.MaxRectsBaf,
        rectpack.MaxRectsBlsf,
        rectpack.GuillotineBssfSas,
    )
    orders = (rectpack.SORT_AREA, rectpack.SORT_LSIDE, rectpack.SORT_SSIDE, rectpack.SORT_PERI)
    bins = (rectpack.PackingBin.BFF, rectpack.PackingBin.BBF)
    # No rule looks ahead: boxes that only leave nothing over when all stand, or all lie, are tried in these ways too.
    upright = [(min(box), max(box)) for box in boxes]
    lying = [(max(box), min(box)) for box in boxes]
    ways = [*product((boxes, upright, lying), (True, False))] if few else [(boxes, True)]
    # Skylines do not slow down as the square of the number of boxes, the other rules do.
    for rule, order, which in product((*rules * few, rectpack.SkylineBlWm), orders, bins):
        for held, may_turn in ways:
            packer = rectpack.newPacker(bin_algo=which, pack_algo=rule, sort_algo=order, rotation=may_turn)
            packer.add_bin(*room, count=len(boxes))
            for number, box in enumerate(held):
                packer.add_rect(*box, rid=number)
            packer.pack()
            yield list(packer.rect_list())


def _waste(rows: Iterable[_Row]) -> tuple[int, int]:
    """Number of sheets, and the heights used on them."""
    heights: dict[int, int] = {}
    for number, _, bottom, _, height, _ in rows:
        heights[number] = max(heights.get(number, 0), bottom + height)
    return len(heights), sum(heights.values())


def _places(
    copies: Sequence[Piece], boxes: Sequence[tuple[int, int]], rows: Iterable[_Row], number: int
) -> Iterator[PiecePlace]:
    for sheet, left, bottom, width, height, index in sorted(rows, key=lambda row: row[-1]):
        if sheet == number:
            corner = np.array([left, bottom]) / _GRID + EDGE
            yield PiecePlace(copies[index], corner, turned=(width, height) != boxes[index])
