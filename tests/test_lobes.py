"""Lobes of sheets one by one: printed values, closed forms, and the limits between one kind and another."""

import numpy as np
import pytest
from hemisphere import HARD, Landing, film, grid, ways
from scipy.integrate import quad
from scipy.optimize import brentq

from lightsim.light.beam import intensity
from lightsim.rig.beam import Beam
from lightsim.sheet import Sheet
from lightsim.sheet.fresnel import extinction_of_metal, fresnel, index_of_coat, metal_fresnel
from lightsim.sheet.lobes import ggx, narrowness, peak, shadowing
from lightsim.sheet.scatter import evaluate, interaction, straight_through
from lightsim.sheet.tables import (
    SHARP_FACETS,
    SHARP_LOBE,
    Sheets,
    blunt,
    open_pores,
    regular,
    sharp,
    sharp_parts,
    sheets_of,
)


def cosine_of(*degrees):
    return np.cos(np.radians(np.array(degrees, float)))


def on_axis(landing, degrees):
    """Intensity that evaluate sends out at angles to the normal on the far side, per unit of light, (n,)."""
    degrees = np.atleast_1d(np.asarray(degrees, float))
    out = ways(-landing.lit * np.cos(np.radians(degrees)), np.zeros(len(degrees)))
    return np.asarray(evaluate(landing.sheets, *landing.where(len(degrees)), out), float)


# Straight-through transmittance: e^(-tau / cos), derived.
@pytest.mark.parametrize(
    ("normal", "angle", "printed"), [(np.exp(-1), 0, 0.3678794), (np.exp(-1), 60, 0.1353353), (0.14, 45, 0.0620073)]
)
def test_regular_transmittance(normal, angle, printed):
    assert regular(np.array([normal]), cosine_of(angle))[0] == pytest.approx(printed, abs=5e-8)
    sheets = sheets_of([Sheet(straight=float(normal))])
    for sign in (1, -1):
        found = straight_through(sheets, np.zeros(1, np.int32), sign * cosine_of(angle))
        assert found[0] == pytest.approx(printed, abs=2e-7)  # float32


def test_opaque_and_absent_sheets():
    # Limits of the same formula: nothing passes an opaque sheet, everything one that is not there.
    cosine, part = np.array([1.0, 0.5, 0.0]), np.zeros(3, np.int32)
    opaque, absent = sheets_of([Sheet(diffuse_reflectance=0.5)]), sheets_of([Sheet(straight=1.0)])
    assert straight_through(opaque, part, cosine).tolist() == [0, 0, 0]
    assert straight_through(absent, part, cosine).tolist() == [1, 1, 1]
    assert interaction(opaque, part, cosine).tolist() == [1, 1, 1]


# Two circles of diameter 1, so far apart as light at that angle shifts the far rim: points of a square grid counted.
@pytest.mark.parametrize("angle", [0, 10, 30, 44, 50])
@pytest.mark.parametrize("depth", [0.0, 0.5, 1.0, 3.0])
def test_open_pores_are_where_both_rims_overlap(depth, angle):
    x, y = np.meshgrid(*[(np.arange(2000) + 0.5) / 2000 - 0.5] * 2)
    near = x * x + y * y < 0.25
    far = (x - depth * np.tan(np.radians(angle))) ** 2 + y * y < 0.25
    counted = (near & far).sum() / near.sum()
    assert open_pores(np.array([depth]), cosine_of(angle))[0] == pytest.approx(counted, abs=2e-4)


def test_pores_and_the_stuff_between_them_pass_light_each_by_its_law():
    # A share p of the area is open; straight is of the whole sheet, so between the pores it is straight / (1 - p).
    sheets = sheets_of([Sheet(pores=0.2, pore_depth=0.5, straight=0.24)])
    angle = np.array([0.0, 20, 45, 70])
    apart = np.minimum(0.5 * np.tan(np.radians(angle)), 1)
    overlap = (2 / np.pi) * (np.arccos(apart) - apart * np.sqrt(1 - apart**2))  # area of a lens, textbook geometry
    expected = 0.2 * overlap + 0.8 * 0.3 ** (1 / cosine_of(*angle))
    assert straight_through(sheets, np.zeros(4, np.int32), cosine_of(*angle)) == pytest.approx(expected, abs=1e-6)


# Fresnel's equations, unpolarised light, derived.
@pytest.mark.parametrize(
    ("index", "angles", "printed"),
    [
        (1.5, (0, 15, 30, 45, 60, 75, 85), (0.04, 0.0400808, 0.0415226, 0.0502399, 0.0891867, 0.2530606, 0.6127996)),
        (1.56, (15, 30, 45, 60, 75, 85), (0.0479390, 0.0494881, 0.0587099, 0.0989428, 0.2634639, 0.6185811)),
    ],
)
def test_fresnel_of_a_clear_surface(index, angles, printed):
    assert fresnel(refractive_index=index, cosine=cosine_of(*angles)) == pytest.approx(printed, abs=5e-8)
    assert index_of_coat(float(fresnel(refractive_index=index, cosine=1.0))) == pytest.approx(index, rel=1e-12)


def test_fresnel_at_brewsters_angle():
    # tan = n (57.33909 degrees at 1.56): what swings in the plane of incidence is not reflected, the other half is
    # by ((n^2 - 1) / (n^2 + 1))^2.
    assert np.degrees(np.arctan(1.56)) == pytest.approx(57.33909, abs=5e-6)
    expected = ((1.56**2 - 1) / (1.56**2 + 1)) ** 2 / 2
    found = fresnel(refractive_index=1.56, cosine=np.cos(np.arctan(1.56)))
    assert found == pytest.approx(expected, rel=1e-12)


# Diffuse light: the integral of R sin 2a. From outside 0.0918 in Duntley and Judd, from inside 0.596 in Saunderson 1942
# (from memory), digits derived.
@pytest.mark.parametrize(("index", "printed"), [(1.5, 0.0917780), (1 / 1.5, 0.5963458), (1.56, 0.1005100)])
def test_fresnel_of_diffuse_light(index, printed):
    critical = np.sqrt(max(1 - index**2, 0.0))
    pieces = [(0, 1)] if critical == 0 else [(0, critical), (critical, 1)]
    found = sum(quad(lambda c: 2 * c * float(fresnel(refractive_index=index, cosine=c)), *piece)[0] for piece in pieces)
    assert found == pytest.approx(printed, abs=5e-8)


METALS = [(1.0, 0.5), (1.0, 5.48), (0.96, 6.7), (0.2, 3.4), (2.9, 3.1), (1.5, 0.0)]


@pytest.mark.parametrize(("index", "extinction"), METALS)
def test_fresnel_of_metals_from_complex_amplitudes(index, extinction):
    # Derived here: Fresnel's amplitudes with a complex index, r = (cos - m cos') / (cos + m cos') and so on.
    cosine, m = cosine_of(0, 15, 30, 45, 60, 75, 85, 89), complex(index, extinction)
    inside = np.sqrt(1 - (1 - cosine**2) / m**2 + 0j)
    across = (cosine - m * inside) / (cosine + m * inside)
    within = (m * cosine - inside) / (m * cosine + inside)
    expected = (np.abs(across) ** 2 + np.abs(within) ** 2) / 2
    assert metal_fresnel(refractive_index=index, extinction=extinction, cosine=cosine) == pytest.approx(expected, 1e-12)


@pytest.mark.parametrize(("index", "extinction"), METALS[:5])
def test_fresnel_of_metals_as_a_renderer_has_it(index, extinction):
    mitsuba = pytest.importorskip("mitsuba")
    mitsuba.set_variant("scalar_rgb")
    import drjit

    cosine = cosine_of(0, 15, 30, 45, 60, 75, 85, 89)
    complex_index = drjit.scalar.Complex2f(index, extinction)
    expected = [mitsuba.fresnel_conductor(float(each), complex_index) for each in cosine]  # float32
    found = metal_fresnel(refractive_index=index, extinction=extinction, cosine=cosine)
    assert found == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize("share", [0.05, 0.6, 0.88, 0.999])
def test_extinction_gives_back_the_stated_share(share):
    # Limits of the same equations: head-on as stated, at grazing everything.
    found = metal_fresnel(refractive_index=1, extinction=extinction_of_metal(share), cosine=np.array([1.0, 0.0]))
    assert found == pytest.approx([share, 1.0], abs=1e-9)


# A smooth sheet is all but a plane: what its facets send back follows Fresnel's equations at every angle, less what
# they shadow of each other (alpha^2 tan^2 / 4 each way to first order, derived here; 0.05: at most 0.9 % up to 60).
@pytest.mark.parametrize("angle", [0, 30, 45, 60])
def test_facets_reflect_as_fresnel_says(angle):
    coat = Landing(Sheet(glossy_reflectance=0.04, roughness=0.05), angle)
    exact = float(fresnel(refractive_index=1.5, cosine=cosine_of(angle)[0]))
    assert coat.share("glossy") == pytest.approx(exact, rel=0.015)
    metal = Landing(Sheet(metallic_reflectance=(0.5, 0.88), roughness=0.05), angle, front=False)
    exact = metal_fresnel(refractive_index=1, extinction=extinction_of_metal(0.88), cosine=cosine_of(angle))[0]
    assert metal.share("glossy") == pytest.approx(exact, rel=0.015)
    assert metal.share("glossy") + metal.share("back") == pytest.approx(exact, abs=1e-5)


# Walter, Marschner, Li & Torrance, EGSR 2007 (quoted; shadowing from memory), values derived from its formulae.
@pytest.mark.parametrize("roughness", [0.05, 0.1, 0.3, 0.5, 1.0])
def test_facets_cover_the_surface(roughness):
    def density(angle):
        cosine = np.cos(np.array([angle]))
        return float(ggx(np.array([roughness]), cosine)[0] * cosine[0] * 2 * np.pi * np.sin(angle))

    total = quad(density, 0, np.pi / 2, points=[roughness, 3 * roughness], epsabs=1e-11)[0]
    assert total == pytest.approx(1.00000000, abs=5e-9)


def test_facet_distribution_as_printed():
    alpha = np.array([0.1])
    assert ggx(alpha, np.ones(1))[0] == pytest.approx(31.830989, abs=5e-7)
    assert ggx(alpha, cosine_of(10))[0] == pytest.approx(2.004225, abs=5e-7)
    half = brentq(lambda a: ggx(alpha, cosine_of(a))[0] - 0.5 / (np.pi * 0.01), 1, 10)
    assert half == pytest.approx(3.70869, abs=5e-6)
    assert shadowing(np.array([0.5]), cosine_of(60))[0] == pytest.approx(0.8610017, abs=5e-8)
    assert shadowing(np.array([0.5]), np.ones(1))[0] == 1.0


def test_peak_of_a_cosine_beam():
    # (m + 1) / 2 pi for m = 20, derived.
    assert intensity(Beam(cos_power=20), np.ones(1))[0] == pytest.approx(3.3422538, abs=5e-8)


# The same paper: f = F D G / (4 cos cos), times the cosine at which light leaves; in the mirror direction D = 1 / (pi
# alpha^2). What metal sends back evenly (derived here from Fresnel's plane) is far below.
@pytest.mark.parametrize("angle", [0, 45, 70])
def test_height_of_the_glossy_lobe(angle):
    landing = Landing(Sheet(glossy_reflectance=0.04, roughness=0.2), angle)
    mirror = ways(np.array([landing.cosine]), np.zeros(1))
    shaded = 2 / (1 + np.sqrt(1 + 0.04 * np.tan(np.radians(angle)) ** 2))
    share = fresnel(refractive_index=1.5, cosine=landing.cosine)
    expected = share * shaded**2 / (np.pi * 0.04) / (4 * landing.cosine)
    assert evaluate(landing.sheets, *landing.where(1), mirror)[0] == pytest.approx(expected, rel=5e-4)  # tables


# The forward lobe, cos exp(-q sin^2): its intensity is half at the stated angle, exactly so where nothing goes straight
# through (derived here; q = ln(2 cos h) / sin^2 h).
@pytest.mark.parametrize("half", [3, 6, 10, 15, 20, 30, 40, 50, 59])
@pytest.mark.parametrize("front", [True, False])
def test_half_value_angle_of_intensity(half, front):
    landing = Landing(film(float(half)), 0, front=front)

    def above_half(degrees):
        return float((on_axis(landing, degrees) / on_axis(landing, 0.0))[0]) - 0.5

    assert brentq(above_half, 0.1, 85) == pytest.approx(half, abs=1e-5)
    q = np.log(2 * cosine_of(half)[0]) / np.sin(np.radians(half)) ** 2
    assert narrowness(float(half)) == pytest.approx(q, rel=1e-12)
    # Height: that of the Gaussian over the unit disc, q / (pi (1 - e^-q)).
    assert on_axis(landing, 0.0)[0] == pytest.approx(0.9 * q / np.pi / -np.expm1(-q), rel=1e-6)


# Where light goes straight through, a sheet scatters more of what leaves obliquely, so the lobe is wider than stated:
# derived here from s = (1 - T^(1/cos)) / (1 - T), of which each end of the lobe takes a power from 1/2 (narrow) to 1
# (even): (1 + floor) / 2 with the even floor q / (e^q - 1) of the lobe.
@pytest.mark.parametrize(("half", "straight"), [(6, 0.1), (15, 0.1), (15, 0.45), (30, 0.1), (30, 0.45)])
def test_straight_light_widens_the_lobe_a_little(half, straight):
    landing = Landing(film(float(half), straight), 0)
    q = narrowness(float(half))

    def lobe(degrees):
        c = cosine_of(degrees)[0]
        seen = (1 - straight ** (1 / c)) / (1 - straight)
        return c * np.exp(-q * (1 - c * c)) * seen ** ((1 + q / np.expm1(q)) / 2) - 0.5

    def found(degrees):
        return float((on_axis(landing, degrees) / on_axis(landing, 0.0))[0]) - 0.5

    wider = brentq(lobe, 0.1, 85)
    assert brentq(found, 0.1, 85) == pytest.approx(wider, abs=0.01)  # float32 tables
    assert half < wider < half + (0.6 if straight == 0.1 else 1.8)


# The share of the lobe within an angle t of straight on, (1 - e^(-q sin^2 t)) / (1 - e^-q), derived here.
@pytest.mark.parametrize("half", [2.1, 5, 20, 59])
def test_share_of_the_lobe_near_straight_on(half):
    landing = Landing(film(half), 0)
    q = narrowness(half)
    node, weight = np.polynomial.legendre.leggauss(60)
    for within in (half / 2, half, min(2 * half, 90)):
        degrees = within * (node + 1) / 2
        rings = on_axis(landing, degrees) * 2 * np.pi * np.sin(np.radians(degrees)) * np.radians(within) / 2
        expected = 0.9 * np.expm1(-q * np.sin(np.radians(within)) ** 2) / np.expm1(-q)
        assert (rings * weight).sum() == pytest.approx(expected, abs=2e-5)


# ASTM D1003 (definition opened): share turned by more than 2.5 degrees; derived. Diffusion factor: CIE S 017,
# 17-24-096.
def test_haze_and_diffusion_of_a_lobe_of_60_degrees():
    landing = Landing(Sheet(forward_transmittance=0.8, half_value_angle=60.0), 0)
    edge = np.sin(np.radians(2.5)) ** 2
    node, weight = np.polynomial.legendre.leggauss(8)
    root = edge * (node + 1) / 2  # sin^2: a Lambertian sheet fills it evenly
    degrees = np.degrees(np.arcsin(np.sqrt(root)))
    within = (on_axis(landing, degrees) / np.cos(np.radians(degrees)) * np.pi * weight * edge / 2).sum()
    assert 100 * (1 - within / 0.8) == pytest.approx(99.80973, abs=2e-5)  # float32
    assert 100 * 0.9 * (1 - within / 0.8) == pytest.approx(89.82876, abs=2e-5)  # a tenth of it straight through
    near, middle, far = on_axis(landing, [5, 20, 70]) / cosine_of(5, 20, 70)
    assert (middle + far) / 2 / near == pytest.approx(1, abs=1e-6)
    assert (on_axis(landing, 60.0) / on_axis(landing, 0.0))[0] == pytest.approx(0.5, abs=1e-6)


def equal(first: Sheets, second: Sheets):
    """Whether two tables hold the same numbers."""
    names = [name for name in vars(first) if name != "tables"]
    same = all((getattr(first, name) == getattr(second, name)).all() for name in names)
    if first.tables is None or second.tables is None:
        return same and first.tables is second.tables
    return same and all((value == vars(second.tables)[name]).all() for name, value in vars(first.tables).items())


OTHERS = [{}, {"straight": 0.2}, {"pores": 0.1, "glossy_reflectance": (0.05, 0.0)}, {"diffuse_transmittance": 0.1}]


@pytest.mark.parametrize("others", OTHERS)
def test_a_lobe_of_60_degrees_is_diffuse_and_one_of_0_straight(others):
    # Definitions, docs/theory.md, Sheets.
    lobe = {"diffuse_reflectance": (0.1, 0.2), "forward_transmittance": 0.3} | others
    wide, narrow = (sheets_of([Sheet(**lobe, half_value_angle=angle)]) for angle in (60.0, 0.0))
    plain = {key: value for key, value in lobe.items() if key != "forward_transmittance"}
    diffuse, straight = (plain | {key: plain.get(key, 0) + 0.3} for key in ("diffuse_transmittance", "straight"))
    assert equal(wide, sheets_of([Sheet(**diffuse)]))
    assert equal(narrow, sheets_of([Sheet(**straight)]))
    assert not equal(wide, narrow)


# 59.9 degrees is all but Lambertian. Where light also goes straight through, a lobe and a diffuse share part a little:
# the one sees the sheet with the square root of s at either end, the other with all of it. Shares are equal even so.
@pytest.mark.parametrize(("straight", "allowed"), [(0.0, 0.005), (0.1, 0.04)])
@pytest.mark.parametrize("angle", [0, 45, 75])
def test_a_lobe_comes_near_the_diffuse_limit(straight, allowed, angle):
    near, limit = (Landing(film(half, straight), angle) for half in (59.9, 60.0))
    points = grid(angle)
    out = ways(-points.cosine, points.azimuth)
    first, second = (evaluate(each.sheets, *each.where(len(out[0])), out) for each in (near, limit))
    assert np.abs(first - second).max() < allowed * second.max()
    assert near.share("forward") == pytest.approx(limit.share("through"), abs=1e-6)


# Below 2 degrees a lobe counts as straight-through, but keeps the share law of a lobe: at an angle it takes part in
# what straight light loses, X s(cos), and does not fall itself. Derived here.
@pytest.mark.parametrize("angle", [0, 40, 70, 85])
def test_a_lobe_below_2_degrees_goes_straight_but_by_its_own_law(angle):
    below, above = Landing(film(1.9, 0.2), angle), Landing(film(2.1, 0.2), angle)
    clear = 0.2 ** (1 / below.cosine)
    seen = (1 - clear) / (1 - 0.2)
    assert below.share("straight") == pytest.approx(clear + 0.7 * seen, abs=5e-5)
    assert below.share("forward") == 0
    assert above.share("straight") == pytest.approx(clear, abs=1e-6)
    assert above.share("forward") == pytest.approx(0.7 * seen, abs=5e-5)
    assert below.share("total") == pytest.approx(above.share("total"), abs=5e-5)
    passed = straight_through(below.sheets, np.zeros(1, np.int32), np.array([below.cosine]))
    assert passed[0] == pytest.approx(below.share("straight"), abs=1e-6)
    assert below.sheets.clear[0]


def test_what_a_coat_reflects_does_not_go_straight_through():
    # Clear plate: at an angle the coat of either side lets in less (derived here: 1 - G, relative to head-on).
    plate, bare = (
        Landing(Sheet(straight=0.5, glossy_reflectance=gloss, roughness=0.05), 75) for gloss in ((0.0, 0.08), 0.0)
    )
    mirror = Landing(Sheet(straight=0.5, glossy_reflectance=0.08, roughness=0.05), 75)
    head_on = Landing(Sheet(straight=0.5, glossy_reflectance=0.08, roughness=0.05), 0)
    let_in = (1 - mirror.share("glossy")) / (1 - head_on.share("glossy"))
    assert let_in < 0.8
    assert plate.share("straight") == pytest.approx(let_in * bare.share("straight"), rel=1e-5)


# Sharp lobes are followed back from the point, the rest is connected: no light twice, none left out.
@pytest.mark.parametrize("name", HARD)
def test_blunt_and_sharp_lobes_make_the_whole(name):
    sheets = sheets_of([HARD[name]])
    rng = np.random.default_rng(4)
    first, second = rng.standard_normal((2, 3, 500))
    first, second = (tuple(way / np.linalg.norm(way, axis=0)) for way in (first, second))
    normal, part = ways(np.ones(500), np.zeros(500)), np.zeros(500, np.int32)
    front = sum(n * a for n, a in zip(normal, first, strict=True)) > 0
    whole, some, others = (
        evaluate(each, part, front, normal, first, second) for each in (sheets, blunt(sheets), sharp(sheets))
    )
    assert some + others == pytest.approx(whole, rel=1e-5, abs=1e-7)
    assert bool(sharp_parts(sheets)[0]) == bool(sharp(sheets).forward.any() or sharp(sheets).gloss.any())


@pytest.mark.parametrize(
    ("sheet", "is_sharp"),
    [
        (film(SHARP_LOBE - 0.1), True),
        (film(SHARP_LOBE + 0.1), False),
        (film(1.9), False),
        (Sheet(metallic_reflectance=0.9, roughness=SHARP_FACETS - 0.01), True),
        (Sheet(metallic_reflectance=0.9, roughness=SHARP_FACETS + 0.01), False),
        (Sheet(glossy_reflectance=(0.0, 0.04), roughness=0.1), True),
        (Sheet(diffuse_reflectance=0.9, roughness=0.05), False),
    ],
)
def test_which_lobes_are_sharp(sheet, is_sharp):
    # Definition. Connections alone spike below about 10 degrees (docs/theory.md).
    assert 5 < SHARP_LOBE < 15
    assert bool(sharp_parts(sheets_of([sheet]))[0]) is is_sharp


def test_height_of_the_gaussian_over_the_disc():
    # int exp(-q d^2) over the unit disc is pi (1 - e^-q) / q, so 1 / pi for a Lambertian lobe; derived here.
    assert peak(np.array([0.0, 5.0])) == pytest.approx([1 / np.pi, 5 / np.pi / (1 - np.exp(-5))], rel=1e-6)
