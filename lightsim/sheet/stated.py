"""What a sheet states of itself, number by number and in words, for people."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from lightsim.sheet.sheet import BODY, NUMBERS, Origin, Sheet, both

NOT_STATED = "not stated"
MEANING = (
    "Shares of the light that falls on the sheet squarely; half_value_angle in degrees; roughness and pore_depth are "
    "plain numbers. What is not named is absorbed. The true number of such a sheet may lie anywhere from low to high."
)
KNOWN = (
    "published: by the source named, for this kind of sheet. derived: by a rule, from numbers no better than its "
    "source says. from memory: a plausible middle, no measurement known. assumed: a choice."
)


class Number(NamedTuple):
    """One number of a sheet, on one side where the sides differ."""

    key: str
    side: str  # "front" or "back" where the sides differ, "" where both are alike or there is one
    value: float
    low: float
    high: float
    known: str
    source: str
    against: str = ""  # the share that loses what this one gains within its range

    @property
    def label(self) -> str:
        """The key as files have it, and the side."""
        return f"{self.key} ({self.side})" if self.side else self.key


def numbers(sheet: Sheet) -> list[Number]:
    """What a sheet states: every number that differs from its default or says how it is known."""
    found = []
    for key in NUMBERS:
        value, origin = getattr(sheet, key), sheet.origins.get(key)
        if origin is None and value == Sheet.model_fields[key].default:
            continue
        origin = origin or Origin()
        ends = (both(value), origin.low or both(value), origin.high or both(value))
        alike = all(front == back for front, back in ends)
        for side, place in (("", 0),) if alike else (("front", 0), ("back", 1)):
            middle, low, high = (pair[place] for pair in ends)
            if alike or high > 0:
                known = origin.known or NOT_STATED
                found.append(Number(key, side, middle, low, high, known, origin.source, origin.against))
    return found


def body(sheet: Sheet) -> list[Number]:
    """Thickness, grammage, specific heat, where it softens, as far as a sheet states them; no shares of the light."""
    found = []
    for key in BODY:
        value, origin = getattr(sheet, key), sheet.body.get(key, Origin())
        if value is not None:
            low, high = ((end or (value,))[0] for end in (origin.low, origin.high))
            found.append(Number(key, "", value, low, high, origin.known or NOT_STATED, origin.source))
    return found


def divisions(stated: Sequence[Number]) -> list[str]:
    """Which numbers only divide a sum with another, a sentence each."""
    others: dict[str, dict[str, None]] = {}
    for number in stated:
        if number.against:
            others.setdefault(number.against, {})[number.key] = None
    sentences = []
    for other, keys in others.items():
        one = len(keys) == 1
        gains = "What it gains within its range" if one else "What they gain within their ranges"
        stand = f"{' and '.join(keys)} {'stands' if one else 'stand'} against {other}. {gains}, {other} loses."
        sentences.append(stand)
    return sentences


def as_text(value: float) -> str:
    """A number as tables show it: whole, or with two decimals or more."""
    text = f"{value:.4g}"
    whole, point, decimals = text.partition(".")
    return f"{whole}.{decimals:0<2}" if point or value < 1 else whole


def summary(sheet: Sheet) -> str:
    """How much passes, comes back and is absorbed, in words."""
    through = sheet.straight + sheet.pores + sheet.forward_transmittance + sheet.diffuse_transmittance
    sides = zip(sheet.reflectance_by_side, sheet.gloss_by_side, sheet.metal_by_side, strict=True)
    front, back = (sum(shares) for shares in sides)
    passed = f"{_percent(through)} through ({-math.log2(through):.1f} stops)" if through > 0 else "nothing through"
    if front == back:
        return f"Sends {passed}, {_percent(front)} back; absorbs {_percent(1 - through - front)}."
    returned = f"{_percent(front)} back from its front and {_percent(back)} from its back"
    return f"Sends {passed}, {returned}; absorbs {_percent(1 - through - front)} and {_percent(1 - through - back)}."


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %" if share > 0.0005 else "nothing"


def by_source(stated: Sequence[Number]) -> dict[str, list[str]]:
    """Labels by what is said about them, in order."""
    grouped: dict[str, list[str]] = {}
    for number in stated:
        grouped.setdefault(f"{number.known}: {number.source or 'no source stated'}.", []).append(number.label)
    return grouped
