"""The light arriving at a point: from where, and how much."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Arrivals:
    """Light arriving at one point, n samples over all replicates."""

    point: NDArray[np.float64]  # (3,) mm
    direction: NDArray[np.float64]  # (n, 3) unit, from the point towards the light
    origin: NDArray[np.float64]  # (n, 3) mm, where the light last left something
    weight: NDArray[np.float64]  # (n,) 1/mm^2 per lumen-second emitted, on a plane facing it; sums to the mean of all
    part: NDArray[np.int32]  # (n,) number of the part that it last left
    straight: NDArray[np.bool_]  # (n,) came from a head in a straight line, through any number of sheets
    luminance: NDArray[np.float64]  # (n,) 1/(mm^2 sr), of straight light, where it is known exactly; else 0
    replicate: NDArray[np.int32]  # (n,)
    replicates: int
    # (n, others) what each is worth under the scene's other materials; none if left out
    worth: NDArray[np.float32] = field(default_factory=lambda: np.zeros((0, 0), np.float32))

    def __post_init__(self) -> None:
        if len(self.worth) != len(self.weight):
            object.__setattr__(self, "worth", np.zeros((len(self.weight), 0), np.float32))
        for array in (getattr(self, each.name) for each in fields(self) if each.name != "replicates"):
            array.flags.writeable = False

    def only(self, chosen: NDArray[np.bool_]) -> Arrivals:
        """The chosen ones, (n,) bool."""
        columns: dict[str, Any] = {name: getattr(self, name)[chosen] for name in _COLUMNS}
        return replace(self, **columns)


def weighed(arrivals: Arrivals, other: int) -> Arrivals:
    """The same light under the scene's other materials of this number."""
    worth = arrivals.worth[:, other]
    return replace(arrivals, weight=arrivals.weight * worth, luminance=arrivals.luminance * worth)


_COLUMNS = tuple(each.name for each in fields(Arrivals) if each.name not in ("point", "replicates"))


def merge(groups: Sequence[Arrivals]) -> Arrivals:
    """Arrivals at one point from several estimators, end to end."""
    columns: dict[str, Any] = {name: np.concatenate([getattr(group, name) for group in groups]) for name in _COLUMNS}
    return replace(groups[0], **columns)
