"""What to change when a test frame is not as meant, each change with its price in stops."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import log2, sqrt
from typing import Literal

from lightsim.rig.fractions import power_words, seconds_words
from lightsim.shot.ladder import Rung, nearest
from lightsim.shot.plan import NEAR, Fits, Plan
from lightsim.shot.spoken import two_figures

Trouble = Literal["too dark", "too bright", "too shaky", "too hard"]
TROUBLES: tuple[Trouble, ...] = ("too dark", "too bright", "too shaky", "too hard")
_F_NUMBERS = (1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0, 45.0, 64.0)  # as lenses are marked
_MUCH = 0.2  # of the light on the subject, from which less of the day darkens the picture (a choice, no source)
_GHOST = 4.0  # stops below the flash from which the day's blurred picture hardly shows (a choice, no source)


@dataclass(frozen=True)
class Change:
    """One thing to change, and its price."""

    trouble: Trouble
    do: str
    picture: float  # stops by which the picture gets brighter
    left: float  # stops of flash power left above the setting afterwards; below 0 there is not enough
    price: str  # what else it does, in words


def changes(plan: Plan) -> tuple[Change, ...]:
    """What to change if the test frame is too dark, too bright, too shaky or too hard, the cheapest first."""
    return (*_too_dark(plan), *_too_bright(plan), *_too_shaky(plan), *_too_hard(plan))


def ghost(plan: Plan) -> bool:
    """Whether the day draws a blurred picture beside that of the flash that may show.

    It does where the day's movement on the sensor exceeds the blur circle, and the day's light is less than 4 stops
    below that of the flash. A choice, no source.
    """
    moved = sqrt(plan.motion.ambient_shake**2 + plan.motion.ambient_wind**2)
    return moved > plan.focus.blur_circle and plan.day > plan.flash * 2.0**-_GHOST


def smeared(plan: Plan) -> float:
    """How far the picture moves on the sensor while the flash burns, by shake and wind together, pixels."""
    return sqrt(plan.motion.shake**2 + plan.motion.wind**2) / plan.focus.pixel


def frozen(plan: Plan) -> bool:
    """Whether what moves while the flash burns stays within what counts as sharp."""
    return smeared(plan) * plan.focus.pixel <= plan.focus.blur_circle


def stopped(f_number: float, stops: int) -> float:
    """The marked f-number so many whole stops further closed; between the usual ones by powers of root two.

    Marks are rounded: f/11 is 8 times root two.
    """
    for place, usual in enumerate(_F_NUMBERS):
        if abs(usual - f_number) < 0.02 * f_number and 0 <= place + stops < len(_F_NUMBERS):
            return _F_NUMBERS[place + stops]
    return float(f"{f_number * sqrt(2) ** stops:.2g}")


def _picture(plan: Plan, *, rung: Rung | None = None, flash: float = 1.0, day: float = 1.0) -> float:
    """Stops by which the picture gets brighter at another rung, and where flash and day give so many times as much."""
    light = flash * plan.light_at(rung or plan.start)
    return log2((light + day * plan.day) / (plan.flash + plan.day))


def _left(rung: Rung) -> float:
    """Stops of power above a rung."""
    return log2(1 / rung.power)


def _too_dark(plan: Plan) -> Iterator[Change]:
    more = plan.brighter
    if more is not None:
        ready = "" if more.recycle is None else f"; ready in {ready_words(more.recycle)}"
        price = f"pulse {seconds_words(more.tenth)}{ready}"
        yield Change("too dark", _power(more), _picture(plan, rung=more), _left(more), price)
    yield Change("too dark", f"ISO {2 * plan.iso:.10g}", 1.0, plan.left, "more noise")
    wider = stopped(plan.f_number, -1)
    if plan.f_numbers is None or wider > 0.98 * plan.f_numbers[0]:
        price = f"{two_figures(plan.focus.depth / sqrt(2))} mm in focus, not {two_figures(plan.focus.depth)}"
        yield Change("too dark", f"f/{wider:g}", 1.0, plan.left, price)


def _too_bright(plan: Plan) -> Iterator[Change]:
    less = plan.darker
    if less is not None and plan.fits is not Fits.DAY_ALONE:
        price = f"none; pulse {seconds_words(less.tenth)}"
        yield Change("too bright", _power(less), _picture(plan, rung=less), _left(less), price)
    if plan.day_share > _MUCH:
        yield from _less_day(plan, "too bright")
    if plan.iso / 2 > 0.98 * plan.base_iso:
        yield Change("too bright", f"ISO {plan.iso / 2:.10g}", -1.0, plan.left, "none; less noise")
    closed = stopped(plan.f_number, 1)
    if plan.f_numbers is None or closed < 1.02 * plan.f_numbers[1]:
        deep, blurred = two_figures(plan.focus.depth * sqrt(2)), 1000 * plan.focus.airy * sqrt(2)
        price = f"{deep} mm in focus; diffraction {blurred:.0f} µm"
        yield Change("too bright", f"f/{closed:g}", -1.0, plan.left, price)


def _less_day(plan: Plan, trouble: Trouble) -> Iterator[Change]:
    """Less light of the day: for nothing by the shutter, then by shade."""
    # Shorter than the pulse it would cut the flash as well.
    if plan.shutter > 1.02 * plan.sync and plan.start.tenth < plan.sync:
        picture = _picture(plan, day=plan.sync / plan.shutter)
        yield Change(
            trouble, f"shutter {seconds_words(plan.sync)}", picture, plan.left, "none, as fast as flash allows"
        )
    yield Change(trouble, "full shade over the subject", _picture(plan, day=0), plan.left, "an umbrella, a hat")


def _too_shaky(plan: Plan) -> Iterator[Change]:
    """Blur by the day, by a long pulse, and frames out of focus."""
    if ghost(plan):
        yield from _less_day(plan, "too shaky")
        if plan.brighter is not None and plan.iso / 2 > 0.98 * plan.base_iso:
            words = f"ISO {plan.iso / 2:.10g} and {_power(plan.brighter)}"
            picture = _picture(plan, rung=plan.brighter) - 1
            yield Change("too shaky", words, picture, _left(plan.brighter), "the day's picture is a stop weaker")
    if not frozen(plan) and plan.darker is not None:
        words, price = f"ISO {2 * plan.iso:.10g} and {_power(plan.darker)}", f"pulse {seconds_words(plan.darker.tenth)}"
        picture = _picture(plan, rung=plan.darker) + 1
        yield Change("too shaky", words, picture, _left(plan.darker), f"more noise; {price}")
    frames = plan.focus.frames_most
    if frames is not None and frames > 1:
        words = f"{frames} frames through the focus"
        yield Change("too shaky", words, 0.0, plan.left, "one is sharp, nine times in ten")


def _too_hard(plan: Plan) -> Iterator[Change]:
    cost = plan.doubling.value
    if cost is None:
        price = "what each design costs: lightsim compare"
        yield Change("too hard", "a diffuser before the flash", 0.0, plan.left, price)
        return
    near = _power_for(plan, cost)
    price = f"{_power(near)} makes up for it" if near else "no power is left for it"
    left = _left(near) if near else log2(1 / plan.wanted) - cost if plan.wanted > 0 else 0.0
    yield Change("too hard", "twice the area, or as much nearer", _picture(plan, flash=2.0**-cost), left, price)


def _power_for(plan: Plan, cost: float) -> Rung | None:
    """The rung for a diffuser that takes so many stops more; None if it lies above full power."""
    wanted = plan.wanted * 2**cost
    return nearest(plan.rungs, max(wanted, plan.rungs[-1].power)) if wanted <= 2**NEAR else None


def ready_words(time: float) -> str:
    """How soon a flash is ready again."""
    return "under 0.1 s" if time < 0.1 else f"{time:.1f} s"


def _power(rung: Rung) -> str:
    return f"power {power_words(rung.power)}"
