"""What a builder cuts, bends and places by hand, number by number, and how far off each is assumed to be.

The numbers are those of the diffuser's parts, and the places of the heads. Those that a file leaves out count too:
a panel that is to stand upright can be built leaning.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import radians
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from lightsim.rig.errors import RigError
from lightsim.rig.head import HeadSpec
from lightsim.rig.keys import find, with_value
from lightsim.rig.known import Path, is_length, key_path, look
from lightsim.rig.load import LoadedRig, load_data, placed
from lightsim.rig.models import PartSpec
from lightsim.rig.place import PlacedRig
from lightsim.rig.shapes import Box, Cone, CurvedSheet, Disc, Dome, FlatSheet, Funnel, MeshFile, triangulate
from lightsim.rig.units import INCH

What = Literal["cutting", "bending", "placing"]
CUTTING, BENDING, PLACING = 1.0, 2.0, 3.0  # mm, degrees, mm: what careful hands keep; a choice, no source

_TURNS = ("tilt", "turn", "roll")
_WIDE_HIGH = ("width", "height")
_ALONG = ("right", "up")
# Sizes by shape: keys of one number, and keys of two with what to call either.
_SIZES: dict[type, tuple[tuple[str, ...], tuple[str, ...]]] = {
    FlatSheet: (("width", "height", "corner_radius"), ()),
    Disc: (("diameter",), ()),
    CurvedSheet: (("width", "length"), ()),
    Cone: (("near_diameter", "far_diameter", "depth"), ()),
    Dome: (("diameter", "depth", "crown_hole"), ()),
    Box: (("depth", "front_right", "front_up"), ("front", "back")),
    Funnel: (("depth", "far_right", "far_up"), ("near", "far")),
    MeshFile: ((), ()),  # cut by somebody else's plan
}
_NONE_IF_NOTHING = ("corner_radius", "crown_hole")  # what is not there cannot be cut wrongly


@dataclass(frozen=True)
class Slip:
    """One number that a builder can get wrong, and by how much."""

    key: str  # of the rig file, such as "diffuser.front.width"
    words: str  # for people: "front: width"
    what: What
    step: float  # mm or degrees, by unit
    unit: str  # "mm" or "deg"
    first: Mapping[str, str | float] = field(default_factory=dict)  # keys to set before, each to its value


def slips(loaded: LoadedRig, nominal: PlacedRig) -> tuple[Slip, ...]:
    """Every number that a builder can get wrong, in the order of the file: heads first.

    nominal: the rig as placed, whose aimed parts say how far they are turned
    """
    found: list[Slip] = []
    groups: dict[str, Sequence[HeadSpec | PartSpec]] = {"head": loaded.rig.head, "diffuser": loaded.rig.diffuser}
    for group, specs in groups.items():
        for number, spec in enumerate(specs):
            at: Path = (group, number)
            if isinstance(spec, PartSpec):
                found += _of_shape(loaded.data, at, spec)
            found += _of_place(loaded.data, at, spec, nominal, loaded)
    return tuple(found)


def slipped(loaded: LoadedRig, slip: Slip, sign: int, magnification: int) -> PlacedRig | None:
    """The rig with one number off by its step, more (sign 1) or less (-1); None where the rig file allows no such."""
    data: Mapping[str, Any] = loaded.data
    for key, value in slip.first.items():
        data = with_value(data, key, value)
    path, now = find(data, slip.key)
    known = look(path, data).field
    inches = loaded.rig.unit == "inch" and known is not None and is_length(known)
    step = sign * slip.step / (INCH if inches else 1.0)
    try:
        changed = load_data(
            with_value(data, slip.key, float(now or 0.0) + step),
            file=loaded.file,
            folder=loaded.folder,
            sources=loaded.sources,
        )
        return placed(changed, magnification)
    except RigError:
        return None


def _of_shape(data: Mapping[str, Any], at: Path, spec: PartSpec) -> Iterator[Slip]:
    shape, name = spec.shape, spec.name
    single, pairs = _SIZES[type(shape)]
    for key in single:
        if key not in _NONE_IF_NOTHING or getattr(shape, key):
            yield _slip(data, (*at, key), f"{name}: {_plain(key)}", "cutting")
    for key in pairs:
        for place, side in enumerate(_WIDE_HIGH):
            yield _slip(data, (*at, key, place), f"{name}: {key} {side}", "cutting")
    if isinstance(shape, CurvedSheet):
        yield _arc(data, at, name, shape)
    if isinstance(shape, Cone):
        yield _slip(data, (*at, "sweep"), f"{name}: sweep", "bending")
        if shape.sweep < 360:
            yield _slip(data, (*at, "start"), f"{name}: start", "bending")
    for number, hole in enumerate(getattr(shape, "holes", ())):
        for key in ("diameter", *_WIDE_HIGH, *_ALONG):
            if hasattr(hole, key):
                yield _slip(data, (*at, "holes", number, key), f"{name}: hole {number + 1} {key}", "cutting")
    for number in range(len(getattr(shape, "slits", ()))):
        here, words = (*at, "slits", number), f"{name}: slit {number + 1}"
        for end in ("start", "end"):
            for place, way in enumerate(_ALONG):
                yield _slip(data, (*here, end, place), f"{words} {end} {way}", "cutting")
        yield _slip(data, (*here, "gap"), f"{words} gap", "cutting")


def _arc(data: Mapping[str, Any], at: Path, name: str, shape: CurvedSheet) -> Slip:
    """The bend of a curved sheet: its angle, or as much of the radius as changes the angle by the same."""
    if shape.radius is None:
        return _slip(data, (*at, "angle"), f"{name}: angle of the arc", "bending")
    step = shape.radius * radians(BENDING) / shape.arc_angle
    return Slip(key_path((*at, "radius"), data), f"{name}: radius of the bend", "bending", step, "mm")


def _of_place(
    data: Mapping[str, Any], at: Path, spec: HeadSpec | PartSpec, nominal: PlacedRig, loaded: LoadedRig
) -> Iterator[Slip]:
    place, name = spec.place, spec.name
    forth = "toward_lens" if place.toward_subject is None else "toward_subject"
    for key in (*_ALONG, forth):
        yield _slip(data, (*at, key), f"{name}: {key.replace('_', ' the ') if key == forth else key}", "placing")
    first: dict[str, str | float] = {}
    if place.aim == "subject":
        # Who aims a part by eye is as far off as who sets an angle.
        tilt, turn = _aimed(spec, nominal, loaded)
        values: dict[str, str | float] = {"aim": "ahead", "tilt": tilt, "turn": turn}
        first = {key_path((*at, key), data): value for key, value in values.items()}
    for key in _TURNS:
        if key != "roll" or not _round(spec):
            own = first if key != "roll" else {}
            yield Slip(key_path((*at, key), data), f"{name}: {key}", "bending", BENDING, "deg", own)


def _round(spec: HeadSpec | PartSpec) -> bool:
    """Whether rolling a part changes nothing."""
    if isinstance(spec, HeadSpec):
        return False
    shape = spec.shape
    if isinstance(shape, Disc):
        return not (shape.holes or shape.slits)
    return isinstance(shape, Dome) or (isinstance(shape, Cone) and shape.sweep == 360)


def _aimed(spec: HeadSpec | PartSpec, nominal: PlacedRig, loaded: LoadedRig) -> tuple[float, float]:
    """Tilt and turn [degrees] of a placed head or part."""
    if isinstance(spec, HeadSpec):
        ahead = next(head.forward for head in nominal.heads if head.name == spec.name)
    else:
        world = next(part.mesh.vertices for part in nominal.parts if part.name == spec.name)
        ahead = -_turned(triangulate(spec.shape, folder=loaded.folder).vertices, world)[:, 2]
    return float(np.degrees(np.arcsin(np.clip(-ahead[1], -1, 1)))), float(np.degrees(np.arctan2(ahead[0], -ahead[2])))


def _turned(local: NDArray[np.float64], world: NDArray[np.float64]) -> NDArray[np.float64]:
    """The rotation (3, 3) that took points (n, 3), not all in a line, from one frame to another.

    Source: W. Kabsch, Acta Cryst. A 32, 922 (1976), from memory.
    """
    left, _, right = np.linalg.svd((local - local.mean(axis=0)).T @ (world - world.mean(axis=0)))
    mirrored = np.diag([1.0, 1.0, np.sign(np.linalg.det(left @ right))])
    return np.asarray((left @ mirrored @ right).T)


def _slip(data: Mapping[str, Any], path: Path, words: str, what: What) -> Slip:
    step = {"cutting": CUTTING, "bending": BENDING, "placing": PLACING}[what]
    return Slip(key_path(path, data), words, what, step, "deg" if what == "bending" else "mm")


def _plain(key: str) -> str:
    return {
        "front_right": "front to the right",
        "front_up": "front up",
        "far_right": "far end to the right",
        "far_up": "far end up",
    }.get(key, key.replace("_", " "))
