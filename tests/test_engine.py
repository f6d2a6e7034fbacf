"""The engine against closed forms: area sources, cavities, two layers, budget, furnace, honest error bars."""

import numpy as np
import pytest
from scenes import PAIR, disc, hollow_box, lamp, sheet_part, sphere
from scipy.integrate import quad

from lightsim.light import backward
from lightsim.light.beam import intensity, sample
from lightsim.light.estimate import Estimate, by_replicate, mean_of
from lightsim.light.forward import trace
from lightsim.light.near import arrivals, near_parts
from lightsim.light.scene import build
from lightsim.measure.illuminance import plane_samples
from lightsim.measure.ratio import ratio_in_stops
from lightsim.rig.beam import Beam
from lightsim.rig.mesh import Mesh
from lightsim.rig.place import Part
from lightsim.sheet import Sheet

UP, DOWN = np.array([0.0, 0.0, 1.0]), np.array([0.0, 0.0, -1.0])
ORIGIN = np.zeros(3)


def sampled(scene, point=ORIGIN, normal=UP, *, points=1024, replicates=16, seed=1) -> Estimate:
    cloud = trace(scene, points=points, replicates=replicates, seed=seed)
    return mean_of(plane_samples(arrivals(cloud, np.asarray(point, float)), normal))


def agrees(estimate: Estimate, exact: float, floor: float = 2e-7) -> bool:
    """Within four standard errors, or the rounding of float32 coordinates (floor, relative)."""
    return abs(estimate.value - exact) <= 4 * estimate.standard_error + floor * abs(exact)


# Illuminance by a Lambertian rectangle of luminance 1, 120 x 80 mm, 100 mm away: corner formula and Lambert's polygon
# sum (Howell B-4, number from memory; Tregenza & Sharples, Daylight Algorithms, algorithm 3.14).
@pytest.mark.parametrize(
    ("point", "normal", "exact"),
    [
        ((0, 0, 0), (0, 0, 1), 0.71753353),  # on the axis
        ((60, 40, 0), (0, 0, 1), 0.41697549),  # below a corner
        ((30, 20, 0), (0, 0, 1), 0.62462526),
        ((90, 0, 0), (0, 0, 1), 0.32775362),  # beside it
        ((0, 0, 0), (np.sin(np.radians(25)), 0, np.cos(np.radians(25))), 0.65030623),  # receiver tilted about y
    ],
)
def test_lambertian_window_lights_like_the_corner_formula(point, normal, exact):
    scene = build([], [lamp(distance=100, width=120, height=80, power=1)])
    estimate = sampled(scene, point, np.array(normal))
    luminance = 1 / (np.pi * 120 * 80)  # of one lumen-second from that window
    assert agrees(estimate, exact * luminance)
    assert estimate.standard_error < 2e-4 * estimate.value


# A window of I = I0 cos^5 so far away that it is a point: inverse square, I0 = (m + 1) / 2 pi per lumen.
def test_narrow_beam_far_away_follows_the_inverse_square():
    scene = build([], [lamp(distance=5000, width=10, height=10, power=5)])
    assert sampled(scene).value == pytest.approx(6 / (2 * np.pi) / 5000**2, rel=1e-5)


# A diffusing disc evenly lit glows evenly: E = pi L r^2 / (r^2 + d^2) (Martinez, Radiative view factors,
# solved problem 13.27), off the axis by Foote (1915), Howell B-13 (from memory).
@pytest.mark.parametrize(
    ("radius", "point", "factor"),
    [
        (30, (0, 0, 0), 0.1232876712),  # element facing a coaxial disc r = 30, h = 80
        (50, (20, 0, 0), 0.2632784433),  # 20 off the axis of a disc r = 50, h = 80
        (50, (50, 0, 0), 0.1876524762),
        (50, (0, -100, 0), 0.0666479255),
    ],
)
def test_glowing_disc_lights_like_foote(radius, point, factor):
    paper = Sheet(diffuse_transmittance=0.5)
    scene = build([disc(distance=80, radius=radius, sheet=paper)], [_even_lamp(1.1 * radius, 80)])
    estimate = sampled(scene, point, points=2048)
    assert agrees(estimate, 0.5 * _even_light(1.1 * radius) * factor, floor=1e-5)


@pytest.mark.parametrize(
    ("radius", "near", "far", "stops"),
    # log2((d2^2 + r^2) / (d1^2 + r^2)), derived.
    [(50, 80, 100, 0.490051), (30, 60, 70, 0.366128), (75, 60, 70, 0.190199)],
)
def test_light_of_a_disc_falls_off_as_it_should(radius, near, far, stops):
    scene = build(
        [disc(distance=0, radius=radius, sheet=Sheet(diffuse_transmittance=0.5))], [_even_lamp(1.1 * radius, 0)]
    )
    cloud = trace(scene, points=2048, replicates=16, seed=3)
    first, second = (plane_samples(arrivals(cloud, np.array([0.0, 0.0, -d])), UP) for d in (near, far))
    lost = ratio_in_stops(first, second)
    assert lost is not None
    assert agrees(lost, stops, floor=5e-7 / stops)
    assert lost.standard_error < 0.004


# Open cubes of diffuse walls, light Lambertian and uniform from the face opposite the opening, or through the opening:
# converged radiosity with exact patch factors (derived; cross-checked there by random walks). Five white walls: the
# window that emits is as white as the walls; black: it keeps what comes back.
@pytest.mark.parametrize(
    ("reflectance", "window", "share"),
    [(0.9, 0.9, 0.68426), (0.8, 0.8, 0.52131), (0.9, 0.0, 0.45775), (0.8, 0.0, 0.39904)],
)
def test_open_cube_lets_out_what_radiosity_says(reflectance, window, share):
    walls = hollow_box(100, 100, 0, 100, Sheet(diffuse_reflectance=reflectance), back=False)
    scene = build([walls], [lamp(distance=100, width=100, height=100, power=1, reflectance=window)])
    shares = _escaped(scene)
    assert abs(shares.value - share) < 4 * shares.standard_error + 3e-5
    assert shares.standard_error < 1e-3


@pytest.mark.parametrize(("reflectance", "share"), [(0.9, 0.65163), (0.8, 0.46226)])
def test_open_cube_sends_back_what_radiosity_says(reflectance, share):
    walls = hollow_box(100, 100, -100, 0, Sheet(diffuse_reflectance=reflectance), front=True, back=False)
    scene = build([walls], [lamp(distance=0, width=100, height=100, power=1, reflectance=0)])
    tallies = [trace(scene, points=4096, replicates=1, seed=seed).tally.absorbed[0] for seed in range(16)]
    back = mean_of(np.array(tallies))
    assert abs(back.value - share) < 4 * back.standard_error + 3e-5
    assert back.standard_error < 1e-3


# Kubelka's adding formula, T = T1 T2 / (1 - R1 R2) (docs/theory.md); the product of the two is far too low.
@pytest.mark.parametrize(
    ("first", "second", "through"),
    [
        ((0.60, 0.30), (0.20, 0.75), 0.1548387),
        ((0.156396, 0.80), (0.156396, 0.80), 0.0679438),
    ],
)
def test_two_layers_pass_what_adding_says(first, second, through):
    sheets = [Sheet(diffuse_transmittance=t, diffuse_reflectance=r) for t, r in (first, second)]
    parts = [sheet_part(z, 8000, 8000, sheet, name=f"layer {z}") for z, sheet in ((1, sheets[0]), (0, sheets[1]))]
    scene = build(parts, [lamp(distance=300, width=1, height=1, power=20, reflectance=0)])
    tallies = [trace(scene, points=8192, replicates=1, seed=seed).tally.escaped[2] for seed in range(16)]
    passed = mean_of(np.array(tallies))
    # The edges of 8 m sheets 1 mm apart let out less than 1e-4 of the light.
    assert abs(passed.value - through) < 4 * passed.standard_error + 1e-4 * through
    assert passed.standard_error < 6e-3 * passed.value


# exp(-tau / cos): a straight-through share of 0.14 passes 0.0620073 at 45 degrees (derived).
def test_straight_light_falls_with_the_angle():
    film = Sheet(straight=0.14)
    tilted = lamp(distance=300, width=0.1, height=0.1, power=1)
    clear = build([sheet_part(150, 2000, 2000, film)], [tilted])
    empty = build([], [tilted])
    point = (300.0, 0.0, 0.0)  # seen from there the window's light comes in at 45 degrees
    ratio = sampled(clear, point).value / sampled(empty, point).value
    assert ratio == pytest.approx(0.0620073, rel=1e-4)


def test_budget_sums_to_one():
    paper, foil = Sheet(diffuse_transmittance=0.2, diffuse_reflectance=0.7), Sheet(metallic_reflectance=0.88)
    film = Sheet(straight=0.4, diffuse_transmittance=0.2, diffuse_reflectance=0.3)
    parts = [
        hollow_box(160, 100, 60, 140, foil, name="foil"),
        sheet_part(60, 160, 100, paper),
        sheet_part(40, 90, 90, film),
    ]
    tally = trace(build(parts, [lamp(distance=139)]), points=1024, replicates=8, seed=5).tally
    assert tally.total == pytest.approx(1, abs=1e-12)
    assert abs(tally.residual) < 5e-3
    assert (tally.absorbed >= 0).all()
    assert (tally.escaped >= 0).all()


# Furnace: in a closed cavity whose walls keep a tenth of what they get, a lumen falls on them 1 / 0.1 = 10 times,
# whatever the shape and whatever hangs inside without absorbing (energy balance).
@pytest.mark.parametrize("inside", [None, Sheet(straight=0.3, diffuse_transmittance=0.3, diffuse_reflectance=0.4)])
def test_white_furnace_stays_white(inside):
    walls = hollow_box(120, 80, 0, 100, Sheet(diffuse_reflectance=0.9), front=True, back=True)
    parts = [walls] if inside is None else [walls, sheet_part(40, 60, 50, inside, name="inside")]
    scene = build(parts, [lamp(distance=60, width=10, height=10, power=1, reflectance=1)])
    totals = []
    for seed in range(16):
        cloud = trace(scene, points=1024, replicates=1, seed=seed)
        on_walls = scene.part[cloud.diffuse.triangle] == 1
        totals.append(float(cloud.diffuse.light[on_walls].sum()))
        assert cloud.tally.escaped.sum() < 1e-3
    landed = mean_of(np.array(totals))
    assert abs(landed.value - 10) < 4 * landed.standard_error + 1e-3


# Integrating sphere: any wall point is lit alike, E = (flux / area) R / (1 - R) by reflected light alone (Goebel 1967).
def test_sphere_lights_every_point_of_its_wall_alike():
    scene = build([sphere(50, Sheet(diffuse_reflectance=0.8))], [lamp(distance=0, width=1, height=1, reflectance=1)])
    area = scene.area[1]
    for point in ((0, 0, 1), (0.1, 0.6, 0.2)):
        direction = np.array(point) / np.linalg.norm(point)
        wall = 49.9 * direction  # just inside the flat facets
        estimate = mean_of(
            np.array(
                [
                    backward.illuminance(scene, wall, -direction, paths=2048, replicates=4, seed=seed).value
                    - _direct(scene, wall, -direction)
                    for seed in range(8)
                ]
            )
        )
        assert abs(estimate.value - 0.8 / 0.2 / area) < 4 * estimate.standard_error + 2e-3 * estimate.value


def test_closed_box_keeps_its_light():
    walls = hollow_box(160, 100, 0, 80, Sheet(diffuse_reflectance=0.95), front=True, back=True)
    cloud = trace(build([walls], [lamp(distance=60, reflectance=0.95)]), points=8192, replicates=8, seed=2)
    assert cloud.tally.escaped.sum() * 1.0 < 1e-5 * cloud.rays / (8192 * 8)


# Honest error bars. The exact answers: corner formula; evenly glowing disc; a leaf 2 mm under the point, evenly lit
# from afar, seen by a plane that faces down: E = R E0 r^2 / (r^2 + h^2). 95 % intervals of 200 honest runs hold the
# truth in 91 to 98.5 % of them (binomial, 99.2 % of the time).
def _rectangle():
    return build([], [lamp(distance=100, width=120, height=80, power=1)]), UP, 0.71753353 / (np.pi * 9600)


def _disc():
    scene = build([disc(distance=80, radius=30, sheet=Sheet(diffuse_transmittance=0.5))], [_even_lamp(33, 80)])
    return scene, UP, 0.5 * _even_light(33) * 0.1232876712


def _leaf():
    leaf = disc(distance=-2, radius=40, sheet=Sheet(diffuse_reflectance=0.3), role="surroundings")
    return build([leaf], [_even_lamp(44, -2)]), DOWN, 0.3 * _even_light(44) * 40**2 / (40**2 + 2**2)


@pytest.mark.parametrize("make", [_rectangle, _disc, _leaf])
def test_error_bars_are_honest(make):
    scene, normal, exact = make()
    runs = [sampled(scene, normal=normal, points=256, seed=seed) for seed in range(200)]
    value = np.array([run.value for run in runs])
    half = np.array([run.half_interval for run in runs])
    slack = 1e-7 * exact  # the rounding of float32 coordinates
    covered = np.mean(np.abs(value - exact) <= half + slack)
    assert 0.91 <= covered <= 0.985
    assert abs(value.mean() - exact) < 4 * value.std(ddof=1) / np.sqrt(200) + slack


def test_the_near_leaf_is_gathered_and_a_far_one_is_not():
    scene, _, _ = _leaf()
    cloud = trace(scene, points=256, replicates=8, seed=1)
    assert near_parts(cloud, ORIGIN)[1]
    assert not near_parts(cloud, np.array([0.0, 0.0, 500.0]))[1]


# A film 1 mm under the point and a leaf under it, evenly lit: rays of the final gather go on through the film, at
# each angle T^(1 / cos). E = R T E0 2 int T^(1/c) c dc down to the leaf's rim, by quadrature (derived here).
def test_final_gather_sees_a_leaf_through_a_film():
    film = disc(distance=-1, radius=200, sheet=Sheet(straight=0.6), name="film")
    leaf = disc(distance=-2, radius=40, sheet=Sheet(diffuse_reflectance=0.3), name="leaf", role="surroundings")
    estimate = sampled(build([film, leaf], [_even_lamp(44, -2)]), normal=DOWN)
    rim = 2 / np.hypot(2, 40)
    exact = 0.3 * 0.6 * _even_light(44) * 2 * quad(lambda cosine: 0.6 ** (1 / cosine) * cosine, rim, 1)[0]
    assert agrees(estimate, exact)
    assert estimate.standard_error < 0.01 * exact


# A table of angle and intensity: the sampled light inside an angle is the integral of I 2 pi sin over it, also where
# the edge of the beam falls within a step of the sampling grid (derived here).
def test_beam_table_is_sampled_as_it_is_evaluated():
    beam = Beam(angle=(0, 0.5, 0.6, 90), intensity=(1, 1, 0, 0))
    cosine, weight = sample(beam, (np.arange(1 << 16) + 0.5) / (1 << 16))
    assert weight.mean() == pytest.approx(1, abs=1e-4)
    within = 2 * np.pi * (1 - np.cos(np.radians(0.5))) * intensity(beam, np.ones(1))[0]
    assert weight[cosine > np.cos(np.radians(0.5))].sum() / (1 << 16) == pytest.approx(within, rel=2e-3)


# A panel that stands along the beam is lit at a grazing angle. Derived here: both estimators are unbiased, so they
# agree; a final gather whose links end too near the panel would find it in its own shadow.
def test_final_gather_sees_a_panel_lit_at_a_grazing_angle(monkeypatch):
    # Askew, so that float32 landings lie a little beside its plane.
    away, along = (np.array([np.cos(0.6), np.sin(0.6), 0.0]), np.array([-np.sin(0.6), np.cos(0.6), 0.0]))
    corners = [
        20 * away + side * 60 * along + np.array([0, 0, z]) for side, z in ((-1, 20), (1, 20), (1, 120), (-1, 120))
    ]
    upright = Mesh(np.array(corners), PAIR)
    foam = Sheet(diffuse_transmittance=0.55, diffuse_reflectance=0.38)
    scene = build(
        [Part("wing", "diffuser", upright, foam)],
        [lamp(distance=200, right=22 * away[0], up=22 * away[1], width=1, height=1, power=1, tilt=40)],
    )
    monkeypatch.setattr("lightsim.light.near._NEAR", 1e9)
    gathered = []
    for seed in range(64):
        seen = arrivals(trace(scene, points=64, replicates=8, seed=seed), ORIGIN)
        gathered.append(plane_samples(seen.only(seen.part == 1), UP).mean())
    forward = mean_of(np.array(gathered))

    rng = np.random.default_rng(6)
    turn, square = 2 * np.pi * rng.random((16, 20_000)), rng.random((16, 20_000))
    sky = np.stack([np.sqrt(square) * np.cos(turn), np.sqrt(square) * np.sin(turn), np.sqrt(1 - square)], axis=2)
    back = mean_of(np.array([np.pi * backward.radiance(scene, 0 * rays, rays, rng).mean() for rays in sky]))
    joint = np.hypot(forward.standard_error, back.standard_error)
    assert abs(forward.value - back.value) < 4 * joint
    assert joint < 0.08 * back.value


def test_backward_agrees_with_the_corner_formula():
    scene = build([], [lamp(distance=100, width=120, height=80, power=1)])
    estimate = backward.illuminance(scene, ORIGIN, UP, paths=4096, replicates=16, seed=4)
    assert agrees(estimate, 0.71753353 / (np.pi * 9600))


def test_the_same_seed_gives_the_same_light_and_another_does_not():
    scene, _, _ = _disc()
    first, again, other = (sampled(scene, points=64, seed=seed).value for seed in (7, 7, 8))
    assert first == again
    assert first != other


def _even_lamp(radius: float, plane: float):
    """A lamp that lights a disc of that radius in the plane z = plane evenly, and nothing else.

    I proportional to 1 / cos^3 makes up for distance and slant, so each mm^2 of the disc gets 1 / (pi radius^2).
    """
    return lamp(distance=plane + 500, width=0.1, height=0.1, reflectance=0, beam=_even_beam(radius))


def _even_beam(radius: float) -> Beam:
    angle = np.linspace(0, np.arctan(radius / 500), 100)
    return Beam(angle=tuple(np.degrees(angle)), intensity=tuple(np.cos(angle) ** -3))


def _even_light(radius: float) -> float:
    return 1 / (np.pi * radius**2)


def _escaped(scene) -> Estimate:
    return mean_of(
        np.array([trace(scene, points=4096, replicates=1, seed=seed).tally.escaped.sum() for seed in range(16)])
    )


def _direct(scene, point, normal) -> float:
    cloud = trace(scene, points=64, replicates=2, seed=0)
    seen = arrivals(cloud, point)
    straight = seen.only(seen.straight)
    return float(
        by_replicate(straight.weight * np.maximum(straight.direction @ normal, 0), straight.replicate, 2).mean()
    )
