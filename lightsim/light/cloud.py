"""The light cloud of a scene: where light was last scattered, and the tally of where it went."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from lightsim.light.scene import Scene
from lightsim.sheet.vectors import Floats, Vector

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
    worth: Floats  # (n, others) what it is worth under the scene's other materials


@dataclass(frozen=True)
class ShapedHits(Hits):
    """Landings on what scatters by where light comes from; light is all that landed."""

    towards_x: Floats  # unit vector back to where the light came from
    towards_y: Floats
    towards_z: Floats
    last: NDArray[np.int32]  # part that it had left before


@dataclass(frozen=True)
class LightByReplicate:
    """The light of n things in order of replicate, for drawing them in proportion to it; R replicates."""

    order: NDArray[np.intp]  # (n,) numbers of the things
    light: NDArray[np.float64]  # (n,) in that order
    edge: NDArray[np.float64]  # (n,) light up to and including each
    first: NDArray[np.intp]  # (R + 1,) where each replicate begins; last: n
    before: NDArray[np.float64]  # (R,) light before each replicate
    total: NDArray[np.float64]  # (R,) light of each replicate


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
    shaped: ShapedHits
    tally: Tally
    rays: int  # cast on the way
    spacing: NDArray[np.float64]  # (p,) mm between the landings of one replicate on each part, for what is near
    landed_on: NDArray[np.intp]  # numbers of the triangles that anything landed on
    _sorted: dict[int, LightByReplicate] = field(default_factory=dict, repr=False, compare=False)

    def by_replicate(self, group: Emission | Hits) -> LightByReplicate:
        """One of the cloud's groups in order of replicate; sorted once."""
        if id(group) not in self._sorted:
            self._sorted[id(group)] = _in_order(group, self.replicates)
        return self._sorted[id(group)]


_EMPTY: dict[str, type[Any]] = {
    "triangle": np.int32,
    "head": np.int32,
    "replicate": np.int32,
    "last": np.int32,
    "front": np.bool_,
}
Group = TypeVar("Group", bound=Emission | Hits)


def _in_order(group: Emission | Hits, replicates: int) -> LightByReplicate:
    order = np.argsort(group.replicate.astype(np.uint16), kind="stable")  # radix sort
    light = group.light[order].astype(float)
    edge = np.cumsum(light)
    first = np.concatenate([[0], np.cumsum(np.bincount(group.replicate, minlength=replicates))])
    ends = np.concatenate([[0.0], edge])[first]
    return LightByReplicate(order, light, edge, first, ends[:-1], np.diff(ends))


def spacing(scene: Scene, replicates: int, groups: Sequence[Hits]) -> NDArray[np.float64]:
    """Distance between neighbouring landings of one replicate on each part, (p,) mm.

    A part that light missed altogether counts as hit once: what it might send must not be lost with it.
    """
    parts = len(scene.parts)
    landed = np.sum([np.bincount(scene.part[hits.triangle], minlength=parts) for hits in groups], axis=0)
    return np.asarray(np.sqrt(scene.area * replicates / np.maximum(landed, 1)))


def position(group: Emission | Hits) -> Vector:
    """Where each one is, by component, mm."""
    return group.x, group.y, group.z


def take(group: Group, chosen: NDArray[np.intp]) -> Group:
    """The chosen ones of a group."""
    return type(group)(*(getattr(group, each.name)[chosen] for each in fields(group)))


def join(kind: type[Group], groups: Sequence[Group]) -> Group:
    """Groups of one kind end to end; none give an empty group."""
    if not groups:
        empty = {each.name: np.zeros(0, _EMPTY.get(each.name, np.float32)) for each in fields(kind)}
        return kind(**empty | ({"worth": np.zeros((0, 0), np.float32)} if "worth" in empty else {}))
    return kind(*(np.concatenate([getattr(group, each.name) for group in groups]) for each in fields(kind)))
