"""The renderer and the portrait: mirror balls, closed forms, shadows, what the beetle is."""

from pathlib import Path

import numpy as np
import pytest
from matplotlib.path import Path as Outline

import lightsim
from lightsim.light.arrivals import Arrivals
from lightsim.light.cast import caster
from lightsim.light.light import Light
from lightsim.measure.mirror import mirror
from lightsim.measure.view import view_of
from lightsim.picture.beetle import LEAF_TILT, LENGTH, ball, beetle, wing_case
from lightsim.picture.bounce import shadowed, share_of
from lightsim.picture.coat import coat_of
from lightsim.picture.illumination import Illumination, illumination_of, lamps_of, resampled
from lightsim.picture.portrait import CENTRE, EXPOSURE, FRAME, Portrait, portrait_of, portrait_picture
from lightsim.picture.render import NOTHING, Rendered, render
from lightsim.picture.solids import Subject, Surface, ellipsoid, sheet, subject_of, tube
from lightsim.picture.style import alternative_text
from lightsim.rig.load import load
from lightsim.sheet.fresnel import fresnel

FAR = 1000.0  # mm


def dark(start: np.ndarray, direction: np.ndarray) -> np.ndarray:
    """Mirror images of nothing."""
    return np.zeros(len(direction))


def lamp(position: tuple[float, float, float], mirrored=dark) -> Illumination:
    """A lamp so small that it has no size."""
    return Illumination(np.array([position], float), np.ones(1), np.zeros(3), mirrored, 1 / np.pi)


def around(count: int = 4096) -> np.ndarray:
    """Evenly spread directions (Fibonacci's spiral), neighbours in height after one another."""
    height = 1 - 2 * (np.arange(count) + 0.5) / count
    turn = np.arange(count) * np.pi * (3 - np.sqrt(5))
    flat = np.sqrt(1 - height**2)
    return np.stack([flat * np.cos(turn), height, flat * np.sin(turn)], axis=1)


def furnace() -> Illumination:
    """Luminance 1 from everywhere."""
    way = around(1000)
    return Illumination(
        FAR * way, np.full(len(way), 4 * np.pi / len(way)), np.zeros(3), lambda start, ray: np.ones(len(ray)), 1.0
    )


def matt_ball(reflectance: float, radius: float = 1.0) -> Subject:
    surface = Surface("matt", (reflectance,) * 3)
    return subject_of([ellipsoid(surface, centre=(0, 0, 0), half_axes=(radius,) * 3, around=160)])


def plate(normal: np.ndarray, half: float, middle=(0.0, 0.0, 0.0), reflectance=0.5, along=61):
    """A flat square sheet of this outer normal."""
    aside = np.cross([0.0, 1.0, 0.0], normal)
    aside /= np.linalg.norm(aside)
    other = np.cross(normal, aside)
    return sheet(
        Surface("plate", (reflectance,) * 3),
        lambda u, v: np.array(middle) + half * (u[:, None] * aside + v[:, None] * other),
        along=along,
        across=along,
    )


def landed(camera: float, frame: float, pixels: int, radius: float) -> tuple[np.ndarray, np.ndarray]:
    """Where a ray through each pixel's middle meets a ball at the origin, (rows, columns, 3), and whether it does."""
    step = ((np.arange(pixels) + 0.5) / pixels - 0.5) * frame
    x, y = np.meshgrid(step, -step)
    way = np.stack([x, y, np.full_like(x, -camera)], axis=-1)
    way /= np.linalg.norm(way, axis=-1)[..., None]
    along = camera * way[..., 2]  # of start . way
    inside = along**2 - camera**2 + radius**2
    reach = -along - np.sqrt(np.maximum(inside, 0))
    return np.array([0, 0, camera]) + reach[..., None] * way, inside > 0


def shot(subject: Subject, light: Illumination, *, camera=95.0, frame=2.2, pixels=150, **rest) -> Rendered:
    given = {"across": 1, "samples": 2, "more": 8, "bounces": 0} | rest
    return render(subject, light, camera=(0, 0, camera), frame=(frame, frame), pixels=(pixels, pixels), **given)


# Seen from far away, equal solid angles of the surroundings cover equal areas of a mirror ball: derived here.
@pytest.mark.parametrize("half_angle, off", [(30.0, 0.0), (35.0, 70.0), (60.0, 0.0), (25.0, 120.0)])
def test_a_distant_source_covers_its_share_of_the_sphere_of_directions(half_angle: float, off: float) -> None:
    axis = np.array([np.sin(np.radians(off)), 0, np.cos(np.radians(off))])
    seen = shot(
        ball(radius=1.0),
        lamp((0, 0, FAR), lambda start, way: (way @ axis > np.cos(np.radians(half_angle))).astype(float)),
        camera=2000.0,
        frame=2.02,
        pixels=400,
    )
    on_ball = seen.solid != NOTHING
    covered = np.count_nonzero(seen.linear[on_ball, 0] > 0) / np.count_nonzero(on_ball)
    assert covered == pytest.approx((1 - np.cos(np.radians(half_angle))) / 2, rel=0.01)


# The exact mirror geometry of lightsim.measure.mirror (Alhazen's problem), which works from the light to the ball where
# the renderer works from the ball to the light.
@pytest.mark.parametrize("camera", [40.0, 95.0])
def test_the_edge_of_a_near_source_lies_where_mirror_geometry_has_it(camera: float) -> None:
    middle, size = np.array([12.0, 20.0, 25.0]), 15.0

    def disc(start: np.ndarray, way: np.ndarray) -> np.ndarray:
        with np.errstate(divide="ignore"):
            place = start + ((middle[2] - start[:, 2]) / way[:, 2])[:, None] * way
        return ((way[:, 2] > 0) & (np.hypot(*(place - middle)[:, :2].T) < size)).astype(float)

    radius, pixels = 1.5, 300
    seen = shot(ball(radius=radius), lamp((0, 0, FAR), disc), camera=camera, frame=3.4, pixels=pixels)
    turn = np.linspace(0, 2 * np.pi, 400)
    rim = middle + size * np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1)
    image = mirror(rim, centre=(0, 0, 0), radius=radius, camera=(0, 0, camera))
    place, hit = landed(camera, 3.4, pixels, radius)
    expected = Outline(np.stack([image.right, image.up], axis=1)).contains_points(place[hit][:, :2])
    assert image.visible.all()
    assert np.count_nonzero((seen.linear[hit, 0] > 0) != expected) < 0.01 * np.count_nonzero(expected)


# Fresnel's share at the true angle: lightsim.sheet.fresnel, itself tested against printed values.
def test_a_black_coated_ball_mirrors_by_fresnel() -> None:
    seen = shot(ball(radius=1.0), lamp((0, 0, FAR), lambda start, way: np.full(len(way), 3.0)), frame=1.9)
    place, hit = landed(95.0, 1.9, 150, 1.0)
    toward = np.array([0, 0, 95.0]) - place
    cosine = (toward * place).sum(axis=-1) / np.linalg.norm(toward, axis=-1)
    expected = 3.0 * np.pi * fresnel(refractive_index=1.56, cosine=cosine)  # white is 1 / pi
    inner = hit & (cosine > 0.05)  # the last pixels see the edge of the triangles
    assert seen.linear[inner, 0] == pytest.approx(expected[inner], rel=0.01)


# L = rho E cos / pi: Lambert's law; relative to white, E / pi at normal incidence on the lamp's side.
def test_lamberts_law_on_a_ball() -> None:
    way = np.array([0.48, 0.6, 0.64])
    seen = shot(matt_ball(0.5), lamp(tuple(1e4 * way)), frame=1.9)
    place, hit = landed(95.0, 1.9, 150, 1.0)
    hit &= seen.solid != NOTHING  # the outermost pixels pass beside the triangles
    expected = 0.5 * np.maximum(place[hit] @ way, 0)
    # Between the corners of triangles light is drawn out evenly, also over the line where it ends.
    assert seen.linear[hit, 1] == pytest.approx(expected, abs=0.008)
    assert np.abs(seen.linear[hit, 1] - expected).mean() < 0.0005


# E = I cos / d^2 at every place of a plate that recedes from the lens.
def test_inverse_square_and_cosine_along_a_receding_plate() -> None:
    normal = np.array([0.0, np.sin(1.0), np.cos(1.0)])
    source = np.array([0.0, 30.0, 40.0])
    seen = shot(subject_of([plate(normal, 12.0)]), lamp(tuple(source)), frame=9.0, pixels=61)
    step = ((np.arange(61) + 0.5) / 61 - 0.5) * 9.0
    x, y = np.meshgrid(step, -step)
    way = np.stack([x, y, np.full_like(x, -95.0)], axis=-1)
    place = np.array([0, 0, 95.0]) - (95.0 * normal[2] / (way @ normal))[..., None] * way
    apart = source - place
    square = (apart**2).sum(axis=-1)
    expected = 0.5 * (source @ source) * np.maximum(apart @ normal, 0) / square**1.5
    assert seen.linear[..., 0] == pytest.approx(expected, rel=0.003)
    assert expected.max() / expected.min() > 1.4


# The white furnace: in uniform light of luminance 1 a matt body of reflectance rho shows rho, whatever its form, and a
# coated one F + (1 - F)(1 - Fe) rho / (n^2 (1 - rho Fi)), which is 1 for rho = 1 because 1 - Fi = (1 - Fe) / n^2.
@pytest.mark.parametrize("reflectance", [0.0, 0.5, 1.0])
def test_white_furnace(reflectance: float) -> None:
    assert shot(matt_ball(reflectance), furnace(), frame=1.3).linear == pytest.approx(reflectance, abs=0.003)
    seen = shot(ball(radius=1.0, reflectance=(reflectance,) * 3), furnace(), frame=1.9, pixels=100)
    place, hit = landed(95.0, 1.9, 100, 1.0)
    toward = np.array([0, 0, 95.0]) - place
    grazing = (toward * place).sum(axis=-1) / np.linalg.norm(toward, axis=-1)
    hit &= grazing > 0.05
    share = fresnel(refractive_index=1.56, cosine=grazing)
    cosine = (np.arange(20_000) + 0.5) / 20_000
    mean = float(2 * np.mean(fresnel(refractive_index=1.56, cosine=cosine) * cosine))
    inside = 1 - (1 - mean) / 1.56**2
    expected = share + (1 - share) * (1 - mean) * reflectance / (1.56**2 * (1 - reflectance * inside))
    assert seen.linear[hit, 0] == pytest.approx(expected[hit], abs=0.006)
    if reflectance == 1:
        assert expected[hit] == pytest.approx(1.0, abs=1e-6)


# Internal diffuse reflectance at n = 1.5: 0.596 and external 0.092 (printed in Judd 1942 for paints, from memory).
def test_diffuse_reflectances_of_a_coat() -> None:
    coat = coat_of(1.5)
    assert coat.inside == pytest.approx(0.596, abs=0.0015)
    assert 1 - coat.mean == pytest.approx(0.092, abs=0.0008)
    assert coat_of(1.0).body(np.array([0.3])) == pytest.approx([0.3])


def half_shadowed() -> tuple[Subject, Illumination]:
    """A plate under a square patch of light, an edge 3 mm above one half of it."""
    rng = np.random.default_rng(2)
    place = np.concatenate([rng.uniform(-20, 20, (1024, 2)), np.full((1024, 1), 60.0)], axis=1)
    arrivals = Arrivals(
        point=np.zeros(3),
        direction=place / np.linalg.norm(place, axis=1)[:, None],
        origin=place,
        weight=np.full(1024, 1 / 1024),
        part=np.zeros(1024, np.int32),
        straight=np.zeros(1024, bool),
        luminance=np.zeros(1024),
        replicate=np.zeros(1024, np.int32),
        replicates=1,
    )
    light = Illumination(*resampled(arrivals, 1024), np.zeros(3), dark, 1 / np.pi)
    ahead = np.array([0.0, 0.0, 1.0])
    return subject_of([plate(ahead, 6.0), plate(ahead, 3.0, (-3.0, 0.0, 3.0), along=3)]), light


# Few samples a pixel against the mean over all 1,024 samples of the patch, each with a shadow ray of its own.
def test_few_shadow_rays_are_unbiased() -> None:
    subject, light = half_shadowed()
    lamps = lamps_of(light)
    x = np.linspace(-0.5, 2.5, 41)
    point = np.stack([x, 0 * x, 0 * x], axis=1).astype(np.float32)
    normal, index = np.tile(np.array([0, 0, 1], np.float32), (41, 1)), np.ones(41)
    direct = np.zeros((2, 41))
    for place, weight in zip(light.position, light.weight, strict=True):
        start = (point + 0.005 * normal).astype(np.float32)
        way = place - start
        reach = np.linalg.norm(way, axis=1)
        way /= reach[:, None]
        gives = weight * (place @ place) * way[:, 2] / reach**2
        clear = ~subject.caster.blocked(start, way.astype(np.float32), reach)
        direct += [gives, gives * clear]
    exact = direct[1] / direct[0]
    assert ((exact > 0.02) & (exact < 0.98)).sum() > 15
    rng = np.random.default_rng(3)
    runs = [
        share_of(*shadowed(subject, lamps, point, normal, index, first=rng.random(41), samples=4)) for _ in range(400)
    ]
    mean, error = np.mean(runs, axis=0), np.std(runs, axis=0) / np.sqrt(400)
    assert (np.abs(mean - exact) < 4.5 * error + 0.004).all()
    assert abs((mean - exact).mean()) < 0.003
    plain = np.sqrt(exact * (1 - exact) / 4)[(exact > 0.05) & (exact < 0.95)]
    assert (np.std(runs, axis=0)[(exact > 0.05) & (exact < 0.95)] < plain).mean() > 0.9  # strata help


def test_what_lies_open_is_free_of_noise() -> None:
    subject, light = half_shadowed()
    seen = shot(subject, light, frame=8.0, pixels=40, more=0).linear[:, -8:, 0]
    assert np.abs(np.diff(seen, axis=0)).max() < 0.002 * seen.mean()


def test_further_samples_only_where_shadow_and_light_meet() -> None:
    subject, light = half_shadowed()
    few, many = (shot(subject, light, frame=8.0, pixels=80, samples=2, more=more).linear[..., 0] for more in (0, 30))
    exact = shot(subject, light, frame=8.0, pixels=80, samples=256, more=0).linear[..., 0]
    assert np.abs(many - exact).std() < 0.4 * np.abs(few - exact).std()
    assert many.mean() == pytest.approx(exact.mean(), rel=0.003)


# A mirrored ray that meets the subject shows what is there: a matt red wall beside a black mirror ball.
def test_a_coat_mirrors_the_subject_itself() -> None:
    wall = plate(np.array([-1.0, 0.0, 0.0]), 30.0, (1.5, 0.0, 0.0))
    wall = type(wall)(Surface("wall", (0.8, 0.0, 0.0)), wall.vertices, wall.faces, wall.normals)
    mirroring = ellipsoid(Surface("ball", (0, 0, 0), 1.56), centre=(0, 0, 0), half_axes=(1, 1, 1), around=96)
    light = lamp((-50, 0, 50), lambda start, way: np.full(len(way), 5.0))
    seen = shot(subject_of([mirroring, wall]), light, frame=1.9, pixels=60)
    left, right = seen.linear[30, 4], seen.linear[30, 55]
    assert left[1] > 0
    assert left[0] == pytest.approx(left[1])
    assert right[0] > 0
    assert right[1] == 0


def test_solids_are_closed_and_face_outward() -> None:
    surface = Surface("any", (0.5, 0.5, 0.5))
    turn = np.linspace(0, 2, 12)
    solids = {
        "ellipsoid": ellipsoid(surface, centre=(1, 2, 3), half_axes=(1, 2, 3)),
        "tube": tube(surface, along=np.stack([turn, np.sin(turn), turn**2], axis=1), radius=np.full(12, 0.1)),
    }
    for name, each in solids.items():
        corner = each.vertices[each.faces]
        volume = np.einsum("ij,ij->i", corner[:, 0], np.cross(corner[:, 1], corner[:, 2])).sum() / 6
        assert volume > 0, name
        flat = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        area = np.linalg.norm(flat, axis=1)
        mean = each.normals[each.faces].mean(axis=1)
        assert (np.einsum("ij,ij->i", flat, mean)[area > 1e-9] > 0).all(), name
        same = np.unique(np.round(each.vertices, 9), axis=0, return_inverse=True)[1].ravel()
        face = same[each.faces]
        face = face[[len(set(corners)) == 3 for corners in face.tolist()]]  # those at the poles have no area
        edges = np.sort(np.concatenate([face[:, [0, 1]], face[:, [1, 2]], face[:, [2, 0]]]), axis=1)
        assert (np.unique(edges, axis=0, return_counts=True)[1] == 2).all(), name
    assert 4 / 3 * np.pi * 6 == pytest.approx(_volume(solids["ellipsoid"]), rel=0.02)


def _volume(solid) -> float:
    corner = (solid.vertices - solid.vertices.mean(axis=0))[solid.faces]
    return float(np.einsum("ij,ij->i", corner[:, 0], np.cross(corner[:, 1], corner[:, 2])).sum() / 6)


def test_impossible_surfaces_and_frames_are_refused() -> None:
    with pytest.raises(ValueError, match="from 0 to 1"):
        Surface("paint", (0.5, 1.2, 0.5))
    with pytest.raises(ValueError, match="above 1"):
        Surface("paint", (0.5, 0.5, 0.5), 0.9)
    with pytest.raises(ValueError, match="more than 0"):
        ball(radius=0)
    with pytest.raises(ValueError, match="above 0"):
        shot(wing_case(), lamp((0, 0, FAR)), pixels=0)
    with pytest.raises(ValueError, match="before the plane"):
        shot(wing_case(), lamp((0, 0, FAR)), camera=-5.0)
    with pytest.raises(ValueError, match="nothing to expose by"):
        Illumination(np.array([[0.0, 0.0, -50.0]]), np.ones(1), np.zeros(3), dark)
    with pytest.raises(ValueError, match="finite"):
        Illumination(np.array([[0.0, 0.0, 50.0]]), np.array([np.nan]), np.zeros(3), dark)


# The beetle, as its own module describes it.
def test_the_near_eye_lies_in_the_plane_of_focus() -> None:
    subject = beetle()
    assert beetle() is subject
    middle = subject.meet(np.array([[0, 0, 95.0]], np.float32), np.array([[0, 0, -1.0]], np.float32))
    assert subject.solids[subject.solid[middle.triangle[0]]].surface.name == "eye"
    assert middle.point[0] == pytest.approx([0, 0, 0], abs=1e-3)
    assert middle.normal[0] == pytest.approx([0, 0, 1], abs=1e-3)


def test_the_beetle_is_as_large_as_stated_and_stands_on_its_leaf() -> None:
    subject = beetle()
    names = np.array([each.surface.name for each in subject.solids])[subject.owner]
    up = np.array([0, np.sin(np.radians(LEAF_TILT)), np.cos(np.radians(LEAF_TILT))])
    leaf = subject.normals[names == "leaf"].mean(axis=0)
    assert np.degrees(np.arccos(leaf @ up / np.linalg.norm(leaf))) < 5
    body = subject.vertices[np.isin(names, ["wing case", "head", "pronotum", "mouth"])]
    ahead = body[names[np.isin(names, ["wing case", "head", "pronotum", "mouth"])] == "head"].mean(axis=0)
    way = ahead - body.mean(axis=0)
    along = body @ (way - (way @ up) * up) / np.linalg.norm(way - (way @ up) * up)
    assert np.ptp(along) == pytest.approx(LENGTH, abs=0.6)
    hair = [each for each in subject.solids if each.surface.name == "hair"]
    thick = [2 * np.linalg.norm(each.vertices[0] - each.vertices[-2]) for each in hair]
    assert len(hair) > 100
    assert min(thick) > 0.029
    assert max(thick) < 0.051
    # Feet on the leaf: within a foot's thickness of it.
    on_leaf = subject.vertices[names == "leaf"]
    below = caster(on_leaf, _faces(subject, "leaf"))
    feet = [each.vertices.mean(axis=0) for each in subject.solids if each.surface.name == "leg"]
    lowest = np.array([foot for foot in feet if foot @ up < np.median([each @ up for each in feet])], np.float32)
    _, gap = below.nearest(lowest, np.tile(-up.astype(np.float32), (len(lowest), 1)))
    assert gap.max() < 0.5


def _faces(subject: Subject, name: str) -> np.ndarray:
    solid = next(number for number, each in enumerate(subject.solids) if each.surface.name == name)
    chosen = subject.faces[subject.solid == solid]
    return chosen - chosen.min()


@pytest.fixture(scope="module")
def rigs() -> dict[str, Light]:
    return {name: lightsim.trace(load(name), error=0.02) for name in ("bare-flash", "dome")}


def small(light: Light) -> Rendered:
    return render(
        beetle(),
        illumination_of(light, view_of(light)),
        camera=(0, 0, light.placed.working_distance),
        frame=FRAME,
        centre=CENTRE,
        pixels=(100, 75),
    )


def test_hard_and_soft_light_differ_as_they_should(rigs: dict[str, Light]) -> None:
    hard, soft = (small(rigs[name]) for name in ("bare-flash", "dome"))
    subject = beetle()
    case = np.array([each.surface.name == "wing case" for each in subject.solids])
    leaf = np.array([each.surface.name == "leaf" for each in subject.solids])
    assert (hard.solid == soft.solid).all()
    on_case, on_leaf = case[hard.solid] & (hard.solid != NOTHING), leaf[hard.solid] & (hard.solid != NOTHING)
    # The mirror image of the small window burns out; a shadow under the beetle is all but black.
    assert hard.linear[on_case].max() > 2
    assert soft.linear[on_case].max() < 1.5
    deepest = [np.quantile(each.linear[on_leaf, 1], 0.02) / np.median(each.linear[on_leaf, 1]) for each in (hard, soft)]
    assert deepest[0] < 0.2
    assert deepest[1] > 1.5 * deepest[0]
    for each in (hard, soft):
        assert np.isfinite(each.linear).all()
        assert (each.linear >= 0).all()


def test_exposure_is_by_the_white_card(rigs: dict[str, Light]) -> None:
    light = rigs["dome"]
    view = view_of(light)
    once = illumination_of(light, view)
    facing = float(light.at((0, 0, 0)).weight @ np.maximum(light.at((0, 0, 0)).direction[:, 2], 0))
    assert once.white == pytest.approx(facing / np.pi)
    assert once.weight @ np.maximum(_ways(once)[:, 2], 0) == pytest.approx(facing, rel=0.02)
    double = Illumination(
        once.position, 2 * once.weight, once.reference, lambda start, way: 2 * once.mirrored(start, way), 2 * once.white
    )
    case = wing_case()
    one, two = (shot(case, each, frame=7.0, pixels=40).linear for each in (once, double))
    assert two == pytest.approx(one, rel=1e-5)


def _ways(illumination: Illumination) -> np.ndarray:
    apart = illumination.position - illumination.reference
    return apart / np.linalg.norm(apart, axis=1)[:, None]


def test_the_rigs_own_leaf_makes_room(rigs: dict[str, Light]) -> None:
    light = rigs["dome"]
    view = view_of(light)
    near, all_of_it = (illumination_of(light, view, room=room) for room in (9.0, 0.0))
    assert np.linalg.norm(near.position, axis=1).min() >= 9
    assert np.linalg.norm(all_of_it.position, axis=1).min() < 9
    assert near.white == all_of_it.white


def test_progress_runs_from_nothing_to_all() -> None:
    told: list[float] = []
    shot(wing_case(), lamp((0, 0, FAR)), pixels=10, across=2, progress=told.append)
    assert told[0] == 0
    assert told[-1] == 1
    assert told == sorted(told)


def test_a_preview_has_its_size(rigs: dict[str, Light]) -> None:
    light = rigs["bare-flash"]
    portrait = portrait_of(illumination_of(light, view_of(light)), light.placed)
    assert portrait.linear.shape == (360, 480, 3)
    assert portrait.frame == FRAME


# sRGB of IEC 61966-2-1, from memory: 0.0031308 -> 0.04045 (both pieces meet there), 0.5 -> 0.7354, 0.18 -> 0.4614.
def test_the_picture_is_the_portrait_by_the_stated_curve() -> None:
    linear = np.zeros((3, 4, 3))
    linear[0, :, :] = np.array([0.0031308, 0.18, 0.5, 7.0])[:, None]
    figure = portrait_picture(Portrait(linear, FRAME), title="Foam <arc> & co.")
    axes = figure.axes[0]
    shown = np.asarray(axes.images[0].get_array(), float)
    assert shown[0, :, 0] == pytest.approx([0.04045, 0.4614, 0.7354, 1.0], abs=1e-4)
    assert axes.images[0].get_gid() == "portrait"
    assert axes.images[0].get_interpolation() == "none"
    brighter = np.asarray(portrait_picture(Portrait(linear, FRAME), stops=1.0).axes[0].images[0].get_array(), float)
    assert brighter[0, :, 0] == pytest.approx([0.0724, 0.6343, 1.0, 1.0], abs=2e-4)  # twice the light
    text = alternative_text(figure)
    assert EXPOSURE in text.lower()
    assert "Foam <arc> & co." in text
    assert "8.3 %" in text  # one pixel of twelve


def test_the_scale_bar_is_two_millimetres_long() -> None:
    axes = portrait_picture(Portrait(np.zeros((30, 40, 3)), FRAME)).axes[0]
    (bar,) = (line for line in axes.lines if line.get_gid() == "scale bar")
    assert np.ptp(bar.get_xdata()) == pytest.approx(2.0)
    left, right, *_ = axes.images[0].get_extent()
    assert right - left == pytest.approx(FRAME[0])
    assert any(text.get_text() == "2 mm" for text in axes.texts)


def test_a_picture_can_be_drawn_into_given_axes(tmp_path: Path) -> None:
    from lightsim.picture.style import canvas

    figure, axes = canvas(None)
    assert portrait_picture(Portrait(np.full((3, 4, 3), 0.2), FRAME), axes=axes) is figure
    figure.savefig(tmp_path / "portrait.svg")
    assert "<image" in (tmp_path / "portrait.svg").read_text()
