"""Times and powers as cameras and flashes show them: "1/200", "1/16", "full"."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from lightsim.rig.units import Number

LEAST_POWER = 1 / 4096
_THIRDS = ("", " + 1/3", " + 2/3")
_SECONDS = re.compile(r"(.*[\d.])\s*(ms|s|sec|secs|seconds?)")
_PERCENT = re.compile(r"(\d{1,3}(?:[.,]\d{1,6})?)\s*%")
_FRACTION = re.compile(r"\d{1,9}(?:\.\d{1,9})?|\.\d{1,9}|\d{1,9}/\d{1,9}")
_STEP = re.compile(r"(.*\S)\s*\+\s*(1/3|2/3|1/2|0?[.,][357])")  # "1/16 + 1/3", or as displays have it "1/16+0.3"
_STOPS = {"1/3": 1 / 3, "2/3": 2 / 3, "1/2": 1 / 2, "3": 1 / 3, "7": 2 / 3, "5": 1 / 2}


def fraction(value: Any) -> Any:
    """A number, or a text such as "1/200", "1/200 s" or "2 ms" as one; anything else as it is, for the model to refuse.

    Raises ValueError in words for a text that is none.
    """
    if not isinstance(value, str):
        return value
    text, unit = value.strip().lower()[:40], ""
    if found := _SECONDS.fullmatch(text):
        text, unit = found[1], found[2]
    text = text.replace(" ", "")
    # Fraction would also take "1e99999999", and think about it for hours.
    if not _FRACTION.fullmatch(text):
        raise ValueError("this is neither a number nor a fraction")
    try:
        return float(Fraction(text) / (1000 if unit == "ms" else 1))
    except ZeroDivisionError:
        raise ValueError("this is neither a number nor a fraction") from None


def power(value: Any) -> Any:
    """A power as people write it: "1/16", "1/16 + 1/3", "full", "50%", or a share. Raises ValueError in words."""
    if isinstance(value, str) and value.strip().lower() == "full":
        return 1.0
    if isinstance(value, str) and (percent := _PERCENT.fullmatch(value.strip()[:20])):
        return float(percent[1].replace(",", ".")) / 100
    found = _STEP.fullmatch(value.strip()) if isinstance(value, str) and len(value) <= 20 else None
    try:
        if found:
            stops = _STOPS[found[2] if "/" in found[2] else found[2][-1]]
            return float(fraction(found[1]) * 2**stops)
        return fraction(value)
    except ValueError:
        raise ValueError('this is no power of a flash. Try "1/16", or "full"') from None


Seconds = Annotated[Number, BeforeValidator(fraction)]  # s
Power = Annotated[Number, BeforeValidator(power), Field(ge=LEAST_POWER, le=1)]  # share of full power
Stops = Annotated[Number, BeforeValidator(fraction)]  # a number of stops that may be written "1/3"


def power_words(power: float) -> str:
    """A power as flashes show it: "full", "1/16", "1/16 + 1/3" for a third of a stop more, else a share."""
    if power == 1:
        return "full"
    thirds = round(3 * math.log2(power))
    if math.isclose(power, 2 ** (thirds / 3), rel_tol=1e-6):
        whole, rest = divmod(thirds, 3)
        return f"{Fraction(2) ** whole}{_THIRDS[rest]}"
    halves = round(2 * math.log2(power))
    if math.isclose(power, 2 ** (halves / 2), rel_tol=1e-6):
        return f"{Fraction(2) ** (halves // 2)} + 1/2"
    parts = Fraction(power).limit_denominator(20)
    return str(parts) if math.isclose(float(parts), power, rel_tol=1e-6) else f"{power:.4g}"


def seconds_words(time: float) -> str:
    """A time as cameras show it: "1/200 s" below a third of a second, to three digits; else "2.5 s"."""
    if time >= 0.3:
        return f"{time:.3g} s"
    digits = 10 ** max(math.floor(math.log10(1 / time)) - 2, 0)
    rounded = round(1 / time / digits) * digits
    return f"1/{rounded} s" if math.isclose(rounded * time, 1, rel_tol=0.01) else f"{time:.3g} s"
