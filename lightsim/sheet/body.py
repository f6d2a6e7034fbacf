"""Thickness, grammage, specific heat and where it softens: what a sheet is besides what it does to light.

For those who cut, fold and carry it, and for what the heat of a flash does to it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from lightsim.sheet.lengths import INCH
from lightsim.sheet.sheet import HEAVIEST, LIGHTEST, THICKEST, THINNEST, How, Origin, Sheet, both

UNITS = {"thickness": "mm", "grammage": "g/m2", "specific_heat": "J/(kg K)", "softens": "degrees C"}
_SUMMED = ("thickness", "grammage")
_THICK_IN_INCHES = 0.1  # from which a number in a file in inches may well have been meant in mm: assumed
_LIGHTEST_STUFF, _HEAVIEST_STUFF = 0.005, 11.5  # g/cm3: airy foam and lead, from memory
_BOUNDS = {"thickness": (THINNEST, THICKEST), "grammage": (LIGHTEST, HEAVIEST)}


def density(sheet: Sheet) -> float | None:
    """Mass of a sheet over its volume, air in it included [g/cm3]; None where thickness or grammage is not known.

    As ISO 534 has the apparent density of paper: grammage over thickness (scope opened, formula from memory).
    """
    if sheet.thickness is None or sheet.grammage is None:
        return None
    return sheet.grammage / sheet.thickness / 1000


def odd_body(sheet: Sheet, *, inches: bool) -> list[str]:
    """What may be a mistake in the thickness or the grammage of a sheet; no error, as it can be meant.

    inches: whether the file states its lengths in inches
    """
    found = []
    thickness, heavy = sheet.thickness, density(sheet)
    if inches and thickness is not None and thickness > _THICK_IN_INCHES * INCH:
        stated = thickness / INCH
        found.append(
            f"thickness = {stated:.4g} inch is {thickness:.3g} mm, which is foam or board; if {stated:.4g} was mm, "
            f"write {stated / INCH:.3g}"
        )
    if heavy is not None and not _LIGHTEST_STUFF <= heavy <= _HEAVIEST_STUFF:
        least = heavy < _LIGHTEST_STUFF
        found.append(
            f"thickness and grammage together make {heavy:.2g} g/cm3, {'less' if least else 'more'} than "
            f"{'any foam' if least else 'lead'} has: look at their units ({'inches' if inches else 'mm'} and g/m2)"
        )
    return found


def with_body(sheet: Sheet, *, known: How, source: str, **stated: float) -> Sheet:
    """The sheet with a thickness [mm], a grammage [g/m2] or both, as far as a Sheet can hold them."""
    kept = {key: value for key, value in stated.items() if _BOUNDS[key][0] <= value <= _BOUNDS[key][1]}
    return sheet.model_copy(
        update={**kept, "body": {**sheet.body, **{key: Origin(known=known, source=source) for key in kept}}}
    )


def together(sheets: Sequence[Sheet]) -> dict[str, Any]:
    """Thickness, grammage, specific heat, softens and body of sheets in contact, of what every one of them states.

    Thickness and grammage are sums, the specific heat is the mean by mass, and a stack softens where the first of its
    layers does. Ends are those of all low and of all high ends. Glue and tape are not in it.
    Raises ValueError in words for a sum that is more than a Sheet can hold.
    """
    found: dict[str, Any] = {}
    body: dict[str, Origin] = {}
    for key in _SUMMED:
        if all(getattr(sheet, key) is not None for sheet in sheets):
            total, most = math.fsum(getattr(sheet, key) for sheet in sheets), _BOUNDS[key][1]
            if total > most:
                raise ValueError(
                    f"the layers have a {key} of {total:g} {UNITS[key]} together. Allowed: at most {most:g} "
                    f"{UNITS[key]}. Try fewer or thinner layers"
                )
            found[key], body[key] = _joined(sheets, key, math.fsum, "sum of the layers, without glue or tape", most)
    masses = [sheet.grammage for sheet in sheets]
    if all(mass is not None and sheet.specific_heat is not None for mass, sheet in zip(masses, sheets, strict=True)):

        def by_mass(values: Sequence[float]) -> float:
            shares = [value * (mass or 0.0) for value, mass in zip(values, masses, strict=True)]
            return math.fsum(shares) / math.fsum(mass or 0.0 for mass in masses)

        key = "specific_heat"
        found[key], body[key] = _joined(sheets, key, by_mass, "mean of the layers by their mass, without glue or tape")
    if all(sheet.softens is not None for sheet in sheets):
        found["softens"], body["softens"] = _joined(sheets, "softens", min, "the layer that softens first")
    return {**found, "body": body}


def _joined(
    sheets: Sequence[Sheet],
    key: str,
    rule: Callable[[Sequence[float]], float],
    source: str,
    most: float = math.inf,
) -> tuple[float, Origin]:
    """A number of sheets in contact by a rule, and its origin with the rule of all low and of all high ends."""
    value = rule([getattr(sheet, key) for sheet in sheets])
    lows, highs = zip(*(_ends(sheet, key) for sheet in sheets), strict=True)
    low, high = min(rule(lows), value), min(max(rule(highs), value), most)
    spread = {"low": both(low), "high": both(high)} if low < high else {}
    return value, Origin(**spread, known="derived", source=source)


def _ends(sheet: Sheet, key: str) -> tuple[float, float]:
    value, origin = getattr(sheet, key), sheet.body.get(key, Origin())
    return (origin.low or (value,))[0], (origin.high or (value,))[0]
