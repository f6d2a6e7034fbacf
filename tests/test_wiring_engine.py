"""The engine's inner steps, one factor at a time, against closed forms: emission, films, final gather, hidden parts."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray
from scenes import PAIR, disc, lamp, sheet_part
from scipy.integrate import quad
from test_wiring import made, unit

from lightsim.light import backward
from lightsim.light import beam as profile
from lightsim.light.arrivals import Arrivals
from lightsim.light.cast import NumpyCaster
from lightsim.light.estimate import mean_of
from lightsim.light.forward import trace
from lightsim.light.hidden import covers, hidden
from lightsim.light.light import FEWEST, PILOT, light_of
from lightsim.light.near import arrivals
from lightsim.light.scene import build
from lightsim.measure.highlight import highlight
from lightsim.measure.illuminance import plane_samples
from lightsim.measure.size import effective_solid_angle
from lightsim.rig.beam import Beam
from lightsim.rig.mesh import Mesh
from lightsim.rig.place import Part, rotation
from lightsim.sheet import Sheet

Point = NDArray[np.float64]
UP, ORIGIN = np.array([0.0, 0.0, 1.0]), np.zeros(3)


# Lambert's law for a beam of even intensity (m = 0): half of a lumen to either side of nothing, none behind the window.
@pytest.mark.parametrize("beam", [Beam(cos_power=0), Beam(angle=(0, 90), intensity=(1, 1))])
def test_no_beam_shines_backward(beam):
    assert profile.intensity(beam, np.array([1.0, 0.3, -0.3, -1.0])) == pytest.approx(
        np.array([1, 1, 0, 0]) / (2 * np.pi), rel=1e-9
    )


def near_always(monkeypatch) -> None:
    """Force the final gather for every part."""
    monkeypatch.setattr("lightsim.light.near._NEAR", 1e9)


def agrees(estimate, exact: float, *, floor: float = 2e-4) -> bool:
    """Within four standard errors or a relative floor for the width of what stands for a point."""
    return abs(estimate.value - exact) <= 4 * estimate.standard_error + floor * abs(exact)


def ray(*, distance: float, **place):
    """A lamp that throws a ray 0.1 mm wide and half a millimetre thick at its target."""
    return lamp(
        distance=distance, width=0.1, height=0.1, reflectance=0, beam=Beam(angle=(0, 0.05), intensity=(1, 1)), **place
    )


def scattered(straight: float, cosine: float) -> float:
    """Share of light that a film scatters at an angle, over that at normal incidence (docs/theory.md, Sheets)."""
    return (1 - straight ** (1 / cosine)) / (1 - straight)


def mean_scattered(straight: float, *, least: float = 0.0) -> float:
    """The same over Lambertian light from a cone about the normal, by adaptive quadrature of scipy."""
    return quad(lambda c: 2 * scattered(straight, c) * c, least, 1)[0]


# A table that is dark but for a spike on its axis, on a grid of cosines that does not resolve it: means of cos^n over
# the sampled directions, weighted, are those of the profile by adaptive quadrature of scipy.
@pytest.mark.parametrize("power", [0, 40])
def test_a_steep_table_is_sampled_as_it_is_evaluated(power):
    steep = Beam(angle=(0, 1, 3, 40, 90), intensity=(1000, 900, 3, 1, 0))
    cosine, weight = profile.sample(steep, (np.arange(2**17) + 0.5) / 2**17)
    exact = sum(
        quad(lambda a: 2 * np.pi * profile.intensity(steep, np.cos([a]))[0] * np.cos(a) ** power * np.sin(a), *ends)[0]
        for ends in np.radians([(0, 1), (1, 3), (3, 40), (40, 90)])
    )
    assert (weight * cosine**power).mean() == pytest.approx(exact, rel=1e-3)


def test_emission_carries_the_weight_of_the_table():
    steep = Beam(angle=(0, 1, 3, 40, 90), intensity=(1000, 900, 3, 1, 0))
    # Share of the light within 3 degrees, by adaptive quadrature: what a black disc takes of it.
    exact = sum(
        quad(lambda a: 2 * np.pi * profile.intensity(steep, np.cos([a]))[0] * np.sin(a), *ends)[0]
        for ends in np.radians([(0, 1), (1, 3)])
    )
    black = disc(distance=0, radius=500 * np.tan(np.radians(3)), sheet=Sheet())
    scene = build([black], [lamp(distance=500, width=0.1, height=0.1, reflectance=0, beam=steep)])
    caught = mean_of(np.array([trace(scene, points=4096, replicates=1, seed=n).tally.absorbed[1] for n in range(16)]))
    assert agrees(caught, exact, floor=1e-3)
    assert caught.standard_error < 1e-3 * exact


# A ray meets a film square on: 0.8 goes straight on, 0.2 is scattered with the lobe s(cos) / mean of s. A black disc
# 45 degrees wide to either side catches the first and, of the second, what the lobe holds within 45 degrees.
def test_a_film_scatters_onward_by_its_lobe():
    film = sheet_part(0, 10, 10, Sheet(straight=0.8, diffuse_transmittance=0.2), name="film")
    scene = build([film, disc(distance=-40, radius=40, sheet=Sheet())], [ray(distance=500)])
    share = mean_scattered(0.8, least=np.sqrt(0.5)) / mean_scattered(0.8)
    assert share < 0.4  # Lambertian light would have half of it there
    caught = mean_of(np.array([trace(scene, points=4096, replicates=1, seed=n).tally.absorbed[2] for n in range(16)]))
    assert agrees(caught, 0.8 + 0.2 * share)
    assert caught.standard_error < 5e-4


# A ray meets a film at 60 degrees, on its back: E = k s(in) s(out) cos(out) / (pi mean d^2) on a plane that faces the
# spot, k the diffuse share on the side where the point is. Both estimators.
@pytest.mark.parametrize("point", [(0, 0, -300), (0, -200, -200), (0, 200, 200), (50, -300, 60)])
def test_a_spot_on_a_tilted_film(point):
    turned, point = rotation(tilt=60, turn=0, roll=0), np.array(point, float)
    corners = np.array([[-30, -30, 0], [-30, 30, 0], [30, 30, 0], [30, -30, 0.0]]) @ turned.T
    film = Sheet(straight=0.4, diffuse_transmittance=0.3, diffuse_reflectance=(0.1, 0.2))
    scene = build([Part("film", "diffuser", Mesh(corners, PAIR), film)], [ray(distance=500)])
    out = unit(point)
    cosine = out @ turned @ [0, 0, -1.0]
    lobe = scattered(0.4, 0.5) * scattered(0.4, abs(cosine)) / (np.pi * mean_scattered(0.4))
    exact = (0.3 if cosine > 0 else 0.2) * lobe * abs(cosine) / (point @ point)
    seen = arrivals(trace(scene, points=1024, replicates=16, seed=2), point)
    assert agrees(mean_of(plane_samples(seen.only(~seen.straight), -out)), exact)


# Under the middle of an evenly lit disc of film, light at 60 degrees: E = E0 k s(60) times what the lobe holds of the
# disc's cone. Derived here.
def test_final_gather_of_a_film_in_slanting_light():
    radius, height, reach = 40.0, 2.0, 5000.0
    film = disc(distance=height, radius=radius, sheet=Sheet(straight=0.4, diffuse_transmittance=0.3), name="film")
    place = reach * np.array([0, np.sin(np.radians(60)), np.cos(np.radians(60))])
    head = lamp(
        distance=place[2] + height, up=place[1], tilt=60, width=0.1, height=0.1, reflectance=0,
        beam=Beam(angle=(0, 1), intensity=(1, 1)),
    )  # fmt: skip
    even = 1 / (2 * np.pi * (1 - np.cos(np.radians(1)))) / reach**2 * 0.5
    cone = mean_scattered(0.4, least=height / np.hypot(height, radius)) / mean_scattered(0.4)
    cloud = trace(build([film], [head]), points=512, replicates=32, seed=3)
    seen = arrivals(cloud, ORIGIN)
    found = mean_of(plane_samples(seen.only(~seen.straight), UP))
    assert agrees(found, even * 0.3 * scattered(0.4, 0.5) * cone, floor=2e-3)
    assert found.standard_error < 0.02 * found.value


# A glowing leaf seen through a film that only dims: L T^(1/cos) over the cone, by adaptive quadrature. Near, where
# rays look for it, and far, where its vertices are connected.
@pytest.mark.parametrize("far", [1.0, 40.0])
def test_a_leaf_behind_a_film_is_dimmed(far):
    leaf = disc(distance=-3 * far, radius=60, sheet=Sheet(diffuse_transmittance=0.4), name="leaf", role="surroundings")
    film = disc(distance=-far, radius=55, sheet=Sheet(straight=0.5), name="film")
    # I proportional to 1 / cos^3 lights a plane evenly.
    angle = np.linspace(0, np.arctan(66 / 500), 100)
    beam = Beam(angle=tuple(np.degrees(angle)), intensity=tuple(np.cos(angle) ** -3))
    head = lamp(distance=-3 * far - 500, width=0.1, height=0.1, reflectance=0, beam=beam, tilt=180)
    least = 3 * far / np.hypot(3 * far, 60)
    exact = 0.4 / (np.pi * 66**2) * quad(lambda c: 2 * c * 0.5 ** (1 / c), least, 1)[0]
    seen = arrivals(trace(build([leaf, film], [head]), points=512, replicates=32, seed=1), ORIGIN)
    found = mean_of(plane_samples(seen, -UP))
    assert agrees(found, exact, floor=1e-4)
    assert found.standard_error < 0.02 * exact


# A metal lining does on the back what it does on the front: the same plate turned over.
def test_metal_reflects_alike_on_both_sides():
    shares = []
    for sides in ((0.9, 0.0), (0.0, 0.9)):
        plate = sheet_part(0, 30, 30, Sheet(metallic_reflectance=sides, roughness=0.3))
        faces = plate.mesh.faces if sides[1] else plate.mesh.faces[:, ::-1].copy()
        lit = replace(plate, mesh=Mesh(plate.mesh.vertices, faces))
        ceiling, floor = (sheet_part(z, 900, 900, Sheet()) for z in (400, -50))
        shares.append(trace(build([lit, ceiling, floor], [ray(distance=300)]), points=1024, replicates=8, seed=1).tally)
    shares = [tally.absorbed for tally in shares]
    assert shares[0] == pytest.approx(shares[1], abs=1e-9)
    # It goes up again, most of it to the ceiling; nothing goes through.
    assert shares[0][2] > 0.5
    assert shares[0][3] < 1e-6


# Two small windows, one askew, of unlike energy: L = share I / (A cos), O = A cos / d^2, and the effective solid angle
# is (sum L O)^2 / sum L^2 O by definition. Beams of the two heads differ in direction.
def test_luminance_and_names_of_two_heads():
    one = lamp(distance=200, width=2, height=1, power=3)
    two = lamp(distance=160, up=120, width=3, height=1, tilt=75, power=2)
    heads = [replace(one, share=0.3, name="one"), replace(two, share=0.7, name="two")]
    # The second looks down by 75 degrees, the subject lies atan(120 / 160) below its horizon; both are 200 mm away.
    forward = np.array([1, np.cos(np.radians(75) - np.arctan2(120, 160))])
    reach, area, power = 200.0, np.array([2, 3]), np.array([3, 2])
    intensity = (power + 1) / (2 * np.pi) * forward**power * [0.3, 0.7]
    light = intensity / reach**2
    luminance = intensity / (area * forward)
    seen = arrivals(trace(build([], heads), points=512, replicates=16, seed=1), ORIGIN)
    for number in (0, 1):
        found = mean_of(np.bincount(seen.replicate, seen.weight * (seen.part == number), 16) * 16)
        assert agrees(found, light[number], floor=3e-4), number
    exact = light.sum() ** 2 / (luminance * light).sum()
    assert agrees(effective_solid_angle(seen), exact, floor=1e-3)


# Whatever is called hidden is: rays from the point to all over such triangles meet the sheet first (plain ray casting).
@pytest.mark.parametrize("seed", range(4))
def test_nothing_is_called_hidden_that_a_ray_can_reach(seed):
    rng = np.random.default_rng(seed)
    notched = np.array([[-60, -50, 80], [-60, 50, 80], [0, 0, 80], [60, 50, 80], [60, -50, 80.0]])
    whole = np.array([[-40, -30, 80], [-40, 30, 80], [50, 35, 80], [45, -30, 80.0]])
    film = Part("film", "diffuser", Mesh(whole.copy(), PAIR), Sheet(straight=0.5))
    fan = Mesh(notched, np.array([[0, 1, 2], [0, 2, 4], [2, 3, 4]]))
    turn = np.radians(60 * np.arange(6))
    rim = np.column_stack([45 * np.cos(turn), 45 * np.sin(turn), np.full(6, 80.0)])
    without_middle = Mesh(rim, np.array([[0, 1, 2], [2, 3, 4], [4, 5, 0]]))
    corner = rng.uniform((-80, -60, 20), (80, 60, 200), (4000, 3))[:, None, :] + rng.uniform(-25, 25, (4000, 3, 3))
    point = rng.uniform(-15, 15, 3)
    assert not hidden(covers([film]), corner, point).any()
    for mesh in (Mesh(whole.copy(), PAIR), fan, without_middle):
        flagged = corner[
            hidden(covers([Part("sheet", "diffuser", mesh, Sheet(diffuse_reflectance=0.5))]), corner, point)
        ]
        assert len(flagged) > 100 or len(mesh.faces) == 3
        a, b = rng.random((2, len(flagged), 30))
        a, b = np.where(a + b > 1, 1 - a, a)[..., None], np.where(a + b > 1, 1 - b, b)[..., None]
        target = flagged[:, :1] + a * (flagged[:, 1:2] - flagged[:, :1]) + b * (flagged[:, 2:] - flagged[:, :1])
        way = (target - point).reshape(-1, 3)
        reach = np.linalg.norm(way, axis=1)
        start = np.repeat(point[None].astype(np.float32), len(way), axis=0)
        blocked = NumpyCaster(mesh.vertices, mesh.faces).blocked(
            start, (way / reach[:, None]).astype(np.float32), reach - 1e-3
        )
        assert blocked.all()


def foiled():
    """Paper that glows over a sheet of rough foil."""
    paper = disc(distance=60, radius=40, sheet=Sheet(diffuse_transmittance=0.5), name="paper")
    foil = disc(
        distance=-3, radius=30, sheet=Sheet(metallic_reflectance=0.9, roughness=0.5), name="foil", role="surroundings"
    )
    return build([paper, foil], [lamp(distance=200, power=20, reflectance=0)])


# Derived here: two unbiased estimators of one number agree within their joint error.
def test_final_gather_of_near_foil_agrees_with_the_backward_estimator(monkeypatch):
    near_always(monkeypatch)
    scene = foiled()
    seen = arrivals(trace(scene, points=1024, replicates=32, seed=1), ORIGIN)
    forward = mean_of(plane_samples(seen, -UP))
    back = backward.illuminance(scene, ORIGIN, -UP, paths=4096, replicates=16, seed=2)
    joint = np.hypot(forward.standard_error, back.standard_error)
    assert abs(forward.value - back.value) < 4 * joint
    assert joint < 0.03 * back.value


def filmed():
    """Glowing paper over a film that passes half and scatters the rest."""
    paper = disc(distance=60, radius=40, sheet=Sheet(diffuse_transmittance=0.5), name="paper")
    film = disc(distance=20, radius=60, sheet=Sheet(straight=0.5, diffuse_transmittance=0.45), name="film")
    return build([paper, film], [lamp(distance=200, power=20, reflectance=0)])


def two_lamps_on_foil():
    """Foil and card in the light of two unequal lamps, seen from between."""
    foil = disc(distance=-30, radius=30, sheet=Sheet(metallic_reflectance=0.9, roughness=0.5), name="foil")
    card = disc(distance=-31, radius=60, sheet=Sheet(diffuse_reflectance=0.5), name="card")
    weak = replace(lamp(distance=150, right=80, power=3, reflectance=0), share=0.15, name="weak")
    strong = replace(lamp(distance=120, up=100, tilt=40, power=8, reflectance=0), share=0.85, name="strong")
    return build([foil, card], [weak, strong])


# Derived here: two unbiased estimators of one number agree within their joint error. No ready design has a film, nor
# foil in the straight light of a head.
@pytest.mark.parametrize(("make", "normal"), [(filmed, UP), (two_lamps_on_foil, -UP)])
def test_both_estimators_agree_on_films_and_foil(make, normal):
    scene = make()
    forward = mean_of(plane_samples(arrivals(trace(scene, points=4096, replicates=16, seed=1), ORIGIN), normal))
    back = backward.illuminance(scene, ORIGIN, normal, paths=8192, replicates=16, seed=2)
    joint = np.hypot(forward.standard_error, back.standard_error)
    assert abs(forward.value - back.value) < 4 * joint
    assert joint < 0.006 * back.value


# Least distances from a point to single triangles by trimesh, which the engine does not use for this.
def test_distance_to_parts():
    rng = np.random.default_rng(3)
    corner = rng.uniform(-50, 50, (60, 1, 3)) + rng.uniform(-30, 30, (60, 3, 3))
    parts = [
        Part(f"part {n}", "diffuser", Mesh(c.copy(), np.array([[0, 1, 2]])), Sheet()) for n, c in enumerate(corner)
    ]
    scene = build(parts, [])
    for point in rng.uniform(-60, 60, (5, 3)):
        foot = trimesh.triangles.closest_point(corner, np.repeat(point[None], 60, axis=0))
        exact = np.linalg.norm(foot - point, axis=1)
        assert scene.distance(point, np.full(60, np.inf)) == pytest.approx(exact, abs=1e-9)
        # Asked for what is nearer than 20 mm only, it may leave the others out and must not leave these.
        near = scene.distance(point, np.full(60, 20.0))
        assert near[exact < 20] == pytest.approx(exact[exact < 20], abs=1e-9)


# By the names of the parts: what is ignored sends nothing, and the rest is what it was.
@pytest.mark.parametrize("near", [False, True])
def test_ignored_parts_send_nothing(monkeypatch, near):
    if near:
        near_always(monkeypatch)
    else:
        monkeypatch.setattr("lightsim.light.near._NEAR", 0.0)
    cloud = trace(foiled(), points=256, replicates=8, seed=1)
    point = np.array([0.0, 0.0, 20.0])
    every, rest = arrivals(cloud, point), arrivals(cloud, point, ignore=("paper",))
    assert {1, 2} <= set(every.part)
    assert set(rest.part) == set(every.part) - {1}
    assert rest.weight[rest.part == 0].sum() == pytest.approx(every.weight[every.part == 0].sum(), rel=1e-12)
    assert rest.weight[rest.part == 2].sum() == pytest.approx(every.weight[every.part == 2].sum(), rel=0.02)


# Replicates are independent: without the light of one of them its arrivals vanish and no other changes.
def test_replicates_do_not_mix_in_the_final_gather(monkeypatch):
    near_always(monkeypatch)
    cloud = trace(foiled(), points=128, replicates=8, seed=1)

    def without(group):
        return replace(group, light=np.where(group.replicate == 3, np.float32(0), group.light))

    groups = {name: without(getattr(cloud, name)) for name in ("emission", "diffuse", "shaped")}
    dark = replace(cloud, **groups, _sorted={})
    before, after = (plane_samples(arrivals(each, ORIGIN), -UP) for each in (cloud, dark))
    assert after[3] == 0
    assert (before > 0).all()
    assert np.delete(after, 3) == pytest.approx(np.delete(before, 3), rel=0.5)


# One landing a path on a black disc that catches the whole ray: sqrt(area / paths of a replicate) (derived here).
def test_spacing_is_that_of_one_replicate():
    head = lamp(distance=50, width=1, height=1, reflectance=0, beam=Beam(angle=(0, 20), intensity=(1, 1)))
    scene = build([disc(distance=0, radius=30, sheet=Sheet(diffuse_reflectance=1e-6))], [head])
    cloud = trace(scene, points=256, replicates=8, seed=1)
    assert cloud.spacing[1] == pytest.approx(np.sqrt(np.pi * 900 / 256), rel=1e-3)


# --- the light of a rig


# The pilot chose the number of paths, so figures must come from other random numbers (rule of sequential sampling).
def test_figures_share_no_random_numbers_with_the_pilot():
    light = made("paper")
    assert light.side.points == PILOT
    assert light.cloud.points >= FEWEST
    own, pilot = (
        {*zip(each.emission.x.tolist(), each.emission.y.tolist(), strict=True)} for each in (light.cloud, light.side)
    )
    assert len(own & pilot) < 0.01 * len(pilot)
    point = (0.0, 1.0, -2.0)
    main, side = light.at(point), light.aside(point)
    assert main.weight.sum() != side.weight.sum()
    assert len(main.weight) > 2 * len(side.weight)


# Asked for less error a rig gets more paths; the error bar follows within the pilot's own uncertainty. Without the
# leaf, whose final gather has so many rays and no more.
def test_a_smaller_error_takes_more_paths():
    rig = made("paper").placed
    rig = replace(rig, parts=tuple(part for part in rig.parts if part.name != "leaf"))
    rough, fine = (light_of(rig, error=error, seed=4) for error in (0.02, 0.001))
    assert fine.cloud.points > rough.cloud.points
    found = mean_of(plane_samples(fine.at(ORIGIN), UP))
    assert found.standard_error < 0.0015 * found.value


def patch(*, seen_from, centre, reach=100.0, count=64, replicates=8) -> Arrivals:
    """Arrivals at a point from a small square of luminance 1 that faces the ball's centre, up and right before it."""
    rng = np.random.default_rng(1)
    way = unit((0.3, 0.4, 1.0))
    right = unit(np.cross((0, 1, 0), way))
    across, upward = rng.uniform(-3, 3, (2, count * replicates, 1))
    origin = centre + reach * way + across * right + upward * np.cross(way, right)
    apart = origin - seen_from
    square = (apart * apart).sum(axis=1)
    weight = 36 / (count * replicates) * (apart @ way) / square**1.5
    total = len(weight)
    return Arrivals(
        point=np.asarray(seen_from, float), direction=apart / np.sqrt(square)[:, None], origin=origin, weight=weight,
        part=np.zeros(total, np.int32), straight=np.zeros(total, bool), luminance=np.zeros(total),
        replicate=np.repeat(np.arange(replicates, dtype=np.int32), count), replicates=replicates,
    )  # fmt: skip


# The ball shows the same light from wherever the arrivals were collected; a step of 30 mm on the line from the patch
# through the ball changes no cosine (derived here).
def test_highlight_does_not_depend_on_where_arrivals_were_collected():
    centre = np.array([0.0, 0.0, 2.0])
    white = np.full(8, 1.0)
    beside = centre - 30 * unit((0.3, 0.4, 1.0))
    own, other = (
        highlight(
            patch(seen_from=point, centre=centre), centre=centre, radius=1.5, refractive_index=1.56, camera=(0, 0, 150),
            pixel=0.003, illuminance=white,
        )
        for point in (centre, beside)
    )  # fmt: skip
    assert own.stops_above_white is not None
    assert other.stops_above_white.value == pytest.approx(own.stops_above_white.value, abs=2e-3)


# A camera at a distance d sees of a ball the cap whose edge is a circle of area pi r^2 (1 - r^2 / d^2) (tangent cone,
# derived here). In light from everywhere all of that is lit, and nothing else: its share of the disc is 1.
def test_light_from_everywhere_covers_the_disc_of_a_ball_seen_from_close_by():
    rng = np.random.default_rng(2)
    direction = rng.standard_normal((8 * 8192, 3))
    direction /= np.linalg.norm(direction, axis=1)[:, None]
    total = len(direction)
    sky = Arrivals(
        point=ORIGIN.copy(), direction=direction, origin=5000 * direction, weight=np.full(total, 4 * np.pi / total),
        part=np.zeros(total, np.int32), straight=np.zeros(total, bool), luminance=np.zeros(total),
        replicate=np.repeat(np.arange(8, dtype=np.int32), 8192), replicates=8,
    )  # fmt: skip
    seen = highlight(
        sky,
        centre=ORIGIN,
        radius=20,
        refractive_index=1.56,
        camera=(0, 0, 40),
        pixel=0.003,
        illuminance=np.full(8, 1.0),
    )
    assert seen.disc_share is not None
    assert seen.disc_share.value == pytest.approx(1, abs=0.04)
