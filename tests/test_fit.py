"""Will it fit: the view by Gaussian optics and by rays, regions by hand, meshes by independent solvers, whole rigs."""

from __future__ import annotations

import time
from functools import cache
from math import hypot, inf, isfinite
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize
from typer.testing import CliRunner

from lightsim.cli.fits import Fit, will_it_fit
from lightsim.cli.main import app
from lightsim.fit.apart import distance, way_clear
from lightsim.fit.finding import millimetres, up_to
from lightsim.fit.findings import Finding, findings
from lightsim.fit.least import clipped, least, play, way_out
from lightsim.fit.regions import ball, box, shadow, tube, upright_box
from lightsim.fit.view import View, between, opening, seen, view_of
from lightsim.light.cast import caster
from lightsim.rig.errors import RigError
from lightsim.rig.library import design_path, designs
from lightsim.rig.load import load, loads, placed

EXACT = 2e-3  # mm: the least value is promised to 1e-3 mm, and the reference solver is as good
UP, RIGHT = np.array([0.0, 1.0, 0.0]), np.array([1.0, 0.0, 0.0])


def panel(*, x, y, z):
    """A flat panel square to the axis: x = (from, to), y = (from, to), at height z; two triangles."""
    (left, right), (low, high) = x, y
    a, b, c, d = ([left, low, z], [right, low, z], [right, high, z], [left, high, z])
    return np.array([[a, b, c], [a, c, d]], float)


def rig_of(text: str, index: int = 0):
    return placed(loads(text, file="test.toml", folder=Path.cwd()), index)


def design(name: str, *changes: tuple[str, str], more: str = "") -> str:
    text = design_path(name).read_text()
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text + more


def run(*words):
    return CliRunner().invoke(app, [str(word) for word in words])


def in_the_way(found: tuple[Finding, ...]) -> dict[tuple[str, str], Finding]:
    return {(each.kind, each.part): each for each in found if each.verdict == "in the way"}


def of_kind(found: tuple[Finding, ...], kind: str) -> list[Finding]:
    return [each for each in found if each.kind == kind]


# Worked out here by hand. Sensor 24 x 16 mm, f/8, pupils of equal size, the entrance pupil 50 mm behind the front.
# Effective f-number N (1 + m / P), cone m over twice that: D. Jacobson, Photographic Lenses Tutorial, "Apertures,
# f-stop, bellows correction factor, pupil magnification".
#   0.5x, 200 mm: frame 48 x 32 mm, tan = 0.5 / (2 * 8 * 1.5) = 0.0208333, pupil at 250 mm. At 100 mm the frame has
#     shrunk to 0.6: half 14.4 x 9.6 mm, and 2.0833 mm of blur: 16.4833 x 11.6833 mm.
#   1x, 100 mm: frame 24 x 16 mm, tan = 1 / (2 * 8 * 2) = 0.03125, pupil at 150 mm. At 60 mm: 0.6, half 7.2 x 4.8 mm,
#     and 1.875 mm: 9.075 x 6.675 mm.
#   2x, 60 mm: frame 12 x 8 mm, tan = 2 / (2 * 8 * 3) = 0.0416667, pupil at 110 mm. At 22 mm: 0.8, half 4.8 x 3.2 mm,
#     and 0.9167 mm: 5.7167 x 4.1167 mm. Behind the subject at -22 mm: 1.2, half 7.2 x 4.8 mm: 8.1167 x 5.7167 mm.
BY_HAND = [
    (0.5, 200, 100, 16.4833, 11.6833),
    (1.0, 100, 60, 9.075, 6.675),
    (2.0, 60, 22, 5.7167, 4.1167),
    (2.0, 60, -22, 8.1167, 5.7167),
]


def view_at(magnification: float, working_distance: float, *, depth: float = 50, ratio: float = 1.0) -> View:
    spread = opening(magnification=magnification, working_f_number=8 * (1 + magnification / ratio))
    pupil = working_distance + depth
    return View(24 / magnification, 16 / magnification, spread, pupil, working_distance, radius=30)


@pytest.mark.parametrize("magnification, front, height, across, up", BY_HAND)
def test_the_view_is_as_wide_as_gaussian_optics_has_it(magnification, front, height, across, up):
    region = seen(view_at(magnification, front), behind=height < 0)
    # Distances to the middles of the sides, which are half the sides of the rounded frame.
    sides = np.array([[across + 3, 0, height], [0, -up - 3, height], [0, 0, height]], float)
    assert region(sides)[0] == pytest.approx([3, 3, -up], abs=5e-5)
    # Beyond a corner it is rounded by the blur alone.
    blur = opening(magnification=magnification, working_f_number=8 * (1 + magnification)) * abs(height)
    corner = np.array([[across - blur + 3, up - blur + 4, height]], float)
    assert region(corner)[0] == pytest.approx([5 - blur], abs=5e-5)
    # A panel of 2 mm that begins 0.05 mm beside the edge is clear by that, and 0.05 mm inside it reaches in by that.
    for beside in (0.05, -0.05):
        part = panel(x=(across + beside, across + beside + 2), y=(-1, 1), z=height)
        assert least(region, part)[0] == pytest.approx(beside, abs=1e-3)
        if beside < 0:
            assert way_out(region, part, RIGHT) == pytest.approx(0.05, abs=2e-3)


# The same source: P = 0.5 makes f/8 at 1x as slow as f/24, so the cone is 1 / (2 * 24).
def test_small_exit_pupils_narrow_the_view():
    assert opening(magnification=1, working_f_number=24) == pytest.approx(1 / 48)
    text = design("flat-film", ("pupil_ratio = 1 ", "pupil_ratio = 0.5 "))
    assert view_of(rig_of(text)).opening == pytest.approx(1 / 48)


# Derived here: a pupil infinitely far away sees the frame at its full size all the way to the lens.
def test_without_a_stated_pupil_the_view_does_not_narrow():
    world = rig_of(design("flat-film", ("pupil_depth = 50 ", "# ")))
    assert view_of(world).pupil == inf
    value, _ = seen(view_of(world))(np.array([[20.0, 0, 40]]))
    assert value == pytest.approx([20 - 23.5 / 2 - 40 / 32])
    assert [each.verdict for each in of_kind(findings(world), "view of the lens")].count("not checked") == 1


@pytest.mark.parametrize("magnification, front, radius", [(0.5, 200, 30), (1, 100, 30), (2, 60, 30), (1, 100, 5)])
def test_rays_from_the_pupil_meet_a_panel_exactly_where_the_view_says_so(magnification, front, radius):
    """Random points of the entrance pupil to random points of the frame; the last case is cut off by the lens front."""
    generator = np.random.default_rng(3)
    view = View(**{**vars(view_at(magnification, front)), "radius": float(radius)})
    count = 200_000
    turn = generator.uniform(0, 2 * np.pi, count)
    # Half of them on the rims, which bound the view.
    away = np.where(generator.random(count) < 0.5, 1, np.sqrt(generator.random(count)))
    pupil_radius = view.pupil * view.opening
    start = np.stack([pupil_radius * away * np.cos(turn), pupil_radius * away * np.sin(turn)], axis=1)
    start = np.column_stack([start, np.full(count, view.pupil)])
    frame = np.clip(generator.uniform(-1.4, 1.4, (count, 2)), -1, 1) * [view.width / 2, view.height / 2]
    end = np.column_stack([frame, np.zeros(count)])
    at_front = start + (end - start) * (view.pupil - view.front) / view.pupil
    passes = np.hypot(*at_front[:, :2].T) <= view.radius
    start, at_front, way = start[passes], at_front[passes], (end - start)[passes]
    way /= np.linalg.norm(way, axis=1)[:, None]
    verdicts = []
    for case in range(24):
        angle, height = generator.uniform(0, 2 * np.pi), generator.uniform(0.2, 0.8) * front
        out = np.array([np.cos(angle), np.sin(angle), 0.0])
        middle = np.array([0, 0, height]) + 40 * out
        tilt = generator.normal(0, 0.3, 3)
        part = panel(x=(-3, 3), y=(-3, 3), z=0) @ trimesh.transformations.rotation_matrix(0.4, tilt)[:3, :3] + middle
        # Moved in until it stands 0.3 mm beside the edge, or 0.3 mm inside it.
        beside, region = (0.3, -0.3)[case % 2], seen(view)
        gone = play(region, part, -out, most=60.0)
        part = part - (gone - beside) * out
        value, _ = least(region, between(view, part))
        rays = caster(part.reshape(-1, 3), np.arange(6).reshape(2, 3))
        hit = rays.blocked(at_front.astype(np.float32), way.astype(np.float32), np.full(len(way), 1e4)).any()
        assert hit == (value < 0), (case, value)
        verdicts.append(hit)
    assert 0 < sum(verdicts) < len(verdicts)


# By hand: a cylinder of radius 30 about the axis from z = 100 to 200, a box, a ball, a shadow cone.
def test_regions_by_hand():
    barrel = tube(radius=30, start=100, end=200)
    points = np.array([[0, 33, 150], [0, 33, 96], [0, 0, 90], [0, 28, 150], [0, 0, 110.0]])
    assert barrel(points)[0] == pytest.approx([3, 5, 10, -2, -10])
    body = upright_box(low=np.array([-65.0, -47, 215]), high=np.array([65.0, 48, 255]))
    assert body(np.array([[68.0, 52, 203], [0, 40, 220], [0, 0, 235]]))[0] == pytest.approx([13, -5, -20])
    assert ball(centre=np.array([0, 0, 2.0]), radius=1.5)(np.array([[3.0, 4, 2]]))[0] == pytest.approx([3.5])
    # Seen from the subject the rim of a lens of radius 30 at 100 hides 33 mm at 110.
    assert shadow(radius=30, distance=100)(np.array([[0, 35.0, 110], [0, 30, 110]]))[0] == pytest.approx([2, -3])


# A hole of 62 mm over a barrel of 65 mm: 1.5 mm too small all round; 7 mm too low it cuts 8.5 mm. By hand.
def test_how_far_a_panel_with_a_hole_has_to_move():
    mesh = trimesh.creation.annulus(r_min=31, r_max=80, height=0.01, sections=720)
    corner = np.asarray(mesh.triangles) + np.array([0, 0, 10.0])
    barrel = tube(radius=32.5, start=0, end=120)
    value, _ = least(barrel, corner)
    assert value == pytest.approx(-1.5, abs=0.01)
    value, _ = least(barrel, corner - [0, 7, 0])
    assert value == pytest.approx(-8.5, abs=0.01)
    # A barrel of 55 mm fits that hole, off by 7 mm after a move of 7 - 3.5 mm.
    thin = tube(radius=27.5, start=0, end=120)
    assert way_out(thin, corner - [0, 7, 0], UP) == pytest.approx(3.5, abs=0.01)
    assert play(thin, corner, UP, most=20) == pytest.approx(3.5, abs=0.01)
    assert play(thin, corner + 200 * UP, UP, most=20) == 20


CONVEX = {
    "view": seen(view_at(1, 100)),
    "tube": tube(radius=32.5, start=20, end=140),
    "box": box(
        centre=np.array([5.0, 10, 40]),
        axes=trimesh.transformations.rotation_matrix(0.7, [1, 2, 3])[:3, :3],
        half=np.array([30.0, 20, 12]),
    ),
    "ball": ball(centre=np.array([4.0, 1, 30]), radius=1.5),
    "shadow": shadow(radius=32.5, distance=95),
}


def weights(corner, at):
    return corner[0] + at[0] * (corner[1] - corner[0]) + at[1] * (corner[2] - corner[0])


@pytest.mark.parametrize("name", CONVEX)
def test_least_values_are_those_of_an_independent_solver_and_slopes_are_slopes(name):
    """SLSQP of scipy on the two coordinates within the triangle, from several starts."""
    region, generator = CONVEX[name], np.random.default_rng(11)
    inside = {"type": "ineq", "fun": lambda at: 1 - at[0] - at[1]}
    for _ in range(25):
        corner = generator.normal(0, 40, (3, 3)) + np.array([0, 0, 50])
        pieces = clipped(corner[None], low=0.0, high=100.0)
        value, where = least(region, pieces)
        assert region(where[None])[0] == pytest.approx([value], abs=1e-9)
        found = inf
        for piece in pieces:
            for start in ((0.3, 0.3), (0.05, 0.9), (0.9, 0.05), (0.05, 0.05)):
                solved = minimize(
                    lambda at, piece=piece: float(region(weights(piece, at)[None])[0][0]),
                    start,
                    method="SLSQP",
                    bounds=[(0, 1), (0, 1)],
                    constraints=inside,
                )
                at = np.clip(solved.x, 0, 1) / max(1, np.clip(solved.x, 0, 1).sum())
                found = min(found, float(region(weights(piece, at)[None])[0][0]))
            # SLSQP stops short on kinks; a fine grid does not.
            grid = np.stack(np.meshgrid(*[np.linspace(0, 1, 60)] * 2), axis=-1).reshape(-1, 2)
            grid = grid[grid.sum(axis=1) <= 1]
            found = min(found, float(region(np.array([weights(piece, at) for at in grid[::7]]))[0].min()))
        assert value <= found + 1e-3
        p, q = generator.normal(0, 40, (2, 300, 3))
        p[:, 2], q[:, 2] = np.abs(p[:, 2]), np.abs(q[:, 2])
        (at_p, slope), (at_q, _) = region(p), region(q)
        assert (at_q >= at_p + (slope * (q - p)).sum(axis=1) - 1e-9).all()


def triangle_gap(one, other):
    """Distance of two triangles by SLSQP on the squared distance, a convex problem. (3, 3) each."""

    def square(at):
        gap = weights(one, at[:2]) - weights(other, at[2:])
        return float(gap @ gap)

    limits = [{"type": "ineq", "fun": lambda at, k=k: 1 - at[k] - at[k + 1]} for k in (0, 2)]
    starts = ([0.3] * 4, [0.1, 0.8, 0.1, 0.1], [0.8, 0.1, 0.1, 0.8])
    options = {"ftol": 1e-15, "maxiter": 500}
    solved = [minimize(square, s, bounds=[(0, 1)] * 4, constraints=limits, options=options).fun for s in starts]
    return float(np.sqrt(max(min(solved), 0)))


@settings(derandomize=True, max_examples=60, deadline=None, database=None)
@given(st.integers(0, 2**32 - 1), st.floats(0, 25))
def test_distances_of_triangles_are_those_of_an_independent_solver(seed, apart):
    generator = np.random.default_rng(seed)
    one, other = generator.normal(0, 10, (2, 3, 3))
    other += apart * generator.normal(0, 1, 3)
    found = distance(one[None], other[None])
    assert found == pytest.approx(triangle_gap(one, other), abs=EXACT)
    if found == 0:
        way = generator.normal(0, 1, 3)
        way /= np.linalg.norm(way)
        clear = way_clear(one[None], other[None], way)
        assert distance(one[None] + (clear - 1e-3) * way, other[None]) <= 1e-3
        assert distance(one[None] + (clear + 1e-3) * way, other[None]) > 0


def test_distances_of_meshes_in_closed_form():
    # Parallel squares 7 mm apart; a square over a ball's mesh, whose top corner lies on the sphere; and the ball's mesh
    # with another, whose corners nearest to each other lie on the line of centres. By hand.
    assert distance(panel(x=(0, 10), y=(0, 10), z=0), panel(x=(5, 9), y=(-3, 30), z=7)) == pytest.approx(7)
    assert distance(panel(x=(0, 10), y=(0, 10), z=0), panel(x=(13, 20), y=(14, 30), z=0)) == pytest.approx(5)
    # uv_sphere has its poles on the z axis.
    sphere = np.asarray(trimesh.creation.uv_sphere(radius=20, count=[128, 128]).triangles)
    square = panel(x=(-50, 50), y=(-50, 50), z=26.5)
    assert distance(sphere, square) == pytest.approx(6.5, abs=1e-6)
    assert distance(sphere, sphere + np.array([0, 0, 43])) == pytest.approx(3, abs=1e-6)
    assert distance(sphere, square - [0, 0, 10]) == 0
    # To be clear of the square above its middle the ball moves down by what it stands out above.
    assert way_clear(sphere, square - [0, 0, 10], np.array([0, 0, -1.0])) == pytest.approx(3.5, abs=1e-3)
    # Points of a mesh against trimesh's own closest points.
    points = np.random.default_rng(5).normal(0, 30, (20, 3))
    _, reference, _ = trimesh.proximity.closest_point_naive(trimesh.creation.uv_sphere(radius=20), points)
    rough = np.asarray(trimesh.creation.uv_sphere(radius=20).triangles)
    for point, gap in zip(points, reference, strict=True):
        assert distance(np.tile(point, (1, 3, 1)), rough) == pytest.approx(gap, abs=1e-9)


def test_a_way_ends_where_the_first_obstacle_does():
    # An upright plate from z = -3 to 3 mm through a sheet at z = 0: 3 mm toward another one at 30 mm it is clear.
    plate = panel(x=(-5, 5), y=(-3, 3), z=0)[..., [0, 2, 1]]
    sheets = np.concatenate([panel(x=(-50, 50), y=(-50, 50), z=z) for z in (0, 30)])
    assert way_clear(plate, sheets, np.array([0, 0, 1.0])) == pytest.approx(3, abs=1e-3)


def test_a_hundred_thousand_triangles_are_quick():
    side = np.linspace(-150, 150, 225)
    x, y = np.meshgrid(side, side)
    corners = np.stack([x, y, 40 + 5 * np.sin(x / 20)], axis=-1)
    a, b, c, d = corners[:-1, :-1], corners[:-1, 1:], corners[1:, 1:], corners[1:, :-1]
    mesh = np.concatenate([np.stack(each, axis=2).reshape(-1, 3, 3) for each in ((a, b, c), (a, c, d))])
    assert len(mesh) > 100_000
    start = time.perf_counter()
    value, _ = least(seen(view_at(1, 100)), mesh)
    assert time.perf_counter() - start < 2  # a tenth of it on the machine it was written on
    assert value < 0


@cache
def found_in(name: str) -> list[tuple[Finding, ...]]:
    return [findings(placed(load(name), index)) for index in (0, 1)]


@pytest.mark.parametrize("name", [each.name for each in designs()])
def test_nothing_is_in_the_way_in_a_ready_design(name):
    for found in found_in(name):
        assert not in_the_way(found)
        assert not [each for each in found if each.verdict == "not checked"]
        assert {"camera body", "subject", "surroundings"} <= {each.kind for each in found}
        assert all(isfinite(each.distance) and each.sentence for each in found)
        assert all(each.remedy for each in found if each.verdict == "close")


# White box, by hand: the hole of 64 x 44 mm lies 2 mm from a case of 60 x 40 mm all round, less where the axes of head
# and box differ. The head at 36 degrees, 80 - 74 + 55 mm above and 30 - 120 - 20 - 24 mm behind the front's middle.
def test_play_of_the_head_in_the_white_box():
    up, back = 80 + 55 - 74, 120 + 20 - 30 + 24
    angle = np.radians(36)
    # Square to the depth the head lies off the front's middle by this, and the back by front_up = 29.
    beside = up * np.cos(angle) - back * np.sin(angle) + 29
    found = of_kind(found_in("white-box")[0], 'hole for "flash"')
    assert [each.verdict for each in found] == ["room"]
    assert found[0].distance == pytest.approx(2 - abs(beside), abs=0.01)
    # The window looks in by what is left of the depth of 150 mm; the walls of the back are 10 mm away.
    assert up * np.sin(angle) + back * np.cos(angle) == pytest.approx(144.26, abs=0.01)


BAD = design(
    "flat-film",
    ('title = "', 'title = "Bad: '),
    # 1. A hole of 60 mm for a barrel of 65 mm: 2.5 mm too small all round.
    ("diameter = 66, up = -45", "diameter = 60, up = -45"),
    more="""
# 2. and 3. A card in the view, 0.5 mm over the axis, and at 2x in the ball as well: 0.5 mm before its middle.
[[diffuser]]
name = "tongue"
shape = "sheet"
width = 40
height = 30
material = "white card"
from = "lens"
hold = "bottom"
up = 0.5
toward_subject = 54.5
# 4. A card beside the view that at 2x hangs 5 mm before the subject, where the leaf is.
[[diffuser]]
name = "wing"
shape = "sheet"
width = 40
height = 60
material = "white card"
from = "lens"
right = 40
up = -20
toward_subject = 50
# 5. A ring in the middle of the focus ring.
[[diffuser]]
name = "collar"
shape = "disc"
diameter = 90
material = "white card"
from = "lens"
toward_lens = 65
holes = [{ kind = "round", diameter = 66 }]
""",
)


# By hand: "film" 2.5 mm into the barrel. "tongue" at 1x 40.5 mm before the subject, where the view is half
# 7.8 * (1 - 40.5 / 145) + 40.5 / 32 = 6.887 mm high, less 0.5 mm; at 2x the corner of its edge is hypot(0.5, 0.5) mm
# from the middle of a ball of 1.5 mm. "wing" has its inner edge at 20 mm, where the leaf, 70 x 50 mm with corners of
# 20 mm, reaches 5 + sqrt(20^2 - 5^2) mm from its middle along itself, 85 degrees tilted: 16.3 mm before the subject.
# It is clear of the leaf 11.3 mm nearer to the lens; to the right it would be farther.
def test_five_faults_are_all_named_and_nothing_else():
    once, twice = (in_the_way(findings(rig_of(BAD, index))) for index in (0, 1))
    always = {("view of the lens", "tongue"), ("lens barrel", "film"), ("focus ring", "collar")}
    assert set(once) == always
    assert set(twice) == always | {("subject", "tongue"), ("surroundings", "wing")}
    for each in (*once.values(), *twice.values()):
        assert " mm" in each.sentence, each
        assert " mm" in each.remedy, each
    assert once["lens barrel", "film"].distance == pytest.approx(2.5, abs=0.1)
    assert once["view of the lens", "tongue"].distance == pytest.approx(6.387, abs=2e-3)
    assert twice["subject", "tongue"].distance == pytest.approx(1.5 - hypot(0.5, 0.5), abs=2e-3)
    assert "closest focus" in twice["subject", "tongue"].sentence
    tip = (5 + np.sqrt(20**2 - 5**2)) * np.cos(np.radians(5)) - 8
    assert twice["surroundings", "wing"].distance == pytest.approx(tip - 5, abs=0.1)
    assert "toward the lens" in twice["surroundings", "wing"].remedy


def test_check_names_the_faults_first_and_ends_with_1(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text(BAD)
    result = run("check", path)
    assert result.exit_code == 1
    text = " ".join(result.stdout.split())
    assert text.count("In the way") == 5
    assert 'In the way: "tongue" stands in the picture' in text
    assert 'In the way at 2x: "tongue" touches the subject at the closest focus of the list' in text
    assert 'In the way at 2x: "wing" runs into "bramble leaf"' in text
    assert 'In the way: "film" cuts 2.5 mm into the lens barrel.' in text
    assert 'In the way: "collar" fouls the focusing' in text
    assert text.index("collar") < text.index("room left, mm")
    assert run("check", "white-box").exit_code == 0
    assert "Nothing is in the way." in run("check", "white-box").stdout


# A head 20 mm too high for its hole of 44 mm: its axis is 20 mm above the middle of the hole, within it, and its case
# of 40 mm reaches 40 - 22 = 18 mm into the wall, 144 mm behind the front: by the back 6 mm. Move it 18 mm or 6 mm back.
def test_a_head_that_misses_its_hole():
    text = design("white-box", ("holes = [{ wall", "holes = [{ up = -20, wall"))
    found = in_the_way(findings(rig_of(text)))
    assert set(found) == {('hole for "flash"', "box")}
    fault = found['hole for "flash"', "box"]
    assert fault.distance == pytest.approx(150 - 144.26, abs=0.01)
    assert "back" in fault.remedy
    assert "more away for it" in fault.remedy
    none = design("white-box", ("holes = [{ wall", "holes = [] #"))
    assert "not a hole" in in_the_way(findings(rig_of(none)))['hole for "flash"', "box"].sentence


def test_a_head_that_looks_at_the_outside_of_its_box():
    """The box 16 mm farther from the head, its hole 60 mm too high: the head looks in by 6 mm in the file, so that it

    now stands 16 cos(36 degrees) - 6 = 6.9 mm off, to half a millimetre of that comment.
    """
    changes = (("toward_subject = 24 ", "toward_subject = 40 "), ("holes = [{ wall", "holes = [{ up = 60, wall"))
    (found,) = in_the_way(findings(rig_of(design("white-box", *changes)))).values()
    assert found.distance == pytest.approx(16 * np.cos(np.radians(36)) - 6, abs=0.5)
    assert "into no hole" in found.sentence
    assert "62 mm x 42 mm" in found.remedy


def test_a_head_that_does_not_reach_its_box_and_a_sheet_at_a_hot_window():
    # The box made 20 mm less deep: 150 - 144.26 mm of head inside become 14.26 mm outside.
    found = findings(rig_of(design("white-box", ("depth = 150", "depth = 130"))))
    assert not in_the_way(found)
    off = [each for each in of_kind(found, 'hole for "flash"') if each.verdict == "close"]
    assert [each.distance for each in off] == [pytest.approx(14.26, abs=0.01)]
    near = design("flat-foam", ('hold = "bottom"\nup = 34\ntoward_lens = 4\n', 'hold = "centre"\n'))
    near = near.replace('from = "lens"              # to the lower', 'from = "flash" #')
    step = 3 * np.array([np.sin(np.radians(36)), np.cos(np.radians(36))])
    near = near.replace('hold = "centre"\n', f"up = {-step[0]:.4f}\ntoward_subject = {step[1]:.4f}\n")
    hot = of_kind(findings(rig_of(near)), 'window of "flash"')
    assert [each.verdict for each in hot] == ["close"]
    assert hot[0].distance == pytest.approx(3, abs=0.01)


# By hand: a panel at the hot shoe, 140 mm behind the front and 55 mm up, and one in the camera body.
def test_hot_shoe_and_camera_body():
    more = """
[[diffuser]]
name = "flag"
shape = "sheet"
width = 100
height = 20
material = "white card"
from = "shoe"
up = {}
toward_lens = {}
"""
    text = design("flat-film", more=more.format(25, 5))
    # Its lower edge is 15 mm over the shoe, 10 mm below the top of the room of 25 mm; 5 + 12.5 mm from its front.
    found = in_the_way(findings(rig_of(text)))
    assert found["hot shoe", "flag"].distance == pytest.approx(12.5 - 5, abs=1e-3)
    found = in_the_way(findings(rig_of(design("flat-film", more=more.format(-15, 5)))))
    # From 25 mm below the shoe to 5 mm below: the top of the body, 47.5 mm up, is 17.5 mm above its lower edge, and
    # 25 of 40 mm lie before it.
    assert found["camera body", "flag"].distance == pytest.approx(40 - 25, abs=1e-3)


# What a photographer is told to do about it, by hand: lens front at 95 mm, barrel of radius 32.5 mm and 120 mm long,
# focus ring 45 to 85 mm behind the front. A card that is held by its lower edge.
def card(*, up: float, toward_lens: float, origin: str = "lens", more: str = "") -> str:
    return f"""
[[diffuser]]
name = "card"
shape = "sheet"
width = 40
height = 20
material = "white card"
from = "{origin}"
hold = "bottom"
up = {up}
toward_lens = {toward_lens}
{more}
"""


def disc(more: str, *, diameter: float = 90, toward_lens: float = 20) -> str:
    return f"""
[[diffuser]]
name = "disc"
shape = "disc"
diameter = {diameter}
material = "copy paper"
from = "lens"
toward_lens = {toward_lens}
{more}
"""


def only_of_kind(kind: str, more: str, *changes: tuple[str, str]) -> Finding:
    (found,) = of_kind(findings(rig_of(design("bare-flash", *changes, more=more))), kind)
    return found


# flat-film: sensor 23.5 x 15.6 mm, lens front of 65 mm, its pupil 50 mm behind it; at 2x from 55 mm half the frame.
def test_the_view_is_that_of_the_file():
    once, twice = (view_of(rig_of(design("flat-film"), index)) for index in (0, 1))
    assert (once.width, once.height, once.front, once.pupil, once.radius) == (23.5, 15.6, 95, 145, 32.5)
    assert (twice.width, twice.height, twice.front, twice.pupil, twice.radius) == (11.75, 7.8, 55, 105, 32.5)
    assert twice.opening == pytest.approx(2 / (2 * 8 * 3))


def test_what_stands_behind_the_lens_front_is_not_in_its_picture():
    found = findings(rig_of(design("bare-flash", more=card(up=-10, toward_lens=2))))
    assert of_kind(found, "view of the lens") == []
    assert in_the_way(found)["lens barrel", "card"]


def test_what_to_cut_away_for_the_barrel():
    # From above, 29.5 mm over the axis: 3 mm into the barrel.
    found = only_of_kind("lens barrel", card(up=29.5, toward_lens=20))
    assert (found.verdict, found.remedy) == ("in the way", "Move it 3 mm up, or cut away 3 mm of it there.")
    # Without a hole: one for a barrel of 65 mm and half a millimetre of play.
    found = only_of_kind("lens barrel", disc(""))
    assert found.verdict == "in the way"
    assert "cut a hole of 66 mm across" in found.remedy
    # A hole of 64 mm is half a millimetre tight all round, so 1 mm too small; its polygon is within 0.08 mm of it.
    found = only_of_kind("lens barrel", disc('holes = [{ kind = "round", diameter = 64 }]'))
    assert found.verdict == "close"
    wider = float(found.remedy.removeprefix("Make its hole ").removesuffix(" mm wider."))
    assert wider == pytest.approx(1, abs=0.2)


@pytest.mark.parametrize("verdict, in_way", [("in the way", True), ("close", False), ("room", False)])
def test_only_what_is_in_the_way_is_a_fault(verdict, in_way):
    """At whatever magnification: a finding at the second of two."""
    fit = Fit((), ("1x", "2x"), ((), (Finding("lens barrel", verdict, "card", 3.0, "It is there.", "Move it."),)))
    assert fit.in_the_way == in_way
    assert any("Nothing is in the way." in line.text for line in will_it_fit(fit)) != in_way


@pytest.mark.parametrize(
    "apart, verdict, remedy",
    [
        (1.5, "in the way", "Move it 13.5 mm up, which leaves 15 mm for fingers."),
        (5, "close", "Move it 10 mm up, which leaves 15 mm for fingers."),
        (14.9, "close", "Move it 0.1 mm up, which leaves 15 mm for fingers."),
        (15.1, "room", ""),
    ],
)
def test_fingers_need_room_at_the_focus_ring(apart, verdict, remedy):
    found = only_of_kind("focus ring", card(up=32.5 + apart, toward_lens=65))
    assert (found.verdict, found.remedy) == (verdict, remedy)
    assert found.distance == pytest.approx(apart, abs=2e-3)


def test_extension_tubes_move_the_camera_back():
    # 20 mm of tubes: the mount 140 mm behind the lens front. A card 150 mm behind it is 10 mm into the body of 40 mm.
    more = card(up=20, toward_lens=150)
    for change, depth in ((("extension = 0 ", "extension = 20 "), 10), (("extension = 0 ", "extension = 10 "), 20)):
        assert only_of_kind("camera body", more, change).distance == pytest.approx(depth, abs=1e-3)


def test_the_case_of_a_head_lies_behind_its_window():
    # Level, the window 20 - 30 mm behind the mount at 215 mm, its case from there 70 mm toward the photographer: right
    # above the body, 55 + 80 - 20 mm up less 95 / 2. Were it before the window, the body would be 10 mm farther back.
    found = only_of_kind("camera body", "", ("tilt = 36 ", "tilt = 0 "))
    assert (found.verdict, found.part) == ("room", "flash")
    assert found.distance == pytest.approx(115 - 47.5, abs=2e-3)


def test_a_head_is_no_fault_at_its_own_shoe():
    # The head right on the shoe: its case of 40 mm reaches 20 mm below its middle, into the room for the foot.
    found = findings(rig_of(design("bare-flash", ("up = 80", "up = 10"), ("toward_subject = 30", "toward_lens = 5"))))
    assert of_kind(found, "hot shoe") == []


def test_a_card_beside_a_head_is_no_hole_for_it():
    # A case of 60 x 40 mm, and a card 3 mm above it alone.
    more = card(up=23, toward_lens=30, origin="flash")
    found = findings(rig_of(design("bare-flash", ("tilt = 36 ", "tilt = 0 "), more=more)))
    assert of_kind(found, 'hole for "flash"') == []


def test_what_hole_a_head_needs():
    none = design("white-box", ("holes = [{ wall", "holes = [] #"))
    fault = in_the_way(findings(rig_of(none)))['hole for "flash"', "box"]
    # A case of 60 x 40 mm and 1 mm all round.
    assert "cut a hole of 62 mm x 42 mm for it there" in fault.remedy
    # 20 mm too high for its hole of 44 mm: 20 + 20 - 22 = 18 mm more, but for the slant of 36 degrees of the head less
    # the 29 / 150 of the box, which changes that by less than 2 mm.
    high = design("white-box", ("holes = [{ wall", "holes = [{ up = -20, wall"))
    remedy = in_the_way(findings(rig_of(high)))['hole for "flash"', "box"].remedy
    assert float(remedy.partition("cut ")[2].partition(" mm more")[0]) == pytest.approx(18, abs=2)
    assert remedy.startswith("Move the head 5.8 mm back")  # 150 - 144.26 mm, up to a tenth


@pytest.mark.parametrize("apart, verdict", [(4.9, "close"), (5.1, "room")])
def test_a_hot_window_needs_air(apart, verdict):
    change = ("tilt = 36 ", "tilt = 0 ")
    more = card(up=70, toward_lens=-30 - apart, origin="shoe")
    found = only_of_kind('window of "flash"', more, change)
    assert (found.verdict, found.distance) == (verdict, pytest.approx(apart, abs=2e-3))


@pytest.mark.parametrize("right, told", [(0, True), (15, True), (60, False)])
def test_a_head_looks_into_the_end_that_is_toward_it(right, told):
    """A window 10 mm behind the back, of 40 x 40 mm, of a box whose front is 200 mm wide; 60 mm to the side of it the
    head does not look in. Common sense, no source."""
    more = f"""
[[diffuser]]
name = "box"
shape = "box"
back = [40, 40]
front = [200, 200]
depth = 30
open = ["front", "back"]
material = "white card"
from = "flash"
hold = "back"
right = {-right}
toward_subject = 10
"""
    found = findings(rig_of(design("bare-flash", ("tilt = 36 ", "tilt = 0 "), more=more)))
    off = [each for each in of_kind(found, 'hole for "flash"') if each.verdict == "close"]
    assert [each.distance for each in off] == ([pytest.approx(10, abs=1e-6)] if told else [])


# A ball of 1.5 mm about the origin, and the axis for 3 mm on either side of it (depth 6).
@pytest.mark.parametrize(
    "up, toward_lens, apart, remedy",
    [
        (5.5, 0, 4, "Move it 1 mm up, which leaves 5 mm."),
        (0, 7, 4, "Move it 1 mm toward the lens, which leaves 5 mm."),
        (6.6, 0, 5.1, ""),
        (0, 8.1, 5.1, ""),
    ],
)
def test_a_subject_needs_room(up, toward_lens, apart, remedy):
    found = only_of_kind("subject", card(up=up, toward_lens=toward_lens, origin="subject"))
    assert found.verdict == ("close" if remedy else "room")
    assert (found.distance, found.remedy) == (pytest.approx(apart, abs=2e-3), remedy)
    # At 1x this lens stands at 95 mm, not at its closest.
    assert "closest focus" not in found.sentence


def test_a_lens_with_one_distance_has_no_closest_focus_to_tell():
    one = (("magnification = [1, 2]", "magnification = [1]"), ("value = [95, 55]", "value = [95]"))
    found = only_of_kind("subject", card(up=5.5, toward_lens=0, origin="subject"), *one)
    assert found.sentence == '"card" comes within 4 mm of the subject.'


def test_a_ball_that_lies_off_the_axis_is_where_the_file_has_it():
    place = ("ball = { radius = 1.5,", "ball = { radius = 1.5, right = 10, up = 20, toward_lens = 30,")
    # 24 mm up: 4 mm over its middle, 2.5 mm over its top.
    found = only_of_kind("subject", card(up=24, toward_lens=30, origin="subject"), place)
    assert found.distance == pytest.approx(2.5, abs=2e-3)


@pytest.mark.parametrize("up, verdict", [(15, "close"), (21, "room")])
def test_your_own_limit_counts(up, verdict):
    more = card(up=up, toward_lens=0, origin="subject") + "[limits]\nleast_clearance = 20\n"
    found = only_of_kind("subject", more)
    assert found.verdict == verdict
    if verdict == "close":
        assert found.remedy == "Your limit is 20 mm: move it 5 mm away."


# A hedge upright at z = -40 mm, far from the leaf of the design, 100 mm wide and high about a place 60 mm up.
HEDGE = """
[[surroundings]]
name = "hedge"
shape = "sheet"
width = 100
height = 100
material = "leaf"
from = "subject"
up = 60
toward_lens = -40
"""


@pytest.mark.parametrize(
    "toward_lens, more, verdict, apart, remedy",
    [
        (-37.1, "", "close", 2.9, "Leave 3 mm at the least: a leaf moves."),
        (-36.9, "", "room", 3.1, ""),
        # Turned by 90 degrees it reaches 20 mm to either side of its middle: 16 mm through the hedge.
        (-36, "turn = 90", "in the way", 16, 'Move it 19 mm toward the lens, which leaves 3 mm, or move "hedge".'),
    ],
)
def test_leaves_need_room(toward_lens, more, verdict, apart, remedy):
    text = card(up=55, toward_lens=toward_lens, origin="subject", more=more)
    found = only_of_kind("surroundings", text + HEDGE)
    assert (found.verdict, found.remedy) == (verdict, remedy)
    assert found.distance == pytest.approx(apart, abs=2e-3)


@pytest.mark.parametrize("toward_lens, words", [(30, "10 mm before it"), (10, "10 mm behind it")])
def test_the_foremost_edge_is_told(toward_lens, words):
    # Turned by 90 degrees it reaches 20 mm to either side of its middle.
    found = only_of_kind(
        "plane of the subject", card(up=50, toward_lens=toward_lens, origin="subject", more="turn = 90")
    )
    assert words in found.sentence
    assert found.distance == pytest.approx(toward_lens - 20)


# As below, but so wide that the shadow falls on little of it and that it hides the flash: of a ring from 33 to 300 mm
# as far away, the same 53.03 mm. The leaf would hide its lower half.
def test_a_little_shade_is_close_and_less_is_room():
    edge = 32.5 * 155 / 95

    def span(inner, outer):
        return 2 * np.pi * (155 / hypot(inner, 155) - 155 / hypot(outer, 155))

    def shade(hole):
        more = disc(f'holes = [{{ kind = "round", diameter = {hole} }}]', diameter=600, toward_lens=60)
        text = design("bare-flash").partition("[[surroundings]]")[0] + more
        (found,) = of_kind(findings(rig_of(text)), "shadow of the lens")
        return found

    share = span(33, edge) / span(33, 300)
    assert 0.055 < share < 0.065
    assert shade(66).verdict == "close"
    # 79 of the 4096 points that are tried lie in the shadow: were they random, their share would be off by 11 % of it.
    told = float(shade(66).sentence.partition("hides ")[2].partition(" %")[0])
    assert told == pytest.approx(100 * share, abs=1.3)
    # Of a ring from 45 mm on less than 5 % are hidden: that is not worth telling.
    assert span(45, edge) / span(45, 300) < 0.045
    assert shade(90).verdict == "room"


def test_lengths_that_do_are_rounded_up_and_others_to_the_nearest():
    assert [up_to(value) for value in (3.01, 3.0, 2.999, 0.04)] == ["3.1 mm", "3 mm", "3 mm", "0.1 mm"]
    assert [millimetres(value) for value in (3.04, 3.06, 0.04, 0.0)] == ["3 mm", "3.1 mm", "less than 0.1 mm", "0 mm"]


def test_every_magnification_has_its_column():
    text = run("check", "flat-film").stdout
    (row,) = (line for line in text.splitlines() if line.strip().startswith("subject, to"))
    # The foremost part is the film, 3 mm behind a lens front at 95 and 55 mm, 33 mm from the axis, of which the last
    # 3 mm before the subject count.
    assert [float(number) for number in row.split()[-2:]] == pytest.approx([hypot(95, 33), hypot(55, 33)], abs=0.1)


# Derived here: from a small lens front at 95 mm, of radius 32.5 mm, a ring from 33 to 60 mm at 155 mm behind it is
# hidden up to 32.5 * 155 / 95 = 53.03 mm. Solid angle of a disc seen from its axis: 2 pi (1 - z / hypot(r, z)).
def test_the_lens_shades_a_ring_behind_its_front():
    text = design(
        "bare-flash",
        more="""
[[diffuser]]
name = "ring"
shape = "disc"
diameter = 120
material = "copy paper"
from = "lens"
toward_lens = 60
holes = [{ kind = "round", diameter = 66 }]
""",
    )
    found = findings(rig_of(text.replace("focus_ring = [45, 85]", "#")))
    fault = in_the_way(found)["shadow of the lens", "ring"]
    edge = 32.5 * 155 / 95
    assert fault.distance == pytest.approx(edge - 33, abs=0.1)

    def disc(radius):
        return 2 * np.pi * (1 - 155 / hypot(radius, 155))

    width, height, away = 60, 40, hypot(135, 205)
    flash = width * height * np.cos(np.arctan2(135, 205) - np.radians(36)) / away**2
    share = (disc(edge) - disc(33)) / (disc(60) - disc(33) + flash)
    assert f"hides {100 * share:.0f} %" in fault.sentence


def test_what_shows_behind_the_subject_is_told():
    text = design(
        "flat-film",
        more="""
[[diffuser]]
name = "backdrop"
shape = "sheet"
width = 200
height = 200
material = "white card"
from = "subject"
toward_subject = 80
""",
    )
    found = in_the_way(findings(rig_of(text)))
    # By hand: half of 15.6 mm grown to 1 + 80 / 145, and 80 / 32 of blur.
    assert found["view behind the subject", "backdrop"].distance == pytest.approx(7.8 * 225 / 145 + 2.5, abs=1e-3)
    assert "surroundings" in found["view behind the subject", "backdrop"].remedy


@pytest.mark.parametrize(
    "old, new, words",
    [
        ("pupil_depth = 50 ", "pupil_depth = -1 ", ("lens.pupil_depth = -1", "from 0 to 10 m")),
        ("pupil_ratio = 1 ", "pupil_ratio = 40 ", ("lens.pupil_ratio = 40", "from 0.1 to 10")),
        ("focus_ring = [45, 85]", "focus_ring = [85, 45]", ("focus_ring runs from 85 mm to 45 mm", "nearer end first")),
        ("focus_ring = [45, 85]", "focus_ring = [45, 185]", ("no farther back than the barrel, 120 mm", "Try 48 mm")),
        ("focus_ring = [45, 85]", "focus_ring = 45", ("lens.focus_ring", "Try [45, 85]")),
        ("body = [60, 40, 70]", "body = [50, 40, 70]", ('head "flash"', "as wide and as high as its window")),
        ("body = [60, 40, 70]", "body = [60, 40]", ("too few entries", "Try [62, 42, 70]")),
        ("body = [60, 40, 70]", "body = [60, 40, 0]", ("body", "from 0.1 mm to 10 m")),
    ],
)
def test_bad_values_of_the_keys_are_explained(old, new, words):
    with pytest.raises(RigError) as caught:
        loads(design("flat-film", (old, new)), file="test.toml", folder=Path.cwd())
    assert all(each in str(caught.value) for each in (*words, "Allowed: ", "Try ")), caught.value


def test_a_head_without_a_body_has_a_case_like_its_window():
    rig = loads(design("flat-film", ("body = [60, 40, 70]", "#")), file="test.toml", folder=Path.cwd()).rig
    assert rig.head[0].case == (60, 40, 40)
