"""The light cloud of a scene: where light was last scattered, and the tally of where it went."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from lightsim.light.scene import Scene
from lightsim.sheet.scatter import Floats, Vector

# Arrays of n things each, one array a component: numpy is two to three times faster on these than on (n, 3) rows.


@dataclass(frozen=True)
class Emission:
    """Points on the windows of the heads, (n,) each."""

    x: Floats  # mm
    y: Floats
    z: Floats
    head: NDArray[np.int32]
    light: Floats  # lm s per lm s emitted; sums to 1 over all replicates
    replicate: NDArray[np.int32]


@dataclass(frozen=True)
class Hits:
    """Landings of light on triangles, (n,) each."""

    x: Floats  # mm
    y: Floats
    z: Floats
    triangle: NDArray[np.int32]
    front: NDArray[np.bool_]  # landed on the front side
    light: Floats  # lm s per lm s emitted that takes part in the scattering meant
    replicate: NDArray[np.int32]


@dataclass(frozen=True)
class MetalHits(Hits):
    """Landings on metal, which remembers where light came from."""

    towards_x: Floats  # unit vector back to where the light came from
    towards_y: Floats
    towards_z: Floats


@dataclass(frozen=True)
class Tally:
    """Where each lumen went, as shares of the light emitted; p parts. All of it sums to 1."""

    absorbed: NDArray[np.float64]  # (p,)
    escaped: NDArray[np.float64]  # (p,) by the part that it last left
    residual: float  # lost or won by ending paths at random; zero on average

    @property
    def total(self) -> float:
        """Sum of all tallies: 1 up to rounding."""
        return float(self.absorbed.sum() + self.escaped.sum() + self.residual)


@dataclass(frozen=True)
class Cloud:
    """The light cloud of a scene: one cloud serves every query."""

    scene: Scene
    replicates: int
    points: int  # paths per replicate
    seed: int
    emission: Emission
    diffuse: Hits
    metal: MetalHits
    tally: Tally
    rays: int  # cast on the way
    spacing: NDArray[np.float64]  # (p,) mm between the landings of one replicate on each part; -1 where none is


_EMPTY: dict[str, type[Any]] = {
    "triangle": np.int32,
    "head": np.int32,
    "replicate": np.int32,
    "front": np.bool_,
}
Group = TypeVar("Group", bound=Emission | Hits)


def spacing(scene: Scene, replicates: int, groups: Sequence[Hits]) -> NDArray[np.float64]:
    """Distance between neighbouring landings of one replicate on each part, (p,) mm; -1 where there are none."""
    parts = len(scene.parts)
    landed = sum(np.bincount(scene.part[hits.triangle], minlength=parts) for hits in groups) / replicates
    return np.where(landed > 0, np.sqrt(scene.area / np.maximum(landed, 1e-9)), -1.0)


def position(group: Emission | Hits) -> Vector:
    """Where each one is, by component, mm."""
    return group.x, group.y, group.z


def take(group: Group, chosen: NDArray[np.intp]) -> Group:
    """The chosen ones of a group."""
    return type(group)(*(getattr(group, field.name)[chosen] for field in fields(group)))


def join(kind: type[Group], groups: Sequence[Group]) -> Group:
    """Groups of one kind end to end; none give an empty group."""
    if not groups:
        return kind(**{field.name: np.zeros(0, _EMPTY.get(field.name, np.float32)) for field in fields(kind)})
    return kind(*(np.concatenate([getattr(group, field.name) for group in groups]) for field in fields(kind)))
