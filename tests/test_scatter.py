"""What sheets do to light: energy, reciprocity, printed values, and sampling against evaluation."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import expn
from scipy.stats import chi2

from lightsim.light.beam import intensity
from lightsim.light.cloud import Hits
from lightsim.light.gather import leaving
from lightsim.light.scene import Scene, build
from lightsim.rig.mesh import Mesh
from lightsim.rig.models import Beam
from lightsim.rig.place import Part
from lightsim.sheet import Sheet
from lightsim.sheet.scatter import (
    Vector,
    ggx,
    interaction,
    lambertian,
    mean_interaction,
    metal_lobe,
    reflect_off_metal,
    shadowing,
    straight_through,
    tabulate,
    tangents,
)

ANGLES = [0, 5, 15, 25, 35, 45, 55, 65, 75, 82, 88]  # degrees from the normal
ROUGHNESS = [0.05, 0.1, 0.15, 0.3, 0.5]
SHEETS = {
    "paper": Sheet(diffuse_transmittance=0.3, diffuse_reflectance=0.6),
    "two-faced card": Sheet(diffuse_transmittance=0.1, diffuse_reflectance=(0.8, 0.4)),
    "thin cloth": Sheet(straight=0.3, diffuse_transmittance=0.3, diffuse_reflectance=(0.4, 0.2)),
    "veil": Sheet(straight=0.9, diffuse_transmittance=0.04, diffuse_reflectance=0.05),
}


def column(*values: float) -> NDArray[np.float64]:
    return np.array(values, float)


def rows(axes: Vector) -> NDArray[np.float64]:
    return np.stack(axes, axis=1).astype(float)


def axes(points: NDArray[np.float64]) -> Vector:
    return points[:, 0], points[:, 1], points[:, 2]


def random_units(count: int, seed: int) -> NDArray[np.float64]:
    points = np.random.default_rng(seed).standard_normal((count, 3))
    return np.asarray(points / np.linalg.norm(points, axis=1)[:, None])


def up(count: int) -> Vector:
    return np.zeros(count), np.zeros(count), np.ones(count)


def unit_square(across: int, down: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middles of across x down equal cells."""
    u, v = np.meshgrid((np.arange(across) + 0.5) / across, (np.arange(down) + 0.5) / down)
    return u.ravel(), v.ravel()


# Straight-through transmittance: e^(-tau / cos), derived.
@pytest.mark.parametrize(
    ("normal", "angle", "printed"),
    [(np.exp(-1), 0, 0.3678794), (np.exp(-1), 60, 0.1353353), (0.14, 45, 0.0620073)],
)
def test_regular_transmittance(normal: float, angle: float, printed: float) -> None:
    found = straight_through(column(normal), np.cos(np.radians(column(angle))))
    assert found[0] == pytest.approx(printed, abs=5e-8)
    assert straight_through(column(normal), -np.cos(np.radians(column(angle))))[0] == found[0]


def test_opaque_and_absent_sheets() -> None:
    # Limits of the same formula: nothing passes an opaque sheet, everything a sheet that is not there.
    cosine = column(1.0, 0.5, 0.0)
    assert straight_through(np.zeros(3), cosine).tolist() == [0, 0, 0]
    assert straight_through(np.ones(3), cosine).tolist() == [1, 1, 1]
    assert interaction(np.zeros(3), cosine).tolist() == [1, 1, 1]
    assert mean_interaction(column(0.0)) == pytest.approx([1.0], abs=1e-12)


@pytest.mark.parametrize("straight", [0.001, 0.14, 0.5, 0.9, 0.99])
def test_mean_interaction_is_an_exponential_integral(straight: float) -> None:
    # 2 int e^(-tau / c) c dc = 2 E3(tau) (scipy.special.expn), so the mean is (1 - 2 E3) / (1 - T).
    expected = (1 - 2 * expn(3, -np.log(straight))) / (1 - straight)
    assert mean_interaction(column(straight))[0] == pytest.approx(expected, abs=1e-12)


def one_sheet(sheet: Sheet) -> Scene:
    """A triangle whose front faces +z."""
    corners = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]])
    return build([Part("sheet", "diffuser", Mesh(corners, np.array([[0, 1, 2]])), sheet)], [])


def sent(scene: Scene, *, from_front: bool, out: NDArray[np.float64], light: float = 1.0) -> NDArray[np.float64]:
    """Diffuse intensity that a landing of so much light sends in directions out (n, 3)."""
    count = len(out)
    zero = np.zeros(count, np.float32)
    hits = Hits(
        x=zero,
        y=zero,
        z=zero,
        triangle=np.zeros(count, np.int32),
        front=np.full(count, from_front),
        light=np.full(count, light, np.float32),
        replicate=np.zeros(count, np.int32),
    )
    return np.asarray(leaving(scene, hits, axes(out.astype(np.float32))), float)


def sent_in_all(scene: Scene, *, from_front: bool, upward: bool) -> float:
    """The same over a hemisphere, by Gauss points in the root of the cosine."""
    node, weight = np.polynomial.legendre.leggauss(64)
    root = (node + 1) / 2
    cosine = root**2 * (1 if upward else -1)
    out = np.stack([np.sqrt(1 - cosine**2), np.zeros(64), cosine], axis=1)
    return float(2 * np.pi * (sent(scene, from_front=from_front, out=out) * weight * root).sum())


@pytest.mark.parametrize("name", SHEETS)
def test_diffuse_light_adds_up_to_the_stated_shares(name: str) -> None:
    # Definition of the shares, light on either side, integrated over either hemisphere; float32 holds seven digits.
    sheet = SHEETS[name]
    scene = one_sheet(sheet)
    for from_front, reflectance in zip((True, False), sheet.reflectance_by_side, strict=True):
        back = sent_in_all(scene, from_front=from_front, upward=from_front)
        through = sent_in_all(scene, from_front=from_front, upward=not from_front)
        assert back == pytest.approx(reflectance, abs=1e-6)
        assert through == pytest.approx(sheet.diffuse_transmittance, abs=1e-6)


@pytest.mark.parametrize("angle", ANGLES)
@pytest.mark.parametrize("name", SHEETS)
def test_no_sheet_makes_light(name: str, angle: float) -> None:
    # Conservation: straight + diffuse at any angle are what they are head-on, plus what straight light lost
    # in proportion; all of it stays at or below 1.
    sheet = SHEETS[name]
    cosine, straight = np.cos(np.radians(column(angle))), column(sheet.straight)
    passed, seen = float(straight_through(straight, cosine)[0]), float(interaction(straight, cosine)[0])
    for reflectance in sheet.reflectance_by_side:
        scattered = sheet.diffuse_transmittance + reflectance
        total = passed + seen * scattered
        assert total <= 1 + 1e-12
        absorbed = 1 - sheet.straight - scattered
        assert 1 - total == pytest.approx(absorbed / (1 - sheet.straight) * (1 - passed), abs=1e-12)


@pytest.mark.parametrize("name", SHEETS)
def test_diffuse_scattering_is_reciprocal(name: str) -> None:
    # Helmholtz reciprocity: f(in, out) = f(out, in), through and back. Landing light counts by interaction(in), as
    # in the cloud. float32.
    sheet = SHEETS[name]
    scene = one_sheet(sheet)
    first, second = random_units(200, 1), random_units(200, 2)
    same = first[:, 2] * second[:, 2] > 0
    if len(set(sheet.reflectance_by_side)) > 1:
        same &= first[:, 2] > 0
        first, second = first[same], second[same]

    def scattering(towards: NDArray[np.float64], out: NDArray[np.float64]) -> NDArray[np.float64]:
        value = np.where(
            towards[:, 2] > 0, sent(scene, from_front=True, out=out), sent(scene, from_front=False, out=out)
        )
        return value * interaction(np.full(len(out), sheet.straight), towards[:, 2]) / np.abs(out[:, 2])

    assert scattering(first, second) == pytest.approx(scattering(second, first), rel=2e-5)


def test_tables_keep_sides_apart() -> None:
    # Layout stated in Sheets: entry 2 p is part p's front, 2 p + 1 its back.
    table = tabulate([SHEETS["paper"], Sheet(diffuse_reflectance=(0.1, 0.2), metallic_reflectance=(0.3, 0.4))])
    assert table.reflectance == pytest.approx([0.6, 0.6, 0.1, 0.2], abs=1e-7)
    assert table.metal == pytest.approx([0, 0, 0.3, 0.4], abs=1e-7)
    assert table.transmittance == pytest.approx([0.3, 0], abs=1e-7)


# Walter, Marschner, Li & Torrance, EGSR 2007 (quoted; shadowing from memory), values derived from its formulae.
@pytest.mark.parametrize("roughness", [0.05, 0.1, 0.3, 0.5, 1.0])
def test_facets_cover_the_surface(roughness: float) -> None:
    def density(angle: float) -> float:
        cosine = np.cos(column(angle))
        return float(ggx(column(roughness), cosine)[0] * cosine[0] * 2 * np.pi * np.sin(angle))

    total = quad(density, 0, np.pi / 2, points=[roughness, 3 * roughness], epsabs=1e-11)[0]
    assert total == pytest.approx(1.00000000, abs=5e-9)


def test_facet_distribution_as_printed() -> None:
    alpha = column(0.1)
    assert ggx(alpha, column(1.0))[0] == pytest.approx(31.830989, abs=5e-7)
    assert ggx(alpha, np.cos(np.radians(column(10))))[0] == pytest.approx(2.004225, abs=5e-7)
    half = brentq(lambda a: ggx(alpha, np.cos(np.radians(column(a))))[0] - 0.5 / (np.pi * 0.01), 1, 10)
    assert half == pytest.approx(3.70869, abs=5e-6)
    assert shadowing(column(0.5), np.cos(np.radians(column(60))))[0] == pytest.approx(0.8610017, abs=5e-8)
    assert shadowing(column(0.5), column(1.0))[0] == 1.0


def test_peak_of_a_cosine_beam() -> None:
    # (m + 1) / 2 pi for m = 20, derived.
    assert intensity(Beam(cos_power=20), column(1.0))[0] == pytest.approx(3.3422538, abs=5e-8)


@pytest.mark.parametrize("roughness", ROUGHNESS)
def test_metal_is_reciprocal(roughness: float) -> None:
    # Helmholtz reciprocity of the scattering function (the lobe over the cosine at which light leaves).
    first, second, normal = random_units(500, 3), random_units(500, 4), random_units(500, 5)
    first, second = (np.sign((way * normal).sum(axis=1))[:, None] * way for way in (first, second))
    alpha, metal = np.full(500, roughness), np.full(500, 0.8)
    there = metal_lobe(metal, alpha, axes(normal), axes(first), axes(second)) / (second * normal).sum(axis=1)
    back = metal_lobe(metal, alpha, axes(normal), axes(second), axes(first)) / (first * normal).sum(axis=1)
    assert there.min() > 0
    assert there == pytest.approx(back, rel=1e-9)


def test_metal_is_dark_from_behind() -> None:
    # Definition: an opaque mirror sends light only to the side that it came from.
    above, below = up(1), axes(-rows(up(1)))
    for towards, out in ((above, below), (below, above), (below, below)):
        assert metal_lobe(column(1), column(0.3), up(1), towards, out)[0] == 0


def lobe_moments(roughness: float, towards: NDArray[np.float64], cells: int = 300) -> NDArray[np.float64]:
    """1, x, y, z of where the lobe of perfect metal about +z sends light, weighted and summed.

    By quadrature over facet normals h, spread so that D cos(h) dh is even in s^2: tan^2 = alpha^2 (1 / s^2 - 1),
    which also tames facets at grazing. A facet turns into a direction by d(out) = 4 (h . towards) dh.
    """
    s, v = unit_square(cells, cells)
    cosine = 1 / np.sqrt(1 + roughness**2 * (1 / s**2 - 1))
    sine, turn = np.sqrt(1 - cosine**2), 2 * np.pi * v
    facet = np.stack([sine * np.cos(turn), sine * np.sin(turn), cosine], axis=1)
    lean = facet @ towards
    out = 2 * lean[:, None] * facet - towards
    density = roughness**2 / (np.pi * (cosine**2 * (roughness**2 - 1) + 1) ** 2) * cosine
    count = len(s)
    value = metal_lobe(
        np.ones(count), np.full(count, roughness), up(count), axes(np.tile(towards, (count, 1))), axes(out)
    )
    value = np.where(lean > 0, value * 2 * s * 4 * lean / density, 0.0)
    return np.asarray([value.mean(), *(value[:, None] * out).mean(axis=0)])


def sampled_moments(roughness: float, towards: NDArray[np.float64], frame: NDArray[np.float64]) -> NDArray[np.float64]:
    """The same from sampled directions on even points, with the surface turned to frame (3 rows: x, y, z)."""
    # Facets at grazing, where u nears 1, need the finer steps.
    u, v = unit_square(1500, 80)
    count = len(u)
    turned = towards @ frame
    direction, weight = reflect_off_metal(
        np.full(count, roughness), axes(np.tile(frame[2], (count, 1))), axes(np.tile(turned, (count, 1))), u, v
    )
    out = rows(direction)
    assert np.abs((out * out).sum(axis=1) - 1).max() < 1e-9
    return np.asarray([weight.mean(), *(weight[:, None] * (out @ frame.T)).mean(axis=0)])


@pytest.mark.parametrize("roughness", ROUGHNESS)
@pytest.mark.parametrize("angle", [0, 30, 60, 80, 88])
def test_metal_is_sampled_as_it_is_evaluated(angle: int, roughness: float) -> None:
    # Independent quadrature of the evaluated lobe: energy and mean direction. Both are good to 2e-4.
    slope = np.radians(angle)
    towards = np.array([np.sin(slope) * 0.6, np.sin(slope) * 0.8, np.cos(slope)])
    frame: NDArray[np.float64] = np.linalg.qr(random_units(3, angle))[0]
    evaluated, sampled = lobe_moments(roughness, towards), sampled_moments(roughness, towards, frame)
    assert sampled == pytest.approx(evaluated, abs=5e-4)
    assert evaluated[0] <= 1


@pytest.mark.parametrize("roughness", ROUGHNESS)
def test_metal_keeps_or_loses_light_but_makes_none(roughness: float) -> None:
    # Single scattering of perfect metal: what is missing from 1 is light caught between facets. Head-on, derived
    # here: facets tilted by a send light out at 2 a, of which Smith's shadowing lets G1(2 a) out, none past 45.
    def seen(u: float) -> float:
        leaving = 2 * np.arctan(roughness * np.sqrt(u / (1 - u)))
        return float(2 / (1 + np.sqrt(1 + roughness**2 * np.tan(leaving) ** 2)))

    head_on = quad(seen, 0, 1 / (1 + roughness**2))[0]
    slopes = np.radians(ANGLES)
    energy = [lobe_moments(roughness, np.array([np.sin(a), 0, np.cos(a)]), cells=250)[0] for a in slopes]
    assert energy[0] == pytest.approx(head_on, abs=1e-4)
    assert max(energy) <= 1
    assert min(energy) > 0.65


def test_lambertian_directions_are_even_in_the_square_of_the_cosine_and_in_azimuth() -> None:
    # Lambert's law: cos^2 is even on 0 to 1. Chi-square over 400 equal cells, one time in 10,000 by chance.
    rng = np.random.default_rng(11)
    count = 200_000
    normal = random_units(1, 12)[0]
    out = rows(lambertian(axes(np.tile(normal, (count, 1))), rng.random(count), rng.random(count)))
    assert np.abs((out * out).sum(axis=1) - 1).max() < 1e-9
    along, across = (rows(way)[0] for way in tangents(axes(normal[None])))
    cosine, turn = out @ normal, np.arctan2(out @ across, out @ along) / (2 * np.pi) % 1
    assert cosine.min() >= 0
    cells = np.histogram2d(cosine**2, turn, bins=20, range=[[0, 1], [0, 1]])[0]
    statistic = ((cells - count / 400) ** 2 / (count / 400)).sum()
    assert chi2.ppf(1e-4, 399) < statistic < chi2.ppf(1 - 1e-4, 399)


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_tangents_are_square_to_the_normal_and_each_other(kind: type[np.floating]) -> None:
    # Right-handed frames, poles and equator with both signs of zero included.
    special = np.array([[0, 0, 1], [0, 0, -1], [1, 0, 0.0], [1, 0, -0.0], [0, 1, 0], [-1, 0, 0]])
    normal = np.concatenate([special, random_units(1000, 6)]).astype(kind)
    along, across = (rows(way) for way in tangents((normal[:, 0], normal[:, 1], normal[:, 2])))
    assert tangents((normal[:, 0], normal[:, 1], normal[:, 2]))[0][0].dtype == kind
    frame = np.stack([along, across, normal.astype(float)], axis=1)
    allowed = 2e-6 if kind is np.float32 else 1e-12
    assert np.abs(frame @ frame.transpose(0, 2, 1) - np.eye(3)).max() < allowed
    assert np.linalg.det(frame) == pytest.approx(np.ones(len(normal)), abs=2 * allowed)
