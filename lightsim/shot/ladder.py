"""The power ladder: every setting of the flash from full power down, with its times, charges and energy."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lightsim.rig.errors import fault, given
from lightsim.rig.head import HeadSpec
from lightsim.shot.pulse import pulse_of

_SAME = 1e-6  # stops; what rounding leaves between two ways to write one power


@dataclass(frozen=True)
class Rung:
    """One power setting, of all heads together; None where no head's file states it."""

    power: float  # share of full power
    half: float  # t0.5, s; the longest of the heads
    tenth: float  # t0.1, s; the longest of the heads
    recycle: float | None  # s, the longest of the heads
    flashes: int | None  # of one battery charge, the fewest of the heads
    energy: float | None  # J a flash, drawn from the capacitor; the most of the heads


def ladder(heads: Sequence[HeadSpec]) -> tuple[Rung, ...]:
    """The power settings that all heads have, full power first, down to the highest of their least powers.

    The step is the shortest that each head can follow: the coarsest of theirs, or a multiple of it where they do not
    fit into one another (halves and thirds of a stop meet at whole stops). A step of 0.3 or 0.7 is a third or two
    thirds, as displays write them.
    Energy and the time to recharge go as the power, flashes of a battery charge as one over it: a pulse cut short takes
    only its share out of the capacitor, and the charger puts it back at one pace (derived here; common practice, no
    source). What the flash draws between two flashes is left out, so low powers may fall short of their flashes, and
    the electronics may ask for a longer pause.
    Raises RigError for no heads.
    """
    if not heads:
        raise fault("power ladder", what="there is no flash", allowed="one flash or more", remedy="a table [[head]]")
    step = _common_step([_as_meant(head.power_step) for head in heads])
    least = max(head.power_least for head in heads)
    count = math.floor((-math.log2(least) + _SAME) / step) + 1
    return tuple(_rung(heads, 2.0 ** (-step * index)) for index in range(count))


def nearest(rungs: Sequence[Rung], power: float) -> Rung:
    """The rung nearest to a power in stops; of two alike the brighter.

    power : share of full power; may lie above full power or below the ladder
    Raises RigError for no rungs, or a power that is not above 0.
    """
    if not rungs:
        raise fault("power ladder", what="it has no rungs", allowed="one or more", remedy="ladder(heads)")
    if not 0 < power < math.inf:
        raise fault(
            "power of a flash",
            what=f"it is {given(power)} of full power",
            allowed="more than 0",
            remedy="0.0625, which is 1/16",
        )
    away = [abs(math.log2(rung.power) - math.log2(power)) for rung in rungs]
    least = min(away)
    return max((rung for rung, stops in zip(rungs, away, strict=True) if stops <= least + _SAME), key=_power)


def _rung(heads: Sequence[HeadSpec], power: float) -> Rung:
    pulses = [pulse_of(head, power) for head in heads]
    fewest = _stated((-head.flashes if head.flashes else None) for head in heads)
    recycle = _stated(head.recycle for head in heads)
    energy = _stated(head.energy for head in heads)
    return Rung(
        power=power,
        half=max(pulse.half for pulse in pulses),
        tenth=max(pulse.tenth for pulse in pulses),
        recycle=None if recycle is None else recycle * power,
        flashes=None if fewest is None else math.floor(-fewest / power * (1 + _SAME)),
        energy=None if energy is None else energy * power,
    )


def _stated(values: Iterable[float | None]) -> float | None:
    """The largest of the numbers that are there."""
    return max((value for value in values if value is not None), default=None)


def _as_meant(step: float) -> float:
    """A step of power in stops; 0.3, 0.33, 0.7, 0.67 and the like as the thirds they stand for."""
    third = round(3 * step) / 3
    return third if any(math.isclose(step, round(third, digits)) for digits in range(1, 7)) else step


def _common_step(steps: Sequence[float]) -> float:
    """The shortest multiple of the coarsest step that is a multiple of all; the coarsest if there is none in a stop."""
    coarsest = max(steps)
    for count in range(1, max(math.floor(1 / coarsest + _SAME), 1) + 1):
        ratios = [count * coarsest / step for step in steps]
        if all(math.isclose(ratio, round(ratio), rel_tol=_SAME) for ratio in ratios):
            return count * coarsest
    return coarsest


def _power(rung: Rung) -> float:
    return rung.power
