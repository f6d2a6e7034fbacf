"""Error bars: coverage factors, spread of replicates, jackknife, and whether they are honest."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from lightsim.light.estimate import (
    Estimate,
    by_replicate,
    coverage_factor,
    jackknife,
    jackknife_error,
    mean_of,
)

TABULATED = [*range(2, 17), 24, 32, 64]  # replicates


def mean_ratio(mean: NDArray[np.float64]) -> float:
    return float(mean[0] / mean[1])


# NIST TN 1297, table B.1 (from memory): degrees of freedom and the factor for 95 %, two decimals.
@pytest.mark.parametrize(
    ("freedom", "printed"),
    [(1, 12.71), (2, 4.30), (3, 3.18), (4, 2.78), (5, 2.57), (6, 2.45), (7, 2.36), (8, 2.31), (9, 2.26), (10, 2.23),
     (11, 2.20), (12, 2.18), (13, 2.16), (14, 2.14), (15, 2.13)],
)  # fmt: skip
def test_coverage_factor_as_printed(freedom: int, printed: float) -> None:
    assert coverage_factor(freedom + 1) == pytest.approx(printed, abs=0.005)


@pytest.mark.parametrize("replicates", TABULATED)
def test_coverage_factor_is_students_t(replicates: int) -> None:
    # scipy.stats.t; the table has six decimals.
    assert coverage_factor(replicates) == pytest.approx(stats.t.ppf(0.975, replicates - 1), abs=5e-7)


def test_coverage_factor_between_tabulated_sizes_is_never_too_small() -> None:
    exact = stats.t.ppf(0.975, np.arange(1, 300))
    given = np.array([coverage_factor(replicates) for replicates in range(2, 301)])
    assert (given >= exact - 5e-7).all()
    assert (given <= 1.04 * exact).all()


@pytest.mark.parametrize("replicates", [-1, 0, 1])
def test_no_coverage_factor_for_a_single_replicate(replicates: int) -> None:
    with pytest.raises(ValueError, match=f"replicates = {replicates}: an error bar needs at least 2"):
        coverage_factor(replicates)


# Student t over the root of the number, scipy: half of the 95 % interval in units of the replicates' spread.
@pytest.mark.parametrize(("replicates", "expected"), [(8, 0.836021), (16, 0.532862)])
def test_half_interval_in_units_of_the_spread(replicates: int, expected: float) -> None:
    samples = np.random.default_rng(1).standard_normal(replicates)
    # Half of the last digit, and of the tabulated factor's over the root of 8.
    allowed = 5e-7 * (1 + 8**-0.5)
    assert mean_of(samples).half_interval / samples.std(ddof=1) == pytest.approx(expected, abs=allowed)


def test_exact_figure_has_no_interval() -> None:
    assert Estimate(3.0).half_interval == 0.0


def test_mean_and_its_error() -> None:
    # By hand: mean 2.5, variance 5/3, error sqrt(5/12) = 0.645497.
    found = mean_of(np.array([1.0, 2, 3, 4]))
    assert (found.value, found.replicates) == (2.5, 4)
    assert found.standard_error == pytest.approx(0.645497, abs=5e-7)


def test_each_replicate_says_its_own() -> None:
    # By hand: sums 3, 0 and 6 of three replicates are 9, 0 and 18 where each speaks for the whole.
    weight, replicate = np.array([1.0, 6, 2]), np.array([0, 2, 0])
    assert by_replicate(weight, replicate, 3).tolist() == [9.0, 0.0, 18.0]
    assert by_replicate(weight, replicate, 3).mean() == weight.sum()


def test_jackknife_of_a_mean_is_the_spread_of_replicates() -> None:
    # Efron & Stein (1981): identical for linear figures.
    samples = np.random.default_rng(2).random((7, 1))
    found, plain = jackknife(lambda mean: float(3 * mean[0] + 1), samples), mean_of(3 * samples[:, 0] + 1)
    assert found.value == pytest.approx(plain.value, rel=1e-12)
    assert found.standard_error == pytest.approx(plain.standard_error, rel=1e-12)


def test_jackknife_of_a_ratio_by_fractions() -> None:
    # By hand: each replicate left out in turn, variance (R - 1)/R times the sum of squares about their mean.
    above, below = [1, 2, 4, 3], [2, 2, 5, 7]
    left_out = [Fraction(sum(above) - a, sum(below) - b) for a, b in zip(above, below, strict=True)]
    middle = sum(left_out) / 4
    variance = Fraction(3, 4) * sum((value - middle) ** 2 for value in left_out)
    found = jackknife(mean_ratio, np.array([above, below], float).T)
    assert found.value == pytest.approx(10 / 16, rel=1e-14)
    assert found.standard_error == pytest.approx(float(variance) ** 0.5, rel=1e-12)
    assert jackknife_error(np.array(left_out, float)) == pytest.approx(found.standard_error, rel=1e-12)


def test_jackknife_of_a_square_by_formula() -> None:
    # Derived: leaving out x_i moves the mean by d_i = (mean - x_i)/(R - 1), its square by 2 mean d_i + d_i^2.
    x = np.array([1.0, 2, 3, 4])
    moved = (x.mean() - x) / 3
    change = 2 * x.mean() * moved + moved**2
    expected = np.sqrt(3 / 4 * ((change - change.mean()) ** 2).sum())
    assert jackknife(lambda mean: float(mean[0] ** 2), x[:, None]).standard_error == pytest.approx(expected)


def test_spread_of_eight_replicates_covers_what_it_should() -> None:
    # Student t: t times the error covers 95 %, one error covers 0.649383, and 1.96 errors only 0.909175.
    samples = np.random.default_rng(4).standard_normal((8000, 8))
    found = [mean_of(row) for row in samples]
    value, error, half = np.array([(run.value, run.standard_error, run.half_interval) for run in found]).T
    for reach, expected in ((half, 0.95), (error, 0.649383), (1.959964 * error, 0.909175)):
        allowed = 4 * np.sqrt(expected * (1 - expected) / 8000)
        assert np.mean(np.abs(value) < reach) == pytest.approx(expected, abs=allowed)
    # sqrt(1 - c4^2)/c4: an error bar from eight replicates is itself uncertain by 27 %; 4 sigma is 0.009.
    assert error.std() / error.mean() == pytest.approx(0.271637, abs=0.009)


@pytest.mark.parametrize("scatter", [0.05, 0.3])
def test_jackknife_of_a_ratio_is_honest(scatter: float) -> None:
    # 200 runs of a ratio that is 2, both parts noisy and correlated through what they share.
    runs = []
    for seed in range(200):
        rng = np.random.default_rng(seed)
        shared, own = rng.standard_normal((2, 16, 2))
        samples = np.array([2.0, 1.0]) * (1 + scatter * (shared[:, :1] + own) / np.sqrt(2))
        runs.append(jackknife(mean_ratio, samples))
    value, error, half = np.array([(run.value, run.standard_error, run.half_interval) for run in runs]).T
    spread = value.std(ddof=1)
    # Delta method: the mean of a ratio is off by about its variance over the mean, below half a spread here.
    assert abs(value.mean() - 2) < (4 / np.sqrt(200) + scatter) * spread
    assert 0.8 < np.sqrt(np.mean(error**2)) / spread < 1.25
    # Binomial: 200 honest 95 % intervals hit 179 to 198 times in 999 of 1000 tests.
    assert 179 <= int((np.abs(value - 2) < half).sum()) <= 198
