"""What a person meant by a value that a rig cannot use: the number, fraction or list to try in its place.

What people write is common practice, no source.
"""

from __future__ import annotations

import math
import re
from typing import Any, get_args

from pydantic import BeforeValidator
from pydantic.fields import FieldInfo

from lightsim.rig.beam import NARROWEST, WIDEST
from lightsim.rig.fractions import fraction, power
from lightsim.rig.known import Known, is_length
from lightsim.rig.units import INCH, LARGEST

_PERCENT = 100.0
_LONGEST_LINE = 1000
_LENGTHS = {"mm": 1.0, "cm": 10.0, "in": INCH, "inch": INCH, "inches": INCH, '"': INCH, "m": 1000.0}  # mm
_NUMBER = r"\d{1,9}(?:[.,]\d{1,9})?"
_UNIT = r"[^\W\d_]+(?:[-/][^\W\d_]+)?\.?|°\s*[A-Za-z]?|%|\"|×"
_WITH_UNIT = re.compile(rf"\s*(f\s*/?|iso|gn)?\s*([-+]?{_NUMBER})\s*({_UNIT})?\s*", re.IGNORECASE)
_THOUSANDS = re.compile(r"([1-9]\d{0,2}(?:[ ,]\d{3})+)(?!\d)")
_SIZES = re.compile(
    rf"({_NUMBER})((?:\s*(?:[x×*]|by)\s*{_NUMBER}){{1,2}})\s*(mm|cm|m|inches|inch|in|\")?", re.IGNORECASE
)
_FRACTION = re.compile(r"(?<![\w./-])(\d{1,6})\s*[/:÷]\s*([1-9]\d{0,5})(?![\w/])")
_RATIO = re.compile(rf"\s*({_NUMBER})\s*:\s*({_NUMBER})\s*")
# What follows a key of a line of TOML, its texts emptied and its comment gone.
_BARE_FRACTION = re.compile(r"(?<![\w./\"-])(\d{1,6}\s*/\s*\d{1,6}(?:\s*\+\s*[12]\s*/\s*[23])?)(?![\w/])")
_BARE_RATIO = re.compile(rf"=\s*({_NUMBER})\s*:\s*({_NUMBER})\s*(?=$|[,}}\]])")
_BARE_SIZES = re.compile(rf"=\s*{_SIZES.pattern}", re.IGNORECASE)
_BARE_PREFIXED = re.compile(r"=\s*(?:f\s*/?|iso)\s*(\d{1,7}(?:\.\d{1,3})?)(?![\w.])", re.IGNORECASE)
_BARE_THOUSANDS = re.compile(rf"=\s*{_THOUSANDS.pattern}")
_BARE_TEXT = re.compile(r"\s*(zoom|title|about|name|material)\s*=\s*([^\"'\[\]{}=]+?)\s*")
_BARE_UNIT = re.compile(rf"=\s*([-+]?\d[\d_]*(?:\.\d+)?)\s*({_UNIT}|²)(?![\w])")
_BARE_WORD = re.compile(r"=\s*([^\W\d][\w-]*(?: [\w-]+){0,5})\s*(?=$|[,}\]])")
_SWITCHES = {"true": "true", "yes": "true", "on": "true", "false": "false", "no": "false", "off": "false"}


def within(value: Any, ctx: dict[str, Any], data: Any, known: Known) -> str:
    """A value that would do in place of one out of range, in the file's unit; empty if the key's example is better."""
    low, high = ctx.get("ge", ctx.get("gt")), ctx.get("le", ctx.get("lt"))
    if known.field is not None and (_reads(known.field, fraction) or _reads(known.field, power)):
        found, told = _fraction_within(value, low, high, known.field)
        if told:
            return found
    if not isinstance(value, int | float):
        return ""
    length = known.field is not None and is_length(known.field)
    if length and value == 0:
        return "the length that a ruler gives"
    share = known.field is not None and "share" in (known.field.description or "share")
    if share and high is not None and high <= 1 < value <= _PERCENT * high:
        return f"{value / _PERCENT:g} if {value:g} was a percentage"
    if low is not None and low >= 0 > value and -value >= low and abs(value) < 1e4:
        return f"{-value:g}"
    bound = low if low is not None else high
    if bound is None:
        return ""
    if "lt" in ctx or abs(bound) == LARGEST:  # the limit of all lengths: the key may have a narrower one
        return "a number nearer to 0"
    if not length or not in_inches(data):
        return f"{bound:.6g}"
    # Rounded to four digits, but never out of the range.
    number = f"{bound / INCH * (1 + 5e-4 if low is not None else 1 - 5e-4):.4g}"
    return f'{number}; is the file in mm? Then unit = "mm"' if high is not None and 0 < value <= high else number


def number_from(value: Any, data: Any, known: Known) -> str:
    """The number that a text was meant to be, if one can tell."""
    if not isinstance(value, str) or len(value) > 60:
        return ""
    length = known.field is not None and is_length(known.field)
    ratio = _RATIO.fullmatch(value)
    if ratio and _float(ratio[2]):
        speed = "f-number" in ((known.field.description if known.field else "") or "")  # 1:2.8 is written on lenses
        return f"{_float(ratio[2]) if speed else _float(ratio[1]) / _float(ratio[2]):.6g} without quotes"
    if not length:
        value = _THOUSANDS.sub(lambda match: re.sub("[ ,]", "", match[1]), value)
    found = _WITH_UNIT.fullmatch(value)
    if found is None:
        return ""
    number, prefix, unit = _float(found[2]), (found[1] or "").replace(" ", ""), found[3] or ""
    if unit == "%":
        return f"{number / _PERCENT:g}"
    if prefix:
        return f"{number:.10g} without quotes and {prefix}"
    if unit in ("x", "X", "×"):
        return f"{number:.10g} without quotes and {unit}"
    if unit in _LENGTHS and (length or unit != "m"):
        return f"{_in_file(number, unit, data):.6g} without quotes; {_lengths_are(data)}"
    if unit in ("ft", "feet", "ft.") and not length:
        return f'{number:.10g} without quotes and unit, and guide_number_unit = "ft"'
    return f"{number:.10g} without quotes{' and unit' if unit else ''}"


def sizes_from(value: Any, data: Any, known: Known) -> str:
    """The list that a text such as "58 x 38 mm" was meant to be, if it is one."""
    found = _SIZES.fullmatch(value.strip()) if isinstance(value, str) and len(value) <= 60 else None
    if found is None:
        return ""
    numbers, unit = _numbers(found[0]), (found[3] or "").lower()
    if not unit or known.field is None or not is_length(known.field):
        return _listed(numbers)
    return f"{_listed([_in_file(number, unit, data) for number in numbers])}; {_lengths_are(data)}"


def fraction_from(value: Any, known: Known) -> str:
    """The fraction in a text such as "1:200" or "1/16 power", for a key that may be one."""
    if known.field is None or not isinstance(value, str) or len(value) > 60:
        return ""
    found = _FRACTION.search(value) if _reads(known.field, fraction) or _reads(known.field, power) else None
    return f'"{found[1]}/{found[2]}"' if found else ""


def example(remedy: str, known: Known, *, of_list: bool) -> str:
    """The example of a key; of a list of fractions, that of one entry."""
    listed = re.fullmatch(r'\[("[^"]+").*\]', remedy) if of_list and known.field is not None else None
    return listed[1] if listed else remedy


def half_of(value: Any) -> str:
    """The half-value angle that a full angle means, as a line of a beam; without a number if it is none."""
    if isinstance(value, str):
        numbers = _numbers(value[:60])
    else:
        numbers = [each for each in (value if isinstance(value, list | tuple) else [value]) if _is_number(each)]
    halves = [number / 2 for number in numbers]
    if not 1 <= len(halves) <= 2 or not all(NARROWEST <= half <= WIDEST for half in halves):
        return "half_value_angle"
    return f"half_value_angle = {_listed(halves) if len(halves) == 2 else f'{halves[0]:.4g}'}"


def unquoted(line: str) -> str:
    """What to write in place of what is no TOML in a line; empty if one cannot tell.

    line : without its comment, and with "" in place of its texts
    """
    if len(line) > _LONGEST_LINE:
        return ""
    if found := _BARE_TEXT.fullmatch(line):
        return f'quotes around the text, "{found[2][:60]}"'
    if found := _BARE_FRACTION.search(line):
        words = re.sub(r"\s*/\s*", "/", found[1])
        return f'the fraction in quotes, "{words}"'
    if found := _BARE_SIZES.search(line):
        return f"square brackets and a comma, {_listed(_numbers(found[0]))}"
    if (found := _BARE_RATIO.search(line)) and _float(found[2]):
        return f"{_float(found[1]) / _float(found[2]):.6g}, the number alone"
    if found := _BARE_PREFIXED.search(line):
        return f"{found[1]}, the number alone"
    if found := _BARE_THOUSANDS.search(line):
        return f"{re.sub('[ ,]', '', found[1])}, or a point for the decimals"
    if found := _BARE_UNIT.search(line):
        return f"{found[1]}, the number without its unit"
    found = _BARE_WORD.search(line)
    if found is None or found[1] in ("true", "false", "inf", "nan"):
        return ""
    switch = _SWITCHES.get(found[1].lower())
    return f"{switch}, in small letters" if switch else f'a number, or a text in quotes, "{found[1][:60]}"'


def in_inches(data: Any) -> bool:
    """Whether the lengths of a file are in inches."""
    return isinstance(data, dict) and data.get("unit") == "inch"


def _fraction_within(value: Any, low: float | None, high: float | None, field: FieldInfo) -> tuple[str, bool]:
    """What to try for a time, a power or a step out of range, and whether that is all (empty: the key's example)."""
    try:
        number = power(value) if _reads(field, power) else fraction(value)
    except ValueError:
        return "", True
    if not _is_number(number):
        return "", True
    if low is not None:
        return "", number >= 0 or not low <= -number < 1  # -0.005 is 0.005
    turned = '"1/' in (field.description or "")  # 200 is 1/200
    if not turned or high is None or number < 2 or 1 / number > high:
        return "", turned
    if number > 1e7:
        return "", True
    words = f'"1/{number:.7g}"'
    if _reads(field, power) and not math.log2(number).is_integer() and number <= _PERCENT:
        words += f', or "{number:g}%" if that was a percentage'
    return words, True


def _reads(field: FieldInfo, reader: Any) -> bool:
    """Whether what a field holds is read by this function."""

    def marks(annotation: Any) -> list[Any]:
        inner = get_args(annotation)
        return [mark for item in inner for mark in marks(item)] if inner else [annotation]

    return any(
        isinstance(mark, BeforeValidator) and mark.func is reader
        for mark in (*field.metadata, *marks(field.annotation))
    )


def _in_file(number: float, unit: str, data: Any) -> float:
    return number * _LENGTHS[unit] / (INCH if in_inches(data) else 1.0)


def _lengths_are(data: Any) -> str:
    return f"lengths are in {'inch' if in_inches(data) else 'mm'} in this file"


def _numbers(text: str) -> list[float]:
    return [_float(number) for number in re.findall(_NUMBER, text)]


def _listed(numbers: list[float]) -> str:
    return f"[{', '.join(f'{number:.6g}' for number in numbers)}]"


def _float(text: str) -> float:
    return float(text.replace(",", "."))


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
