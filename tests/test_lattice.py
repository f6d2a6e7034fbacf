"""Lattice points: even in one dimension, good in many, independent between replicates, below 1."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from lightsim.light.lattice import GENERATOR, LARGEST, Lattice


def column(lattice: Lattice, dimension: int) -> NDArray[np.float32]:
    """One dimension of all paths."""
    return lattice.coordinates(dimension, 1, lattice.paths)[0]


def figure_of_merit(generator: NDArray[np.int64], size: int) -> float:
    """P2 with product weights 1/j^2: mean of prod(1 + 2 pi^2 B2({i z_j / size})/j^2) - 1 (Sloan & Joe 1994)."""
    index, product = np.arange(size), np.ones(size)
    for dimension, step in enumerate(generator, 1):
        x = index * int(step) % size / size
        product *= 1 + 2 * np.pi**2 * (x * x - x + 1 / 6) / dimension**2
    return float(product.mean() - 1)


@pytest.mark.parametrize("points", [1, 2, 512, LARGEST])
def test_every_dimension_alone_is_even(points: int) -> None:
    # Definition of a rank-1 lattice with a generator prime to its size: equal steps once sorted.
    lattice = Lattice(replicates=2, points=points, seed=1)
    for dimension in range(len(GENERATOR)):
        found = column(lattice, dimension).reshape(2, points)
        steps = np.diff(np.sort(found, axis=1), axis=1)
        assert np.abs(steps * points - 1).max(initial=0) <= points * 2.0**-23


@pytest.mark.parametrize("points", [2**9, 2**11, 2**13, 2**16])
def test_figure_of_merit_is_better_than_that_of_half_of_random_generators(points: int) -> None:
    rng = np.random.default_rng(1)
    random = [
        figure_of_merit(np.append(1, 2 * rng.integers(0, points // 2, len(GENERATOR) - 1) + 1), points)
        for _ in range(64 if points <= 2**13 else 9)
    ]
    assert figure_of_merit(np.array(GENERATOR), points) <= np.median(random)


def test_generator_is_prime_to_every_size() -> None:
    assert all(step % 2 == 1 and 0 < step < LARGEST for step in GENERATOR)
    assert len(set(GENERATOR)) == len(GENERATOR)


@pytest.mark.parametrize("dimension", [0, 5, len(GENERATOR) - 1, len(GENERATOR), 500])
def test_coordinates_are_small_floats_below_one(dimension: int) -> None:
    found = column(Lattice(replicates=4, points=2**14, seed=3), dimension)
    assert found.dtype == np.float32
    assert found.shape == (4 * 2**14,)
    assert found.min() >= 0
    assert found.max() < 1
    # Mean of even points is 1/2 within half a step, of random ones within 5 errors (here 5 * 0.29 / 256).
    assert found.mean(dtype=float) == pytest.approx(0.5, abs=0.006)


def test_largest_shift_stays_below_one() -> None:
    # 2^32 - 1 over 2^32 rounds up to 1 in float32; 24 bits do not.
    lattice = Lattice(replicates=1, points=1, seed=0)
    lattice._shift[:] = 2**32 - 1
    assert column(lattice, 0)[0] == np.float32(1) - np.float32(2**-24)


def test_replicates_are_shifted_apart_and_seeds_repeat() -> None:
    lattice = Lattice(replicates=8, points=64, seed=5)
    for dimension in (0, 7, len(GENERATOR)):
        first = column(lattice, dimension).reshape(8, 64)
        assert len({tuple(np.sort(row)) for row in first}) == 8
    again, other = Lattice(replicates=8, points=64, seed=5), Lattice(replicates=8, points=64, seed=6)
    assert (column(again, 3) == column(lattice, 3)).all()
    assert (column(other, 3) != column(lattice, 3)).any()


def test_paths_are_numbered_replicate_by_replicate() -> None:
    lattice = Lattice(replicates=3, points=16, seed=2)
    paths = np.array([40, 3, 17, 3], np.uint32)
    assert (lattice.coordinates(4, 1, paths)[0] == column(lattice, 4)[paths]).all()


@pytest.mark.parametrize("points", [0, 3, 1000, 2 * LARGEST, -4])
def test_sizes_that_are_refused(points: int) -> None:
    with pytest.raises(ValueError, match=f"points = {points}: allowed are powers of two from 1 to 65536"):
        Lattice(replicates=8, points=points, seed=0)


def test_mean_of_a_smooth_product_is_unbiased_and_much_sharper_than_random() -> None:
    # Four factors of mean 1 and variance 1/3 (x -> 1 + cos turn * sqrt(2/3)): random points give a variance of
    # ((4/3)^4 - 1)/512 a replicate. Shifts are uniform, so the mean over many must be 1.
    replicates, points = 400, 512
    lattice = Lattice(replicates=replicates, points=points, seed=9)
    product = np.ones(replicates * points)
    for dimension in range(4):
        product *= 1 + np.sqrt(2 / 3) * np.cos(2 * np.pi * column(lattice, dimension).astype(float) + 1)
    value = product.reshape(replicates, points).mean(axis=1)
    assert abs(value.mean() - 1) < 4 * max(value.std(ddof=1) / np.sqrt(replicates), 1e-9)
    assert value.var() < ((4 / 3) ** 4 - 1) / points / 50
