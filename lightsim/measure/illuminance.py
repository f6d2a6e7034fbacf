"""How much light arrives at a point, on planes and on small bodies, and how directional it is.

All illuminances are per lumen-second that the heads emit: times that energy in lm s they are lm s/mm^2, a
millionth of which is one lx s. Terms are those of CIE S 017:2020 (International Lighting Vocabulary).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.light.arrivals import Arrivals
from lightsim.light.estimate import Estimate, by_replicate, coverage_factor, jackknife, mean_of
from lightsim.measure.ratio import ratio, ratio_in_stops

UP = (0.0, 1.0, 0.0)  # towards the hot shoe
DOWN = (0.0, -1.0, 0.0)


@dataclass(frozen=True)
class VectorEstimate:
    """A sampled vector and the standard error of each component."""

    value: NDArray[np.float64]  # (3,)
    standard_error: NDArray[np.float64]  # (3,)
    replicates: int

    def __post_init__(self) -> None:
        self.value.flags.writeable = self.standard_error.flags.writeable = False

    @property
    def half_interval(self) -> NDArray[np.float64]:
        """Half of the 95 % confidence interval of each component, (3,)."""
        return coverage_factor(self.replicates) * self.standard_error


def illuminance(arrivals: Arrivals, normal: ArrayLike) -> Estimate:
    """Illuminance on a plane through the point [1/mm^2 per lm s emitted].

    normal: (3,) towards the lit side, of any length. Light from behind the plane does not count.
    Raises ValueError for a normal of no length.
    Source: CIE S 017:2020, illuminance: sum of w max(0, direction . normal).
    """
    return mean_of(plane_samples(arrivals, normal))


def plane_samples(arrivals: Arrivals, normal: ArrayLike) -> NDArray[np.float64]:
    """Illuminance on a plane by each replicate alone, (R,) [1/mm^2 per lm s emitted], for ratios."""
    received = arrivals.weight * np.maximum(arrivals.direction @ _unit(normal, "normal"), 0.0)
    return by_replicate(received, arrivals.replicate, arrivals.replicates)


def spherical_illuminance(arrivals: Arrivals) -> Estimate:
    """Light on a small sphere over the area of its cross-section [1/mm^2 per lm s emitted].

    Source: CIE S 017:2020, 17-21-066 note 2: sum of w. The entry's first sentence takes the mean over the
    surface of the sphere instead, which is scalar_illuminance.
    """
    return mean_of(by_replicate(arrivals.weight, arrivals.replicate, arrivals.replicates))


def scalar_illuminance(arrivals: Arrivals) -> Estimate:
    """Mean illuminance over the surface of a small sphere [1/mm^2 per lm s emitted].

    Source: Lynes; Cuttle (from memory): a quarter of the spherical illuminance.
    """
    return mean_of(by_replicate(arrivals.weight, arrivals.replicate, arrivals.replicates) / 4)


def cylindrical_illuminance(arrivals: Arrivals, axis: ArrayLike) -> Estimate:
    """Mean illuminance over the curved surface of a small cylinder [1/mm^2 per lm s emitted].

    axis: (3,) of any length. Raises ValueError for an axis of no length.
    Source: CIE S 017:2020, 17-21-055: (1/pi) sum of w sin(angle between direction and axis).
    """
    along = arrivals.direction @ _unit(axis, "axis")
    received = arrivals.weight * np.sqrt(np.maximum(1.0 - along * along, 0.0)) / np.pi
    return mean_of(by_replicate(received, arrivals.replicate, arrivals.replicates))


def hemispherical_illuminance(arrivals: Arrivals, axis: ArrayLike) -> Estimate:
    """Mean illuminance over the curved surface of a small half-ball [1/mm^2 per lm s emitted].

    axis: (3,) from the middle of its flat side to its top, of any length. Light from below counts where it
    reaches the curved surface. Raises ValueError for an axis of no length.
    Source: from memory, derived here: a quarter of the sum of w (1 + cos(angle between direction and axis)).
    """
    received = arrivals.weight * (1.0 + arrivals.direction @ _unit(axis, "axis")) / 4
    return mean_of(by_replicate(received, arrivals.replicate, arrivals.replicates))


def illuminance_vector(arrivals: Arrivals) -> VectorEstimate:
    """Illuminance vector [1/mm^2 per lm s emitted], pointing away from the side with more light.

    Its length is the greatest difference of illuminance between the two sides of a plane through the point.
    Source: CIE S 017:2020, illuminance vector: minus the sum of w direction.
    """
    samples = -_flows(arrivals)
    error = samples.std(axis=0, ddof=1) / np.sqrt(arrivals.replicates)
    return VectorEstimate(samples.mean(axis=0), error, arrivals.replicates)


def vector_scalar_ratio(arrivals: Arrivals) -> Estimate | None:
    """Length of the illuminance vector over the scalar illuminance [1], 0 to 4; None where no light arrives.

    4: one narrow beam, hard modelling. 2: an evenly bright hemisphere. 0: the same light from everywhere.
    Source: Lynes; Cuttle (from memory). Works that divide by the spherical illuminance end at 1 instead.
    """
    total = by_replicate(arrivals.weight, arrivals.replicate, arrivals.replicates)
    if (total > 0).sum() < 2:
        return None
    return jackknife(_modelling, np.column_stack([_flows(arrivals), total]))


def top_to_underside(arrivals: Arrivals) -> Estimate | None:
    """Illuminance on a plane facing up against one facing down [stops]; None where either gets no light.

    Positive: the top is brighter. Up is +y, towards the hot shoe.
    Source: derived here.
    """
    return ratio_in_stops(plane_samples(arrivals, UP), plane_samples(arrivals, DOWN))


def share(arrivals: Arrivals, chosen: NDArray[np.bool_], normal: ArrayLike) -> Estimate | None:
    """Share of the illuminance on a plane that the chosen arrivals give [1]; None where it gets no light.

    chosen: (n,); normal: (3,) towards the lit side. Raises ValueError for a normal of no length.
    Source: derived here. With the surroundings chosen it is their fill.
    """
    return ratio(plane_samples(arrivals.only(chosen), normal), plane_samples(arrivals, normal))


def _flows(arrivals: Arrivals) -> NDArray[np.float64]:
    """Sum of w direction by each replicate, (R, 3)."""
    columns = [
        by_replicate(arrivals.weight * along, arrivals.replicate, arrivals.replicates) for along in arrivals.direction.T
    ]
    return np.stack(columns, axis=1)


def _modelling(mean: NDArray[np.float64]) -> float:
    return float(4 * np.linalg.norm(mean[:3]) / mean[3])


def _unit(vector: ArrayLike, name: str) -> NDArray[np.float64]:
    along = np.asarray(vector, float)
    length = float(np.linalg.norm(along))
    if not length > 0:
        raise ValueError(f"{name} = {along.tolist()}: a direction needs a length above 0. Try [0, 0, 1]")
    return along / length
