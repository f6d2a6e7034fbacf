"""Ratios of two sampled figures, formed within replicates so that what both share cancels."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from lightsim.light.estimate import Estimate, jackknife


def ratio(samples: NDArray[np.float64], reference: NDArray[np.float64]) -> Estimate | None:
    """Mean of samples over mean of reference, one value a replicate each, (R,).

    None where the reference vanishes, also if only with some one replicate left out: no error bar without it.
    """
    return _jackknife(_divided, samples, reference, vanishing=(reference,))


def ratio_in_stops(samples: NDArray[np.float64], reference: NDArray[np.float64]) -> Estimate | None:
    """Base-2 logarithm of mean of samples over mean of reference [stops], one value a replicate each, (R,).

    None where either vanishes, also if only with some one replicate left out: no error bar without it.
    """
    return _jackknife(_doublings, samples, reference, vanishing=(samples, reference))


def _jackknife(
    figure: Callable[[NDArray[np.float64]], float],
    samples: NDArray[np.float64],
    reference: NDArray[np.float64],
    *,
    vanishing: tuple[NDArray[np.float64], ...],
) -> Estimate | None:
    # One lucky replicate with all the light leaves nothing when it is the one left out.
    if any((column > 0).sum() < 2 for column in vanishing):
        return None
    return jackknife(figure, np.stack([samples, reference], axis=1))


def _divided(mean: NDArray[np.float64]) -> float:
    return float(mean[0] / mean[1])


def _doublings(mean: NDArray[np.float64]) -> float:
    return float(np.log2(mean[0] / mean[1]))
