"""Squares of a sampled density: products of different replicates in sliding windows."""

from __future__ import annotations

import numpy as np
import pytest

from lightsim.light.lattice import Lattice
from lightsim.measure.windows import equivalent_area, pair_error, pair_mean, squares, window_products


def test_products_of_different_replicates():
    # Products of different values, ((sum)^2 - sum of squares) / (R (R - 1)): 1, 2, 3, 4 give 5.83333333, not 6.25.
    one = np.array([1.0, 2.0, 3.0, 4.0])
    assert pair_mean(np.outer(one, one)) == pytest.approx(5.83333333, abs=5e-9)
    # 6.66666667 by hand: two bins, replicates (3, 1), (1, 1), (2, 4).
    two = np.array([[3.0, 1.0], [1.0, 1.0], [2.0, 4.0]])
    assert pair_mean(two @ two.T) == pytest.approx(6.66666667, abs=5e-9)


def test_products_may_come_out_negative():
    # That form is honest only if it is never clipped.
    one = np.array([1.0, -1.0, 1.0, -1.0])
    assert pair_mean(np.outer(one, one)) == pytest.approx(-1 / 3)


@pytest.mark.parametrize("own", [0.0, 0.3])
def test_pair_error_is_honest_with_and_without_what_replicates_own(own):
    # Derived here: pairs = 1 + own (a_r + a_s) + b_rs, all normal; variance 4 own^2 / R + 2 / (R (R - 1)).
    rng = np.random.default_rng(3)
    means, errors = [], []
    for _ in range(400):
        share, left = own * rng.normal(size=16), rng.normal(size=(16, 16))
        left = np.triu(left, 1)
        pairs = 1 + share[:, None] + share[None, :] + left + left.T
        means.append(pair_mean(pairs))
        errors.append(pair_error(pairs))
    exact = np.sqrt(4 * own**2 / 16 + 2 / (16 * 15))
    assert np.std(means) == pytest.approx(exact, rel=0.12)
    # Negative variances count as none: 1.15 of the true error at most (derived here).
    assert 0.9 < np.sqrt(np.mean(np.square(errors))) / exact < 1.25


def test_pair_error_needs_four_replicates():
    with pytest.raises(ValueError, match="at least 4"):
        pair_error(np.ones((3, 3)))


def test_window_products_against_a_plain_loop():
    # Derived here: all places of a window of 3 and of 6 cells, summed one by one.
    rng = np.random.default_rng(2)
    maps = np.zeros((2, 12, 12), np.float32)
    maps[:, 5:, 5:] = rng.random((2, 7, 7))
    products = window_products(maps, None, narrowest=3, widest=6)
    padded = np.pad(maps.astype(float), ((0, 0), (0, 6), (0, 6)))
    for found, width in zip(products, (3, 6), strict=True):
        sums = np.array(
            [[padded[:, i : i + width, j : j + width].sum(axis=(1, 2)) for j in range(12)] for i in range(12)]
        ).reshape(-1, 2)
        assert found == pytest.approx(sums.T @ sums, rel=1e-5)


def test_extrapolation_frees_an_exact_rectangle_of_edge_bias():
    # Derived here: an even square of 40.42 x 40.42 cells, edge cells filled to 1/2 - 1/sqrt(12).
    row = np.ones(42)
    row[[0, -1]] = 0.5 - np.sqrt(1 / 12)
    maps = np.zeros((2, 65, 65), np.float32)
    maps[:, 23:, 23:] = np.outer(row, row)
    widths, tables = squares(maps, cell=1.0, widest=24)
    assert widths.tolist() == [1, 2, 3, 4, 6]
    for width, table in zip(widths[1:], tables[1:], strict=True):
        assert pair_mean(table) == pytest.approx(row.sum() ** 2, rel=2e-3 / width)


def test_equivalent_area_in_any_unit():
    # Derived: its own area. An even rectangle of 3 mm x 0.4 mm far off the origin.
    shifted = Lattice(replicates=16, points=1024, seed=8)
    u, v = (axis.astype(float) for axis in shifted.coordinates(0, 2, shifted.paths))
    replicate = np.repeat(np.arange(16), 1024)
    weight = np.full(len(u), 7e-9 / len(u))
    found = equivalent_area(40 + 3 * u, -90 + 0.4 * v, weight, replicate, 16)
    assert found.value == pytest.approx(1.2, rel=0.005)
    assert found.replicates == 16
