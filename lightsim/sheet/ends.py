"""A sheet with one of its numbers moved to an end of its range."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from lightsim.sheet.sheet import BY_SIDE, SHARES, Sheet, both

_GIVES_WAY = "diffuse_reflectance"


@dataclass(frozen=True)
class Ends:
    """One number of a sheet that is known to a range only."""

    key: str  # of the sheet: "diffuse_transmittance"
    low: Sheet  # the sheet with this number at its low end, all others at value
    high: Sheet


def ends_of(sheet: Sheet) -> tuple[Ends, ...]:
    """The numbers of a sheet that have a range, in the order of the file."""
    return tuple(
        Ends(key, moved(sheet, key, origin.low), moved(sheet, key, origin.high))
        for key, origin in sheet.origins.items()
        if origin.low is not None and origin.high is not None and origin.has_range
    )


def layers_of(material: str, sheet: Sheet) -> Iterator[tuple[str, Sheet]]:
    """The sheets with numbers of their own that a material is made of, by name: itself, or the layers of a stack."""
    if not sheet.made_of:
        yield material, sheet
    for name, layer in sheet.made_of:
        yield from layers_of(name, layer)


def moved(sheet: Sheet, key: str, sides: tuple[float, float]) -> Sheet:
    """The sheet with another number, (front, back).

    A share that stands against another takes from it what it gains. Where the shares of a side then sum to more than 1,
    its diffuse reflectance gives way, as far as there is any; the number itself goes no farther than that allows.
    """
    if key not in SHARES:
        return sheet.model_copy(update={key: sides[0]})
    against = sheet.origins[key].against if key in sheet.origins else ""
    if against:
        return _exchanged(sheet, key, against, sides)
    others = [
        sum(both(getattr(sheet, each))[side] for each in SHARES if each not in (key, _GIVES_WAY)) for side in (0, 1)
    ]
    room = [max(1 - each, 0.0) for each in others]
    if key not in BY_SIDE:
        room = [min(room)] * 2
    new = (min(sides[0], room[0]), min(sides[1], room[1]))
    if key == _GIVES_WAY:
        return sheet.model_copy(update={key: new})
    back = [
        min(each, max(1 - other - own, 0.0))
        for each, other, own in zip(sheet.reflectance_by_side, others, new, strict=True)
    ]
    return sheet.model_copy(update={key: new if key in BY_SIDE else new[0], _GIVES_WAY: (back[0], back[1])})


def _exchanged(sheet: Sheet, key: str, against: str, sides: tuple[float, float]) -> Sheet:
    """The sheet with another number whose gain another share loses, as far as it has any."""
    mine, others = both(getattr(sheet, key)), both(getattr(sheet, against))
    gains = [min(new - old, other) for new, old, other in zip(sides, mine, others, strict=True)]
    if key not in BY_SIDE or against not in BY_SIDE:
        gains = [min(gains)] * 2
    new = [old + gain for old, gain in zip(mine, gains, strict=True)]
    left = [max(other - gain, 0.0) for other, gain in zip(others, gains, strict=True)]
    return sheet.model_copy(
        update={
            key: (new[0], new[1]) if key in BY_SIDE else new[0],
            against: (left[0], left[1]) if against in BY_SIDE else left[0],
        }
    )
