"""Flat patterns against the rules and worked examples of handbooks, at their printed digits.

Each measures the drawing: lengths, radii and angles of its lines.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from folding import net

from lightsim.pattern.pattern import pieces_of
from lightsim.pattern.piece import Piece
from lightsim.rig.shapes import Box, Cone, CurvedSheet, Dome, FlatSheet, Funnel

INCH = 25.4


def half_last_digit(printed: str) -> float:
    return 0.5 * 10.0 ** -len(printed.partition(".")[2])


def measured_sector(piece: Piece) -> tuple[float, float, float]:
    """Inner and outer radius [mm] and angle [degrees] of a sector: its two straight edges, the longest lines of the
    outline, meet in the apex (or would); the angle is that through which the outer rim turns about it."""
    ring = np.array(net(piece).exterior.coords)[:-1]
    ring = np.concatenate([ring, ring[:1]])
    length = np.linalg.norm(np.diff(ring, axis=0), axis=1)
    one, other = np.argsort(length)[-2:]
    assert length[one] == pytest.approx(length[other], abs=1e-6)
    (a, b), (c, d) = ring[one : one + 2], ring[other : other + 2]
    share = np.linalg.solve(np.stack([b - a, c - d], axis=1), c - a)[0]
    apex = a + share * (b - a)
    ends = np.linalg.norm(np.array([a, b, c, d]) - apex, axis=1)
    away = ring[:-1] - apex
    outer = np.linalg.norm(away, axis=1) > ends.max() - 0.2
    start = int(np.flatnonzero(outer & ~np.roll(outer, 1))[0])
    rim = np.roll(away, -start, axis=0)[: outer.sum()]
    turn = np.unwrap(np.arctan2(rim[:, 1], rim[:, 0]))
    return float(ends.min()), float(ends.max()), float(np.degrees(np.ptp(turn)))


def cone_of(radius: float, slant: float, unit: float) -> Cone:
    return Cone(near_diameter=0, far_diameter=2 * radius * unit, depth=np.sqrt(slant**2 - radius**2) * unit)


# Angle of the sector = 360 degrees x radius / slant height. The first: Mathwords, "Net of a cone"; the second, from a
# sector of 216 degrees and radius 5 back to the radius 3 of its cone: a common exercise; the third, a cone with a right
# angle at its point: J. Dempsey, "Cones" (1999), sin 45 degrees x 360.
@pytest.mark.parametrize(
    "radius, slant, printed", [(3.0, 9.0, "120"), (3.0, 5.0, "216"), (1.0, float(np.sqrt(2)), "254.6")]
)
def test_sector_of_a_cone(radius, slant, printed):
    (piece,) = pieces_of(cone_of(radius, slant, 20.0), thickness=0.0)
    low, high, angle = measured_sector(piece)
    assert low == pytest.approx(0, abs=1e-6)
    assert high == pytest.approx(20 * slant, abs=1e-6)
    assert angle == pytest.approx(float(printed), abs=half_last_digit(printed))


def test_rim_of_a_cone_is_its_circumference():
    """E. M. Longfield, Sheet Metal Drafting (1921), section 38: base of 5 inches, slant height of 12, circumference
    15.7080; the lateral area is the circumference times half the slant height."""
    (piece,) = pieces_of(cone_of(2.5, 12.0, INCH), thickness=0.0)
    _, high, angle = measured_sector(piece)
    assert high * np.radians(angle) / INCH == pytest.approx(15.7080, abs=half_last_digit("15.7080"))
    assert net(piece).area / INCH**2 == pytest.approx(15.7080 * 12 / 2, rel=1e-3)


# Radii of a frustum: those of its two circles over the sine of the half angle. The first: "The net of a frustum", from
# circular ducts of 5 and 8 inches that are 4 inches apart (Geometry, drawings and nets, ceemrr.com); the second:
# "How to construct a frustum" (analyzemath.com), radii of 10 and 20 cm, 25 cm high, x = sqrt 725, y = 2 sqrt 725.
@pytest.mark.parametrize(
    "near, far, depth, unit, inner, outer, printed",
    [(5, 8, 4, INCH, "7.12", "11.39", "126.4"), (20, 40, 25, 10.0, "26.926", "53.852", "133.7")],
)
def test_radii_of_a_frustum(near, far, depth, unit, inner, outer, printed):
    for ends in ((near, far), (far, near)):
        shape = Cone(near_diameter=ends[0] * unit, far_diameter=ends[1] * unit, depth=depth * unit)
        (piece,) = pieces_of(shape, thickness=0.0)
        low, high, angle = measured_sector(piece)
        assert low / unit == pytest.approx(float(inner), abs=half_last_digit(inner))
        assert high / unit == pytest.approx(float(outer), abs=half_last_digit(outer))
        assert angle == pytest.approx(float(printed), abs=half_last_digit(printed))


def test_slant_height_of_a_frustum():
    """Longfield, problem 30B: the slant height is the hypotenuse over the difference of the radii and the altitude;
    for 6 and 3 inches, 3 inches high: the root of 1.5^2 + 3^2."""
    (piece,) = pieces_of(Cone(near_diameter=6 * INCH, far_diameter=3 * INCH, depth=3 * INCH), thickness=0.0)
    low, high, _ = measured_sector(piece)
    assert (high - low) / INCH == pytest.approx(np.sqrt(11.25), abs=1e-6)


def test_part_of_a_cone_takes_its_share_of_the_sector():
    """Derived here: what goes a third of the way round is a third of the sector."""
    shape = Cone(near_diameter=0, far_diameter=120, depth=np.sqrt(180**2 - 60**2), sweep=120.0)
    (piece,) = pieces_of(shape, thickness=0.0)
    assert measured_sector(piece)[2] == pytest.approx(120 / 3, abs=1e-4)


@pytest.mark.parametrize("sweep", [360.0, 90.0])
@pytest.mark.parametrize("thickness", [0.0, 2.0])
def test_tube_is_a_rectangle_as_wide_as_its_circumference(sweep, thickness):
    """pi d x h (any handbook); d to the middle of the sheet, as K = 1/2 below says."""
    (piece,) = pieces_of(Cone(near_diameter=50, far_diameter=50, depth=30, sweep=sweep), thickness=thickness)
    wide, high = np.ptp(shapely.get_coordinates(net(piece)), axis=0)
    assert wide == pytest.approx(np.pi * (50 + thickness) * sweep / 360, abs=1e-6)
    assert high == pytest.approx(30, abs=1e-9)
    assert net(piece).area == pytest.approx(wide * high, rel=1e-9)


def test_curved_sheet_is_as_long_as_its_arc():
    """Arc = radius x angle: half a cylinder of radius 40 is 125.66 mm long (pi x 40, any handbook)."""
    (piece,) = pieces_of(CurvedSheet(width=80, length=125.66, radius=40), thickness=1.0)
    assert np.ptp(piece.outline, axis=0) == pytest.approx([80, 125.66], abs=1e-9)
    assert any("180 degrees" in note for note in piece.notes)


# Encyclopaedia Britannica, 9th ed. (1875), "Aeronautics": gores are no arcs of circles but curves of sines, the width
# at an angle from the pole is to the greatest one as the sine of that angle to 1. Sines: any table, four digits.
@pytest.mark.parametrize(
    "angle, sine", [(90, "1.0000"), (75, "0.9659"), (60, "0.8660"), (30, "0.5000"), (15, "0.2588")]
)
@pytest.mark.parametrize("gores", [6, 12])
def test_gores_are_curves_of_sines(angle, sine, gores):
    radius = 60.0
    (piece,) = pieces_of(Dome(diameter=2 * radius, depth=radius), gores=gores, thickness=0.0)
    region = net(piece)
    low, high = region.bounds[1], region.bounds[3]
    # A quarter of a great circle from rim to crown, and the circumference over the number at the rim.
    assert high - low == pytest.approx(np.pi / 2 * radius, abs=0.01)
    level = high - radius * np.radians(angle) + (1e-6 if angle == 90 else 0.0)
    width = region.intersection(shapely.LineString([(-200, level), (200, level)])).length
    widest = 2 * np.pi * radius / gores
    assert width / widest == pytest.approx(float(sine), abs=half_last_digit(sine) + 0.01 / widest)
    assert piece.copies == gores


def scores(piece: Piece) -> np.ndarray:
    """Distances of the score lines of a cross-shaped net from its middle, mm."""
    start, along = np.array([(fold.start, fold.end - fold.start) for fold in piece.folds]).transpose(1, 0, 2)
    away = start[:, 0] * along[:, 1] - start[:, 1] * along[:, 0]
    return np.sort(np.abs(away) / np.linalg.norm(along, axis=1))


@pytest.mark.parametrize("thickness, allowance", [(0.0, "0.000"), (1.0, "0.785"), (2.0, "1.571"), (3.0, "2.356")])
def test_bend_allowance_of_a_tray(thickness, allowance):
    """Bend allowance = angle (r + K t) (Machinery's Handbook, sheet metal, from memory; as printed by many shops), with
    r = 0 for a scored fold and K = 1/2: a quarter turn takes pi / 4 of the thickness."""
    (piece,) = pieces_of(Box(back=(60, 40), front=(60, 40), depth=20, open=("front",)), thickness=thickness, tab=0)
    each = float(allowance)
    wide, high = np.ptp(piece.outline, axis=0)
    assert wide == pytest.approx(60 + 2 * (20 + each), abs=2 * half_last_digit(allowance))
    assert high == pytest.approx(40 + 2 * (20 + each), abs=2 * half_last_digit(allowance))
    middle = (piece.outline.min(axis=0) + piece.outline.max(axis=0)) / 2
    assert middle == pytest.approx([0, 0], abs=1e-9)
    assert scores(piece) == pytest.approx([20 + each / 2] * 2 + [30 + each / 2] * 2, abs=half_last_digit(allowance))
    assert np.degrees([fold.angle for fold in piece.folds]) == pytest.approx([90] * 4)


def test_bend_allowance_of_a_shallow_fold_is_its_share():
    """The same by the angle: walls that flare by the triangle 3, 4, 5 turn by the angle whose cosine is 0.8,
    36.87 degrees, and are 25 mm high."""
    shape = Box(back=(60, 60), front=(100, 100), depth=15, open=("front",))
    (piece,) = pieces_of(shape, thickness=2.0, tab=0)
    assert np.degrees([fold.angle for fold in piece.folds]) == pytest.approx([36.87] * 4, abs=0.005)
    wide, high = np.ptp(piece.outline, axis=0)
    assert wide == pytest.approx(60 + 2 * (25 + np.radians(36.87) * 2 / 2), abs=0.001)
    assert high == pytest.approx(wide, abs=1e-6)


def test_walls_of_a_funnel_are_as_high_as_their_slant():
    """Derived here: the trapezoids of the frustum of a pyramid with the triangle 3, 4, 5; two neighbouring walls turn
    by the angle whose cosine is 0.64, 50.21 degrees, from their normals (3, 0, 4) / 5 and (0, 3, 4) / 5."""
    (piece,) = pieces_of(Funnel(near=(60, 60), far=(100, 100), depth=15), thickness=0.0, tab=0)
    assert shapely.Polygon(piece.outline).area == pytest.approx(4 * 25 * (60 + 100) / 2, rel=1e-6)
    assert np.degrees([fold.angle for fold in piece.folds]) == pytest.approx([50.21] * 3, abs=0.005)
    assert [np.linalg.norm(fold.end - fold.start) for fold in piece.folds] == pytest.approx([np.hypot(25, 20)] * 3)


def test_full_box_has_the_surface_of_its_walls():
    """2 (a b + b c + c a); with tabs left out, nothing else is cut."""
    pieces = pieces_of(Box(back=(60, 40), front=(60, 40), depth=20), thickness=0.0, tab=0)
    assert sum(net(piece).area for piece in pieces) == pytest.approx(2 * (60 * 40 + 40 * 20 + 20 * 60), rel=1e-6)


def test_drawing_of_a_round_corner_keeps_its_radius():
    """Derived here: of a corner of radius r, (1 - pi / 4) r^2 are cut off."""
    (piece,) = pieces_of(FlatSheet(width=100, height=60, corner_radius=12), thickness=0.0)
    assert net(piece).area == pytest.approx(100 * 60 - 4 * (1 - np.pi / 4) * 12**2, abs=0.5)
    ring = np.concatenate([piece.outline, piece.outline[:1]])
    straight = [np.linalg.norm(b - a) for a, b in pairwise(ring)]
    assert sorted(straight)[-4:] == pytest.approx([36, 36, 76, 76], abs=0.01)
