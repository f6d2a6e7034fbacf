"""What is said of one part and one thing that must stay free of it; the parts that are asked about."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite
from typing import Literal

import numpy as np

from lightsim.fit.least import FARTHEST, way_out
from lightsim.fit.regions import Floats, Region
from lightsim.rig.head import HeadSpec
from lightsim.rig.mesh import corners
from lightsim.rig.place import Head, PlacedRig

Verdict = Literal["in the way", "close", "room", "not checked"]
IN_THE_WAY: Verdict = "in the way"
CLOSE: Verdict = "close"
EASED = 1.0  # mm: what a blade is off by when holes are cut at home; common practice, no source
CHORD_ERROR = 0.1  # mm: triangles of curved parts lie so near the true surface, so that less is no cut

RIGHT, UP, TOWARD_LENS = np.eye(3)
ACROSS = (("up", UP), ("down", -UP), ("right", RIGHT), ("left", -RIGHT))
ANYWHERE = (*ACROSS, ("toward the subject", -TOWARD_LENS), ("toward the lens", TOWARD_LENS))
Ways = Sequence[tuple[str, Floats]]


@dataclass(frozen=True)
class Finding:
    """One answer to "will it fit"."""

    kind: str  # what must stay free, in words: "view of the lens"
    verdict: Verdict
    part: str  # the name of the part or head; empty where it is about none
    distance: float  # mm: the room left, or how far something reaches in where that is in the way; nan if not checked
    sentence: str
    remedy: str = ""


@dataclass(frozen=True)
class Solid:
    """A part of the diffuser, or the case of a head, as triangles (m, 3, 3)."""

    name: str
    corner: Floats
    is_head: bool

    @property
    def title(self) -> str:
        """How sentences call it."""
        return f'the head "{self.name}"' if self.is_head else f'"{self.name}"'


def solids(placed: PlacedRig) -> list[Solid]:
    """The parts of the diffuser and the cases of the heads."""
    parts = [Solid(part.name, corners(part.mesh), False) for part in placed.parts if part.role == "diffuser"]
    cases = [Solid(head.name, _case_triangles(head, spec), True) for head, spec in heads(placed)]
    return [*parts, *cases]


def heads(placed: PlacedRig) -> list[tuple[Head, HeadSpec]]:
    """The heads, each with what the file says of it."""
    return list(zip(placed.heads, placed.rig.head, strict=True))


def _case_triangles(head: Head, spec: HeadSpec) -> Floats:
    width, height, length = spec.case
    back = -length * head.forward
    corner = [
        head.centre + side * width / 2 * head.right + up * height / 2 * head.up + end
        for end in (np.zeros(3), back)
        for side, up in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    around = [(k, (k + 1) % 4, 4 + (k + 1) % 4, 4 + k) for k in range(4)]
    faces = [(a, b, c) for a, b, c, _ in (*around, (0, 1, 2, 3), (4, 5, 6, 7))]
    faces += [(a, c, d) for a, _, c, d in (*around, (0, 1, 2, 3), (4, 5, 6, 7))]
    return np.asarray(np.array(corner)[np.array(faces)])


def shortest(region: Region, corner: Floats, ways: Ways = ANYWHERE) -> tuple[float, str]:
    """How far [mm] and where to move triangles so that they are clear of a region; inf if no such move is found."""
    best = (inf, "")
    for word, direction in ways:
        best = min(best, (way_out(region, corner, direction, most=min(best[0], FARTHEST)), word))
    return best


def move(found: tuple[float, str], *, what: str = "it", otherwise: str = "") -> str:
    """A remedy: the move, and what may be done instead."""
    distance, word = found
    if not isfinite(distance):
        return f"{otherwise[:1].upper()}{otherwise[1:]}." if otherwise else ""
    alternative = f", or {otherwise}" if otherwise else ""
    return f"Move {what} {up_to(distance)} {word}{alternative}."


def millimetres(value: float) -> str:
    """A length to 0.1 mm."""
    return "less than 0.1 mm" if 0 < value < 0.05 else f"{round(value, 1):g} mm"


def up_to(value: float) -> str:
    """A length that does for at least the given one, to 0.1 mm."""
    return f"{np.ceil(round(10 * value, 2)) / 10:g} mm"


def nearest(found: Sequence[Finding]) -> list[Finding]:
    """All that is in the way or close; where nothing is, the least of the room left."""
    told = [each for each in found if each.verdict != "room"]
    if any(each.verdict != "not checked" for each in told):
        return told
    # Of parts that are alike on both sides the first, whatever the rounding of their last digit.
    return [
        *told,
        *sorted((each for each in found if each.verdict == "room"), key=lambda each: round(each.distance, 2))[:1],
    ]
