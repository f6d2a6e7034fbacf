"""What a photographer would want to be told of a rig before believing its figures."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lightsim.fit import camera as fit
from lightsim.fit.finding import solids
from lightsim.light.cast import OFFSET
from lightsim.light.light import SUBJECT, Light
from lightsim.light.scene import ROLES
from lightsim.measure.falloff import FACING_LENS
from lightsim.measure.illuminance import illuminance, share
from lightsim.rig.place import PlacedRig
from lightsim.sheet import Sheet
from lightsim.sheet.tables import STRAIGHT_BELOW

_IN_PICTURE = "stands in the picture"
_PAST = 0.2  # of the light: more than so much straight from the head is told
_IDLE = 0.001  # of the light emitted: a part that less falls on does nothing


def warnings(light: Light) -> tuple[str, ...]:
    """Sentences on what stands in the picture or touches the subject, light past the diffuser, idle parts, and errors
    not reached."""
    return (
        *placement_warnings(light.placed),
        *_touching(light),
        *_past(light),
        *_idle(light),
        *_not_reached(light),
    )


def placement_warnings(placed: PlacedRig) -> tuple[str, ...]:
    """Those that need no light: what stands in the picture, and what stands behind the subject."""
    return (*in_view(placed), *behind_subject(placed))


def stands_in_picture(notes: Sequence[str]) -> bool:
    """Whether one of these sentences is on a part in the picture."""
    return any(_IN_PICTURE in note for note in notes)


def in_view(placed: PlacedRig) -> tuple[str, ...]:
    """Parts of the diffuser that stand in the view of the lens, between its front and the subject."""
    diffuser = [part for part in solids(placed) if not part.is_head]
    return tuple(f"{each.sentence} {each.remedy}" for each in fit.in_view(placed, diffuser, room=False))


def behind_subject(placed: PlacedRig) -> tuple[str, ...]:
    """Parts of the diffuser whose middle lies behind the subject."""
    # A roof may well reach over the subject and a little behind it; one whose middle lies there is misplaced.
    middle = {part.name: float(part.mesh.vertices[:, 2].mean()) for part in placed.parts if part.role == "diffuser"}
    return tuple(f'"{name}" stands {-z:.0f} mm behind the subject.' for name, z in middle.items() if z < -0.5)


def _touching(light: Light) -> tuple[str, ...]:
    """Parts so near the subject that rays, which leave surfaces by OFFSET, do not tell on which side it lies."""
    least = 2 * OFFSET
    apart = light.scene.distance(SUBJECT, np.full(len(light.scene.parts), least))
    return tuple(
        f'"{part.name}" touches the subject, so on which side of it the subject lies is not known, and figures may be '
        "far off. Move it by a tenth of a millimetre or more."
        for part, gap in zip(light.scene.parts, apart, strict=True)
        if gap < least
    )


def _past(light: Light) -> tuple[str, ...]:
    if not (light.scene.role == ROLES.index("diffuser")).any():
        return ()
    seen = light.at(SUBJECT)
    straight = share(seen, seen.straight, FACING_LENS)
    if straight is None or straight.value < _PAST:
        return ()
    return (
        f"{_percent(straight.value)} of the light on the subject comes straight from the head: past the diffuser, or "
        "through a clear part of it.",
    )


def _idle(light: Light) -> tuple[str, ...]:
    scene, landed = light.scene, _landed(light)
    return tuple(
        f'"{part.name}" gets hardly any light: is it on the right side of the head, and its size in the right unit?'
        for part, got in zip(scene.parts, landed, strict=True)
        if part.role == "diffuser" and got < _IDLE and _straight(part.sheet) < 0.5
    )


def _straight(sheet: Sheet) -> float:
    """Share that the engine sends straight on, so that it leaves no landing."""
    narrow = sheet.half_value_angle is not None and sheet.half_value_angle < STRAIGHT_BELOW
    return sheet.straight + sheet.pores + (sheet.forward_transmittance if narrow else 0.0)


def _landed(light: Light) -> NDArray[np.float64]:
    scene, cloud = light.scene, light.cloud
    landed = np.bincount(scene.part[cloud.diffuse.triangle], cloud.diffuse.light, len(scene.parts))
    landed += np.bincount(scene.part[cloud.shaped.triangle], cloud.shaped.light, len(scene.parts))
    return np.asarray(landed + cloud.tally.absorbed)


def _not_reached(light: Light) -> tuple[str, ...]:
    facing = illuminance(light.at(SUBJECT), FACING_LENS)
    if not facing.value > 0:
        return ()
    reached = facing.standard_error / facing.value
    if reached <= 1.25 * light.error:
        return ()
    return (
        f"The illuminance is known to {100 * reached:.2g} % (one standard error), not to the {100 * light.error:.2g} % "
        "asked for.",
    )


def _percent(value: float) -> str:
    return f"{100 * value:.0f} %" if value >= 0.01 else "less than 1 %"
