"""What must stay clear of the camera: view, barrel, focus ring, body, hot shoe."""

from __future__ import annotations

from math import nan

import numpy as np

from lightsim.fit.finding import (
    ACROSS,
    CHORD_ERROR,
    EASED,
    Finding,
    Solid,
    millimetres,
    move,
    nearest,
    shortest,
    up_to,
)
from lightsim.fit.least import TOLERANCE, clipped, least
from lightsim.fit.regions import tube, upright_box
from lightsim.fit.view import between, seen, view_of
from lightsim.rig.place import PlacedRig

FINGERS = 15.0  # mm round the focus ring; common practice, no source
HELD = 2.0  # mm: what comes so near to the focus ring rubs on it; a choice
# Foot of a flash and the hand that slides it in. ISO 518 makes the shoe about 18.6 mm wide (from memory).
SHOE = (25.0, 25.0, 25.0)


def in_view(placed: PlacedRig, parts: list[Solid], *, room: bool = True) -> list[Finding]:
    """Parts in the view between subject and lens front; else the room beside it, of the nearest part.

    room: without it, parts that are clear are not measured, which is quicker
    """
    view, found = view_of(placed), []
    region, kind = seen(view), "view of the lens"
    if room and placed.rig.lens.pupil_depth is None:
        sentence = (
            "Where the entrance pupil is, the file does not say (lens.pupil_depth); the view toward the lens is taken "
            "at its widest."
        )
        found.append(Finding(kind, "not checked", "", nan, sentence))
    for part in parts:
        corner = between(view, part.corner)
        value, _ = least(region, corner, below=np.inf if room else 0.0)
        if value < -TOLERANCE:
            hole = "" if part.is_head else "cut a hole for the lens"
            sentence = (
                f"{_start(part)} stands in the picture: it reaches {millimetres(-value)} into the view of the lens."
            )
            remedy = move(shortest(region, corner, ACROSS), otherwise=hole)
            found.append(Finding(kind, "in the way", part.name, -value, sentence, remedy))
        elif np.isfinite(value):
            found.append(_room(kind, part, value))
    return nearest(found)


def behind_subject(placed: PlacedRig, parts: list[Solid]) -> list[Finding]:
    """Parts in the view behind the subject, where they are seen as background."""
    view, found = view_of(placed), []
    region = seen(view, behind=True)
    for part in parts:
        corner = between(view, part.corner, behind=True)
        value, _ = least(region, corner, below=0.0)
        if value < -TOLERANCE:
            sentence = f"{_start(part)} shows in the picture behind the subject, {millimetres(-value)} inside its edge."
            meant = "" if part.is_head else "list it under surroundings if it is meant as the background"
            remedy = move(shortest(region, corner, ACROSS), otherwise=meant)
            found.append(Finding("view behind the subject", "in the way", part.name, -value, sentence, remedy))
    return found


def on_barrel(placed: PlacedRig, parts: list[Solid]) -> list[Finding]:
    """Parts that cut into the lens barrel, from its front to the mount; else the least room round it."""
    front, radius, kind, found = placed.working_distance, placed.rig.lens.diameter / 2, "lens barrel", []
    end = _mount(placed)
    region = tube(radius=radius, start=front, end=end)
    for part in parts:
        value, _ = least(region, part.corner)
        if value >= -CHORD_ERROR:
            found.append(_room(kind, part, max(value, 0.0)))
            continue
        if value >= -EASED:
            sentence = f"{_start(part)} is tight on the lens barrel: {millimetres(-value)} too near."
            found.append(
                Finding(kind, "close", part.name, -value, sentence, f"Make its hole {up_to(-2 * value)} wider.")
            )
            continue
        beside, _ = least(tube(radius=0.0, start=front, end=end), clipped(part.corner, low=front, high=end))
        away = f"cut away {up_to(radius - beside)} of it there"
        if beside < CHORD_ERROR:
            away = f"cut a hole of {up_to(2 * radius + 1)} across for the lens"
        remedy = move(shortest(region, part.corner), otherwise="" if part.is_head else away)
        sentence = f"{_start(part)} cuts {millimetres(-value)} into the lens barrel."
        found.append(Finding(kind, "in the way", part.name, -value, sentence, remedy))
    return nearest(found)


def at_focus_ring(placed: PlacedRig, parts: list[Solid]) -> list[Finding]:
    """Parts on the focus ring, or so near that fingers do not reach it."""
    lens, kind, found = placed.rig.lens, "focus ring", []
    if lens.focus_ring is None:
        sentence = "Whether the focus ring stays free: where it is, the file does not say (lens.focus_ring)."
        return [Finding(kind, "not checked", "", nan, sentence)]
    start, end = (placed.working_distance + back for back in lens.focus_ring)
    region = tube(radius=lens.diameter / 2, start=start, end=end)
    free = tube(radius=lens.diameter / 2 + FINGERS, start=start - FINGERS, end=end + FINGERS)
    for part in parts:
        value, _ = least(region, part.corner)
        if value >= FINGERS:
            found.append(_room(kind, part, value))
            continue
        remedy = move(shortest(free, part.corner)).rstrip(".") + f", which leaves {FINGERS:g} mm for fingers."
        if value < HELD:
            sentence = f"{_start(part)} fouls the focusing: it is {millimetres(max(value, 0.0))} from the focus ring."
            if value < -CHORD_ERROR:
                sentence = f"{_start(part)} fouls the focusing: it cuts {millimetres(-value)} into the focus ring."
            found.append(Finding(kind, "in the way", part.name, abs(value), sentence, remedy))
        else:
            sentence = f"{_start(part)} comes within {millimetres(value)} of the focus ring: little room for fingers."
            found.append(Finding(kind, "close", part.name, value, sentence, remedy))
    return nearest(found)


def at_body(placed: PlacedRig, parts: list[Solid]) -> list[Finding]:
    """Parts that cut into the camera body."""
    width, height, depth = placed.rig.camera.body
    back, kind, found = _mount(placed), "camera body", []
    region = upright_box(
        low=np.array([-width / 2, -height / 2, back]), high=np.array([width / 2, height / 2, back + depth])
    )
    for part in parts:
        value, _ = least(region, part.corner)
        if value >= -CHORD_ERROR:
            found.append(_room(kind, part, max(value, 0.0)))
            continue
        sentence = f"{_start(part)} cuts {millimetres(-value)} into the camera body."
        remedy = move(shortest(region, part.corner))
        found.append(Finding(kind, "in the way", part.name, -value, sentence, remedy))
    return nearest(found)


def over_shoe(placed: PlacedRig, parts: list[Solid]) -> list[Finding]:
    """Parts of the diffuser where the foot of a flash has to go. The head itself belongs there."""
    camera, kind, found = placed.rig.camera, "hot shoe", []
    width, length, height = SHOE
    middle = np.array([0.0, camera.shoe_up, _mount(placed) + camera.shoe_back])
    region = upright_box(
        low=middle - np.array([width / 2, 0, length / 2]), high=middle + np.array([width / 2, height, length / 2])
    )
    for part in parts:
        if part.is_head:
            continue
        value, _ = least(region, part.corner)
        if value >= -TOLERANCE:
            found.append(_room(kind, part, max(value, 0.0)))
            continue
        sentence = (
            f"{_start(part)} stands {millimetres(-value)} in the room that the foot of a flash needs over the hot shoe."
        )
        remedy = move(shortest(region, part.corner))
        found.append(Finding(kind, "in the way", part.name, -value, sentence, remedy))
    return nearest(found)


def _mount(placed: PlacedRig) -> float:
    """z of the lens mount, mm."""
    return placed.working_distance + placed.rig.lens.length + placed.rig.lens.extension


def _start(part: Solid) -> str:
    return part.title[:1].upper() + part.title[1:]


def _room(kind: str, part: Solid, value: float) -> Finding:
    return Finding(kind, "room", part.name, value, f"{kind}: {millimetres(value)} to {part.title}.")
