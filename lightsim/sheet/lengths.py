"""Lengths as files state them, in their own unit, become millimetres."""

from __future__ import annotations

from numbers import Real
from typing import Any

from pydantic import ValidationInfo

INCH = 25.4  # mm, exact by definition


def plain_number(value: Any) -> float:
    """A number, but no text and no true or false. Raises ValueError in words."""
    # TOML tells numbers, text and true/false apart; pydantic would quietly read "12" and true as numbers.
    if isinstance(value, bool) or not isinstance(value, Real):
        # pydantic reports ValueError, and lets TypeError through.
        raise ValueError("this must be a number. Try it without quotes, with a point for the decimals")
    try:
        return float(value)
    except OverflowError:
        raise ValueError("this number is too large to be used. Try fewer digits") from None


def scale_of(info: ValidationInfo) -> float:
    """How many mm the unit of a file has: what context={"scale": ...} says, 1 without."""
    return float(info.context.get("scale", 1.0)) if isinstance(info.context, dict) else 1.0


def millimetres(value: Any, info: ValidationInfo) -> float:
    """A length of a file in mm. Raises ValueError in words."""
    return plain_number(value) * scale_of(info)
