"""Patterns as PDF at full size: on the pages of a printer, or a page for each sheet that is cut."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from itertools import count

import numpy as np
from numpy.typing import NDArray
from reportlab.pdfgen.canvas import Canvas

from lightsim.pattern.clip import Box, clipped
from lightsim.pattern.flow import Block, Column, balanced, drawn_column, flowed, stacked
from lightsim.pattern.front import (
    FULL_SIZE,
    WIDTH,
    check_block,
    copy_name,
    map_blocks,
    note_blocks,
    shared_name,
    title_blocks,
    word_blocks,
)
from lightsim.pattern.ink import (
    BY,
    GREY,
    INK,
    POINT,
    SMALL,
    check_bars,
    fitted,
    label_box,
    labels,
    line,
    new_canvas,
    rectangle,
    strokes,
    width_of,
    words,
)
from lightsim.pattern.pack import CutSheet, sheet_drawing
from lightsim.pattern.pages import (
    BAND,
    MARGIN,
    OVERLAP,
    Layout,
    Page,
    SharedPage,
    Tile,
    TilePage,
    Tiling,
    crosses,
    laid_out,
    neighbours,
    own_box,
    page_of,
    room,
    room_size,
    tile_box,
    tile_name,
)
from lightsim.pattern.piece import Pattern
from lightsim.pattern.sizes import sizes_told
from lightsim.rig.errors import fault, quoted

_ARM = 2.5  # mm, of a registration cross
_TRIM = 1.8  # mm, of a trim mark
_LARGEST = 14400 * POINT  # mm, side of a page: ISO 32000-1, table C.1 (from memory)
_COLUMN_GAP = 10.0  # mm, between columns of words


def tiled_pdf(pattern: Pattern, *, paper: str, summary: Sequence[str]) -> bytes:
    """All pieces at full size on pages of this paper ("A4" or "Letter"), behind pages that explain them.

    summary : lines for the first page. The same pattern gives the same bytes.
    Raises RigError for another paper.
    """
    layout = laid_out(pattern, paper=paper)
    fronts = _fronts(pattern, layout, paper, summary)
    total = len(fronts) + len(layout.pages)
    file = BytesIO()
    canvas = new_canvas(file, title=pattern.title, subject=f"Cutting pattern at full size, {paper}")
    page = page_of(paper, landscape=False)
    for number, column in enumerate(fronts, start=1):
        _open(canvas, page)
        drawn_column(canvas, column, left=MARGIN + 0.5, top=page.height - MARGIN)
        _header(canvas, page, pattern, "overview", f"page {number} of {total}", bar=number > 1)
        canvas.showPage()
    numbers = {
        (id(each.tiling), each.tile): number
        for number, each in enumerate(layout.pages, start=len(fronts) + 1)
        if isinstance(each, TilePage)
    }
    for number, each in enumerate(layout.pages, start=len(fronts) + 1):
        told_number = f"page {number} of {total}"
        if isinstance(each, TilePage):
            tiling = each.tiling
            _open(canvas, tiling.page)
            joins = {side: numbers[id(tiling), tile] for side, tile in neighbours(tiling, each.tile).items()}
            _tile(canvas, tiling, each.tile, joins)
            name = f"{copy_name(tiling.piece, tiling.copy)}, {tiling.piece.material}, {tiling.piece.side} shown"
            tile = f"tile {tile_name(each.tile)} of {tiling.columns} × {tiling.rows}"
            _header(canvas, tiling.page, pattern, name, f"{tile}, {told_number}")
        else:
            _open(canvas, each.page)
            _whole_pieces(canvas, each)
            name = f"{shared_name(each)}, {each.stands[0].piece.material}"
            _header(canvas, each.page, pattern, name, told_number)
        canvas.showPage()
    canvas.save()
    return file.getvalue()


def _fronts(pattern: Pattern, layout: Layout, paper: str, summary: Sequence[str]) -> list[Column]:
    """The columns of the front pages, a column a page."""
    page = page_of(paper, landscape=False)
    height = page.height - 2 * MARGIN - BAND
    # The map tells page numbers, which begin behind the front pages; whose number depends on the map's words.
    for fronts in count(1):
        pages = fronts + len(layout.pages)
        kind = f"Cutting pattern at full size on {paper} paper, {pages} page{'s' if pages > 1 else ''}"
        blocks = [
            *title_blocks(pattern, kind, WIDTH),
            check_block(pattern),
            *word_blocks(pattern, summary, WIDTH, tiles=bool(layout.tilings)),
            *map_blocks(layout, pattern, first=fronts + 1, width=WIDTH),
        ]
        columns = flowed(blocks, height=height)
        if len(columns) <= fronts:
            return [*columns, *[()] * (fronts - len(columns))]
    raise AssertionError("count() never ends")


def whole_pdf(pattern: Pattern, sheets: Sequence[CutSheet], *, summary: Sequence[str]) -> bytes:
    """A page for each sheet that is cut: the sheet at full size, below it a band with size check and words.

    summary : lines for the band of the first page. The same sheets give the same bytes.
    Raises RigError for a sheet too large for a page of a PDF file.
    """
    file = BytesIO()
    canvas = new_canvas(file, title=pattern.title, subject="Cutting pattern at full size, a page a sheet")
    for number, sheet in enumerate(sheets, start=1):
        width = max(sheet.width, WIDTH + 2 * MARGIN)
        size = sizes_told((sheet.width, sheet.height), pattern.unit, by=BY)
        head = title_blocks(pattern, f"Sheet {number} of {len(sheets)}: {sheet.material}, {size}", WIDTH)
        blocks = [stacked([*head, check_block(pattern)])]
        if number == 1:
            blocks += [*word_blocks(pattern, summary, WIDTH, tiles=False), *note_blocks(pattern, WIDTH)]
        _sheet_page(canvas, sheet, width, blocks, unit=pattern.unit)
        canvas.showPage()
    if not sheets:
        # A file without pages cannot be opened.
        page = page_of("A4", landscape=False)
        blocks = [
            *title_blocks(pattern, "Nothing to cut: no part has a flat pattern.", WIDTH),
            *word_blocks(pattern, summary, WIDTH, tiles=False),
        ]
        for column in flowed(blocks, height=page.height - 2 * MARGIN):
            _open(canvas, page)
            drawn_column(canvas, column, left=MARGIN, top=page.height - MARGIN)
            canvas.showPage()
    canvas.save()
    return file.getvalue()


def _sheet_page(canvas: Canvas, sheet: CutSheet, width: float, blocks: Sequence[Block], *, unit: str) -> None:
    """A page with a sheet above and blocks below, in as many columns as have room."""
    room_for = int((width - 2 * MARGIN + _COLUMN_GAP) // (WIDTH + _COLUMN_GAP))
    columns, height = balanced(blocks, columns=room_for)
    band = height + 2 * MARGIN
    if max(width, sheet.height + band) > _LARGEST:
        raise fault(
            f"sheet of {quoted(sheet.material)}",
            what=f"the page would be {sizes_told((max(width, sheet.height + band),), unit)} long",
            allowed=f"at most {sizes_told((_LARGEST,), unit)}, sheet and the words below it together",
            remedy="smaller sheets, or SVG or DXF files",
        )
    canvas.setPageSize((width / POINT, (sheet.height + band) / POINT))
    for number, column in enumerate(columns):
        left = MARGIN + number * (WIDTH + _COLUMN_GAP)
        drawn_column(canvas, column, left=left, top=band - MARGIN)
    drawing, box = sheet_drawing(sheet), np.array([[0.0, 0.0], [sheet.width, sheet.height]])
    shift = np.array([0.0, band])
    around = box + np.array([[-0.1, -0.1], [0.1, 0.1]])  # the sheet's edge must not be lost to rounding
    strokes(canvas, drawing, box=around, shift=shift)
    labels(canvas, drawing, box=around, shift=shift)


# Pages of a printer


def _open(canvas: Canvas, page: Page) -> None:
    canvas.setPageSize((page.width / POINT, page.height / POINT))


def _header(canvas: Canvas, page: Page, pattern: Pattern, name: str, place: str, *, bar: bool = True) -> None:
    """What every page says in the band at its bottom."""
    left, right = MARGIN + 0.5, page.width - MARGIN - 0.5
    upper, lower = MARGIN + BAND - 4.0, MARGIN + 2.0
    words(canvas, place, (right, upper), size=8, align=1.0)
    text = fitted(f"{pattern.title}: {name}", right - left - width_of(place, size=8) - 4, size=8, bold=True)
    words(canvas, text, (left, upper), size=8, bold=True)
    words(canvas, FULL_SIZE, (right, lower), size=SMALL, align=1.0)
    if bar:
        check_bars(canvas, left, MARGIN + 8.0, unit=pattern.unit)


def _whole_pieces(canvas: Canvas, shared: SharedPage) -> None:
    # A line along the edge of the room must not be lost to rounding.
    box = room(shared.page) + np.array([[-0.1, -0.1], [0.1, 0.1]])
    for stand in shared.stands:
        strokes(canvas, stand.drawing, box=box, shift=np.zeros(2))
        labels(canvas, stand.drawing, box=box, shift=np.zeros(2))


def _tile(canvas: Canvas, tiling: Tiling, tile: Tile, joins: dict[str, int]) -> None:
    """A tile: lines and words of its piece, its frame, and what joins it to its neighbours."""
    box = tile_box(tiling, tile)
    shift = room(tiling.page)[0] - box[0]
    inset = np.array([[0.1, 0.1], [-0.1, -0.1]])
    line(canvas, rectangle(room(tiling.page) + inset), colour=GREY, width=0.1)
    strokes(canvas, tiling.drawing, box=box, shift=shift)
    # Words that the neighbour bears whole would only be left here as parts of letters.
    labels(canvas, tiling.drawing, box=box, shift=shift, touching=own_box(tiling, tile))
    middle = box.mean(axis=0)
    for name, place in crosses(tiling, tile).items():
        _cross(canvas, name, place + shift, inward=np.sign(middle - place))
    for side, number in joins.items():
        _join(canvas, tiling, box, side, number)


def _cross(canvas: Canvas, name: str, place: NDArray[np.float64], *, inward: NDArray[np.float64]) -> None:
    """A registration cross, and its name toward the middle of the page, where trimming leaves it."""
    for arm in (np.array([_ARM, 0.0]), np.array([0.0, _ARM])):
        line(canvas, np.array([place - arm, place + arm]), width=0.15)
    x, y = place + inward * (0.8, 1.0) - (0.0, 2.0 if inward[1] < 0 else 0.0)
    words(canvas, name, (x, y), size=SMALL, align=0.0 if inward[0] > 0 else 1.0)


def _join(canvas: Canvas, tiling: Tiling, box: Box, side: str, number: int) -> None:
    """Arrow over an edge and the page beyond it, in the outer half of the overlap; trim marks where it is cut off."""
    upright = side in ("left", "right")
    along, across = (1, 0) if upright else (0, 1)
    outward = 1.0 if side in ("right", "top") else -1.0
    trimmed = side in ("right", "bottom")
    text = f"page {number} joins here" + (": trim at the marks" if trimmed else "")
    size = room_size(tiling.page)
    length = width_of(text, size=SMALL) + 5
    edge = size[across] if outward > 0 else 0.0  # in the frame of the tile
    strip = sorted((edge, edge - outward * OVERLAP / 2))
    start = _free_place(tiling, box, along, strip, length)
    corner = room(tiling.page)[0]

    def at(place_along: float, place_across: float) -> NDArray[np.float64]:
        place = np.array([place_along, place_across] if along == 0 else [place_across, place_along])
        return np.asarray(place + corner)

    # What lies here is cut off or covered by the neighbour: words may hide it where no place is free.
    ends = sorted((edge - outward * 0.3, edge - outward * (OVERLAP / 2 - 0.3)))
    patch = np.array([at(start, ends[0]), at(start + length, ends[1])])
    line(canvas, rectangle(np.array([patch.min(axis=0), patch.max(axis=0)])), colour="#FFFFFF", fill=True)
    tip, neck, foot = edge - outward * 0.4, edge - outward * 2.2, edge - outward * 4.6
    head = np.array([at(start + 0.4, neck), at(start + 2.6, neck), at(start + 1.5, tip), at(start + 0.4, neck)])
    line(canvas, head, colour=INK, fill=True)
    line(canvas, np.array([at(start + 1.5, foot), at(start + 1.5, neck)]), width=0.4)
    baseline = sum(strip) / 2 + (0.9 if upright else -0.9)
    x, y = at(start + 4, baseline)
    words(canvas, text, (x, y), size=SMALL, angle=np.pi / 2 if upright else 0.0)
    if trimmed:
        cut = edge - outward * OVERLAP / 2
        for begin, end in ((0.2, _TRIM), (size[along] - 0.2, size[along] - _TRIM)):
            line(canvas, np.array([at(begin, cut), at(end, cut)]), width=0.25)


def _free_place(tiling: Tiling, box: Box, along: int, strip: Sequence[float], length: float) -> float:
    """Where words of a length disturb the fewest lines and words of a strip along an edge, best near its middle."""
    size = room_size(tiling.page)[along]
    spare = size - length - 2 * (OVERLAP + 3)
    offsets = spare * np.array([0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9, 0.0, 1.0])

    def crossing(start: float) -> int:
        low, high = np.zeros(2), np.zeros(2)
        low[along], high[along] = start, start + length
        low[1 - along], high[1 - along] = strip
        low, high = low + box[0], high + box[0]
        lines = sum(
            len(clipped(each.points, np.array([low, high]), closed=each.closed)) for each in tiling.drawing.strokes
        )
        return lines + sum(
            bool((first < high).all() and (low < last).all()) for first, last in map(label_box, tiling.drawing.labels)
        )

    return min((OVERLAP + 3 + float(offset) for offset in offsets), key=crossing)
