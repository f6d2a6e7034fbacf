"""The cutting list against weights, moments and costs worked out by hand."""

import numpy as np
import pytest
from flat_pieces import circle, net, rectangle
from rigs import bare_text

from lightsim.pattern.cutting_list import centre_of_area, cutting_list, load_of, summary
from lightsim.pattern.pack import packed
from lightsim.pattern.piece import Pattern, Piece, Refused
from lightsim.rig.load import loads, placed
from lightsim.rig.mesh import area
from lightsim.rig.shapes import Box, triangulate

# Hung before the shoe by so much: the middles of the sheets, and the back of the box.
_PARTS = """
[[diffuser]]
name = "front"
shape = "sheet"
width = 210
height = 297
material = "copy paper"
from = "shoe"
up = 60
right = 25
toward_subject = 100
tilt = 36
[[diffuser]]
name = "back"
shape = "sheet"
width = 100
height = 100
material = "white card"
from = "shoe"
toward_lens = 40
[[diffuser]]
name = "box"
shape = "box"
back = [80, 80]
front = [80, 80]
depth = 80
open = ["front"]
material = "white card"
from = "shoe"
up = 80
toward_subject = 50
[[diffuser]]
name = "tube"
shape = "cone"
near_diameter = 70
far_diameter = 90
depth = 60
material = "white card"
from = "lens"
[[diffuser]]
name = "half tube"
shape = "cone"
near_diameter = 300
far_diameter = 300
depth = 300
sweep = 180
material = "white card"
from = "lens"
"""


@pytest.fixture(scope="module")
def rig():
    return placed(loads(bare_text(more=_PARTS), file="test.toml"))


def listed(rig, pieces, *, unit="mm", prices=None, refused=(), sizes=None):
    pattern = Pattern("test", unit, tuple(pieces), tuple(refused))
    sheets = packed(pieces, sizes=sizes or {}, usual=(500, 700))
    return cutting_list(pattern, sheets, placed=rig, prices=prices or {})


def test_a_sheet_of_office_paper_weighs_5_g(rig):
    # ISO 216: A0 is nominally 1 m^2, A4 a sixteenth, so 80 g/m^2 weigh 5 g; rounded to 210 x 297 mm it is 4.99 g.
    paper = rectangle(210, 297, name="front", material="copy paper", grammage=80.0)
    (line,) = listed(rig, [paper], sizes={"copy paper": (297, 420)}).pieces
    assert line.weight == pytest.approx(4.99, abs=0.005)
    assert line.weight == pytest.approx(80 / 16, rel=0.003)
    assert line.area == pytest.approx(210 * 297)
    assert (line.width, line.height, line.copies) == (210, 297, 1)


def test_holes_weigh_nothing_and_copies_all_weigh(rig):
    # By hand: 100 x 100 mm less a hole of radius 20 mm are 10000 - 1256.6 = 8743.4 mm^2; at 250 g/m^2 2.186 g each.
    hole = circle(20.0, middle=(50.0, 50.0), points=2000)[::-1]
    piece = rectangle(100, 100, name="back", grammage=250.0, holes=(hole,), copies=3)
    found = listed(rig, [piece])
    assert found.pieces[0].weight == pytest.approx(2.186, abs=0.0005)
    assert found.load.weight == pytest.approx(3 * 2.186, abs=0.0015)
    assert found.materials[0].weight == pytest.approx(3 * 2.186, abs=0.0015)
    assert found.materials[0].share == pytest.approx(3 * 8743.4 / 350_000, abs=5e-6)


def test_the_moment_of_one_sheet(rig):
    # By hand: 50 g at 100 mm before the shoe: 0.050 kg x 9.80665 m/s^2 x 100 mm = 49.03 N mm. Height, tilt and the
    # distance to the right do not count.
    load = listed(rig, [rectangle(200, 100, name="front", grammage=2500.0)]).load
    assert load.weight == pytest.approx(50)
    assert load.ahead == pytest.approx(100)
    assert load.moment == pytest.approx(49.03, abs=0.005)
    assert load.complete


def test_the_moment_of_two_sheets_on_both_sides_of_the_shoe(rig):
    # By hand: 50 g at 100 mm before and 25 g at 40 mm behind: (5000 - 1000) / 75 = 53.33 mm, 39.23 N mm.
    pieces = [rectangle(200, 100, name="front", grammage=2500.0), rectangle(100, 100, name="back", grammage=2500.0)]
    load = listed(rig, pieces).load
    assert load.ahead == pytest.approx(53.33, abs=0.005)
    assert load.moment == pytest.approx(39.23, abs=0.005)


def test_extension_tubes_move_the_shoe_back():
    """By hand: the subject 2000 mm before a lens of 100 mm on 30 mm of tubes, the shoe 20 mm behind the mount: a sheet
    50 mm before the subject hangs 2000 + 100 + 30 + 20 - 50 = 2100 mm before it."""
    text = bare_text(more=_PARTS.replace('from = "shoe"\nup = 60', 'from = "subject"\ntoward_lens = 50\nup = 60'))
    text = text.replace("toward_subject = 100\n", "").replace("length = 100", "length = 100\nextension = 30")
    text = text.replace("magnification = [1]", "magnification = [1]\nshoe_back = 20")
    rig = placed(loads(text, file="test.toml"))
    assert listed(rig, [rectangle(200, 100, name="front", grammage=250.0)]).load.ahead == pytest.approx(2100)


def test_an_open_box_hangs_at_the_centre_of_its_walls(rig):
    # By hand: four walls of 80 x 80 mm at half the depth and the back at 0: 4 x 40 / 5 = 32 mm before its back, which
    # is 50 mm before the shoe.
    load = listed(rig, [net(grammage=250.0)]).load
    assert load.ahead == pytest.approx(82)


def test_centre_of_area_of_an_open_box():
    # By hand: the back of 60 x 40 lies at z = 0, the four walls of 2 (60 + 40) x 100 mm^2 have their centre at z = -50.
    mesh = triangulate(Box(shape="box", back=(60.0, 40.0), front=(60.0, 40.0), depth=100.0, open=("front",)))
    assert area(mesh) == pytest.approx(2400 + 20_000)
    assert centre_of_area(mesh) == pytest.approx([0, 0, -50 * 20_000 / 22_400])


def test_sheets_cost_what_is_charged_for_them(rig):
    # By hand: 245 x 345 mm four times to a sheet of 505 x 705 mm: five need two, at 1.25 each.
    pieces = [rectangle(245, 345, name="back", copies=5), rectangle(100, 90, name="front", material="copy paper")]
    sizes = {"white card": (505.0, 705.0)}
    found = listed(rig, pieces, prices={"white card": 1.25, "copy paper": 0.05}, sizes=sizes)
    assert [(line.material, line.sheets, line.cost) for line in found.materials] == [
        ("white card", 2, 2.5),
        ("copy paper", 1, 0.05),
    ]
    assert found.cost == pytest.approx(2.55)
    assert found.materials[0].share == pytest.approx(5 * 245 * 345 / (2 * 505 * 705))
    # Without all prices the sum would mislead.
    part = listed(rig, pieces, prices={"white card": 1.25}, sizes=sizes)
    assert [line.cost for line in part.materials] == [2.5, None]
    assert part.cost is None
    assert listed(rig, pieces, sizes=sizes).cost is None


def test_what_is_not_known_is_none_and_told(rig):
    known, unknown = rectangle(200, 100, name="front", grammage=2500.0), rectangle(60, 60, name="back", thickness=0.3)
    found = listed(rig, [known, unknown])
    assert found.pieces[1].weight is None
    assert found.load.weight == pytest.approx(50)
    assert not found.load.complete
    assert found.bag.thickness is None
    assert "at least 50.0 g, as some parts have no weight" in " ".join(summary(found))
    none = listed(rig, [unknown])
    assert (none.load.weight, none.load.ahead, none.load.moment, none.load.complete) == (None, None, None, False)
    assert none.materials[0].weight is None
    assert any("no material states its grammage" in line for line in summary(none))
    without = Pattern("test", "mm", (known,), (Refused("hood", "a mesh"),))
    assert not load_of(without, placed=rig).complete


def test_the_bag_takes_the_longest_and_the_widest_piece(rig):
    # By hand: turned with the longer side along, 300 x 100 and 250 x 120 lie within 300 x 120; 2 x 0.3 + 2 = 2.6 mm.
    pieces = [
        rectangle(100, 300, name="front", thickness=0.3, copies=2),
        rectangle(250, 120, name="back", thickness=2.0),
    ]
    bag = listed(rig, pieces).bag
    assert (bag.long, bag.short) == (300, 120)
    assert bag.thickness == pytest.approx(2.6)
    assert bag.built is None
    assert bag.built_size is None


def test_the_largest_part_that_stays_hollow_is_named(rig):
    # The half tube would be larger, and lies flat. 90 x 90 x 60 mm are 486,000 mm^3, 80 x 80 x 80 mm are 512,000.
    names = ("tube", "box", "half tube", "front")
    found = listed(rig, [rectangle(50, 40, name=f"{part}, 1 of 1", part=part) for part in names])
    assert found.bag.built == "box"
    assert found.bag.built_size == pytest.approx((80, 80, 80))
    assert listed(rig, [rectangle(50, 40, name="tube")]).bag.built_size == pytest.approx((90, 90, 60))


def test_a_piece_of_an_unknown_part_is_a_mistake(rig):
    with pytest.raises(KeyError):
        listed(rig, [rectangle(50, 40, name="elsewhere", grammage=80.0)])


def test_the_words(rig):
    pieces = [
        rectangle(210, 297, name="front", material="copy paper", grammage=80.0, thickness=0.1),
        net(grammage=250.0, thickness=0.35, copies=2),
    ]
    found = listed(rig, pieces, prices={"copy paper": 0.05, "white card": 1.2})
    # By hand: the net's middle 200 x 110, below 200 x 100, right (110 + 90) / 2 x 90, above (200 + 180) / 2 x 120, left
    # (110 + 70) / 2 x 90, less 64 x 44: 79,084 mm^2, 19.77 g. Two of it hang 82 mm and 4.99 g of paper 100 mm before
    # the shoe: 44.53 g at 84.02 mm, which is 36.69 N mm.
    assert summary(found) == (
        "front: 1 of copy paper, 210 x 297 mm, 623.7 cm2, 4.99 g",
        "box: 2 of white card, 380 x 330 mm, 790.8 cm2 each, 19.8 g each",
        "copy paper: 1 sheet of 500 x 700 mm, 18 % of it used, cost 0.05",
        "white card: 1 sheet of 500 x 700 mm, 45 % of it used, cost 1.20",
        "Cost of all sheets: 1.25",
        "Weight of all pieces: 44.5 g",
        "If the flash carries them all, they turn its head forward with 36.7 N mm: their middle hangs 84 mm before the "
        "hot shoe (camera level, hinge right above the shoe)",
        "In the bag, not glued: 380 x 330 mm, 0.8 mm thick",
        "Once glued, box stays hollow: 80 x 80 x 80 mm inside, the largest such part",
    )


def test_the_words_in_inches(rig):
    # By hand: 8.5 x 11 in are 93.5 sq in; 100 mm are 3.94 in.
    piece = rectangle(8.5 * 25.4, 11 * 25.4, name="front", material="copy paper", grammage=75.0)
    lines = summary(listed(rig, [piece], unit="inch", sizes={"copy paper": (17 * 25.4, 22 * 25.4)}))
    assert lines[0] == "front: 1 of copy paper, 8.50 x 11.00 in, 93.5 sq in, 4.52 g"
    assert lines[1] == "copy paper: 1 sheet of 17.00 x 22.00 in, 25 % of it used"
    assert "3.94 in before the hot shoe" in lines[3]
    assert lines[4] == "In the bag, not glued: 11.00 x 8.50 in, thickness not known"


def test_nothing_to_cut_makes_no_words(rig):
    assert summary(listed(rig, [], refused=[Refused("hood", "a mesh")])) == ()


def test_turned_and_moved_pieces_weigh_the_same(rig):
    once = listed(rig, [net(grammage=250.0)]).pieces[0]
    away = net(grammage=250.0)
    moved = Piece(away.part, away.name, away.material, away.outline + 1000, holes=away.holes, grammage=250.0)
    assert listed(rig, [moved]).pieces[0].weight == pytest.approx(once.weight)
    assert np.isfinite(once.weight)
