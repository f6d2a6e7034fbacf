"""The ready designs: all there, usable as they stand, safe to copy, and seen alike by both estimators."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray
from scipy import stats

from lightsim.light import backward
from lightsim.light.cast import caster
from lightsim.light.estimate import Estimate
from lightsim.light.forward import trace
from lightsim.light.near import arrivals
from lightsim.light.scene import build
from lightsim.measure.illuminance import illuminance
from lightsim.rig.library import design_path, designs
from lightsim.rig.load import LoadedRig, load, loads, placed
from lightsim.rig.place import Part, PlacedRig

# The list we promise to users.
PROMISED = {
    "bare-flash": "bare",
    "flat-paper": "hole over the lens",
    "paper-arc": "arc from head to lens",
    "flat-foam": "foam",
    "foam-arc": "foam arc",
    "foldable-panel": "hung from the lens",
    "white-box": "white box",
    "grey-box": "grey box",
    "foil-box": "foil-lined box",
    "baffle-box": "inner baffle",
    "card-funnel": "card funnel",
    "lens-cone": "cone collar around the lens",
    "dome": "dome",
    "side-wings": "side wings",
    "fill-card": "fill card below",
    "two-heads": "two heads",
    "mesh-hood": "mesh",
}
NAMES = sorted({*PROMISED, *(design.name for design in designs())})
CASES = [(name, index) for name in NAMES for index in (0, 1)]

SUBJECT = np.zeros(3)
FACING_LENS = np.array([0.0, 0.0, 1.0])
LEAST_CLEARANCE = 15.0  # mm, room for a live subject and the leaf it sits on; common practice, no source
LEAST_GAP = 5.0  # mm, window of the head to paper or foam before it; common practice, no source


@cache
def loaded(name: str) -> LoadedRig:
    return load(name)


@cache
def at(name: str, index: int) -> PlacedRig:
    return placed(loaded(name), index)


def of_role(rig: PlacedRig, role: str) -> list[Part]:
    return [part for part in rig.parts if part.role == role]


def corners(parts: list[Part]) -> NDArray[np.float64]:
    """Triangles of parts, (m, 3, 3) mm."""
    return np.concatenate([np.empty((0, 3, 3)), *(part.mesh.vertices[part.mesh.faces] for part in parts)])


def blocked(parts: list[Part], start: NDArray[np.float64], end: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether parts stand in the straight way from start to end, both (n, 3) mm, (n,)."""
    triangle = corners(parts)
    if not len(triangle):
        return np.zeros(len(start), bool)
    cast = caster(triangle.reshape(-1, 3), np.arange(3 * len(triangle)).reshape(-1, 3))
    way = end - start
    reach = np.linalg.norm(way, axis=1)
    direction = way / reach[:, None]
    return cast.blocked(start.astype(np.float32), direction.astype(np.float32), reach.astype(np.float32))


def view(rig: PlacedRig) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Straight ways from points of the whole lens front, rim included, to points of the whole frame, edges included."""
    turn = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    radius = rig.rig.lens.diameter / 2 * np.array([0.0, 0.25, 0.5, 0.75, 0.9, 1.0])
    ring, angle = (grid.ravel() for grid in np.meshgrid(radius, turn))
    front = np.stack([ring * np.cos(angle), ring * np.sin(angle), np.full_like(ring, rig.working_distance)], axis=1)
    width, height = rig.field
    across, up = (grid.ravel() for grid in np.meshgrid(np.linspace(-0.5, 0.5, 9), np.linspace(-0.5, 0.5, 7)))
    frame = np.stack([across * width, up * height, np.zeros_like(across)], axis=1)
    return np.repeat(front, len(frame), axis=0), np.tile(frame, (len(front), 1))


def nearest(point: NDArray[np.float64], parts: list[Part]) -> float:
    """Least distance from point (3,) to parts, mm; by trimesh, which the engine does not use for this."""
    triangle = corners(parts)
    foot = trimesh.triangles.closest_point(triangle, np.repeat(point[None], len(triangle), axis=0))
    return float(np.linalg.norm(foot - point, axis=1).min())


def test_all_promised_designs_are_there() -> None:
    # The promise is the list in the README.
    assert len(designs()) >= 15
    assert set(PROMISED) <= {design.name for design in designs()}


@pytest.mark.parametrize("name, words", PROMISED.items())
def test_a_design_is_what_its_name_says(name: str, words: str) -> None:
    design = next(design for design in designs() if design.name == name)
    assert words in design.title.lower() or words in design.about.lower()


@pytest.mark.parametrize("name", NAMES)
def test_designs_tell_users_what_they_need(name: str) -> None:
    # Rules of ours for files that people copy: a description that fits a line or two, and cautions at the place.
    rig, text = loaded(name).rig, design_path(name).read_text(encoding="utf-8")
    assert 40 <= len(rig.about) <= 260
    assert rig.about.rstrip().endswith(".")
    caution = " ".join(line.lstrip("# ") for line in text.splitlines() if line.startswith("#"))
    assert "CAUTION" in caution
    assert "eyes" in caution
    if rig.diffuser:
        assert "gets hot" in caution or "get hot" in caution
    assert max(len(line) for line in text.splitlines()) <= 120
    assert text.isascii()


@pytest.mark.parametrize("name, index", CASES)
def test_designs_load_and_place_at_each_magnification(name: str, index: int) -> None:
    rig = at(name, index)
    assert rig.magnification == (1.0, 2.0)[index]
    assert len(of_role(rig, "diffuser")) == len(loaded(name).rig.diffuser)
    assert bool(of_role(rig, "diffuser")) == (name != "bare-flash")
    assert rig.notes == ()  # no mesh of ours needs a repair
    assert sum(head.share for head in rig.heads) == pytest.approx(1)


@pytest.mark.parametrize("name", NAMES)
def test_scenes_differ_in_nothing_but_head_and_diffuser(name: str) -> None:
    # Otherwise a comparison would compare more than diffusers.
    rig, bare = loaded(name).rig, loaded("bare-flash").rig
    assert (rig.camera, rig.lens, rig.subject) == (bare.camera, bare.lens, bare.subject)
    assert rig.surroundings == bare.surroundings
    # As much light in all: energy goes as the square of the guide number (inverse-square law).
    strength = sum(head.guide_number**2 for head in rig.head)
    assert strength == pytest.approx(sum(head.guide_number**2 for head in bare.head), rel=0.02)
    if len(rig.head) == 1:
        assert rig.head == bare.head


@pytest.mark.parametrize("name, index", CASES)
def test_nothing_stands_in_the_view_of_the_lens(name: str, index: int) -> None:
    # Straight lines between lens front and frame: derived here.
    rig = at(name, index)
    front, frame = view(rig)
    hidden = blocked(of_role(rig, "diffuser"), front, frame)
    assert not hidden.any(), f"{hidden.mean():.2%} of the view"


def test_a_panel_before_the_lens_is_noticed() -> None:
    # The same check must fail where it should: the hole left out and the sheet put before the lens front.
    text = design_path("flat-paper").read_text(encoding="utf-8")
    spoilt = "\n".join(line for line in text.splitlines() if not line.startswith("holes"))
    rig = placed(loads(spoilt.replace("toward_lens = 3 ", "toward_lens = -3 ")))
    assert blocked(of_role(rig, "diffuser"), *view(rig)).all()


@pytest.mark.parametrize("name, index", CASES)
def test_diffusers_keep_off_the_subject(name: str, index: int) -> None:
    rig = at(name, index)
    width, height = rig.field
    places = [SUBJECT, *(np.array([x * width, y * height, 0.0]) / 2 for x in (-1, 1) for y in (-1, 1))]
    diffuser = of_role(rig, "diffuser")
    assert all(nearest(place, diffuser) >= LEAST_CLEARANCE for place in places if diffuser)


@pytest.mark.parametrize("name, index", CASES)
def test_paper_and_foam_keep_off_the_hot_window(name: str, index: int) -> None:
    # Straight ahead of the window, as the caution in the files says.
    rig = at(name, index)
    step = np.linspace(-0.5, 0.5, 11)
    for head in rig.heads:
        across, up = (grid.ravel()[:, None] for grid in np.meshgrid(step * head.width, step * head.height))
        window = head.centre + across * head.right + up * head.up
        assert not blocked(of_role(rig, "diffuser"), window, window + LEAST_GAP * head.forward).any()


@pytest.mark.parametrize("name, index", CASES)
def test_the_leaf_keeps_subject_and_background_free(name: str, index: int) -> None:
    # Subject and background points must lie free in the light, or their figures would be about the leaf.
    rig = at(name, index)
    leaf = of_role(rig, "surroundings")
    points = [SUBJECT, *(np.array([0.0, 0.0, -behind]) for behind in rig.rig.subject.background)]
    middles = [part.mesh.vertices.mean(axis=0) for part in of_role(rig, "diffuser")]
    ends = np.array([*(head.centre for head in rig.heads), *(middle for middle in middles if middle[1] > 0)])
    for point in points:
        assert nearest(point, leaf) > 3.0
        assert not blocked(leaf, np.repeat(point[None], len(ends), axis=0), ends).any()


@dataclass(frozen=True)
class Effort:
    """How much work each estimator gets: fixed beforehand, because stopping on one's own spread is dishonest."""

    points: int = 4096  # forward paths per replicate
    replicates: int = 16  # forward
    backward: int = 16  # replicates of 8192 paths


# Backward paths in boxes seldom find the window, and spike where they do so from close by. A film's narrow lobe sends
# few of them to the window as well.
EFFORTS = {
    "baffle-box": Effort(points=8192, backward=256),
    "card-funnel": Effort(backward=96),
    "dome": Effort(points=8192, backward=24),
    "fill-card": Effort(backward=32),
    "flat-film": Effort(backward=112),
    "flat-foam": Effort(backward=32),
    "foil-box": Effort(backward=480),
    "foldable-panel": Effort(backward=40),
    "grey-box": Effort(backward=32),
    "lens-cone": Effort(points=8192, backward=48),
    "mesh-hood": Effort(points=8192, backward=32),
    "paper-arc": Effort(backward=64),
    "two-heads": Effort(points=1024, backward=64),
    "two-layers": Effort(points=8192, backward=64),
    "white-box": Effort(backward=160),
}
# With so few paths per replicate the wings count as near surfaces, and the head lights them at grazing incidence.
GRAZING = ("side-wings", 1, Effort(points=1024, replicates=192, backward=96))
FAMILY = 1e-3  # chance that the whole table cries wolf


def welch(one: Estimate, other: Estimate) -> tuple[float, float]:
    """Difference over joint standard error, and its effective degrees of freedom."""
    squares = np.array([one.standard_error**2, other.standard_error**2])
    freedom = np.array([one.replicates, other.replicates]) - 1
    joint = squares.sum()
    return float((one.value - other.value) / np.sqrt(joint)), float(joint**2 / (squares**2 / freedom).sum())


def test_forward_and_backward_agree_on_all_designs() -> None:
    """Derived here: two unbiased estimators of one number must agree within their joint error.

    t quantiles with the degrees of freedom of Welch and Satterthwaite (JCGM 100, G.4, from memory), Bonferroni for the
    number of rows.
    """
    rows, failed, blind = [], [], []
    contests = [*((name, 0, EFFORTS.get(name, Effort())) for name in NAMES), GRAZING]
    for number, (design, index, effort) in enumerate(contests):
        rig = at(design, index)
        name = f"{design} {rig.magnification:g}x"
        scene = build(rig.parts, rig.heads)
        cloud = trace(scene, points=effort.points, replicates=effort.replicates, seed=2000 + number)
        one = illuminance(arrivals(cloud, SUBJECT), FACING_LENS)
        other = backward.illuminance(
            scene, SUBJECT, FACING_LENS, paths=8192, replicates=effort.backward, seed=3000 + number
        )
        score, freedom = welch(one, other)
        allowed = float(stats.t.ppf(1 - FAMILY / (2 * len(contests)), freedom))
        joint = np.hypot(one.standard_error, other.standard_error) / one.value
        errors = f"{one.standard_error / one.value:8.3%} {other.standard_error / other.value:8.3%}"
        rows.append(
            f"{name:17} {1e6 * one.value:9.4f} {1e6 * other.value:9.4f} {errors} {other.value / one.value - 1:+8.3%}"
            f" {score:+7.2f} {freedom:6.1f} {allowed:7.2f}"
        )
        if abs(score) > allowed:
            failed.append(name)
        if joint > 0.006:
            blind.append(name)
    head = f"{'design':17} {'forward':>9} {'backward':>9} {'error':>8} {'error':>8} {'apart':>8} {'t':>7} {'df':>6}"
    table = "\n".join(["", f"{head} {'allowed':>7}", *rows])
    print(table)
    assert not failed, table
    assert not blind, f"too noisy to see half a per cent: {blind}{table}"
