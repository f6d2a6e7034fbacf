"""Profiles of shadows for pictures: of a straight edge, and of the rig's hair, each beside its figure of the report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.light.light import SUBJECT, Light
from lightsim.measure.figure import Figure, figure
from lightsim.measure.rounding import length
from lightsim.measure.shadow import (
    Direction,
    edge_places,
    edge_profile,
    edge_width,
    hair_contrast,
    hair_places,
    hair_profile,
)
from lightsim.measure.source import source_only

_WORDS: dict[Direction, str] = {"x": "across", "y": "up and down"}
_LOW, _HIGH = 0.1, 0.9
_POINTS = 301  # along a profile; odd, so that its middle is one of them
_MARGIN = 1.1  # of the widest 10 to 90 % width, to either side of the middle of an edge's shadow
_MOST_LIGHT = (0.03, 0.97)  # of the light that a hair can hide: its shadows lie between
_LEAST_HAIRS = 4.0  # diameters to either side, however narrow the shadows are


@dataclass(frozen=True)
class EdgeShadow:
    """The shadow of a straight edge on a plane that faces the lens, k places; the source's light alone."""

    title: str
    direction: Direction  # across the edge
    height: float  # mm of the edge above the plane
    places: NDArray[np.float64]  # (k,) mm from half way between low and high; rising
    share: NDArray[np.float64]  # (k,) of the light that the edge can hide, 0 to 1
    low: float  # mm, where a tenth of it arrives
    high: float  # mm, where nine tenths arrive
    width: Figure  # from low to high: the report's figure

    def __post_init__(self) -> None:
        self.places.flags.writeable = self.share.flags.writeable = False


@dataclass(frozen=True)
class HairShadow:
    """The shadow of the rig's hair on a plane that faces the lens, k places; all light, fill included."""

    title: str
    direction: Direction  # across the hair
    diameter: float  # mm of the hair
    height: float  # mm of its middle above the plane
    places: NDArray[np.float64]  # (k,) mm from below the hair's middle; rising
    share: NDArray[np.float64]  # (k,) of the light without the hair, 0 to 1
    contrast: Figure  # what the darkest place loses: the report's figure

    def __post_init__(self) -> None:
        self.places.flags.writeable = self.share.flags.writeable = False


def edge_shadows(lights: Sequence[Light], *, direction: Direction = "x") -> tuple[EdgeShadow, ...]:
    """Shadows of each rig's edge (subject.edge_height), at the same places so that they can be compared.

    Lights whose source lights nothing that the edge could hide are left out.
    """
    found = [each for each in (_edge(light, direction) for light in lights) if each is not None]
    reach = _MARGIN * max((each.high - each.low for each in found), default=0.0)
    return tuple(_resolved(each, reach) for each in found)


def hair_shadows(lights: Sequence[Light], *, direction: Direction = "x") -> tuple[HairShadow, ...]:
    """Shadows of each rig's hair (subject.hair), at the same places so that they can be compared.

    Lights that do not light the plane at all are left out.
    """
    ends = np.array([_hair_ends(light, direction) for light in lights], float).reshape(-1, 2)
    places = np.linspace(ends[:, 0].min(initial=0.0), ends[:, 1].max(initial=0.0), _POINTS)
    return tuple(each for each in (_hair(light, places, direction) for light in lights) if each is not None)


@dataclass(frozen=True)
class _Edge:
    light: Light
    direction: Direction
    low: float
    high: float
    width: Figure


def _edge(light: Light, direction: Direction) -> _Edge | None:
    source = source_only(light, light.at(SUBJECT))
    height = light.placed.rig.subject.edge_height
    width = edge_width(source, height=height, direction=direction)
    ends = edge_places(source, shares=(_LOW, _HIGH), height=height, direction=direction)
    if width is None or ends is None:
        return None
    low, high = (float(each) for each in ends)
    words = f"{length(height)} mm above the surface, {_WORDS[direction]}"
    found = figure(f"shadow.edge_{direction}", width, key="shadow.edge", part=words)
    return _Edge(light, direction, low, high, found)


def _resolved(edge: _Edge, reach: float) -> EdgeShadow:
    light, subject = edge.light, edge.light.placed.rig.subject
    # Shadows much sharper than the widest are drawn by places of their own among the common ones.
    fine = np.linspace(-_MARGIN, _MARGIN, _POINTS // 3) * (edge.high - edge.low)
    places = np.unique(np.concatenate([np.linspace(-reach, reach, _POINTS), fine]))
    middle = (edge.low + edge.high) / 2
    source = source_only(light, light.at(SUBJECT))
    share = edge_profile(source, places=places + middle, height=subject.edge_height, direction=edge.direction)
    if share is None:
        raise ValueError("an edge's shadow that has a width has a profile")
    return EdgeShadow(
        title=light.placed.rig.title,
        direction=edge.direction,
        height=subject.edge_height,
        places=places,
        share=share,
        low=edge.low - middle,
        high=edge.high - middle,
        width=edge.width,
    )


def _hair_ends(light: Light, direction: Direction) -> tuple[float, float]:
    """First and last place, mm, that a picture of the hair's shadow shall show."""
    hair = light.placed.rig.subject.hair
    ends = hair_places(
        light.at(SUBJECT), shares=_MOST_LIGHT, diameter=hair.diameter, height=hair.height, direction=direction
    )
    least = _LEAST_HAIRS * hair.diameter
    low, high = (0.0, 0.0) if ends is None else (float(each) for each in ends)
    return min(low - hair.diameter, -least), max(high + hair.diameter, least)


def _hair(light: Light, places: NDArray[np.float64], direction: Direction) -> HairShadow | None:
    subject, everything = light.placed.rig.subject, light.at(SUBJECT)
    diameter, height = subject.hair.diameter, subject.hair.height
    contrast = hair_contrast(everything, diameter=diameter, height=height, direction=direction)
    share = hair_profile(everything, places=places, diameter=diameter, height=height, direction=direction)
    if contrast is None or share is None:
        return None
    return HairShadow(
        title=light.placed.rig.title,
        direction=direction,
        diameter=diameter,
        height=height,
        places=places.copy(),
        share=share,
        contrast=figure(f"shadow.hair_{direction}", contrast, key="shadow.hair", part=_WORDS[direction]),
    )
