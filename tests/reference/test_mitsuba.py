"""A second opinion: an installed general-purpose renderer on the same geometry, the rest its own.

Scenes of its stock alone run in its scalar mode too, where there is no LLVM.
"""

import numpy as np
import pytest

from lightsim.light.estimate import Estimate, by_replicate, mean_of
from lightsim.light.forward import trace
from lightsim.light.near import arrivals
from lightsim.light.scene import Scene

from .scenes import NOT_IN_STOCK, SCENES, WINDOW, bare_head

mi = pytest.importorskip("mitsuba", reason="needs the extra: pip install lightsim[reference]")
dr = pytest.importorskip("drjit")
VECTORISED = dr.has_backend(dr.JitBackend.LLVM)
mi.set_variant("llvm_ad_rgb" if VECTORISED else "scalar_rgb")

from .mitsuba_scene import illuminance, translate  # noqa: E402  (only once a variant is chosen)

MOST_DIFFERENCE = 0.005  # of E
MOST_ERROR = 0.0015  # of E: one standard error of either side
SIGMAS = 4.0  # 12 scenes: a false alarm in 1,300 runs if errors are normal

# Paths of the renderer and, per replicate, of ours: what MOST_ERROR takes in each scene, with a margin.
EFFORT = {
    "flat sheet": (500_000, 8192),
    "sheet with hole and barrel": (4_000_000, 16_384),
    "white box": (4_000_000, 16_384),
    "paper arc": (800_000, 8192),
    "baffle box": (6_000_000, 32_768),
    "foil-lined box, one facet's light": (6_000_000, 16_384),
    "foil-lined box": (6_000_000, 16_384),
    "straight-through sheet aslant": (200_000, 4096),
    "two sheets 15 mm apart": (12_000_000, 32_768),
    "frosted film": (4_000_000, 32_768),
    "open foil box": (2_000_000, 65_536),
    "open coated-card box": (4_000_000, 16_384),
}


def ours(scene: Scene, *, points: int) -> Estimate:
    """Illuminance at the subject on a plane that faces the lens, by the forward cloud."""
    seen = arrivals(trace(scene, points=points, replicates=16, seed=7), np.zeros(3))
    received = seen.weight * np.maximum(seen.direction[:, 2], 0)
    return mean_of(by_replicate(received, seen.replicate, 16))


@pytest.mark.parametrize("name", SCENES)
def test_the_reference_renderer_agrees(name: str) -> None:
    agrees(SCENES[name](), *EFFORT[name])


# Straight-through light, a blurring film, coats, and what metal reflects by more than one facet: plug-ins in Python.
@pytest.mark.skipif(not VECTORISED, reason="needs LLVM, which the vectorised mode of Mitsuba looks for")
@pytest.mark.parametrize("name", NOT_IN_STOCK)
def test_the_reference_renderer_agrees_on_sheets_put_into_its_words(name: str) -> None:
    agrees(NOT_IN_STOCK[name](), *EFFORT[name])


def agrees(scene: Scene, samples: int, points: int) -> None:
    theirs = illuminance(translate(scene), samples=samples, seed=1)
    own = ours(scene, points=points)
    assert max(theirs.standard_error, own.standard_error) <= MOST_ERROR * theirs.value
    difference = abs(own.value - theirs.value)
    assert difference < SIGMAS * np.hypot(theirs.standard_error, own.standard_error)
    assert difference < MOST_DIFFERENCE * theirs.value


# E = (m + 1) / (2 pi A) int cos^(m + 1) / r^2 dA over the window, square on at distance d, cos = d / r, by
# Gauss-Legendre quadrature (derived here): the translation's lumens and its beam, before they are relied on.
@pytest.mark.parametrize("power", [1.0, 5.0])
def test_translated_head_gives_one_lumen(power: float) -> None:
    distance = 80.0
    node, weight = np.polynomial.legendre.leggauss(24)
    right, up = np.meshgrid(node * WINDOW[0] / 2, node * WINDOW[1] / 2)
    square = right**2 + up**2 + distance**2
    mean = (np.outer(weight, weight) / 4 * (distance / np.sqrt(square)) ** (power + 1) / square).sum()
    exact = (power + 1) / (2 * np.pi) * mean
    theirs = illuminance(translate(bare_head(distance=distance, power=power)), samples=1_000_000)
    assert theirs.standard_error <= MOST_ERROR * exact
    assert abs(theirs.value - exact) < SIGMAS * theirs.standard_error
