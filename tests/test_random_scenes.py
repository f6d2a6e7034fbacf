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
from lightsim.rig.beam import Beam
from lightsim.rig.mesh import Mesh
from lightsim.rig.place import Head, Part, rotation
from lightsim.sheet import Sheet

SCENES, REPLICATES = 50, 16
SHARPEST = 0.05  # relative; an error bar above it says that few paths met a spike, and is none to judge by
FAR, AGAIN = 3.5, 16  # joint standard errors beyond which a scene is asked again, and with how many times the paths
PASSING = ("straight", "pores", "forward_transmittance", "diffuse_transmittance")
LEVEL = 0.01  # chance that an honest pair of estimators fails anywhere among all scenes


def material(rng) -> Sheet:
    """A sheet with any lobes that may go together, whose shares sum to at most 1 on either side."""
    clear, cloth, film, coated, metal = rng.random(5) < (0.25, 0.2, 0.4, 0.3, 0.4)
    # No lobe is so faint that light by way of it comes once in a thousand paths.
    weight = rng.uniform(0.2, 1, 4) * (clear, cloth, film, True)
    through = dict(zip(PASSING, rng.uniform(0.1, 0.9) * weight / weight.sum(), strict=True))
    left = 1 - sum(through.values())
    lining = (metal and not clear and not cloth) & (rng.random(2) < 0.7)  # a metal lining is opaque
    coat = coated & ~lining & (rng.random(2) < 0.7)
    metallic, glossy = lining * rng.uniform(0.3, 0.9, 2) * left, coat * rng.uniform(0.1, 0.3, 2) * left
    diffuse = rng.uniform(0, 1, 2) * (left - metallic - glossy)
    return Sheet(
        **through,
        pore_depth=rng.uniform(0, 2),
        half_value_angle=np.exp(rng.uniform(0, np.log(60))),
        diffuse_reflectance=tuple(diffuse),
        glossy_reflectance=tuple(glossy),
        metallic_reflectance=tuple(metallic),
        roughness=np.exp(rng.uniform(np.log(0.05), np.log(0.5))),
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
    point = rng.uniform(-40, 40, 3)
    # Sharp lobes right before the point are met by few paths either way.
    while (scene.distance(point, np.full(len(scene.parts), 15.0))[scene.sharp_parts] < 15).any():
        point = rng.uniform(-40, 40, 3)
    return scene, point, normal / np.linalg.norm(normal)


def joint_errors_apart(seed: int, *, effort: int) -> float | None:
    """Forward less backward illuminance of one scene in joint standard errors; None if either knows it badly."""
    scene, point, normal = random_scene(seed)
    cloud = trace(scene, points=4096 * effort, replicates=REPLICATES, seed=seed + 1000 * effort)
    forward = mean_of(plane_samples(arrivals(cloud, point), normal))
    second = backward.illuminance(
        scene, point, normal, paths=8192 * effort, replicates=REPLICATES, seed=seed + 1000 * effort
    )
    if max(forward.standard_error, second.standard_error) >= SHARPEST * max(forward.value, second.value):
        return None
    return (forward.value - second.value) / np.hypot(forward.standard_error, second.standard_error)


@pytest.fixture(scope="module")
def apart() -> np.ndarray:
    """Joint standard errors between the estimators, of all scenes that both know well."""
    found = [joint_errors_apart(seed, effort=1) for seed in range(SCENES)]
    # Light that comes once in thousands of paths, as by a lobe of 2 degrees, is in no error bar until it has come:
    # who is far off has a second chance with more paths and other random numbers. Fixed beforehand, and a real
    # disagreement is there again.
    found = [
        joint_errors_apart(seed, effort=AGAIN) if score is not None and abs(score) > FAR else score
        for seed, score in enumerate(found)
    ]
    return np.array([score for score in found if score is not None])


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
