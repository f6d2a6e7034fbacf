"""Rocking through focus: the chance that one of a few frames lands within the depth of field.

The plane of focus sways to and fro about the subject as the hands and the plant do: a random walk that is pulled back
to the middle (an Ornstein-Uhlenbeck process), spread normally with the standard deviation sway, and forgotten with time
as exp(-time / sway_time). A frame lands where the plane lies within half the depth of field of the subject. Focus
misses every time so far with a probability that is carried from frame to frame on a grid (a Markov chain), so that
frames taken in quick succession count for less than independent ones. docs/theory.md, The shot.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import accumulate, islice
from math import erf, exp, expm1, hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from lightsim.sheet.given import number

MOST_FRAMES = 1000  # more are out of reach
_FAR = 8.0  # standard deviations: what lies beyond has a share of 1e-15
_NODES = 8  # Gauss-Legendre, to a panel
_PANEL = 1.5  # panels in units of the kernel's standard deviation: 8 nodes then integrate it to 1e-12
_FORGOTTEN = 1e-8  # correlation whose square, by which it would count, is lost in rounding
_LEAST_RATIO = 1e-5  # of frame_time to sway_time; the grid grows with one over its root
_SMALLEST_SWAY = 1e-9  # mm: less is none
_LARGEST = 1e9  # mm, and s

Array = NDArray[np.float64]


def chance_of_one(*, depth: float, sway: float) -> float:
    """Chance that one frame lands within the depth of field.

    depth : depth of field, in front and behind together [mm]; sway : standard deviation of the plane of focus [mm]
    Raises ValueError in words for negative lengths.
    Source: normal distribution, erf(depth / (2 sqrt 2 sway)). That the sway is normal is an assumption.
    """
    depth, sway = _lengths(depth, sway)
    return 1.0 if sway < _SMALLEST_SWAY else erf(depth / (2 * sqrt(2) * sway))


def chances(frames: int, *, depth: float, sway: float, sway_time: float, frame_time: float) -> tuple[float, ...]:
    """Chance that at least one of n frames lands, for n = 1 up to frames.

    depth : depth of field [mm]; sway : standard deviation of the plane of focus [mm]
    sway_time : time after which the sway's correlation has fallen to 1/e [s]; frame_time : between frames [s]
    Raises ValueError in words for negative lengths, times not above 0, frames below 1 or above 1000, and for a
    frame_time below 1/100000 of sway_time, between which nothing moves.
    Source: derived here; the grid is Gauss-Legendre with a Nystrom step from frame to frame.
    """
    count = number("frames", frames, least=1, most=MOST_FRAMES, example=10)
    if count % 1:
        raise ValueError(f"frames = {count:g}. Allowed: whole numbers from 1 to {MOST_FRAMES}. Try frames = 10")
    found = _landings(depth=depth, sway=sway, sway_time=sway_time, frame_time=frame_time)
    return tuple(islice((min(chance, 1.0) for chance in accumulate(found)), int(count)))


def chance_of(frames: int, *, depth: float, sway: float, sway_time: float, frame_time: float) -> float:
    """Chance that at least one of so many frames lands within the depth of field. As chances."""
    return chances(frames, depth=depth, sway=sway, sway_time=sway_time, frame_time=frame_time)[-1]


def frames_for(chance: float, *, depth: float, sway: float, sway_time: float, frame_time: float) -> int | None:
    """Frames to take so that at least one lands with this chance; None where 1000 do not reach it.

    chance : wished, from 0 to 0.999999. The rest as chances.
    """
    wished = number("chance", chance, least=0, most=0.999999, example=0.9)
    # Frames cannot do better than their chances added up: nothing to compute where even that is too little.
    found = _landings(depth=depth, sway=sway, sway_time=sway_time, frame_time=frame_time)
    if MOST_FRAMES * chance_of_one(depth=depth, sway=sway) < wished:
        return None
    reached = (count for count, total in enumerate(accumulate(islice(found, MOST_FRAMES)), 1) if total >= wished)
    return next(reached, None)


def _landings(*, depth: float, sway: float, sway_time: float, frame_time: float) -> Iterator[float]:
    """Probability that frame 1, 2, 3 ... is the first that lands, without end. Checks what it is given at once."""
    depth, sway = _lengths(depth, sway)
    sway_time = number("sway_time", sway_time, least=1e-6, most=_LARGEST, unit="s", example=0.3)
    least = _LEAST_RATIO * sway_time
    frame_time = number("frame_time", frame_time, least=least, most=_LARGEST, unit="s", example=max(0.5, least))
    one = chance_of_one(depth=depth, sway=sway)
    correlation = exp(-frame_time / sway_time)
    if one == 1 or correlation < _FORGOTTEN:
        return _independent(one)
    return _chain(half=depth / (2 * sway), correlation=correlation, spread=sqrt(-expm1(-2 * frame_time / sway_time)))


def _independent(one: float) -> Iterator[float]:
    missed = 1.0
    while True:
        yield missed * one
        missed *= 1 - one


def _chain(*, half: float, correlation: float, spread: float) -> Iterator[float]:
    """As _landings, with the sway as unit of length: given x, the next lies at correlation x with this spread.

    First landings are added up, never taken from 1: small chances keep their digits.
    """
    yield erf(half / sqrt(2))
    nodes, weights = _grid(half, spread)
    # Both sides of the middle are alike: only what lies before the subject is kept, and mirrored where it is needed.
    both = np.concatenate([-nodes[::-1], nodes])
    centres = correlation * both
    first = np.searchsorted(centres, nodes - _FAR * spread)
    last = np.searchsorted(centres, nodes + _FAR * spread)
    reach = int((last - first).max())  # nodes farther than _FAR spreads away send nothing
    column = np.minimum(first[:, None] + np.arange(reach), len(both) - 1)  # (n, reach)
    within = first[:, None] + np.arange(reach) < last[:, None]
    kernel = np.where(within, _normal((nodes[:, None] - centres[column]) / spread) / spread, 0.0)
    kernel *= np.concatenate([weights[::-1], weights])[column]
    arriving = np.array([_between(half, correlation * node, spread) for node in nodes])
    missed = _normal(nodes)  # density of the plane of focus together with having missed so far
    while True:
        yield float(2 * (weights * arriving) @ missed)
        missed = (kernel * np.concatenate([missed[::-1], missed])[column]).sum(axis=1)


def _grid(half: float, spread: float) -> tuple[Array, Array]:
    """Nodes and weights from half outwards, (n,) each, in panels fine enough for the kernel."""
    end = hypot(half, _FAR)  # where the density has fallen by exp(-32) from the edge, wherever that is
    edges = np.linspace(half, end, int(np.ceil((end - half) / (_PANEL * spread))) + 1)
    node, weight = np.polynomial.legendre.leggauss(_NODES)
    width = np.diff(edges)[:, None]
    return (edges[:-1, None] + width * (node + 1) / 2).ravel(), (width * weight / 2).ravel()


def _normal(value: Array) -> Array:
    density: Array = np.exp(-(value**2) / 2) / sqrt(2 * np.pi)
    return density


def _between(half: float, centre: float, spread: float) -> float:
    """Share of a normal distribution that lies within half of 0."""
    scale = sqrt(2) * spread
    return (erf((half - centre) / scale) + erf((half + centre) / scale)) / 2


def _lengths(depth: float, sway: float) -> tuple[float, float]:
    depth = number("depth", depth, least=0, most=_LARGEST, unit="mm", example=1)
    return depth, number("sway", sway, least=0, most=_LARGEST, unit="mm", example=2)
