"""The scattering function of thin sheets: what it sends adds up, both ways alike, and is sampled as it is evaluated.

What a sheet sends is integrated here by Gauss points of our own (tests/hemisphere.py), which share nothing with the
package's tables. Printed values, limits and the engine: tests/test_lobes.py, tests/test_engine_lobes.py.
"""

import numpy as np
import pytest
from hemisphere import ALL, ANGLES, HARD, Landing, grid, library, ways
from scipy.special import expn
from scipy.stats import chi2, norm

from lightsim.sheet import Sheet
from lightsim.sheet.lobes import shadowing
from lightsim.sheet.scatter import density, evaluate, mean_interaction, sample, shares, straight_through
from lightsim.sheet.tables import sheets_of
from lightsim.sheet.vectors import lambertian, tangents

# Shares of all light. Ours: the quadrature is good to 1e-5 (against twice the points). The model's: straight lines
# between 129 nodes in float32, and facets' shares from 4,181 points at 33 angles, in all 1.02e-4 at worst here.
TOLERANCE = 1.2e-4
LEVEL = 0.01  # chance that honest sampling fails anywhere in one of the tests below
DRAWN = 30_000
LEAST = 25  # draws expected in a bin


def both_sides(sheet, angle):
    return [Landing(sheet, angle, front=front) for front in (True, False)]


def sent(landing):
    """What evaluate sends back and on; by fewer points where nothing is narrow."""
    fine, coarse = grid(landing.angle), grid(landing.angle, ratio=100.0)
    shiny, ahead = landing.sheets.gloss[1 - landing.front], landing.sheets.forward[0]
    return landing.sent(back=True, points=fine if shiny else coarse), landing.sent(
        back=False, points=fine if ahead else coarse
    )


# Definition of the shares (docs/theory.md, Sheets); energy conservation.
@pytest.mark.parametrize("name", ALL)
def test_what_a_sheet_sends_adds_up_to_its_shares(name):
    for angle in ANGLES:
        for landing in both_sides(ALL[name], angle):
            back, onward = sent(landing)
            assert back == pytest.approx(landing.share("back") + landing.share("glossy"), abs=TOLERANCE)
            assert onward == pytest.approx(landing.share("through") + landing.share("forward"), abs=TOLERANCE)
            total = landing.share("straight") + back + onward
            assert total == pytest.approx(landing.share("total"), abs=TOLERANCE)
            assert total <= 1 + TOLERANCE


# A Sheet's numbers are those at normal incidence. One facet of a coat keeps less than Fresnel's share of it where it
# is rough (below), so its gloss lies between what such a facet sends and what the plane would.
@pytest.mark.parametrize("name", ALL)
def test_head_on_a_sheet_does_what_its_numbers_say(name):
    sheet = ALL[name]
    for side, landing in enumerate(both_sides(sheet, 0)):
        back, onward = sent(landing)
        assert landing.share("straight") == pytest.approx(sheet.straight + sheet.pores, abs=2e-7)
        assert onward == pytest.approx(sheet.forward_transmittance + sheet.diffuse_transmittance, abs=TOLERANCE)
        even, gloss = sheet.reflectance_by_side[side] + sheet.metal_by_side[side], sheet.gloss_by_side[side]
        assert even + gloss * head_on(sheet.roughness) - TOLERANCE <= back <= even + gloss + TOLERANCE


def head_on(roughness):
    """Share that facets send back once of light at normal incidence, if each reflects all.

    Derived here: facets even in u, tilted by a with tan^2 a = alpha^2 u / (1 - u), send light out at 2 a, of which
    Smith's shadowing lets G1(2 a) out, none past 45 degrees.
    """
    u = (np.arange(200_000) + 0.5) / 200_000
    out = 2 * np.arctan(roughness * np.sqrt(u / (1 - u)))
    seen = np.where(out < np.pi / 2, shadowing(np.full(len(u), roughness), np.maximum(np.cos(out), 0)), 0)
    return float(seen.mean())


@pytest.mark.parametrize("roughness", [0.05, 0.1, 0.15, 0.3, 0.5])
def test_metal_sends_back_all_that_fresnel_says(roughness):
    # What one facet sends is derived above; what it lacks of the plane's reflectance goes out evenly.
    landing = Landing(Sheet(metallic_reflectance=0.88, roughness=roughness), 0)
    assert landing.share("glossy") == pytest.approx(0.88 * head_on(roughness), abs=1e-3)
    assert landing.share("glossy") + landing.share("back") == pytest.approx(0.88, abs=1e-6)


# exp(-tau / cos) and the pores' overlap apart, what straight light loses goes to the other shares in proportion, and
# to absorption (docs/theory.md, Sheets). 2e-4: the tables' error of the clearest sheet near grazing, over all angles.
# Pores close so fast within 10 degrees of the normal, the step of the tables there, that up to a fifteenth of their
# own share goes nowhere.
@pytest.mark.parametrize("name", [name for name in ALL if not max(ALL[name].gloss_by_side + ALL[name].metal_by_side)])
def test_what_straight_light_loses_goes_to_the_lobes(name):
    sheet = ALL[name]
    cosine = np.cos(np.radians(np.linspace(0, 88, 401)))
    lost = 0.001 * sheet.pores
    for front in (True, False):
        found = shares(sheets_of([sheet]), np.zeros(401, np.int32), np.full(401, front), cosine)
        straight = np.zeros(401) if found.straight is None else found.straight
        sends = found.scattered[0] / (1 - straight[0])
        assert found.scattered == pytest.approx(sends * (1 - straight), abs=2e-4 + lost)
        assert found.total.max() <= 1 + 2e-4


@pytest.mark.parametrize("straight", [0.001, 0.14, 0.5, 0.9, 0.99])
def test_mean_interaction_is_an_exponential_integral(straight):
    # 2 int e^(-tau / c) c dc = 2 E3(tau) (scipy.special.expn), so the mean is (1 - 2 E3) / (1 - T).
    # The tables: 1.1e-4 at 0.99.
    expected = (1 - 2 * expn(3, -np.log(straight))) / (1 - straight)
    sheets = sheets_of([Sheet(straight=straight, diffuse_transmittance=0.005)])
    assert mean_interaction(sheets, np.array([0, 1])) == pytest.approx([expected, expected], rel=1.5e-4)


# Helmholtz reciprocity of the whole: as much Lambertian light passes one way as the other, coat or no coat.
@pytest.mark.parametrize("name", [name for name in HARD if len(set(HARD[name].gloss_by_side)) == 2] + ["cloth"])
def test_lambertian_light_passes_alike_both_ways(name):
    root, weight = np.polynomial.legendre.leggauss(6)
    passed = np.zeros(2)
    for node, share in zip((root + 1) / 2, weight / 2, strict=True):
        for side, landing in enumerate(both_sides(HARD[name], np.degrees(np.arccos(node**2)))):
            passed[side] += 4 * node**3 * share * (landing.sent(back=False) + landing.share("straight"))
    assert passed[0] == pytest.approx(passed[1], abs=1e-6)
    assert passed[0] > 0.05


def random_units(count, seed):
    rows = np.random.default_rng(seed).standard_normal((count, 3))
    return rows / np.linalg.norm(rows, axis=1)[:, None]


# Helmholtz reciprocity, f(in, out) = f(out, in), back on either side and through the sheet.
@pytest.mark.parametrize("name", ALL)
def test_scattering_is_reciprocal(name):
    count, sheets = 2000, sheets_of([ALL[name]])
    part, normal = np.zeros(count, np.int32), random_units(count, 5)
    first = random_units(count, 6)
    # Half of them near the mirror direction or straight on, where narrow lobes are.
    mirrored = first - 2 * (first * normal).sum(axis=1)[:, None] * normal * np.resize([[0], [1]], (count, 1))
    second = np.where(np.arange(count)[:, None] < count // 2, random_units(count, 7), -mirrored)
    second += 0.03 * random_units(count, 8)
    second /= np.linalg.norm(second, axis=1)[:, None]

    def scattering(towards, out):
        cosine = (normal * out).sum(axis=1)
        front = (normal * towards).sum(axis=1) > 0
        return evaluate(sheets, part, front, tuple(normal.T), tuple(towards.T), tuple(out.T)) / np.abs(cosine)

    there, back = scattering(first, second), scattering(second, first)
    assert there == pytest.approx(back, rel=1e-9, abs=1e-12)
    assert there.max() > 0 or ALL[name].straight > 0.9


SAMPLED = [
    *((f"film of {angle} degrees", slope) for angle in (2.1, 5, 20, 40, 59) for slope in (0, 35, 82)),
    *((f"film of {angle} degrees, half clear", slope) for angle in (5, 40) for slope in (15, 75)),
    *((f"metal of {alpha}", slope) for alpha in (0.05, 0.15, 0.5) for slope in (0, 45, 82)),
    *(("all lobes", slope) for slope in (0, 25, 65, 88)),
    *((name, slope) for name in ("rough coat", "film of 5 degrees, one side coated") for slope in (5, 75)),
    *((name, 55) for name in ("veil", "cloth", "two-faced card", "coat on the back", "film on metal", "clear plate")),
]


def draws(name, slope, front):
    """Directions of scattered light, one lobe chosen for each, and what they weigh."""
    landing = Landing(HARD[name], slope, front=front)
    rng = np.random.default_rng([SAMPLED.index((name, slope)), front])
    share, straight = landing.shares(DRAWN), landing.share("straight")
    choice = straight + (share.total - straight) * rng.random(DRAWN)
    part, lit, normal, towards = landing.where(DRAWN)
    out, side, weight, shaped = sample(
        landing.sheets, part, lit, normal, towards, share, choice, rng.random(DRAWN), rng.random(DRAWN)
    )
    return landing, np.stack(out, axis=1).astype(float), side, weight.astype(float), shaped


def binned(landing, out, weight, *, back):
    """weight summed over the panels of the grid on one side, either half of the hemisphere, (2, k, m)."""
    points = grid(landing.angle)
    right, up, normal = (np.stack(ways(*np.array([[c], [a]])), axis=1)[0] for c, a in ((0, 0), (0, np.pi / 2), (1, 0)))
    cosine = out @ normal * (landing.lit if back else -landing.lit)
    chosen = cosine > 0
    azimuth = np.arctan2(out @ up, out @ right)[chosen]
    halves = []
    for half in (azimuth >= 0, azimuth < 0):
        place = np.sqrt(np.minimum(cosine[chosen][half], 1)), np.abs(azimuth[half])
        halves.append(np.histogram2d(*place, bins=(points.root, points.turn), weights=weight[chosen][half])[0])
    return np.array(halves)


def both_halves(landing, of):
    """evaluate or density over the same panels, back and on, (2 sides, 2 halves, k, m)."""
    return np.array([[landing.by_panel(of, back=back)] * 2 for back in (True, False)])


# Chi-square of Pearson over bins of at least 25 draws each, 30,000 draws; Bonferroni. What is left of bins too small,
# and the draws that leave the hemisphere, make one bin more.
@pytest.mark.parametrize(("name", "slope"), SAMPLED)
def test_density_is_that_of_the_directions_drawn(name, slope):
    for front in (True, False):
        landing, out, _, weight, _ = draws(name, slope, front)
        drawn = (weight > 0).astype(float)
        found = np.array([binned(landing, out, drawn, back=back) for back in (True, False)])
        expected = DRAWN * both_halves(landing, density)
        chosen = expected >= LEAST
        # Directions that do not count (off the hemisphere) are no more than what density leaves out.
        rest = DRAWN - expected[chosen].sum()
        terms = (found - expected)[chosen] ** 2 / expected[chosen]
        statistic = terms.sum() + (DRAWN - found[chosen].sum() - rest) ** 2 / max(rest, LEAST)
        assert chosen.sum() >= 8
        assert statistic < chi2.ppf(1 - LEVEL / (2 * len(SAMPLED)), chosen.sum())


# The mean weight of what is drawn into a bin is what evaluate sends there. Derived here: sums of weights w over n draws
# have the variance n E[w^2], which the draws themselves tell; they are a little less than independent, so the test is
# on the safe side.
@pytest.mark.parametrize(("name", "slope"), SAMPLED)
def test_weights_of_the_directions_drawn_are_what_evaluate_sends(name, slope):
    for front in (True, False):
        landing, out, side, weight, shaped = draws(name, slope, front)
        scattered = landing.share("total") - landing.share("straight")
        found, squares = (
            np.array([binned(landing, out, value, back=back) for back in (True, False)])
            for value in (weight, weight**2)
        )
        expected = DRAWN * both_halves(landing, evaluate) / scattered
        # A few heavy draws tell their variance badly, and no variance is less than that of even weights (Cauchy).
        many = DRAWN * both_halves(landing, density)
        variance = np.maximum(squares, expected**2 / np.maximum(many, 1))
        chosen = (np.minimum(many, expected) >= LEAST) & (expected**2 > 4 * LEAST * variance)
        assert chosen.sum() >= 8
        statistic = ((found - expected)[chosen] ** 2 / variance[chosen]).sum()
        assert statistic < chi2.ppf(1 - LEVEL / (2 * len(SAMPLED)), chosen.sum())
        # All in all: the weights average 1, and to within their spread whatever is binned.
        spread = max(weight.std(), 1e-9) / np.sqrt(DRAWN)
        assert abs(weight.mean() - 1) < norm.ppf(1 - LEVEL / (8 * len(SAMPLED))) * spread + 3 * TOLERANCE
        # The side is the one that the direction has, where it counts; shaped lobes are drawn as often as they should.
        counts = weight > 0
        normal = np.stack(ways(np.ones(1), np.zeros(1)), axis=1)[0]
        assert (np.sign(out[counts] @ normal) == side[counts]).all()
        often = (landing.share("glossy") + landing.share("forward")) / scattered
        assert shaped.mean() == pytest.approx(often, abs=5 * np.sqrt(often * (1 - often) / DRAWN) + 1e-6)


@pytest.mark.parametrize("name", ["veil", "cloth", "all lobes"])
def test_straight_light_goes_straight_on(name):
    # Definition: same direction, other side, whole weight; as often as its share says.
    landing = Landing(HARD[name], 35)
    share = landing.shares(DRAWN)
    choice = share.total * np.random.default_rng(2).random(DRAWN)
    part, lit, normal, towards = landing.where(DRAWN)
    rng = np.random.default_rng(3)
    out, side, weight, shaped = sample(
        landing.sheets, part, lit, normal, towards, share, choice, rng.random(DRAWN), rng.random(DRAWN)
    )
    onward = choice < share.straight
    assert np.abs(np.stack(out) + np.stack(towards))[:, onward].max() == 0
    assert (side[onward] == -1).all()
    assert (weight[onward] == 1).all()
    assert not shaped[onward].any()
    passed = straight_through(landing.sheets, part[:1], np.array([-landing.cosine]))
    assert passed[0] == pytest.approx(landing.share("straight"), abs=1e-12)


def test_the_library_is_among_the_sheets_tested():
    assert len(library()) >= 20
    assert len({*SAMPLED}) >= 20


def test_lambertian_directions_are_even_in_the_square_of_the_cosine_and_in_azimuth():
    # Lambert's law: cos^2 is even on 0 to 1. Chi-square over 400 equal cells, one time in 10,000 by chance.
    rng = np.random.default_rng(11)
    count = 200_000
    normal = random_units(1, 12)[0]
    axes = tuple(np.tile(normal, (count, 1)).T)
    out = np.stack(lambertian(axes, rng.random(count), rng.random(count)), axis=1)
    assert np.abs((out * out).sum(axis=1) - 1).max() < 1e-9
    along, across = (np.concatenate(axis) for axis in tangents(tuple(normal[:, None])))
    cosine, turn = out @ normal, np.arctan2(out @ across, out @ along) / (2 * np.pi) % 1
    assert cosine.min() >= 0
    cells = np.histogram2d(cosine**2, turn, bins=20, range=[[0, 1], [0, 1]])[0]
    statistic = ((cells - count / 400) ** 2 / (count / 400)).sum()
    assert chi2.ppf(1e-4, 399) < statistic < chi2.ppf(1 - 1e-4, 399)


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_tangents_are_square_to_the_normal_and_each_other(kind):
    # Right-handed frames, poles and equator with both signs of zero included.
    special = np.array([[0, 0, 1], [0, 0, -1], [1, 0, 0.0], [1, 0, -0.0], [0, 1, 0], [-1, 0, 0]])
    normal = np.concatenate([special, random_units(1000, 6)]).astype(kind)
    along, across = (np.stack(axis, axis=1) for axis in tangents((normal[:, 0], normal[:, 1], normal[:, 2])))
    assert along.dtype == kind
    turned = np.stack([along, across, normal.astype(float)], axis=1)
    allowed = 2e-6 if kind is np.float32 else 1e-12
    assert np.abs(turned @ turned.transpose(0, 2, 1) - np.eye(3)).max() < allowed
    assert np.linalg.det(turned) == pytest.approx(np.ones(len(normal)), abs=2 * allowed)
