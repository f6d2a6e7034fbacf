"""Whether each head sits in its hole, clear of the sheets before its hot window."""

from __future__ import annotations

import numpy as np

from lightsim.fit.finding import (
    CHORD_ERROR,
    CLOSE,
    EASED,
    IN_THE_WAY,
    Finding,
    Solid,
    heads,
    millimetres,
    move,
    nearest,
    shortest,
    up_to,
)
from lightsim.fit.least import TOLERANCE, clipped, least, play
from lightsim.fit.regions import Floats, Region, box
from lightsim.rig.head import HeadSpec
from lightsim.rig.mesh import corners
from lightsim.rig.place import Head, PlacedRig
from lightsim.rig.shapes import Box, Funnel

PLAY = 10.0  # mm: what is farther from a case than that is no hole for it; a choice
HOT = 5.0  # mm between a window and what stands before it; common practice, no source
_STANDS_OFF = 1.0  # mm that a window may lie behind the end of a box; a choice
_VAST = 1e5  # mm
_EASE = "Give it so much more room, or ease it when you try it on."


def in_holes(placed: PlacedRig, parts: list[Solid]) -> list[Finding]:
    """Parts that cut into the case of a head; else the play where one has a hole round it."""
    found = []
    for head, spec in heads(placed):
        case = _case(head, spec)
        for part in parts:
            if part.is_head:
                continue
            value, _ = least(case, part.corner, below=PLAY)
            if value < -EASED:
                found.append(_misfit(head, spec, part, case, -value))
            elif value < -CHORD_ERROR:
                sentence = f'"{part.name}" is tight on the head "{head.name}": {millimetres(-value)} too near.'
                found.append(Finding(f'hole for "{head.name}"', CLOSE, part.name, -value, sentence, _EASE))
            elif value < PLAY and _surrounded(head, part, case):
                sentence = (
                    f'play of "{head.name}" in "{part.name}": {millimetres(max(value, 0.0))} at the tightest place.'
                )
                found.append(Finding(f'hole for "{head.name}"', "room", part.name, max(value, 0.0), sentence))
    return found


def before_windows(placed: PlacedRig, parts: list[Solid]) -> list[Finding]:
    """Parts nearer before a window than its heat allows; else the room before it."""
    found = []
    for head, _ in heads(placed):
        half = np.array([head.width / 2, head.height / 2, 0.0])
        window = box(centre=head.centre, axes=_axes(head), half=half)
        kind, near = f'window of "{head.name}"', []
        level = float(head.centre @ head.forward) + TOLERANCE
        for part in parts:
            if part.is_head:
                continue
            value, _ = least(window, clipped(part.corner, low=level, way=head.forward))
            if value < HOT:
                sentence = f'"{part.name}" is {millimetres(value)} from the window of "{head.name}", which gets hot.'
                remedy = f"Leave {HOT:g} mm at the least, {2 * HOT:g} mm for many flashes in a row."
                near.append(Finding(kind, CLOSE, part.name, value, sentence, remedy))
            elif np.isfinite(value):
                sentence = f'{kind}: {millimetres(value)} to "{part.name}".'
                near.append(Finding(kind, "room", part.name, value, sentence))
        found.extend(nearest(near))
    return found


def standing_off(placed: PlacedRig) -> list[Finding]:
    """Boxes and funnels that a head looks into from outside, so that light goes past the end that it looks into."""
    found = []
    parts = {part.name: part for part in placed.parts}
    head_specs = {spec.name: spec for spec in placed.rig.head}
    for spec in placed.rig.diffuser:
        if not isinstance(spec.shape, Box | Funnel):
            continue
        origin, turned = parts[spec.name].origin, parts[spec.name].turned
        end = spec.shape.back if isinstance(spec.shape, Box) else spec.shape.near
        for head in placed.heads:
            centre, forward = turned.T @ (head.centre - origin), turned.T @ head.forward
            gap = float(centre[2])
            if gap <= _STANDS_OFF or forward[2] >= 0:
                continue
            meeting = np.abs(centre - gap / forward[2] * forward)
            kind = f'hole for "{head.name}"'
            if meeting[0] < end[0] / 2 and meeting[1] < end[1] / 2:
                if _blocked(head, corners(parts[spec.name].mesh), reach=1.2 * gap / -forward[2]):
                    width, height, _ = head_specs[head.name].case
                    found.append(
                        Finding(
                            kind,
                            IN_THE_WAY,
                            spec.name,
                            gap,
                            f'The head "{head.name}" looks at the outside of "{spec.name}" from {millimetres(gap)} '
                            "away, and into no hole.",
                            f"Move it into its hole, or cut one of {up_to(width + 2)} x {up_to(height + 2)} for it "
                            "where it looks.",
                        )
                    )
                    continue
                sentence = (
                    f'The window of "{head.name}" stands {millimetres(gap)} behind "{spec.name}": light goes past.'
                )
                remedy = f'Move the head {up_to(gap)} into "{spec.name}", or make "{spec.name}" so much deeper.'
                found.append(Finding(kind, CLOSE, spec.name, gap, sentence, remedy))
    return found


def _blocked(head: Head, corner: Floats, *, reach: float) -> bool:
    """Whether triangles stand on the axis of a head, before its window and nearer than reach."""
    half = np.array([0.0, 0.0, reach / 2])
    axis = box(centre=head.centre + reach / 2 * head.forward, axes=_axes(head), half=half)
    return least(axis, corner)[0] < CHORD_ERROR


def _axes(head: Head) -> Floats:
    return np.array([head.right, head.up, head.forward])


def _case(head: Head, spec: HeadSpec) -> Region:
    half = np.array(spec.case) / 2
    return box(centre=head.centre - half[2] * head.forward, axes=_axes(head), half=half)


def _misfit(head: Head, spec: HeadSpec, part: Solid, case: Region, depth: float) -> Finding:
    width, height, length = spec.case
    level = float(head.centre @ head.forward)
    beside = clipped(part.corner, low=level - length, high=level, way=head.forward)
    axis = box(centre=head.centre - length / 2 * head.forward, axes=_axes(head), half=np.array([0.0, 0.0, length / 2]))
    # The part moves one way where the head moves the other.
    ways = [
        (word, -direction)
        for word, direction in (
            ("up", head.up),
            ("down", -head.up),
            ("right", head.right),
            ("left", -head.right),
            ("back", -head.forward),
            ("forward", head.forward),
        )
    ]
    way = shortest(case, part.corner, ways)
    on_axis, _ = least(axis, beside)
    if on_axis < CHORD_ERROR:
        sentence = (
            f'The head "{head.name}" does not fit: its axis meets "{part.name}" and not a hole, and its case stands '
            f"{millimetres(depth)} in it."
        )
        cut = f"cut a hole of {up_to(width + 2)} x {up_to(height + 2)} for it there"
    else:
        sides = box(centre=head.centre, axes=_axes(head), half=np.array([width / 2, height / 2, _VAST]))
        lateral = -least(sides, beside)[0]
        sentence = f'The head "{head.name}" does not fit: its case stands {millimetres(depth)} in "{part.name}".'
        cut = f"cut {up_to(lateral)} more away for it on that side"
    remedy = move(way, what="the head", otherwise=cut)
    return Finding(f'hole for "{head.name}"', IN_THE_WAY, part.name, depth, sentence, remedy)


def _surrounded(head: Head, part: Solid, case: Region) -> bool:
    """Whether a part stands on all four sides of a case."""
    most = 2 * PLAY
    sides = (head.right, -head.right, head.up, -head.up)
    return all(play(case, part.corner, side, most=most) < most for side in sides)
