"""Sampled figures: a value and its standard error, from independent replicates."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# Student t, two-sided 95 %, by degrees of freedom: NIST TN 1297 table B.1 (from memory), digits by scipy.stats.t.
_T95 = {
    1: 12.706205, 2: 4.302653, 3: 3.182446, 4: 2.776445, 5: 2.570582, 6: 2.446912, 7: 2.364624, 8: 2.306004,
    9: 2.262157, 10: 2.228139, 11: 2.200985, 12: 2.178813, 13: 2.160369, 14: 2.144787, 15: 2.131450,
    23: 2.068658, 31: 2.039513, 63: 1.998341,
}  # fmt: skip


@dataclass(frozen=True)
class Estimate:
    """A figure and its standard error, from so many independent replicates (1: not sampled, exact)."""

    value: float
    standard_error: float = 0.0
    replicates: int = 1

    @property
    def half_interval(self) -> float:
        """Half of the 95 % confidence interval: t times the standard error (JCGM 100, annex G, from memory)."""
        return coverage_factor(self.replicates) * self.standard_error if self.replicates > 1 else 0.0


def coverage_factor(replicates: int) -> float:
    """Student t for a two-sided 95 % interval from so many replicates.

    Raises ValueError for fewer than two. Between tabulated sizes the next smaller one serves: wider, never narrower.
    """
    if replicates < 2:
        raise ValueError(f"replicates = {replicates}: an error bar needs at least 2")
    return _T95[max(freedom for freedom in _T95 if freedom <= replicates - 1)]


def mean_of(samples: NDArray[np.float64]) -> Estimate:
    """Linear figure from one value a replicate, samples (R,): mean and the spread of the replicates / sqrt(R)."""
    count = len(samples)
    return Estimate(float(samples.mean()), float(samples.std(ddof=1) / np.sqrt(count)), count)


def jackknife(figure: Callable[[NDArray[np.float64]], float], samples: NDArray[np.float64]) -> Estimate:
    """Non-linear figure of replicate means, by leaving out one replicate at a time.

    figure takes the mean over replicates, (k,) of samples (R, k), and returns a number.
    Source: Efron & Stein, Ann. Statist. 9, 586 (1981).
    """
    count = len(samples)
    total = samples.sum(axis=0)
    left_out = np.array([figure((total - sample) / (count - 1)) for sample in samples])
    return Estimate(figure(total / count), jackknife_error(left_out), count)


def jackknife_error(left_out: NDArray[np.float64]) -> float:
    """Standard error from the R values of a figure that leave out one replicate each, (R,)."""
    count = len(left_out)
    return float(np.sqrt((count - 1) / count * ((left_out - left_out.mean()) ** 2).sum()))


def by_replicate(weight: NDArray[np.floating], replicate: NDArray[np.integer], replicates: int) -> NDArray[np.float64]:
    """What each replicate alone says of a sum over arrivals, (R,); weight (n,) sums to the mean of all."""
    return np.asarray(np.bincount(replicate, weight, replicates) * float(replicates))
