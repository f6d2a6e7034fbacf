"""Small scenes put together at random, by the forward cloud and by the backward estimator.

Derived here: two unbiased estimators of one number must agree. They share materials, beams and geometry, not the way
light is followed, so this is a check of sides, shares, normalisation and what lies between, not of the formulae.
"""

import numpy as np
import pytest
from scenes import disc, hollow_box, sheet_part, window_head
from scipy import stats

from lightsim.light import backward
from lightsim.light.estimate import mean_of
from lightsim.light.forward import trace
from lightsim.light.near import arrivals
from lightsim.light.scene import Scene, build
from lightsim.measure.illuminance import plane_samples
from lightsim.rig.mesh import Mesh
from lightsim.rig.models import Beam
from lightsim.rig.place import Head, Part, rotation
from lightsim.sheet import Sheet

SCENES, REPLICATES = 60, 16
SHARPEST = 0.05  # relative; an error bar above it says that few paths met a spike, and is none to judge by
LEVEL = 0.01  # chance that an honest pair of estimators fails anywhere among all scenes


def material(rng) -> Sheet:
    """A sheet whose shares sum to at most 1 on either side: opaque, clear, metal, or metal over translucent card."""
    kind = rng.integers(4)
    straight = rng.uniform(0.05, 0.8) if kind == 1 else 0.0
    through = 0.0 if kind == 2 else rng.uniform(0, 0.7 * (1 - straight))
    metal = rng.uniform(0, 0.7 * (1 - through), 2) if kind > 1 else np.zeros(2)
    back = rng.uniform(0, 1, 2) * (1 - straight - through - metal)
    return Sheet(
        straight=straight,
        diffuse_transmittance=through,
        diffuse_reflectance=tuple(back),
        metallic_reflectance=tuple(metal),
        roughness=rng.uniform(0.2, 0.5),
    )


def moved(mesh: Mesh, turned, shift) -> Mesh:
    middle = (mesh.vertices.min(axis=0) + mesh.vertices.max(axis=0)) / 2
    return Mesh((mesh.vertices - middle) @ turned.T + middle + shift, mesh.faces)


def part(rng, number: int) -> Part:
    kind, low, sheet = rng.integers(3), rng.uniform(-20, 110), material(rng)
    if kind == 0:
        made = sheet_part(low, *rng.uniform(30, 150, 2), sheet)
    elif kind == 1:
        made = disc(distance=low, radius=rng.uniform(15, 70), sheet=sheet, sides=12)
    else:
        ends = {"front": bool(rng.integers(2)), "back": bool(rng.integers(2))}
        made = hollow_box(*rng.uniform(60, 160, 2), low, low + rng.uniform(30, 100), sheet, **ends)
    turned = rotation(tilt=rng.uniform(-60, 60), turn=rng.uniform(-60, 60), roll=rng.uniform(-180, 180))
    return Part(f"part {number}", "diffuser", moved(made.mesh, turned, rng.uniform(-40, 40, 3)), sheet)


def beam(rng) -> Beam:
    if rng.integers(2):
        return Beam(cos_power=rng.uniform(0, 20))
    angle = np.append(0.0, np.sort(rng.uniform(3, 90, 4)))
    intensity = np.append(1.0, rng.uniform(0, 2, 4))
    angle[-1] = 90 if rng.integers(2) else angle[-1]
    intensity[rng.integers(1, 5)] = 0  # a dark ring, or an edge
    return Beam(angle=tuple(angle), intensity=tuple(intensity))


def head(rng, name: str, share: float) -> Head:
    """A head 100 to 220 mm off on the lens's side, which looks near the subject."""
    centre = rng.standard_normal(3)
    centre[2] = abs(centre[2]) + 0.3
    centre *= rng.uniform(100, 220) / np.linalg.norm(centre)
    ahead = rng.uniform(-40, 40, 3) - centre
    ahead /= np.linalg.norm(ahead)
    tilt, turn = np.degrees(np.arcsin(-ahead[1])), np.degrees(np.arctan2(ahead[0], -ahead[2]))
    turned = rotation(tilt=tilt, turn=turn, roll=rng.uniform(-90, 90))
    width, height = rng.uniform(10, 60, 2)
    glass = Sheet(diffuse_reflectance=(rng.uniform(0, 0.9), 0.0))
    return window_head(
        name=name, centre=centre, turned=turned, width=width, height=height, beam=beam(rng), share=share, glass=glass
    )


def random_scene(seed: int) -> tuple[Scene, np.ndarray, np.ndarray]:
    """One to four parts, one or two heads, a point among them and a plane's normal."""
    rng = np.random.default_rng([seed, 77])
    share = rng.uniform(0.1, 0.9) if rng.integers(2) else 1.0
    heads = [head(rng, "first", share)] + ([head(rng, "second", 1 - share)] if share < 1 else [])
    scene = build([part(rng, number) for number in range(rng.integers(1, 5))], heads)
    normal = rng.standard_normal(3)
    return scene, rng.uniform(-40, 40, 3), normal / np.linalg.norm(normal)


@pytest.fixture(scope="module")
def apart() -> np.ndarray:
    """Forward less backward illuminance in joint standard errors, of all scenes that both know well."""
    found = []
    for seed in range(SCENES):
        scene, point, normal = random_scene(seed)
        cloud = trace(scene, points=4096, replicates=REPLICATES, seed=seed)
        forward = mean_of(plane_samples(arrivals(cloud, point), normal))
        second = backward.illuminance(scene, point, normal, paths=8192, replicates=REPLICATES, seed=seed)
        if max(forward.standard_error, second.standard_error) < SHARPEST * max(forward.value, second.value):
            joint = np.hypot(forward.standard_error, second.standard_error)
            found.append((forward.value - second.value) / joint)
    return np.array(found)


def test_most_random_scenes_are_known_well_enough(apart):
    # Derived here: too few left would make the other two checks say nothing.
    assert len(apart) >= SCENES / 2


def test_no_random_scene_tells_the_estimators_apart(apart):
    # Bonferroni: LEVEL shared among the scenes; Student t of the replicates of one, the wider for two.
    assert np.abs(apart).max() < stats.t.ppf(1 - LEVEL / (2 * SCENES), REPLICATES - 1)


def test_no_drift_between_the_estimators_over_random_scenes(apart):
    # Derived here: the mean of n such t values is normal about 0, each of variance (R - 1)/(R - 3).
    spread = np.sqrt((REPLICATES - 1) / (REPLICATES - 3) / len(apart))
    assert abs(apart.mean()) < stats.norm.ppf(1 - LEVEL / 2) * spread
    # Their mean square is near its expectation: three standard deviations of a chi-square of n.
    assert np.mean(apart**2) < (REPLICATES - 1) / (REPLICATES - 3) * (1 + 3 * np.sqrt(2 / len(apart)))
