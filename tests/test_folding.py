"""Patterns folded back against the triangles of the rig: nets of boxes and funnels.

folding.py folds a drawing without knowing how it was made, laying.py lays it against the rig; both are checked here on
nets that are made by hand. Rolled and bent pieces: test_rolling.py.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from folding import SLIGHT, Unfoldable, folded, mirrored
from hypothesis import Phase, assume, example, given, settings
from hypothesis import strategies as st
from laying import NEAR, letter_faults, off, samples, together, walls
from shapely.affinity import rotate, translate
from shapely.geometry import Polygon

from lightsim.pattern.pattern import pieces_of
from lightsim.pattern.piece import Fold, Label, Piece, Tab
from lightsim.rig.library import designs
from lightsim.rig.load import load
from lightsim.rig.mesh import area
from lightsim.rig.shapes import Box, Funnel, RoundWallHole, SquareWallHole, triangulate

# Examples are small enough to read: shrinking one that fails would take minutes.
FIFTY = settings(max_examples=50, deadline=None, derandomize=True, phases=(Phase.explicit, Phase.generate))
QUARTER = np.pi / 2


def point(x: float, y: float) -> np.ndarray:
    return np.array([x, y], float)


# Made by hand


def cross(thickness: float = 0.0) -> Piece:
    """Net of an open cube of 60 mm: its back, four walls about it, each beyond a strip of pi / 4 thickness."""
    strip = QUARTER * thickness / 2
    near, far = 30.0, 30 + strip + 60
    outline = [(near, near), (near, far), (-near, far), (-near, near), (-far, near), (-far, -near), (-near, -near)]
    outline += [(-near, -far), (near, -far), (near, -near), (far, -near), (far, near)]
    score = 30 + strip / 2
    folds = (
        Fold(point(30, score), point(-30, score), QUARTER),
        Fold(point(-30, -score), point(30, -score), QUARTER),
        Fold(point(score, -30), point(score, 30), QUARTER),
        Fold(point(-score, -30), point(-score, 30), QUARTER),
    )
    return Piece("cube", "cube", "card", np.array(outline, float), thickness=thickness, folds=folds)


PAN = Box(
    back=(60, 60),
    front=(100, 100),
    depth=15,
    open=("front",),
    holes=(SquareWallHole(wall="right", kind="rectangle", width=4, height=6, right=3, up=8),),
)


def pan(beyond: float = -2.0) -> Piece:
    """Net of a pan whose walls are 25 mm high (15, 20, 25), with one tab from the right wall to the top one.

    A wall turns away from the back by the angle whose cosine is 20 / 25; right and top walls, with outward normals
    (15, 0, 20) / 25 and (0, 15, 20) / 25, by the angle whose cosine is 400 / 625. The middle of a wall lies 12.5 mm
    from the back: a hole 3 mm nearer to the lens begins 9.5 - 2 mm from it. The tab ends that far beyond its fold.
    """
    along, across = np.array([25.0, 20.0]) / np.hypot(25, 20), np.array([-20.0, 25.0]) / np.hypot(25, 20)
    start, end = point(30, 30) + 12 * along, point(30, 30) + 30 * along
    flap = np.array([end, end + beyond * along + 2 * across, start + 2 * along + 2 * across, start])
    outline = [
        (30, -30),
        (55, -50),
        (55, 50),
        *flap.tolist(),
        (30, 30),
        (50, 55),
        (-50, 55),
        (-30, 30),
        (-55, 50),
        (-55, -50),
    ]
    outline += [(-30, -30), (-50, -55), (50, -55)]
    hole = np.array([[37.5, 5.0], [37.5, 11.0], [41.5, 11.0], [41.5, 5.0]])
    turn = np.arccos(0.8)
    folds = (
        Fold(point(30, -30), point(30, 30), turn),
        Fold(point(-30, 30), point(-30, -30), turn),
        Fold(point(30, 30), point(-30, 30), turn),
        Fold(point(-30, -30), point(30, -30), turn),
        Fold(start, end, np.arccos(0.64)),
    )
    labels = (Label("A", flap.mean(axis=0), 4.0), Label("A", point(35, 45), 4.0))
    tabs = (Tab(flap, "A", "top"),)
    return Piece("pan", "pan", "card", np.array(outline, float), holes=(hole,), folds=folds, tabs=tabs, labels=labels)


@pytest.mark.parametrize("thickness", [0.0, 2.0])
def test_cube_net_made_by_hand_folds_to_a_cube(thickness):
    there = walls(triangulate(Box(back=(60, 60), front=(60, 60), depth=60, open=("front",))))
    chosen = together([cross(thickness)], there)[0]
    assert sorted(chosen.cover) == ["back", "bottom", "left", "right", "top"]
    # Its inside is 60 mm each way, whatever the thickness.
    made = folded(cross(thickness))
    corner = np.concatenate([face.vertices() for face in made])
    assert np.ptp(corner, axis=0) == pytest.approx([60, 60, 60], abs=1e-4)


def test_pan_made_by_hand_folds_to_the_rig():
    mesh = triangulate(PAN)
    chosen = together([pan()], walls(mesh))[0]
    assert not chosen.faults
    assert off(samples(mesh), folded(pan()), chosen).max() < 1e-4


def changed_fold(piece: Piece, number: int, *, angle: float = 0.0, shift: tuple[float, float] = (0, 0)) -> Piece:
    fold, move = piece.folds[number], np.array(shift)
    new = Fold(fold.start + move, fold.end + move, fold.angle + angle)
    return replace(piece, folds=(*piece.folds[:number], new, *piece.folds[number + 1 :]))


BAD = {
    "mirrored": (mirrored(pan()), "does not fold back"),
    "hole 0.3 mm off": (replace(pan(), holes=(pan().holes[0] + [0.3, 0.0],)), "does not fold back"),
    "no hole": (replace(pan(), holes=()), "does not fold back"),
    "one degree too much": (changed_fold(pan(), 2, angle=np.radians(1)), "does not fold back"),
    "folded to the wrong side": (changed_fold(pan(), 2, angle=-2 * np.arccos(0.8)), "does not fold back"),
    "tab not folded enough": (changed_fold(pan(), 4, angle=-np.radians(5)), "tab A lies"),
    "tab not scored": (replace(pan(), folds=pan().folds[:4]), "no fold parts tab A"),
    "tab longer than its wall": (pan(beyond=6.0), "stick out"),
    "tab on the wrong wall": (replace(pan(), tabs=(replace(pan().tabs[0], onto="left"),)), "tab A lies"),
    "score short": (
        replace(pan(), folds=(replace(pan().folds[0], end=point(30, 20)), *pan().folds[1:])),
        "inside the sheet",
    ),
    "allowance forgotten": (replace(cross(), thickness=2.0), "does not fold back"),
    "outline crossing itself": (replace(pan(), outline=pan().outline[[*range(14), 15, 14]]), "crosses itself"),
    "clockwise": (replace(pan(), outline=pan().outline[::-1]), "clockwise"),
    "wall cut away": (
        replace(cross(), outline=cross().outline[[0, 3, *range(4, 12)]], folds=cross().folds[1:]),
        "nothing makes",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_the_proof_notices(name):
    piece, reason = BAD[name]
    shape = PAN if piece.name == "pan" else Box(back=(60, 60), front=(60, 60), depth=60, open=("front",))
    with pytest.raises(Unfoldable, match=reason):
        together([piece], walls(triangulate(shape)))


# Made by the program


side = st.floats(8, 300).map(lambda value: round(value, 1))
shift = st.floats(-80, 80).map(lambda value: round(value, 1))
WALLS = ("back", "front", "left", "right", "top", "bottom")


def within(box: Box, wall: str) -> float:
    """A length that fits into every part of a wall: the shortest of its edges."""
    a, b = np.array(box.back), np.array(box.front)
    if wall in ("back", "front"):
        return float(min(a if wall == "back" else b))
    axis = 1 if wall in ("left", "right") else 0
    return float(min(a[axis], b[axis], box.depth))


@st.composite
def boxes(draw) -> Box:
    box = Box(
        back=(draw(side), draw(side)),
        front=(draw(side), draw(side)),
        depth=draw(side),
        front_right=draw(shift),
        front_up=draw(shift),
        open=tuple(draw(st.lists(st.sampled_from(WALLS), max_size=5, unique=True))),
    )
    holes = []
    for wall in draw(st.lists(st.sampled_from([name for name in WALLS if name not in box.open]), max_size=3)):
        room = within(box, wall)
        away = [round(draw(st.floats(-0.2, 0.2)) * room, 1) for _ in range(2)]
        size = [round(draw(st.floats(0.05, 0.3)) * room, 1) for _ in range(2)]
        if draw(st.booleans()):
            hole = RoundWallHole(wall=wall, diameter=size[0], right=away[0], up=away[1])
        else:
            hole = SquareWallHole(wall=wall, kind="rectangle", width=size[0], height=size[1], right=away[0], up=away[1])
        # Rims that meet at a shallow angle leave a tip that the rig, whose circles are polygons, has elsewhere.
        if all(other.wall != wall or apart(hole, other) for other in holes):
            holes.append(hole)
    return Box(**{**box.model_dump(), "holes": holes})


def apart(one: RoundWallHole | SquareWallHole, other: RoundWallHole | SquareWallHole) -> bool:
    """Whether the upright rectangles about two holes of a wall keep 1 mm from each other."""
    boxes = []
    for hole in (one, other):
        wide, high = (hole.diameter, hole.diameter) if isinstance(hole, RoundWallHole) else (hole.width, hole.height)
        boxes.append(shapely.box(-wide / 2, -high / 2, wide / 2, high / 2))
    return bool(translate(boxes[0], one.right - other.right, one.up - other.up).distance(boxes[1]) > 1)


@st.composite
def funnels(draw) -> Funnel:
    near, far = (draw(side), draw(side)), (draw(side), draw(side))
    return Funnel(near=near, far=far, depth=draw(side), far_right=draw(shift), far_up=draw(shift))


def tellable(shape: Box | Funnel, thickness: float, sheet: tuple[float, float] = (2000, 2000)) -> bool:
    """Whether the outlines of the pieces tell where they belong.

    Holes side by side may divide a wall, which leaves too few of its corners; a lone wall that looks the same upside
    down does not tell which way up its letters stand.
    """
    pieces = pieces_of(shape, thickness=thickness, sheet=sheet)
    lone = [Polygon(piece.outline) for piece in pieces if not piece.folds]
    turned = [one.symmetric_difference(rotate(one, 180, origin="centroid")).area for one in lone]
    return all(area > 1 for area in turned) and not any(" of " in piece.name for piece in pieces)


def check(shape: Box | Funnel, *, thickness: float, tab: float = 10.0, sheet: tuple[float, float] = (2000, 2000)):
    """Fold all pieces of a shape and lay them against its triangles; returns the pieces."""
    pieces = pieces_of(shape, thickness=thickness, tab=tab, sheet=sheet)
    mesh = triangulate(shape)
    there = walls(mesh)
    chosen = together(pieces, there)
    made = [folded(piece) for piece in pieces]
    assert letter_faults(pieces, made, chosen, there) == []
    points = samples(mesh)
    assert np.min([off(points, *each) for each in zip(made, chosen, strict=True)], axis=0).max() < NEAR
    # Nothing is made twice, or beside the rig: the fronts have the area of its triangles.
    fronts = sum(face.inner.area for faces in made for face in faces if face.tab is None)
    assert fronts == pytest.approx(area(mesh), rel=1e-3)
    for piece in pieces:
        small, large = sorted(np.ptp(piece.outline, axis=0))
        assert small <= min(sheet) + 1e-6, "does not go on the sheet"
        assert large <= max(sheet) + 1e-6, "does not go on the sheet"
    return pieces


NOTCHED = Box(
    back=(69, 74), front=(50, 48), depth=72, open=("left",), holes=(RoundWallHole(wall="top", diameter=12, up=39),)
)
BITTEN = Box(
    back=(120, 112),
    front=(88, 94),
    depth=57,
    open=("right",),
    holes=(SquareWallHole(wall="left", kind="rectangle", width=22, height=40, right=-30, up=26),),
)
LONG_TABS = Box(back=(271.9, 210.6), front=(277.8, 269.8), depth=270.7)


@FIFTY
@given(boxes(), st.floats(0, 3))
@example(NOTCHED, 0.0)  # a hole across an edge, which takes a bite out of a tab
@example(BITTEN, 3.0)  # a hole across a fold: of the other wall, nothing is cut
@example(LONG_TABS, 0.0)
def test_boxes_fold_back(box, thickness):
    thickness = round(thickness, 2)
    assume(tellable(box, thickness))
    check(box, thickness=thickness)


@FIFTY
@given(funnels(), st.floats(0, 3))
def test_funnels_fold_back(funnel, thickness):
    check(funnel, thickness=round(thickness, 2))


@settings(FIFTY, max_examples=15)
@given(boxes(), st.floats(0, 3))
def test_boxes_cut_from_small_sheets_fold_back(box, thickness):
    """Several pieces: no larger than the largest wall and its tabs need."""
    thickness = round(thickness, 2)
    assume(tellable(box, thickness, (420, 420)))
    check(box, thickness=thickness, sheet=(420, 420))


def test_tabs_of_thick_sheets_stop_shorter_of_the_corners():
    """By hand: 0.5 mm and half of 2 mm at either end of 60 mm, ends at 45 degrees: (57 + 37) / 2 x 10 = 470 mm^2."""
    (piece,) = pieces_of(Box(back=(60, 60), front=(60, 60), depth=60, open=("front",)), thickness=2, tab=10)
    assert piece.tabs
    assert [Polygon(tab.outline).area for tab in piece.tabs] == pytest.approx([470] * len(piece.tabs), abs=1e-3)


def test_a_tab_keeps_clear_of_the_holes_that_it_lies_under():
    """By hand: tabs of 10 mm on edges of 60 mm stop 0.5 mm short of the corners and end at 45 degrees: 590 - 100 =
    490 mm^2. Where a hole of 6 mm has its middle 6 mm from the edge, 1 mm round it and all beyond it is left out: half
    a disc of 4 mm, 25.1 mm^2, and 8 x 4 mm.
    """
    holes = tuple(
        RoundWallHole(wall=wall, diameter=6, **{"right" if wall in ("top", "bottom") else "up": 24 * sign})
        for wall in ("left", "right", "top", "bottom")
        for sign in (1, -1)
    )
    (piece,) = pieces_of(Box(back=(60, 60), front=(60, 60), depth=60, open=("front",), holes=holes))
    notched = 490 - np.pi * 4**2 / 2 - 8 * 4
    areas = sorted(Polygon(tab.outline).area for tab in piece.tabs)
    whole = [area for area in areas if area > 480]
    assert 0 < len(whole) < len(areas)
    assert whole == pytest.approx([490] * len(whole), abs=1e-3)
    assert areas[: -len(whole)] == pytest.approx([notched] * (len(areas) - len(whole)), abs=0.05)


@pytest.mark.parametrize(
    "box", [Box(back=(100, 30), front=(20, 50), depth=15), Box(back=(30, 70), front=(50, 50), depth=15, front_right=30)]
)
def test_no_cut_is_narrower_than_a_knife_can_part(box):
    """A gap of less than 0.2 mm closes when the sheet grows by 0.1 mm, and stays closed when it shrinks again."""
    for piece in pieces_of(box):
        closed = raw(piece).buffer(0.1, join_style="mitre").buffer(-0.1, join_style="mitre")
        assert closed.area - raw(piece).area < 0.05


def raw(piece: Piece) -> Polygon:
    return Polygon(piece.outline, piece.holes)


READY = {
    f"{design.name}, {part.name}": part.shape
    for design in designs()
    for part in load(design.name).rig.diffuser
    if isinstance(part.shape, Box | Funnel)
}


@pytest.mark.parametrize("name", READY)
def test_ready_designs_fold_back(name):
    check(READY[name], thickness=0.4, sheet=(500, 700))


@pytest.mark.parametrize("name", READY)
@pytest.mark.parametrize("thickness", [0.0, 0.4])
def test_no_step_is_too_small_for_a_machine(name, thickness):
    """Steps of less than a thousandth of a millimetre are rounding, not drawing."""
    for piece in pieces_of(READY[name], thickness=thickness):
        for ring in (piece.outline, *piece.holes):
            assert np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1).min() > SLIGHT


LOPSIDED = Box(
    back=(60, 40),
    front=(130, 110),
    depth=50,
    front_right=12,
    front_up=-20,
    open=("front",),
    holes=(RoundWallHole(wall="top", diameter=9, right=14, up=3),),
)


@pytest.mark.parametrize("thickness", [0.0, 0.3, 3.0])
def test_mirrored_net_does_not_fold_back(thickness):
    pieces = check(LOPSIDED, thickness=thickness)
    there = walls(triangulate(LOPSIDED))
    with pytest.raises(Unfoldable, match="does not fold back"):
        together([mirrored(piece) for piece in pieces], there)


def test_net_for_another_thickness_does_not_fold_back():
    """The allowance of a right angle in 3 mm is 2.36 mm: far more than what is promised."""
    pieces = [replace(piece, thickness=0.0) for piece in pieces_of(LOPSIDED, thickness=3.0)]
    with pytest.raises(Unfoldable, match=r"does not fold back|not what its score line leaves"):
        together(pieces, walls(triangulate(LOPSIDED)))


def test_every_letter_stands_on_a_tab_and_at_one_edge():
    """The proof of letters, on a net in which two of them are exchanged."""
    (piece,) = pieces_of(LOPSIDED, thickness=0.0)
    there = walls(triangulate(LOPSIDED))
    other = {"A": "B", "B": "A"}
    # The first of each pair stands on its tab; exchange the others.
    second = {letter: [each for each in piece.labels if each.text == letter][1] for letter in "AB"}
    labels = tuple(
        replace(each, text=other[each.text]) if any(each is one for one in second.values()) else each
        for each in piece.labels
    )
    for given_labels, wrong in ((piece.labels, False), (labels, True), (piece.labels[1:], True)):
        changed = replace(piece, labels=given_labels)
        faults = letter_faults([changed], [folded(changed)], together([changed], there), there)
        assert bool(faults) is wrong
