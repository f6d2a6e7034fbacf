"""Patterns of whole rigs: every ready design, where parts meet, what holes are for, and the command."""

import json
import math
import re
import subprocess
import sys

import numpy as np
import pytest
import shapely
from matplotlib.text import Text
from pictures import assert_nothing_is_cut_off
from pypdf import PdfReader
from rigs import bare_text
from shapely.geometry import LineString, Point, Polygon
from typer.testing import CliRunner

import lightsim
from lightsim.cli import app
from lightsim.pattern.pattern import pattern_of, pieces_of
from lightsim.pattern.piece import Layer, area, extent
from lightsim.pattern.rings import reading_angle
from lightsim.pattern.sizes import sheet_size
from lightsim.picture.pattern import pattern_picture
from lightsim.picture.style import alternative_text
from lightsim.rig.errors import RigError
from lightsim.rig.library import design_files, design_path
from lightsim.rig.load import loads, placed
from lightsim.rig.mesh import area as mesh_area
from lightsim.rig.shapes import Box

CUT_FROM_A_MESH, NOTHING_TO_CUT = "mesh-hood", "bare-flash"


def run(*words, columns=100):
    return CliRunner().invoke(app, [str(word) for word in words], env={"COLUMNS": str(columns)})


def pieces(name, **asked):
    return {piece.name: piece for piece in pattern_of(lightsim.load(name), **asked).pieces}


def without_tabs(piece):
    """Area of the sheet that the subject's light meets: flaps lie on other sheets."""
    return area(piece) - sum(Polygon(tab.outline).area for tab in piece.tabs)


# --- every ready design


@pytest.mark.parametrize("name", sorted(set(design_files()) - {CUT_FROM_A_MESH, NOTHING_TO_CUT}))
def test_every_ready_design_has_the_area_of_its_parts(name):
    """Developable surfaces keep their area (Gauss, Disquisitiones generales circa superficies curvas, 1827).

    The triangles of a rig have the area of the true shape. A fold adds its bend allowance at most as wide as the
    sheet and, where it closes over a wall of card, that wall's 0.3 mm; a cone grows by half of its thickness.
    """
    loaded = lightsim.load(name)
    found = pattern_of(loaded)
    assert found.refused == ()
    parts = {part.name: part for part in placed(loaded).parts}
    for spec in loaded.rig.diffuser:
        own = [piece for piece in found.pieces if piece.part == spec.name]
        total = sum(piece.copies * without_tabs(piece) for piece in own)
        folds = [
            np.linalg.norm(fold.end - fold.start) * (piece.thickness + 0.3) for piece in own for fold in piece.folds
        ]
        true = mesh_area(parts[spec.name].mesh)
        assert 0.9995 * true < total < 1.002 * true + sum(folds), spec.name
        assert {piece.material for piece in own} == {spec.material}


@pytest.mark.parametrize("name", sorted(set(design_files()) - {CUT_FROM_A_MESH, NOTHING_TO_CUT}))
def test_outlines_are_simple_and_everything_drawn_lies_on_the_piece(name):
    for piece in pattern_of(lightsim.load(name)).pieces:
        sheet = Polygon(piece.outline, piece.holes)
        assert sheet.is_valid
        near = sheet.buffer(0.01)
        for fold in piece.folds:
            assert near.covers(LineString([fold.start, fold.end]))
        for line in (*(mark.points for mark in piece.marks), *(tab.outline for tab in piece.tabs)):
            assert near.covers(LineString(line))


def test_a_mesh_is_refused_with_the_reason():
    found = pattern_of(lightsim.load(CUT_FROM_A_MESH))
    assert found.pieces == ()
    (refused,) = found.refused
    assert refused.part == "hood"
    assert "mesh" in refused.reason
    assert "Draw its pattern" in refused.reason


# --- where parts meet


def test_front_sheet_gets_flaps_that_lie_on_the_outside_of_the_box():
    """white-box: 150 x 90 mm front, walls from half sizes 75, 45 to 40, 30 over a depth of 150, front 29 higher.

    Derived here: a wall that leans inward by a over the depth d stands atan(a / d) off square, so a flap turns by
    90 degrees and that. Wall 0.3 mm, paper 0.1 mm (materials), bend allowance a quarter of angle times thickness.
    """
    front = pieces("white-box")["front"]
    wall, paper = 0.30, 0.10
    assert front.thickness == paper
    assert len(front.folds) == 4
    lean = {  # how far inward each wall goes toward the back
        "right": (75 - 40, 150),
        "left": (75 - 40, 150),
        "top": (45 - (30 - 29), 150),
        "bottom": (45 - (30 + 29), 150),
    }
    for name, (inward, depth) in lean.items():
        axis, sign = {"right": (0, 1), "left": (0, -1), "top": (1, 1), "bottom": (1, -1)}[name]
        side = (75, 45)[axis]
        (fold,) = (each for each in front.folds if sign * each.start[axis] > side and sign * each.end[axis] > side)
        angle = math.pi / 2 + math.atan(inward / depth)
        # The drawn side is the back, which looks into the box: flaps come toward the eye.
        assert fold.angle == pytest.approx(-angle, abs=1e-9)
        line = side + wall + angle * paper / 4
        assert sign * fold.start[axis] == pytest.approx(line, abs=1e-9)
        assert sign * fold.end[axis] == pytest.approx(line, abs=1e-9)
    low, high = extent(front)
    reach = 10 + wall + (math.pi / 2 + math.atan(35 / 150)) * paper / 2
    assert high[0] == pytest.approx(75 + reach, abs=1e-6)
    assert low[0] == pytest.approx(-75 - reach, abs=1e-6)


def test_wings_are_hinged_to_the_panel_where_the_rig_has_them():
    found = pieces("side-wings")
    panel = found["panel"]
    hinges = [mark for mark in panel.marks if mark.text == "tape up to here"]
    # The wings begin at the panel's left and right edges, 150 mm apart and 150 mm high, the tape 6 mm inside.
    assert sorted(round(float(mark.points[0, 0]), 6) for mark in hinges) == [-69.0, 69.0]
    assert all(np.ptp(mark.points[:, 1]) == pytest.approx(150) for mark in hinges)
    assert {label.text for label in panel.labels} == {"hinge: left wing", "hinge: right wing", "lens barrel"}
    # Ticks of 4 mm at the middle of both edges, to be laid on those of the wings.
    ticks = sorted(mark.points.round(6).tolist() for mark in panel.marks if mark.text == "middle of the joint")
    assert ticks == [[[-75, 0], [-71, 0]], [[75, 0], [71, 0]]]
    for wing, side in (("left wing", 1), ("right wing", -1)):
        (mark,) = (mark for mark in found[wing].marks if mark.text == "tape up to here")
        assert mark.points[0, 0] == pytest.approx(side * (70 / 2 - 6))
        # The file folds them forward by 45 degrees; the back, which is drawn, looks at the camera.
        assert any('"panel", bent by 45 degrees away from the drawn side' in note for note in found[wing].notes)


def test_parts_that_do_not_meet_have_no_joints():
    for piece in pieces("two-layers").values():
        assert piece.marks == ()
        assert piece.folds == ()


TWO_SHEETS = """
[[diffuser]]
name = "one"
shape = "sheet"
width = 100
height = 60
material = "white card"
from = "subject"
toward_lens = 100
[[diffuser]]
name = "two"
shape = "sheet"
width = 40
height = 60
material = "white card"
from = "one"
hold = "left"
right = {right}
toward_lens = {toward}
turn = -30
"""


@pytest.mark.parametrize(
    ("right", "toward", "meets"), [(50, 0, True), (50.9, 0.9, True), (50, 4, False), (54, 0, False)]
)
def test_edges_meet_within_a_millimetre_and_a_half(right, toward, meets):
    loaded = loads(bare_text(more=TWO_SHEETS.format(right=right, toward=toward)))
    hinged = [any("hinge" in label.text for label in piece.labels) for piece in pattern_of(loaded).pieces]
    assert hinged == [meets, meets]


@pytest.mark.parametrize(("up", "meets"), [(52, False), (48, True)])
def test_edges_that_share_less_than_a_centimetre_are_no_joint(up, meets):
    """Edges of 60 mm whose middles are 52 or 48 mm apart have 8 or 12 mm in common."""
    loaded = loads(bare_text(more=TWO_SHEETS.format(right=50, toward=0) + f"up = {up}\n"))
    hinged = [any("hinge" in label.text for label in piece.labels) for piece in pattern_of(loaded).pieces]
    assert hinged == [meets, meets]


@pytest.mark.parametrize(("apart", "meets"), [(1.4, True), (1.7, False)])
def test_how_far_apart_edges_may_be(apart, meets):
    """The edges run side by side, so far from each other."""
    loaded = loads(bare_text(more=TWO_SHEETS.format(right=50 + apart, toward=0)))
    assert all(any("hinge" in label.text for label in each.labels) is meets for each in pattern_of(loaded).pieces)


def test_flaps_of_a_front_sheet_are_cut_back_at_their_ends_and_marked():
    """Tabs of 10 mm with ends at 45 degrees: the outer edge of one on a side of 90 mm is 70 mm long, of 150 mm 130 mm.

    They lie on the outside of the box, and the middle of each side is marked inside the sheet.
    """
    front = pieces("white-box")["front"]
    for tab in front.tabs:
        axis = int(np.argmin(np.ptp(tab.outline, axis=0)))  # across the flap
        out = np.abs(tab.outline[:, axis])
        outer = tab.outline[out > out.max() - 1e-6][:, 1 - axis]
        assert np.ptp(outer) == pytest.approx((130, 70)[1 - axis], abs=1e-6)
        assert tab.onto == "the outside of box"
    assert "toward you over the outside" in front.notes[0]
    ticks = {tuple(np.round(mark.points[0]) + 0.0) for mark in front.marks}
    assert ticks == {(75, 0), (-75, 0), (0, 45), (0, -45)}
    for mark in front.marks:
        assert np.hypot(*mark.points[1]) == pytest.approx(np.hypot(*mark.points[0]) - 4)


# --- what holes are for

HOLED = """
[[diffuser]]
name = "lid"
shape = "sheet"
width = 120
height = 90
material = "white card"
from = "flash"
right = {right}
toward_lens = 10
holes = [{{ kind = "rectangle", width = 64, height = 46 }}]
"""


@pytest.mark.parametrize(("right", "play"), [(0, "2.0 mm of play"), (1.5, "0.5 mm of play"), (3, "TOO SMALL")])
def test_play_of_the_head_in_its_hole(right, play):
    """A window of 60 x 40 mm in a hole of 64 x 46 mm: 2 mm at the sides, less what the hole is off centre."""
    text = bare_text(more=HOLED.format(right=right)).replace("window = [2.0, 2.0]", "window = [60, 40]")
    (lid,) = pattern_of(loads(text)).pieces
    (note,) = lid.notes
    assert "flash head (60 x 40 mm)" in note
    assert play in note


def test_a_narrow_rest_of_sheet_beside_a_hole_is_told():
    """side-wings: a hole of 66 mm, 40 mm below the middle of a panel of 150 mm: 75 - 40 - 33 = 2 mm are left."""
    assert any("No more than 2.0 mm of sheet" in note for note in pieces("side-wings")["panel"].notes)
    assert not any("of sheet stay" in note for note in pieces("white-box")["box"].notes)


def test_hook_and_loop_lies_beside_the_hole_of_the_head():
    text = bare_text(more=HOLED.format(right=0)).replace("window = [2.0, 2.0]", "window = [60, 40]")
    (lid,) = pattern_of(loads(text)).pieces
    patches = [mark for mark in lid.marks if "hook-and-loop" in mark.text]
    assert sorted(np.sign(mark.points[:, 0].mean()) for mark in patches) == [-1, 1]
    sheet = Polygon(lid.outline, lid.holes)
    assert all(sheet.covers(Polygon(mark.points)) and mark.closed for mark in patches)


@pytest.mark.parametrize(("name", "part"), [("flat-paper", "paper"), ("two-layers", "front"), ("side-wings", "panel")])
def test_play_of_the_barrel_in_its_hole(name, part):
    """A barrel of 65 mm in a hole of 66 mm: half a millimetre all round."""
    assert any("lens barrel (65 mm): at least 0.5 mm of play" in note for note in pieces(name)[part].notes)


def test_a_tilted_sheet_leaves_the_barrel_less_room():
    """foldable-panel: the barrel meets the sheet at 15 degrees, as an ellipse 65 / cos(15 degrees) long, centred at

    the sheet's hole but for the sheet's own 1 mm. Derived here.
    """
    (panel,) = pieces("foldable-panel").values()
    (note,) = panel.notes
    play = float(re.search(r"([\d.]+) mm of play", note)[1])
    tilt = math.radians(15)
    # The hole's middle stands 34 - 35 cos(tilt) above the axis, measured square to it.
    off = (34 - 35 * math.cos(tilt)) / math.cos(tilt)
    turn = np.linspace(0, 2 * math.pi, 3601)
    ellipse = np.hypot(32.5 * np.cos(turn), 32.5 * np.sin(turn) / math.cos(tilt) - off)
    assert play == pytest.approx(34 - ellipse.max(), abs=0.05 + 0.01)


BARREL = """
[[diffuser]]
name = "lid"
shape = "sheet"
width = 120
height = 130
material = "white card"
from = "lens"
toward_lens = {toward}
holes = [{{ kind = "round", diameter = 70, right = {right}, up = {up} }}]
"""


@pytest.mark.parametrize(
    ("toward", "right", "up", "play"),
    [(50, 0, 0, "5.0 mm"), (50, 3, 0, "2.0 mm"), (50, 0, -4, "1.0 mm"), (130, 0, 0, "5.0 mm"), (200, 0, 0, None)],
)
def test_the_barrel_goes_through_where_it_is(toward, right, up, play):
    """A barrel of 60 mm in a hole of 70 mm: 5 mm all round, less what the hole is off. 100 mm long, 50 mm more when it
    is extended: a sheet 200 mm behind the front is on the camera, and its hole is for something else."""
    text = bare_text(more=BARREL.format(toward=toward, right=right, up=up))
    assert "length = 100" in text
    (lid,) = pattern_of(loads(text.replace("length = 100", "length = 100\nextension = 50"))).pieces
    assert any(f"{play} of play" in note for note in lid.notes) == (play is not None)
    assert all("lens barrel (60 mm)" in note for note in lid.notes if "hole is for" in note)


def test_a_window_may_look_out_of_its_hole_or_stand_behind_it():
    """The lid 10 mm behind the window, where the case is, and 15 mm before it; by 30 mm the hole is not the head's.

    The case is wider than high, as the window is: 64 - 60 mm leave 2 mm, of 46 - 40 mm 3 mm.
    """
    for toward, there in ((10, True), (-15, True), (-30, False)):
        more = HOLED.format(right=0).replace("toward_lens = 10", f"toward_lens = {toward}")
        (lid,) = pattern_of(loads(bare_text(more=more).replace("window = [2.0, 2.0]", "window = [60, 40]"))).pieces
        assert any("flash head (60 x 40 mm): at least 2.0 mm" in note for note in lid.notes) == there


@pytest.mark.parametrize(("right", "up"), [(1, 0.5), (-1, 0)])
def test_what_a_hole_is_for_stands_in_it(right, up):
    """The hole of the white box and that of a sheet, off the middle of their wall: words in it, patches beside it."""
    text = (
        design_path("white-box").read_text().replace("holes = [{ wall", f"holes = [{{ right = {right}, up = {up}, wall")
    )
    (box,) = (piece for piece in pattern_of(loads(text, folder=design_path("white-box").parent)).pieces if piece.holes)
    more = HOLED.format(right=right).replace("{ kind", f"{{ right = {-right}, up = {up}, kind")
    (lid,) = pattern_of(loads(bare_text(more=more).replace("window = [2.0, 2.0]", "window = [60, 40]"))).pieces
    for piece in (box, lid):
        (hole,) = piece.holes
        middle = (hole.min(axis=0) + hole.max(axis=0)) / 2
        (words,) = (label for label in piece.labels if label.text == "flash head")
        assert words.place == pytest.approx(middle, abs=1e-6)
        patches = [mark.points - middle for mark in piece.marks if "hook-and-loop" in mark.text]
        # The hole is 64 mm wide, and 1 mm of card stays beside it.
        assert [min(abs(patch[:, 0])) for patch in patches] == pytest.approx([33, 33], abs=1e-6)
        assert sorted(np.sign(patch[0, 0]) for patch in patches) == [-1, 1]
        assert all(abs(patch[:, 1].mean()) < 1e-6 for patch in patches)


# --- nets


def test_walls_bear_their_names_where_they_are():
    """white-box, by its file: front edges 150 and 90 mm, back edges 80 and 60 mm; the net is cut from those walls."""
    box = pieces("white-box")["box"]
    places = {
        label.text: label.place for label in box.labels if label.text in ("back", "left", "right", "top", "bottom")
    }
    assert set(places) == {"back", "left", "right", "top", "bottom"}
    sheet = Polygon(box.outline, box.holes)
    faces = list(
        shapely.get_parts(
            sheet.difference(shapely.union_all([LineString([fold.start, fold.end]).buffer(1e-4) for fold in box.folds]))
        )
    )
    area_of = {name: next(face.area for face in faces if face.covers(Point(place))) for name, place in places.items()}
    # Trapezoids: half the sum of the parallel edges times the slant, sqrt(150^2 + 44^2) and so on; 2 % for the bends.
    slants = {"top": (150 + 80) / 2 * math.hypot(150, 44), "bottom": (150 + 80) / 2 * math.hypot(150, 14)}
    slants |= dict.fromkeys(("left", "right"), (90 + 60) / 2 * math.hypot(150, 35))
    assert area_of == pytest.approx(slants | {"back": 80 * 60 - 64 * 44}, rel=0.02)


def test_one_part_alone_is_the_same_piece_as_with_all():
    (alone,) = pattern_of(lightsim.load("white-box"), parts=["front"]).pieces
    together = pieces("white-box")["front"]
    assert np.array_equal(alone.outline, together.outline)
    assert alone.notes == together.notes
    assert len(alone.tabs) == 4


@pytest.mark.parametrize(("sheet", "most"), [((500, 700), 1), ((230, 330), 2), ((180, 250), 5)])
def test_a_box_is_cut_in_as_few_pieces_as_its_sheet_allows(sheet, most):
    found = [piece for piece in pieces("white-box", usual=sheet).values() if piece.part == "box"]
    assert len(found) <= most
    for piece in found:
        size = np.sort(np.diff(extent(piece), axis=0)[0])
        assert (size <= np.sort(sheet) - 10 + 1e-6).all()
    assert sum(map(without_tabs, found)) == pytest.approx(
        sum(map(without_tabs, [pieces("white-box")["box"]])), rel=0.01
    )


def test_thick_sheets_are_joined_edge_to_edge_unless_tabs_are_asked_for():
    assert pieces("dome", tab=0)["bowl, gore"].tabs == ()
    assert len(pieces("dome", tab=8)["bowl, gore"].tabs) > 1
    assert pieces("foam-arc")["arc"].tabs == ()


def test_an_open_cube_lies_in_the_smallest_rectangle():
    """Eight pentominoes fold to an open cube (M. Gardner, Mathematical Games, from memory); in a strip of 2 x 4 squares
    lie three of them, in less none."""
    (cube,) = pieces_of(Box(back=(50, 50), front=(50, 50), depth=50, open=("front",)), tab=0)
    assert sorted(np.ptp(cube.outline, axis=0)) == pytest.approx([100, 200])


@pytest.mark.parametrize("name", ["white-box", "card-funnel"])
def test_most_of_the_folding_is_along_the_grain(name):
    """Paper folds cleanly along its grain (common practice, no source)."""
    for piece in pieces(name).values():
        if piece.grain is not None and piece.folds:
            ways = np.array([fold.end - fold.start for fold in piece.folds])
            along, across = np.abs(ways @ piece.grain).sum(), np.abs(ways @ [-piece.grain[1], piece.grain[0]]).sum()
            assert along > across


def test_a_builder_is_told_how_walls_are_joined():
    box = Box(back=(80, 60), front=(80, 60), depth=50, open=("front",))
    for tab, words, other in ((10, "Glue each tab inside", "edge to edge"), (0, "edge to edge", "Glue")):
        (piece,) = pieces_of(box, tab=tab)
        told = " ".join(piece.notes)
        assert words in told
        assert other not in told
        assert "fold them away from you" in told
    # Glued under the wall that the letter is on, never under its own.
    assert {tab.onto for tab in pieces_of(box)[0].tabs} <= {"back", "left", "right", "top", "bottom"}


def test_letters_read_from_left_to_right_or_from_below_upward():
    for way, degrees in (((1, 0), 0), ((-1, 0), 0), ((-1, -1), 45), ((-1, 1), -45), ((0, 1), 90), ((0, -1), 90)):
        assert math.degrees(reading_angle(np.zeros(2), np.array(way))) == pytest.approx(degrees)


def test_each_material_is_cut_from_the_sheet_it_is_sold_in():
    found = pieces("white-box", sheets={"white card": (230, 330)})
    box = [piece for name, piece in found.items() if piece.part == "box"]
    assert len(box) == 2
    assert all((np.sort(np.ptp(piece.outline, axis=0)) <= [220 + 1e-6, 320 + 1e-6]).all() for piece in box)
    assert len(pieces("white-box", usual=(230, 330), sheets={"white card": (500, 700)})) == 2


@pytest.mark.parametrize(("thickness", "tabs"), [(0.9, True), (1.1, False)])
def test_sheets_thicker_than_a_millimetre_have_no_tabs(thickness, tabs):
    more = f"""
[[diffuser]]
name = "box"
shape = "box"
back = [80, 60]
front = [80, 60]
depth = 50
open = ["front"]
material = "board"
from = "subject"
toward_lens = 200
[material.board]
diffuse_reflectance = 0.8
thickness = {thickness}
grammage = 400
"""
    (box,) = pattern_of(loads(bare_text(more=more))).pieces
    assert bool(box.tabs) == tabs
    assert (box.thickness, box.grammage) == (thickness, 400)


def test_sizes_of_sheets():
    """ISO 216 and the inch of 25.4 mm; Letter is 8.5 x 11 in, Tabloid 11 x 17 in (ANSI/ASME Y14.1, from memory)."""
    known = {"a4": (210, 297), "A3": (297, 420), "A2": (420, 594), "A1": (594, 841), "20 x 30": (20, 30)}
    known |= {"Letter": (215.9, 279.4), "tabloid": (279.4, 431.8)}
    for text, size in known.items():
        assert sheet_size(text) == pytest.approx(size)
    assert sheet_size("20x28", unit="inch") == pytest.approx((508, 711.2))
    assert sheet_size("A4", unit="inch") == (210, 297)
    for wrong in ("19x500", "500x19", "500x5001", "nanx50", "50", "50x60x70", ""):
        with pytest.raises(RigError, match=r"20 to 5000 mm.*Try 500x700"):
            sheet_size(wrong)


# --- the picture


@pytest.mark.parametrize("name", ["white-box", "dome", "side-wings"])
def test_picture_shows_every_piece_to_one_scale(name):
    """Lengths read back from the artists, in mm: outlines as in the pattern, the bar 100 mm, both axes alike."""
    found = pattern_of(lightsim.load(name))
    figure = pattern_picture(found, title="pieces")
    (axes,) = figure.axes
    assert axes.get_aspect() == 1
    (bar,) = (line for line in axes.lines if line.get_gid() == "bar")
    assert np.ptp(bar.get_xdata()) == pytest.approx(100)
    cuts = [np.column_stack(line.get_data()) for line in axes.lines if line.get_gid() == "cut"]
    drawn = sorted(np.linalg.norm(np.diff(points, axis=0), axis=1).sum() for points in cuts)
    rings = [ring for piece in found.pieces for ring in (piece.outline, *piece.holes)]
    assert drawn == pytest.approx(sorted(Polygon(ring).length for ring in rings))
    words = alternative_text(figure)
    assert all(piece.name in words for piece in found.pieces)
    assert_nothing_is_cut_off(figure)


def test_picture_counts_the_copies():
    """dome: as many gores as the pattern has, one of them drawn."""
    found = pattern_of(lightsim.load("dome"))
    (gore,) = (piece for piece in found.pieces if piece.copies > 1)
    (axes,) = pattern_picture(found).axes
    assert any(f"{gore.name}\n{gore.copies} times" == text.get_text() for text in axes.texts)
    count = sum(piece.copies for piece in found.pieces)
    assert any(f"{count} pieces to cut" in text.get_text() for text in axes.figure.findobj(Text))
    width, height = np.ptp(gore.outline, axis=0)
    assert f"{gore.copies} times {gore.name} of {gore.material}, {width:.0f} x {height:.0f} mm" in alternative_text(
        axes.figure
    )


# --- the command


def test_command_tells_and_writes_everything(tmp_path):
    names = {option: tmp_path / f"box.{option}" for option in ("pdf", "svg", "dxf", "json")}
    done = run("pattern", "white-box", *(word for option in names for word in (f"--{option}", names[option])))
    assert done.exit_code == 0, done.stderr
    assert "2 pieces from 2 sheets" in done.stdout
    assert "100 %" in done.stdout
    assert names["pdf"].read_bytes().startswith(b"%PDF")
    # Two materials, two sheets, two files for a machine.
    written = sorted(path.name for path in tmp_path.iterdir())
    assert written == ["box-1.dxf", "box-1.svg", "box-2.dxf", "box-2.svg", "box.json", "box.pdf"]
    listed = json.loads(names["json"].read_text())
    assert {line["name"] for line in listed["pieces"]} == {"front", "box"}
    again = run("pattern", "white-box", "--pdf", names["pdf"])
    assert again.exit_code == 2
    assert "exists already" in again.stderr
    assert run("pattern", "white-box", "--svg", names["svg"]).exit_code == 2
    assert run("pattern", "white-box", "--svg", names["svg"], "--replace").exit_code == 0


def test_one_part_on_one_sheet(tmp_path):
    done = run("pattern", "white-box", "--part", "front", "--svg", tmp_path / "front.svg", "--price", "copy paper=0.02")
    assert done.exit_code == 0, done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["front.svg"]
    assert "0.02" in done.stdout


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("bare-flash",), "nothing to cut"),
        (("white-box", "--part", "frnt"), '"front"'),
        (("white-box", "--paper", "A5"), "A4, Letter"),
        (("white-box", "--sheet", "big"), "500x700"),
        (("white-box", "--sheet", "white crd=A3"), "white card"),
        (("white-box", "--sheet", "100x100"), "does not fit"),
        (("white-box", "--price", "white card"), "1.20"),
        (("white-box", "--tab", "-3"), "from 0 to 100"),
        (("dome", "--gores", "2"), "from 3 to 60"),
        (("white-box", "--gores", "12"), "no dome"),
        (("mesh-hood", "--pdf", "hood.pdf"), "can be cut flat"),
        (("white-box", "--pdf", "box.txt"), "box.pdf"),
        (("white-box", "--pdf", "no/such/folder/box.pdf"), "no folder"),
    ],
)
def test_bad_input_is_told_in_one_paragraph(words, named, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = run("pattern", *words)
    assert done.exit_code == 2
    assert named in done.stderr
    assert "Try" in done.stderr
    assert "Traceback" not in done.output
    assert list(tmp_path.iterdir()) == []


def in_inches():
    """A lid over the head, of a rig in inches."""
    text = bare_text(distance=40, more=HOLED.format(right=0)).replace('title = "test"', 'title = "test"\nunit = "inch"')
    for millimetres, inches in [
        ("[24, 16]", "[1, 0.7]"),
        ("[2000]", "[80]"),
        ("diameter = 60", "diameter = 2.5"),
        ("length = 100", "length = 4"),
        ("[2.0, 2.0]", "[2.4, 1.6]"),
        ("width = 120", "width = 4.75"),
        ("height = 90", "height = 3.5"),
        ("toward_lens = 10\n", "toward_lens = 0.4\n"),
        ("width = 64, height = 46", "width = 2.5, height = 1.8"),
    ]:
        assert millimetres in text
        text = text.replace(millimetres, inches)
    return text


def test_inches_are_told_in_inches():
    """An inch is 25.4 mm (international yard and pound agreement, 1959): 2.5 in less 2.4 in leaves 0.05 in a side."""
    found = pattern_of(loads(in_inches()))
    assert found.unit == "inch"
    (lid,) = found.pieces
    assert np.diff(extent(lid), axis=0)[0] == pytest.approx([4.75 * 25.4, 3.5 * 25.4])
    assert "0.05 in of play" in lid.notes[0]


def test_a_page_for_each_sheet_has_its_size(tmp_path):
    """A point is 1/72 in (PostScript), an inch 25.4 mm. A sheet of 500 x 700 mm is one page with a band for words, A4
    pages are 210 x 297 mm."""
    for paper, sides in (("sheet", (500, 700)), ("A4", (210, 297))):
        path = tmp_path / f"{paper}.pdf"
        done = run("pattern", "white-box", "--part", "box", "--pdf", path, "--paper", paper)
        assert done.exit_code == 0, done.stderr
        pages = [sorted((float(page.mediabox.width), float(page.mediabox.height))) for page in PdfReader(path).pages]
        short, long = np.array(pages).max(axis=0) * 25.4 / 72
        assert short == pytest.approx(sides[0], abs=0.1)
        assert sides[1] - 0.1 <= long < sides[1] + (150 if paper == "sheet" else 0.1)


def test_several_sheets_are_numbered_from_one_and_prices_may_have_a_comma(tmp_path):
    words = ("--svg", tmp_path / "box.svg", "--price", "white card=1,20", "--price", "copy paper=0.05")
    done = run("pattern", "white-box", *words)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["box-1.svg", "box-2.svg"]
    assert "Cost of all sheets: 1.25" in done.stdout


def test_a_rig_in_inches_is_cut_from_sheets_in_inches(tmp_path):
    """By hand: 4.75 x 3.5 in less a hole of 2.5 x 1.8 in are 12.1 sq in, of a sheet of 20 x 28 in 2 %."""
    path = tmp_path / "lid.toml"
    path.write_text(in_inches())
    for asked in (("20x28",), ("white card=20x28",)):
        done = run("pattern", path, *(word for each in asked for word in ("--sheet", each)))
        assert done.exit_code == 0, done.stderr
        rows = [line.split() for line in done.stdout.splitlines()]
        (lid,) = (row for row in rows if row[:1] == ["lid"])
        assert lid[lid.index("1") :][:5] == ["1", "4.75", "x", "3.5", "12.1"]
        (card,) = (row for row in rows if row[:2] == ["white", "card"])
        assert card[2:] == ["1", "20", "x", "28", "2"]
    # In mm, of another rig: 180 x 130 mm are 234 cm2.
    flat = re.search(r"^ *paper .*$", run("pattern", "flat-paper").stdout, re.M)[0]
    (paper,) = (piece for piece in pieces("flat-paper").values())
    assert float(flat.split()[-2]) == pytest.approx(area(paper) / 100, abs=0.05)


def test_numbers_that_no_sheet_has_are_refused():
    box = lightsim.load("white-box").rig.diffuser[1].shape
    for wrong in ({"thickness": float("nan")}, {"thickness": -1.0}, {"tab": -1.0}):
        with pytest.raises(ValueError, match="Allowed: 0 or more"):
            pieces_of(box, **wrong)
    with pytest.raises(ValueError, match="at least 3"):
        pieces_of(lightsim.load("dome").rig.diffuser[0].shape, gores=2)
    with pytest.raises(RigError, match="no flat pieces"):
        pattern_picture(pattern_of(lightsim.load(CUT_FROM_A_MESH)))


def test_names_of_no_part_are_refused_with_what_there_is():
    with pytest.raises(RigError, match=r'no part of this name.*"front"'):
        pattern_of(lightsim.load("white-box"), parts=["fornt"])


def test_a_pattern_is_made_without_the_engine():
    """Start-up is part of speed: a pattern needs neither the ray caster nor the charts."""
    code = (
        "import sys; import lightsim; from lightsim.pattern.pattern import pattern_of; "
        "pattern_of(lightsim.load('white-box')); "
        "print([m for m in ('embreex', 'matplotlib', 'trimesh', 'ezdxf', 'reportlab') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_layers_have_the_names_that_files_give_them():
    assert [layer.value for layer in Layer] == ["cut", "score", "mark"]
