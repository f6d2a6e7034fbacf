"""Thickness and grammage: what a sheet is besides what it does to light, for those who cut, fold and carry it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from lightsim.sheet.lengths import INCH
from lightsim.sheet.sheet import BODY, HEAVIEST, LIGHTEST, THICKEST, THINNEST, How, Origin, Sheet, both

UNITS = {"thickness": "mm", "grammage": "g/m2"}
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
    """Thickness, grammage and body of sheets in contact: sums, of what every one of them states.

    Their ends are the sums of all low and of all high ends. Glue and tape are not in it.
    Raises ValueError in words for a sum that is more than a Sheet can hold.
    """
    found: dict[str, Any] = {}
    body = {}
    for key in BODY:
        values = [getattr(sheet, key) for sheet in sheets]
        if None in values:
            continue
        total, most = math.fsum(values), _BOUNDS[key][1]
        if total > most:
            raise ValueError(
                f"the layers have a {key} of {total:g} {UNITS[key]} together. Allowed: at most {most:g} {UNITS[key]}. "
                "Try fewer or thinner layers"
            )
        lows, highs = zip(*(_ends(sheet, key) for sheet in sheets), strict=True)
        low, high = min(math.fsum(lows), total), min(max(math.fsum(highs), total), most)
        spread = {"low": both(low), "high": both(high)} if low < high else {}
        found[key] = total
        body[key] = Origin(**spread, known="derived", source="sum of the layers, without glue or tape")
    return {**found, "body": body}


def _ends(sheet: Sheet, key: str) -> tuple[float, float]:
    value, origin = getattr(sheet, key), sheet.body.get(key, Origin())
    return (origin.low or (value,))[0], (origin.high or (value,))[0]
