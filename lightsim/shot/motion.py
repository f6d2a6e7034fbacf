"""Motion: what shake and wind smear while the flash burns, and while the shutter is open."""

from __future__ import annotations

from dataclasses import dataclass

from lightsim.rig.place import PlacedRig
from lightsim.sheet.given import number

_FASTEST = 1e9  # mm/s
_LONGEST = 1e5  # s
_CLOSEST = 1000.0  # magnification


@dataclass(frozen=True)
class Motion:
    """How far the picture moves on the sensor, by the light of the flash and by that of the day."""

    flash_time: float  # s, in which nine tenths of the flash's light come
    shutter: float  # s, in which the light of the day comes
    shake: float  # mm on the sensor while the flash burns: the camera's own movement
    wind: float  # mm on the sensor while the flash burns: the subject's movement
    ambient_shake: float  # mm on the sensor while the shutter is open
    ambient_wind: float  # mm on the sensor while the shutter is open


def blur(*, magnification: float, speed: float, time: float) -> float:
    """How far a point of the subject travels on the sensor [mm].

    magnification : of the picture; speed : across the frame at the subject [mm/s]; time : for which light comes [s]
    Raises ValueError in words for a magnification that is not above 0 and for negative speeds and times.
    Source: m v t, derived here. Movement along the axis is left to the rocking through focus.
    """
    magnification = number("magnification", magnification, least=1e-6, most=_CLOSEST, example=1)
    speed = number("speed", speed, least=0, most=_FASTEST, unit="mm/s", example=50)
    return magnification * speed * number("time", time, least=0, most=_LONGEST, unit="s", example=0.001)


def open_time(*, shutter: float, curtain: float) -> float:
    """How long the whole frame is open at once [s]; 0 where the second curtain starts before the first has arrived.

    shutter : shutter time [s]; curtain : time that a curtain takes across the frame [s]
    Raises ValueError in words for negative times.
    Source: the second curtain starts a shutter time after the first, which is there after the time it takes. Derived
    here; a flash that lasts longer than this leaves a band of the frame darker.
    """
    shutter = number("shutter", shutter, least=0, most=_LONGEST, unit="s", example=0.005)
    return max(shutter - number("curtain", curtain, least=0, most=_LONGEST, unit="s", example=0.004), 0.0)


def motion_of(placed: PlacedRig, *, flash_time: float) -> Motion:
    """Blur by shake and by wind of a placed rig, at the speeds its file states.

    flash_time : time in which nine tenths of the flash's light come, t0.1 [s]
    Raises ValueError in words for a negative time.
    """
    shot = placed.rig.shot
    shake, wind, ambient_shake, ambient_wind = (
        blur(magnification=placed.magnification, speed=speed, time=time)
        for time in (flash_time, shot.shutter)
        for speed in (shot.shake, shot.wind)
    )
    return Motion(
        flash_time=flash_time,
        shutter=shot.shutter,
        shake=shake,
        wind=wind,
        ambient_shake=ambient_shake,
        ambient_wind=ambient_wind,
    )
