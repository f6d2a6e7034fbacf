"""Patterns laid, bent and rolled back against the triangles of the rig: sheets, discs, curved sheets, cones and domes.

The formulae are those of right cones and cylinders, derived here: a point at distance s from the apex and at an angle p
from the middle of the flat sector comes to lie s from the apex of the cone, at p / sin(half angle) round its axis. What
keeps its length in a sheet of thickness d is the surface in its middle, d / 2 outside the front. Folded ones:
test_folding.py.
"""

from __future__ import annotations

import re

import numpy as np
import pytest
import shapely
from cones import carried, laid_on, rolled, sector, unrolled
from folding import SLIGHT, Region, net, raised, sheet
from hypothesis import Phase, assume, example, given, settings
from hypothesis import strategies as st
from laying import NEAR, same_within, samples, spread, to_triangles

from lightsim.pattern.pattern import NotFlat, pieces_of
from lightsim.pattern.piece import Piece
from lightsim.rig.library import designs
from lightsim.rig.load import load
from lightsim.rig.mesh import Mesh, corners
from lightsim.rig.shapes import (
    Cone,
    CurvedSheet,
    Disc,
    Dome,
    FlatSheet,
    MeshFile,
    RoundHole,
    Slit,
    SquareHole,
    triangulate,
)

# Examples are small enough to read: shrinking one that fails would take minutes.
FIFTY = settings(max_examples=50, deadline=None, derandomize=True, phases=(Phase.explicit, Phase.generate))


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda value: round(value, 1))


size, place = number(10, 400), number(-150, 150)
thick = st.floats(0, 3).map(lambda value: round(value, 2))
holes = st.lists(
    st.one_of(
        st.builds(RoundHole, diameter=number(1, 60), right=place, up=place),
        st.builds(
            SquareHole, kind=st.just("rectangle"), width=number(1, 60), height=number(1, 60), right=place, up=place
        ),
    ),
    max_size=3,
)
slit = st.builds(Slit, start=st.tuples(place, place), end=st.tuples(number(151, 200), place), gap=number(0.5, 4))
slits = st.lists(slit, max_size=2)


def made(kind: type, **fields: object):
    """A shape, or None where cuts leave nothing of it."""
    try:
        return kind(**fields)
    except ValueError:
        return None


def on_paper(pieces: tuple[Piece, ...]) -> Region:
    """All pieces of a sheet where they were drawn."""
    return shapely.union_all([sheet(piece) for piece in pieces])


def sturdy(region: Region) -> bool:
    """Whether a sheet has no scraps and bridges thinner than 0.6 mm, which nobody could cut."""
    return len(shapely.get_parts(region)) == len(shapely.get_parts(region.buffer(-0.3)))


def flat_union(triangles: np.ndarray) -> Region:
    """Triangles (m, 3, 2) as one region."""
    return shapely.union_all(shapely.polygons(triangles), grid_size=1e-4)


# Sheets and discs


@FIFTY
@given(st.one_of(
    st.builds(lambda w, h, r, k, s: made(FlatSheet, width=w, height=h, corner_radius=r * min(w, h), holes=k, slits=s),
              size, size, st.floats(0, 0.5).map(lambda v: round(v, 2)), holes, slits),
    st.builds(lambda d, k, s: made(Disc, diameter=d, holes=k, slits=s), size, holes, slits),
))  # fmt: skip
def test_sheets_are_cut_as_the_rig_has_them(shape):
    """Drawn as the camera sees their back: right is right, up is up."""
    assume(shape is not None)
    there = flat_union(corners(triangulate(shape))[..., :2])
    assume(sturdy(there))
    assert same_within(on_paper(pieces_of(shape)), there)


def test_sheet_is_neither_turned_over_nor_round():
    shape = FlatSheet(width=200, height=120, holes=(RoundHole(diameter=20, right=60, up=-30),))
    (piece,) = pieces_of(shape)
    (hole,) = piece.holes
    assert hole.mean(axis=0) == pytest.approx([60, -30], abs=0.01)
    assert np.ptp(piece.outline, axis=0) == pytest.approx([200, 120], abs=1e-9)


# Curved sheets


def bent(flat: np.ndarray, shape: CurvedSheet) -> np.ndarray:
    """Points of the flat sheet (n, 2) on the cylinder through the origin whose axis passes through z = -radius."""
    radius = shape.arc_radius
    along = 1 if shape.bend == "up-down" else 0
    turn = flat[:, along] / radius
    point = np.zeros((len(flat), 3))
    point[:, 1 - along] = flat[:, 1 - along]
    point[:, along] = radius * np.sin(turn)
    point[:, 2] = radius * (np.cos(turn) - 1)
    return point


def unbent(point: np.ndarray, shape: CurvedSheet) -> tuple[np.ndarray, np.ndarray]:
    """Nearest points of the cylinder, on the flat sheet (n, 2), and the distances to them (n,)."""
    radius = shape.arc_radius
    along = 1 if shape.bend == "up-down" else 0
    flat = point[:, :2].copy()
    flat[:, along] = radius * np.arctan2(point[:, along], point[:, 2] + radius)
    return flat, np.abs(np.hypot(point[:, along], point[:, 2] + radius) - radius)


def lies_on(region: Region, flat: np.ndarray, height: np.ndarray) -> float:
    """Greatest distance of points of the rig from a bent sheet: along it, their feet on it being flat, or square to it.

    The rig's facets may be off by NEAR either way, round holes along the sheet and bends square to it.
    """
    return float(max(shapely.distance(shapely.points(flat), region).max(), height.max()))


@FIFTY
@given(
    st.builds(
        lambda w, n, a, b, k, s: made(CurvedSheet, width=w, length=n, angle=a, bend=b, holes=k, slits=s),
        size, size, number(1, 350), st.sampled_from(["up-down", "left-right"]), holes, slits,
    ),
    thick,
)  # fmt: skip
def test_curved_sheets_bend_back(shape, thickness):
    """Their length is stated flat, so that thickness changes nothing."""
    assume(shape is not None)
    mesh = triangulate(shape)
    assume(sturdy(flat_union(unbent(corners(mesh).reshape(-1, 3), shape)[0].reshape(-1, 3, 2))))
    region = on_paper(pieces_of(shape, thickness=thickness))
    assert lies_on(region, *unbent(samples(mesh, 3), shape)) < NEAR
    assert to_triangles(bent(spread(region, 300), shape), mesh).max() < np.sqrt(2) * NEAR  # both at once


def test_mirrored_curved_sheet_does_not_bend_back():
    shape = CurvedSheet(width=120, length=90, angle=100, holes=(SquareHole(width=20, height=9, right=31, up=14),))
    mesh = triangulate(shape)
    region = on_paper(pieces_of(shape))
    for flip in ([-1.0, 1.0], [1.0, -1.0]):
        wrong = shapely.transform(region, lambda points, flip=flip: points * flip)
        assert lies_on(wrong, *unbent(samples(mesh, 24), shape)) > 1


# Cones and tubes


@st.composite
def cones(draw) -> Cone:
    ends = draw(st.sampled_from(["cone", "cone", "near point", "far point", "tube"]))
    near, far = draw(number(5, 250)), draw(number(5, 250))
    near = 0.0 if ends == "near point" else far if ends == "tube" else near
    far = 0.0 if ends == "far point" else far
    sweep = draw(st.one_of(st.just(360.0), number(1, 360)))
    return Cone(
        near_diameter=near, far_diameter=far, depth=draw(number(5, 250)), sweep=sweep, start=draw(number(-360, 360))
    )


def check_cone(shape: Cone, thickness: float) -> Piece:
    (piece,) = pieces_of(shape, thickness=thickness)
    ideal, half = sector(shape, thickness)
    region = net(piece)
    move = laid_on(region, ideal)
    assert move is not None, "the net is not the sector of its handbook radii and angle"
    placed = shapely.transform(region, lambda points: carried(points, move))
    mesh = triangulate(shape)
    points = samples(mesh, 3)
    points = points[np.hypot(*points.T[:2]) > SLIGHT]  # the tip has no angle round the axis
    assert lies_on(placed, *unrolled(points, shape, thickness)) < NEAR
    assert to_triangles(rolled(spread(placed, 200), shape, thickness), mesh).max() < NEAR
    assert len(piece.tabs) <= 1
    assert bool(piece.tabs) <= (shape.sweep > 359)
    for tab in piece.tabs:
        # Beyond one edge of the sector, between its two arcs, and not as wide as the sheet that it goes under.
        flap = carried(tab.outline, move)
        away_from_apex = flap[np.hypot(*flap.T) > NEAR]
        back = np.degrees(np.arctan2(*away_from_apex.T)) if half else flap[:, 0]
        reach = np.degrees(np.radians(shape.sweep) * np.sin(half) / 2) if half else ideal.bounds[2]
        rim = shapely.get_coordinates(ideal)
        away, limits = (np.hypot(*flap.T), np.hypot(*rim.T)) if half else (flap[:, 1], rim[:, 1])
        assert min(away) > min(limits) - NEAR, "the tab sticks out of an end"
        assert max(away) < max(limits) + NEAR, "the tab sticks out of an end"
        assert shapely.Polygon(flap).intersection(ideal).area < SLIGHT * ideal.length, "the tab lies on the net"
        assert 0 < np.ptp(np.unwrap(back, period=360) if half else back) < 2 * reach
    letters = [label.text for label in piece.labels if re.fullmatch("[A-Z]", label.text)]
    # A nearly flat cone has no room for a tab: its edges bear the letter alone, and are taped.
    taped = ["A", "A"] if any("tape" in note for note in piece.notes) else []
    assert sorted(letters) == sorted(2 * [tab.letter for tab in piece.tabs]) + taped
    assert not (piece.tabs and taped)
    return piece


@FIFTY
@given(cones(), thick)
@example(Cone(near_diameter=0, far_diameter=119, depth=5), 0.0)  # nearly a disc: little room for a tab
@example(Cone(near_diameter=5, far_diameter=0, depth=5), 0.0)  # smaller than a tab
@example(Cone(near_diameter=31.8, far_diameter=0, depth=250, sweep=15.6), 2.71)  # a sharp point of a thick sheet
def test_cones_roll_back(shape, thickness):
    check_cone(shape, thickness)


def test_cone_for_another_thickness_does_not_roll_back():
    """3 mm too little makes a tube 3 pi mm too narrow, (3 / 2) 2 pi on the line in its middle."""
    (piece,) = pieces_of(Cone(near_diameter=60, far_diameter=60, depth=40), thickness=0.0)
    assert laid_on(net(piece), sector(Cone(near_diameter=60, far_diameter=60, depth=40), 3.0)[0]) is None


# Domes


def wedge(mesh: Mesh, turn: float) -> Mesh:
    """Triangles of a dome within an angle of +x, as seen along its axis."""
    middle = corners(mesh).mean(axis=1)
    return Mesh(mesh.vertices, mesh.faces[np.abs(np.arctan2(middle[:, 1], middle[:, 0])) < turn])


def check_dome(shape: Dome, *, gores: int | None, thickness: float = 0.0) -> Piece:
    """One gore, bent on the great circle along its middle and straight across, and its neighbours round the axis."""
    (piece,) = pieces_of(shape, gores=gores, thickness=thickness)
    rim, depth, count = shape.diameter / 2, shape.depth, piece.copies
    radius = (rim**2 + depth**2) / (2 * depth)
    edge, inner = np.arctan2(rim, radius - depth), np.arcsin(shape.crown_hole / 2 / radius)
    middle = radius + thickness / 2
    region = net(piece)
    low, high = region.bounds[1], region.bounds[3]
    mirror = shapely.transform(region, lambda points: points * [-1.0, 1.0])
    assert same_within(region, mirror), "without its tabs, a gore is the same right and left of its middle"
    assert high - low == pytest.approx(middle * (edge - inner), abs=NEAR)
    said = re.search(r"up to ([0-9.]+) mm", " ".join(piece.notes))
    assert said
    most = float(said[1]) + 0.05
    down = np.linspace(low + SLIGHT, high - SLIGHT, 61)
    angle = edge - (down - low) / middle
    line = shapely.linestrings([[(-2 * rim - radius, y), (2 * rim + radius, y)] for y in down])
    width = shapely.length(shapely.intersection(line, region))
    # Of the circle of latitude, each gore has its share: circumference / number.
    assert width == pytest.approx(2 * np.pi * middle * np.sin(angle) / count, abs=NEAR)
    # What stands off most, and the gap at the seams, is what the note says or less.
    inside = radius * np.sin(angle)
    assert (np.hypot(radius, width / 2) - radius).max() < most
    end = np.stack([inside, width / 2], axis=1)
    turn = 2 * np.pi / count
    other = end * [1, -1] @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    assert np.linalg.norm(end - other, axis=1).max() < most
    # All of it against the rig, on the side of +x.
    flat = spread(region, 100)
    bend = edge - (flat[:, 1] - low) / middle
    height = radius * (np.cos(bend) - np.cos(edge)) * (1 if shape.bulge == "lens" else -1)
    bowl = np.stack([radius * np.sin(bend), flat[:, 0], height], axis=1)
    assert to_triangles(bowl, wedge(triangulate(shape), turn)).max() < most + NEAR
    return piece


@pytest.mark.parametrize("thickness", [0.0, 2.0])
@pytest.mark.parametrize("gores", [None, 8, 13])
@pytest.mark.parametrize(
    "shape",
    [
        Dome(diameter=100, depth=50),
        Dome(diameter=160, depth=30, crown_hole=40),
        Dome(diameter=90, depth=70, bulge="subject"),
    ],
)
def test_domes_bend_back(shape, gores, thickness):
    piece = check_dome(shape, gores=gores, thickness=thickness)
    assert piece.copies == gores or gores is None


@settings(FIFTY, max_examples=15)
@given(number(20, 400), st.floats(0.1, 1.0), st.floats(0, 0.9), thick)
def test_any_dome_stays_within_two_millimetres(diameter, share, hole, thickness):
    shape = Dome(
        diameter=diameter, depth=round(share * diameter, 1), crown_hole=0 if hole < 0.2 else round(hole * diameter, 1)
    )
    piece = check_dome(shape, gores=None, thickness=thickness)
    assert float(re.search(r"up to ([0-9.]+) mm", " ".join(piece.notes))[1]) <= 2.0


# What is told and marked, by hand


@pytest.mark.parametrize(
    ("bend", "grain", "words", "axis"),
    [("up-down", (1, 0), "up and down", 0), ("left-right", (0, 1), "left and right", 1)],
)
def test_a_curved_sheet_says_how_it_is_bent(bend, grain, words, axis):
    """Its straight lines are its width, 120 mm, and paper bends most willingly about its grain (common practice, no
    source). Edges come toward the subject, away from the back; 60 mm on a radius of 40 mm turn by 1.5 rad, 86 degrees.
    """
    (piece,) = pieces_of(CurvedSheet(width=120, length=60, radius=40, bend=bend))
    assert piece.grain == grain
    assert piece.side == "outside"
    assert piece.notes == (f"Bend it {words}, away from the drawn side, through 86 degrees.",)
    # The middle of the bend is marked where it runs out of the sheet.
    ends = np.array([mark.points[0] for mark in piece.marks])
    assert sorted(ends[:, axis]) == [-60, 60]
    assert ends[:, 1 - axis].tolist() == [0, 0]


@pytest.mark.parametrize(("near", "far", "end"), [(40, 90, "lens"), (90, 40, "subject")])
def test_a_cone_says_which_end_is_narrow_and_has_a_tab_as_wide_as_asked(near, far, end):
    """The near end is the one toward the lens. The tab lies beyond the marked edge by the 8 mm asked for."""
    (piece,) = pieces_of(Cone(near_diameter=near, far_diameter=far, depth=60), tab=8)
    assert f"the narrow end points to the {end}" in piece.notes[0]
    (edge,) = (mark.points for mark in piece.marks)
    along = (edge[1] - edge[0]) / np.linalg.norm(edge[1] - edge[0])
    beyond = np.abs((piece.tabs[0].outline - edge[0]) @ [-along[1], along[0]])
    assert beyond.max() == pytest.approx(8, abs=1e-6)
    # A letter at either edge: one on the tab, the other just inside the far edge of the sector.
    one, other = (label.place for label in piece.labels)
    assert one[0] < -10 < 10 < other[0]
    # Grain: along the straight lines from end to end, about which it is rolled.
    assert piece.grain == pytest.approx((0, -1 if near < far else 1), abs=1e-9)


def test_a_tube_is_rolled_about_its_grain():
    (piece,) = pieces_of(Cone(near_diameter=50, far_diameter=50, depth=60))
    assert piece.grain == (0, 1)


@pytest.mark.parametrize("tab", [0, 8])
@pytest.mark.parametrize("sweep", [360, 200])
def test_sectors_of_a_large_cone_make_all_of_it(sweep, tab):
    """Lateral area of a frustum: half the sweep x (r + R) x slant height; a sheet keeps 5 mm free at its edges."""
    pieces = pieces_of(Cone(near_diameter=60, far_diameter=200, depth=120, sweep=sweep), tab=tab, sheet=(150, 260))
    total = sum(piece.copies * net(piece).area for piece in pieces)
    assert total == pytest.approx(np.radians(sweep) / 2 * (30 + 100) * np.hypot(120, 70), rel=1e-3)
    assert sum(piece.copies for piece in pieces) > 1
    for piece in pieces:
        assert (np.sort(np.ptp(piece.outline, axis=0)) <= [140, 250]).all()
    # Every joint has one tab: as many as there are sectors, one fewer where the row is open.
    joints = sum(piece.copies for piece in pieces) - (sweep < 360)
    assert sum(piece.copies * len(piece.tabs) for piece in pieces) == (joints if tab else 0)


@pytest.mark.parametrize("tab", [0, 10])
def test_a_gore_says_what_a_builder_needs(tab):
    """Rolled about lines across it, so its grain runs across. Nothing stands out at rim and crown, even where the edge
    leans outward above the rim of a bowl deeper than half a ball."""
    (piece,) = pieces_of(Dome(diameter=90, depth=70), gores=5, tab=tab)
    assert piece.grain == (1, 0)
    radius = (45**2 + 70**2) / (2 * 70)
    length = radius * (np.pi - np.arcsin(45 / radius))
    for ring in (piece.outline, *(tab.outline for tab in piece.tabs)):
        assert ring[:, 1].min() > -1e-6
        assert ring[:, 1].max() < length + 1e-6
    # The edge on the left goes over the next gore's flaps, which stand on the right.
    letters = [label.place[0] for label in piece.labels if label.text == "A"]
    assert min(letters) < 0
    assert tab == 0 or max(letters) > 0
    assert ("flaps" in piece.notes[1]) == bool(tab)


def test_as_many_gores_as_it_takes():
    """Regular polygons about the widest circle, of 50 mm: 1 / cos(180 degrees / n) - 1 is 4.1 mm for n = 8, 2.6 mm for
    10 and 1.76 mm for 12, the first below 2 mm; about one of 5 mm 2.1 mm for 4 and 0.8 mm for 6. By hand.
    """
    for diameter, count in ((100, 12), (10, 6)):
        (piece,) = pieces_of(Dome(diameter=diameter, depth=diameter / 2))
        assert piece.copies == count


READY = {
    f"{design.name}, {part.name}": part.shape
    for design in designs()
    for part in load(design.name).rig.diffuser
    if isinstance(part.shape, Cone | Dome)
}


@pytest.mark.parametrize("name", READY)
def test_ready_designs_roll_back(name):
    shape = READY[name]
    for thickness in (0.0, 0.4):
        assert check_cone(shape, thickness) if isinstance(shape, Cone) else check_dome(shape, gores=None)


def test_meshes_are_refused():
    with pytest.raises(NotFlat):
        pieces_of(MeshFile(shape="mesh", file="bowl.stl", unit="mm"))


def test_helpers_measure_distances():
    """A unit right triangle: above it, beside its longest edge, beyond its corner (by hand)."""
    mesh = Mesh(np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]), np.array([[0, 1, 2]]))
    points = np.array([[0.2, 0.2, 0.5], [1.0, 1.0, 0.0], [2.0, 0.0, 0.0], [-3.0, -4.0, 0.0]])
    assert to_triangles(points, mesh) == pytest.approx([0.5, np.sqrt(0.5), 1.0, 5.0])
    assert raised(np.array([[1.0, 2.0]])).tolist() == [[1.0, 2.0, 0.0]]
