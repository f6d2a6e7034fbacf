"""Packing: shapely, which the packer does not use, judges where pieces end up."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
from flat_pieces import net, rectangle, sector
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from shapely.affinity import rotate, translate

from lightsim.pattern.pack import GAP, CutSheet, packed, sheet_drawing
from lightsim.pattern.piece import Layer
from lightsim.pattern.sizes import EDGE
from lightsim.rig.errors import RigError

_SLACK = 2e-6  # mm: places are whole micrometres, shapely counts in double precision


def outlines(sheet: CutSheet) -> list[shapely.Polygon]:
    """Outlines on a sheet, read from its drawing."""
    return [shapely.Polygon(stroke.points) for stroke in sheet_drawing(sheet).strokes if stroke.text == "outline"]


def at_origin(shape: shapely.Polygon) -> shapely.Polygon:
    return translate(shape, -shape.bounds[0], -shape.bounds[1])


def judge(sheets, pieces):
    """Nothing overlaps or leaves its sheet, gaps are kept, every copy is there and has its shape, not mirrored."""
    for sheet in sheets:
        shapes = outlines(sheet)
        assert len(shapes) == len(sheet.places)
        room = shapely.box(EDGE - _SLACK, EDGE - _SLACK, sheet.width - EDGE + _SLACK, sheet.height - EDGE + _SLACK)
        assert all(room.covers(shape) for shape in shapes)
        boxes = [shapely.box(*shape.bounds) for shape in shapes]
        assert all(one.distance(other) >= GAP - _SLACK for one, other in combinations(boxes, 2))
        for shape, place in zip(shapes, sheet.places, strict=True):
            own = shapely.Polygon(place.piece.outline)
            expected = at_origin(rotate(own, 90 if place.turned else 0, origin=(0, 0)))
            assert at_origin(shape).symmetric_difference(expected).area < 1e-6 * own.area + 1e-6
            assert shape.bounds[:2] == pytest.approx(tuple(place.corner), abs=_SLACK)
            assert place.piece.material == sheet.material
    for piece in pieces:
        assert sum(place.piece is piece for sheet in sheets for place in sheet.places) == piece.copies


def sheets_in_rows(pieces, *, width, height):
    """Sheets needed by someone who lays pieces in rows, the highest first, each as it is drawn where that fits.

    Next fit by decreasing height (Coffman, Garey, Johnson, Tarjan, SIAM J. Comput. 9, 808, 1980, from memory).
    """
    room = (width - 2 * EDGE + GAP, height - 2 * EDGE + GAP)
    boxes = []
    for piece in pieces:
        wide, high = np.ptp(piece.outline, axis=0) + GAP
        boxes += [(wide, high) if wide <= room[0] and high <= room[1] else (high, wide)] * piece.copies
    sheets, bottom, row, right = 0, np.inf, 0.0, 0.0
    for wide, high in sorted(boxes, key=lambda box: -box[1]):
        if right + wide > room[0] or not sheets:
            bottom, row, right = bottom + row, high, 0.0
            if bottom + high > room[1]:
                sheets, bottom = sheets + 1, 0.0
        right += wide
    return sheets


_side = st.floats(3.0, 180.0)
_piece = st.builds(
    lambda width, height, left, copies, material: rectangle(
        width, height, left=left, bottom=-left, copies=copies, material=material
    ),
    _side,
    _side,
    st.floats(-300, 300),
    st.integers(1, 4),
    st.sampled_from(["white card", "copy paper"]),
)


# Shrinking an example that fails would take minutes.
@settings(max_examples=25, deadline=None, derandomize=True, phases=(Phase.explicit, Phase.generate))
@given(st.lists(_piece, max_size=8), st.floats(200, 700), st.floats(195, 700))
def test_pieces_lie_apart_and_inside_and_are_all_there(pieces, width, height):
    sheets = packed(pieces, sizes={"copy paper": (297.0, 210.0)}, usual=(width, height))
    judge(sheets, pieces)
    for sheet in sheets:
        assert (sheet.width, sheet.height) == ((297.0, 210.0) if sheet.material == "copy paper" else (width, height))
        own = [piece for piece in pieces if piece.material == sheet.material]
        number = sum(other.material == sheet.material for other in sheets)
        assert number <= sheets_in_rows(own, width=sheet.width, height=sheet.height)


def test_nets_and_sectors_keep_their_shape():
    pieces = [net(copies=2), sector(copies=3), rectangle(150, 90, name="front")]
    sheets = packed(pieces, sizes={}, usual=(500, 700))
    judge(sheets, pieces)
    assert any(place.turned for sheet in sheets for place in sheet.places)


# Derived here: with edge 5 and gap 5 a sheet of 505 x 705 takes 2 x 2 pieces of 245 x 345 with nothing left over, and
# 305 x 305 the pinwheel of four 95 x 195 round one of 95 x 95, which no row or column of pieces makes.
@pytest.mark.parametrize(
    "pieces, usual, sheets",
    [
        ([rectangle(245, 345, copies=4)], (505, 705), 1),
        ([rectangle(345, 245, copies=4)], (505, 705), 1),
        ([rectangle(245, 345, copies=5)], (505, 705), 2),
        ([rectangle(95, 195, copies=4), rectangle(95, 95)], (305, 305), 1),
        ([rectangle(95, 195, copies=4), rectangle(95, 95, copies=2)], (305, 305), 2),
        ([rectangle(200, 287)], (210, 297), 1),
        ([rectangle(287, 200)], (210, 297), 1),
    ],
)
def test_known_optimum(pieces, usual, sheets):
    found = packed(pieces, sizes={}, usual=usual)
    assert len(found) == sheets
    judge(found, pieces)


def test_what_just_fits_in_inches_fits_in_spite_of_rounding():
    letter = (8.5 * 25.4, 11 * 25.4)
    exact = rectangle(letter[0] - 10, letter[1] - 10, left=1e5 / 3)
    assert len(packed([exact], sizes={}, usual=letter)) == 1
    with pytest.raises(RigError):
        packed([rectangle(letter[0] - 9.99, letter[1] - 10)], sizes={}, usual=letter)


def test_fewest_heights_are_used():
    # Derived here: three strips of 480 x 20 lie best across the sheet, 20 + 5 + 20 + 5 + 20 = 70 mm high.
    (sheet,) = packed([rectangle(20, 480, copies=3)], sizes={}, usual=(500, 700))
    assert max(shape.bounds[3] for shape in outlines(sheet)) == pytest.approx(EDGE + 70, abs=1e-6)


def test_many_pieces_are_packed_too():
    pieces = [rectangle(40 + number, 60, copies=40) for number in range(5)]
    sheets = packed(pieces, sizes={}, usual=(500, 700))
    assert sum(len(sheet.places) for sheet in sheets) == 200
    # Derived here: 200 boxes of at most 49 x 65 mm with their gaps fill at most 637,000 mm^2, a sheet 346,500 mm^2.
    assert len(sheets) == 2


def test_the_same_pieces_are_placed_the_same_way():
    pieces = [net(copies=2), sector(copies=3), rectangle(150, 90, copies=7)]
    once, again = (packed(pieces, sizes={}, usual=(500, 700)) for _ in range(2))
    places = [[(*place.corner, place.turned) for sheet in run for place in sheet.places] for run in (once, again)]
    assert places[0] == places[1]


def test_nothing_is_cut_from_nothing():
    assert packed([], sizes={}, usual=(500, 700)) == ()


def test_the_drawing_of_a_sheet_moves_folds_and_words_with_the_outline():
    (sheet,) = packed([replace(net(), copies=1)], sizes={}, usual=(345, 700))
    (place,) = sheet.places
    assert place.turned  # 380 mm only fit upright
    drawing = sheet_drawing(sheet)
    assert [stroke.layer for stroke in drawing.strokes].count(Layer.SCORE) == 4
    edge = drawing.strokes[0]
    assert edge.layer == Layer.MARK
    assert edge.closed
    assert shapely.Polygon(edge.points).bounds == (0, 0, 345, 700)
    # A quarter turn anticlockwise takes (x, y) of the net, 330 mm high, to (330 - y, x).
    assert drawing.labels[0].place == pytest.approx([EDGE + 330 - 60, EDGE + 190])
    assert drawing.labels[0].angle == pytest.approx(np.pi / 2)
    first_fold = next(stroke for stroke in drawing.strokes if stroke.layer == Layer.SCORE)
    assert first_fold.points == pytest.approx(np.array([[330 - 100, 90], [330 - 100, 290]]) + EDGE)


def test_a_piece_too_large_is_named_with_what_to_try():
    with pytest.raises(RigError) as caught:
        packed([rectangle(20, 20), rectangle(600, 530, name="front")], sizes={}, usual=(500, 700))
    told = str(caught.value)
    for words in ('"front"', "white card", "600 x 530 mm", "500 x 700 mm", "490 x 690 mm"):
        assert words in told
    assert '--sheet "white card=700x1000"' in told
    # Following the advice helps.
    assert len(packed([rectangle(600, 530)], sizes={"white card": (700, 1000)}, usual=(500, 700))) == 1


def test_a_piece_too_large_is_told_in_the_unit_of_the_rig():
    with pytest.raises(RigError) as caught:
        packed([rectangle(30 * 25.4, 21 * 25.4)], sizes={}, usual=(20 * 25.4, 28 * 25.4), unit="inch")
    assert "30.00 x 21.00 in " in str(caught.value)
    assert '--sheet "white card=28x40"' in str(caught.value)
    with pytest.raises(RigError, match="=1850x2050"):
        packed([rectangle(2004, 1805)], sizes={}, usual=(500, 700))
    with pytest.raises(RigError, match="smaller part"):
        packed([rectangle(5500, 30)], sizes={}, usual=(500, 700))
