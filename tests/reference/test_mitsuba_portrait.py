"""The renderer of the portrait against an installed general-purpose renderer: same lights, cameras, surfaces."""

import numpy as np
import pytest

from lightsim.light.arrivals import Arrivals
from lightsim.picture.illumination import Illumination, resampled
from lightsim.picture.render import NOTHING, render
from lightsim.picture.solids import Surface, ellipsoid, sheet, subject_of

mi = pytest.importorskip("mitsuba", reason="needs the extra: pip install lightsim[reference]")
dr = pytest.importorskip("drjit")
mi.set_variant("llvm_ad_rgb" if dr.has_backend(dr.JitBackend.LLVM) else "scalar_rgb")

from . import mitsuba_portrait as theirs  # noqa: E402  (only once a variant is chosen)

MOST = 0.01  # mean difference over mean luminance, of all pixels of the subject
PIXELS, CAMERA = 48, 20.0
# Soft patches, invented: direction, width as 1 / variance, luminance.
PATCHES = (
    ((0.2, 0.7, 0.7), 14.0, 1.0),
    ((-0.9, 0.1, 0.5), 30.0, 2.5),
    ((0.5, -0.8, 0.1), 8.0, 0.4),
    ((0.8, 0.1, -0.6), 20.0, 1.5),
)


def luminance(direction: np.ndarray) -> np.ndarray:
    """The map: a sum of soft patches, (...)."""
    value = np.full(direction.shape[:-1], 0.02)
    for middle, narrow, bright in PATCHES:
        axis = np.array(middle) / np.linalg.norm(middle)
        value += bright * np.exp(narrow * (direction @ axis - 1))
    return value


def far_light() -> Illumination:
    """The map as arrivals, resampled as those of a rig are."""
    count = 60_000
    height = 1 - 2 * (np.arange(count) + 0.5) / count
    turn = np.arange(count) * np.pi * (3 - np.sqrt(5))
    flat = np.sqrt(1 - height**2)
    way = np.stack([flat * np.cos(turn), height, flat * np.sin(turn)], axis=1)
    arrivals = Arrivals(
        point=np.zeros(3),
        direction=way,
        origin=5000.0 * way,
        weight=luminance(way) * 4 * np.pi / count,
        part=np.zeros(count, np.int32),
        straight=np.zeros(count, bool),
        luminance=np.zeros(count),
        replicate=np.zeros(count, np.int32),
        replicates=1,
    )
    return Illumination(*resampled(arrivals, 4096), np.zeros(3), lambda start, ray: luminance(ray), 1.0)


def agree(own: np.ndarray, other: list[np.ndarray], chosen: np.ndarray) -> None:
    """Mean relative difference below MOST, and the other renderer's own noise, by two runs of it, well below that."""
    mean = np.mean(other, axis=0)[chosen]
    noise = np.abs(other[0] - other[1])[chosen].sum() / 2 / mean.sum()
    difference = np.abs(own[chosen] - mean).sum() / mean.sum()
    assert noise < 0.6 * MOST
    assert difference < MOST
    assert own[chosen].sum() == pytest.approx(mean.sum(), rel=0.005)


@pytest.mark.parametrize(
    "surface",
    [Surface("matt", (0.5, 0.2, 0.8)), Surface("glossy", (0.45, 0.1, 0.7), 1.56)],
    ids=lambda surface: surface.name,
)
def test_balls_under_a_luminance_map(surface: Surface) -> None:
    subject = subject_of([ellipsoid(surface, centre=(0, 0, 0), half_axes=(1, 1, 1), around=160)])
    own = render(
        subject,
        far_light(),
        camera=(0, 0, CAMERA),
        frame=(2.2, 2.2),
        pixels=(PIXELS, PIXELS),
        across=4,
        samples=2,
        bounces=0,
    )
    things = {
        "light": theirs.surroundings(luminance(theirs.map_directions())),
        "ball": theirs.ball(surface, centre=(0.0, 0.0, 0.0), radius=1.0),
    }
    other = [
        theirs.picture(things, camera=CAMERA, frame=2.2, pixels=PIXELS, depth=2, samples=1024, seed=seed)
        for seed in (1, 2)
    ]
    row, column = np.mgrid[:PIXELS, :PIXELS] + 0.5
    inside = np.hypot(row - PIXELS / 2, column - PIXELS / 2) < PIXELS / 2.2 - 1.5  # without the pixels of the rim
    agree(own.linear, other, inside)


# A ball over a floor, lit by a patch: direct light with the ball's shadow, then a bounce between the two.
@pytest.mark.parametrize("bounces", [0, 1])
def test_a_ball_throws_its_shadow_on_a_floor(bounces: int) -> None:
    red, grey = Surface("red", (0.7, 0.2, 0.1)), Surface("grey", (0.6, 0.6, 0.6))
    centre, side = np.array([60.0, 30.0, 90.0]), 40.0
    ahead = -centre / np.linalg.norm(centre)
    aside = np.cross([0.0, 1.0, 0.0], ahead)
    aside /= np.linalg.norm(aside)
    step = (np.arange(48) + 0.5) / 48 - 0.5
    u, v = (each.ravel() * side for each in np.meshgrid(step, step))
    place = centre + u[:, None] * aside + v[:, None] * np.cross(ahead, aside)
    square = (place**2).sum(axis=1)
    weight = -(place @ ahead) / np.sqrt(square) * side**2 / len(place) / square  # of luminance 1
    light = Illumination(place, weight, np.zeros(3), lambda start, way: np.zeros(len(way)), 1.0)
    half = 6.0
    subject = subject_of(
        [
            ellipsoid(red, centre=(0, 0, 1.1), half_axes=(1, 1, 1), around=96),
            sheet(grey, lambda x, y: half * np.stack([x, y, 0 * x], axis=1), along=121, across=121),
        ]
    )
    own = render(
        subject,
        light,
        camera=(0, 0, CAMERA),
        frame=(6.0, 6.0),
        pixels=(PIXELS, PIXELS),
        across=4,
        samples=4,
        more=12,
        bounces=bounces,
    )
    things = {
        "light": theirs.patch(centre=centre, side=side, luminance=1.0),
        "ball": theirs.ball(red, centre=(0.0, 0.0, 1.1), radius=1.0),
        "floor": theirs.floor(grey, half=half),
    }
    other = [
        theirs.picture(things, camera=CAMERA, frame=6.0, pixels=PIXELS, depth=2 + bounces, samples=512, seed=seed)
        for seed in (1, 2)
    ]
    assert (own.solid != NOTHING).all()
    agree(own.linear, other, np.ones((PIXELS, PIXELS), bool))
    shadow = other[0][..., 2].min() / np.median(other[0][..., 2])
    assert shadow < (0.02 if bounces == 0 else 0.2)
