"""What people hand over about a sheet, checked in words; and a sheet with the range that follows from theirs."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import product
from typing import Any, TypeVar

from lightsim.sheet.sheet import BODY, NUMBERS, SHARES, How, Origin, Sheet, both

Given = float | tuple[float, float, float]  # a number, or what it is at least, probably and at most
Found = TypeVar("Found")
Numbers = Mapping[str, float | tuple[float, float]]  # of a Sheet


def number(name: str, value: Any, *, least: float, most: float, unit: str = "", example: float) -> float:
    """A number within bounds. Raises ValueError in words."""
    what = f" {unit}" if unit else ""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(
            f"{name} = {value!r} is no number. Allowed: {least:g} to {most:g}{what}. Try {name} = {example:g}"
        )
    if not least <= value <= most:
        raise ValueError(f"{name} = {value:g}{what}. Allowed: {least:g} to {most:g}{what}. Try {name} = {example:g}")
    return float(value)


def share(name: str, value: Any, *, least: float = 0.0, most: float = 1.0, example: float) -> float:
    """A share of the light. Raises ValueError in words, also for a percentage."""
    numeric = isinstance(value, int | float) and not isinstance(value, bool)
    if numeric and 1 < value <= 100 and least <= value / 100 <= most:
        raise ValueError(
            f"{name} = {value:g}. Allowed: a share of the light from {least:g} to {most:g}. "
            f"{value:g} looks like a percentage: try {value / 100:g}"
        )
    return number(name, value, least=least, most=most, example=example)


def ends(name: str, given: Any, check: Callable[[str, Any], float]) -> tuple[float, float, float]:
    """(low, value, high) of a number or of such a triple, each of them checked. Raises ValueError in words."""
    if not isinstance(given, list | tuple):
        value = check(name, given)
        return value, value, value
    if len(given) != 3:
        raise ValueError(
            f"{name} = {given!r}. Allowed: one number, or three: least, most likely and most. "
            f"Try {name} = (0.85, 0.88, 0.91)"
        )
    low, value, high = (check(name, each) for each in given)
    if not low <= value <= high:
        raise ValueError(
            f"{name} = {tuple(given)}: the middle number does not lie between the others. "
            f"Allowed: least, most likely, most. Try {name} = {tuple(sorted((low, value, high)))}"
        )
    return low, value, high


def corners(function: Callable[..., Found], **given: tuple[float, float, float]) -> list[Found]:
    """function at every combination of the low and high ends: the range of what follows is what they span.

    That is an outer bound where it rises or falls with each number throughout, as all here do.
    """
    # Where both ends are one number it is taken once.
    choices = [sorted({low, high}) for low, _, high in given.values()]
    return [function(**dict(zip(given, choice, strict=True))) for choice in product(*choices)]


def sheet_with_range(
    *,
    value: Numbers,
    others: Sequence[Numbers],
    known: Mapping[str, How | None],
    source: str,
    about: str = "",
    fixed: Numbers | None = None,
) -> Sheet:
    """The sheet of these numbers, each with the range that it has among the others and itself.

    known: how each number is known; one that is not named was given by the user, who did not say.
    fixed: numbers without a range or an origin, such as a roughness.
    Raises ValueError where the numbers make no sheet.
    """
    origins = {}
    for key, middle in value.items():
        every = [both(middle), *(both(other[key]) for other in others)]
        low, high = (tuple(pick(sides) for sides in zip(*every, strict=True)) for pick in (min, max))
        spread = {"low": low, "high": high} if low != high else {}
        origins[key] = Origin(**spread, known=known.get(key), source=source)
    return Sheet(**{**(fixed or {}), **value}, origins=origins, source=source, about=about)


def within_energy(numbers: Numbers) -> dict[str, float | tuple[float, float]]:
    """The numbers with the diffuse reflectance lowered where rounding made a side pass on more than all."""
    back = []
    for side in (0, 1):
        others = [both(each)[side] for key, each in numbers.items() if key in SHARES and key != "diffuse_reflectance"]
        own = both(numbers.get("diffuse_reflectance", 0.0))[side]
        room = max(1 - math.fsum(others), 0.0)
        back.append(own if own <= room else math.nextafter(room, 0.0))
    return {**numbers, "diffuse_reflectance": back[0] if back[0] == back[1] else (back[0], back[1])}


def rounded(sheet: Sheet, *, digits: int = 4) -> Sheet:
    """The sheet with its numbers and ranges in so many decimals, as a file shows them; no side passes on more than all.

    Where rounding up makes too much light, the diffuse reflectance is lowered, or if that has not enough, the largest
    share.
    """
    if sheet.layers:
        return sheet
    numbers = {key: value for key in NUMBERS if (value := getattr(sheet, key)) is not None}
    short = {key: _rounded(value, digits) for key, value in numbers.items()}
    for side in (0, 1):
        excess = round(math.fsum(both(short[key])[side] for key in SHARES) - 1, digits)
        if excess > 0:
            largest = max(SHARES, key=lambda key: both(short[key])[side])
            lowered = "diffuse_reflectance" if both(short["diffuse_reflectance"])[side] >= excess else largest
            less = tuple(max(round(each - excess, digits), 0.0) for each in both(short[lowered]))
            short[lowered] = less if isinstance(short[lowered], tuple) else less[0]
    origins = {}
    for key, origin in sheet.origins.items():
        if key in short and origin.low is not None and origin.high is not None:
            ends = [*zip(_rounded(origin.low, digits), both(short[key]), _rounded(origin.high, digits), strict=True)]
            low, high = (tuple(pick(each) for each in ends) for pick in (min, max))
            origin = origin.model_copy(update={"low": low, "high": high})
        origins[key] = origin
    body = {key: getattr(sheet, key) for key in BODY}
    return Sheet(**short, **body, body=sheet.body, origins=origins, about=sheet.about, source=sheet.source)


def _rounded(value: Any, digits: int) -> Any:
    return tuple(round(side, digits) for side in value) if isinstance(value, tuple) else round(value, digits)
