"""Figures as people copy them from a pack: percentages, ranges, units; and complaints in the words of the options."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager

from lightsim.measure.refusals import in_options
from lightsim.rig.errors import RigError, fault, given, paragraph
from lightsim.sheet.given import Given

_TO = re.compile(r"(?<=\d)\s*-\s*(?=[\d.])|\s*(?:\.{2,}|…|–|—|\bto\b)\s*|\s+")
_GIVE_OR_TAKE = re.compile(r"\s*(?:±|\+/-|\+-)\s*")
_SHARE = 'a percentage such as 91%, or a share such as 0.91; a range as "90..92%", or as "90..91..92%"'
_POUNDS = re.compile(r"[\d.]\s*(?:lbs?|pounds?|#)$", re.IGNORECASE)
_IN_GRAMS = "75 for 20 lb office paper, 90 for 24 lb, 105 for 28 lb"  # US Government paper standards JCP O-65 and O-63


def share(option: str, text: str, *, whiteness: bool = False) -> Given:
    """The share that a text means: a number, or (least, likely, most).

    With a % sign it is a percentage. Without one, a number above 1 is a percentage and one below 1 a share; 1 itself
    could be either and is refused, and so is a range with numbers on both sides of 1.
    whiteness: whether a number above 100 may pass as it is, so that the paper can say that it is a CIE whiteness
    Raises RigError for anything else.
    """
    bare = re.sub(r"\s*%", "", text)
    found = _numbers(option, text, bare, allowed=_SHARE, remedy=f"{option} 91%")
    largest = max(found)
    if largest == 1 and "%" not in text:
        raise fault(
            f"{option} {given(text)}",
            what="this may be 1 % or all of the light",
            allowed=_SHARE,
            remedy=f"{option} 1% or {option} 100%",
        )
    if "%" not in text and any(0 < each < 1 for each in found) and largest > 1:
        raise fault(
            f"{option} {given(text)}",
            what="below 1 a number is a share and above 1 a percentage, and this range holds both",
            allowed=_SHARE,
            remedy="both ends as percentages, with the sign",
        )
    if whiteness and len(found) == 1 and largest > 100:
        return largest
    if min(found) < 0 or largest > 100:
        raise fault(
            f"{option} {given(text)}",
            what="this is less than nothing" if min(found) < 0 else "this is more than all of the light",
            allowed="at least 0 %, at most 100 %",
            remedy="the figure without its sign" if min(found) < 0 else "reading the figure again",
        )
    if "%" in text or largest > 1:
        found = [each / 100 for each in found]
    return _as_given(found)


def amount(option: str, text: str, *, units: Sequence[str], remedy: str) -> Given:
    """The number that a text means, or (least, likely, most), with or without one of these units behind it.

    Raises RigError for anything else.
    """
    bare = text
    for unit in units:
        bare = re.sub(rf"(?<=[\d.])\s*{re.escape(unit)}(?![\w/²])", "", bare, flags=re.IGNORECASE)
    allowed = f"a number{' in ' + units[0] if units else ''}, with a point for the decimals; a range as 2..3"
    return _as_given(_numbers(option, text, bare, allowed=allowed, remedy=f"{option} {remedy}"))


def single(option: str, text: str, *, units: Sequence[str], remedy: str) -> float:
    """As amount, but one number. Raises RigError for a range too."""
    found = amount(option, text, units=units, remedy=remedy)
    if isinstance(found, tuple):
        raise fault(
            f"{option} {given(text)}",
            what="this is a range",
            allowed=f"one number in {units[0]}",
            remedy=f"{option} {found[1]:g}, or the command once for each end",
        )
    return found


def grammage(option: str, text: str) -> float:
    """Grammage [g/m2]. Raises RigError for what is no number, and for pounds."""
    if _POUNDS.search(text.strip()):
        raise fault(
            f"{option} {given(text)}",
            what="pounds hang on the size of the sheets that the mill weighs",
            allowed="grammage in g/m2 (gsm)",
            remedy=_IN_GRAMS,
        )
    return single(option, text, units=("g/m2", "g/m²", "g/m^2", "gsm", "g"), remedy="80")


def needed(option: str, text: str | None, *, what: str, remedy: str) -> str:
    """The text of an option that must be there. Raises RigError if it is not."""
    if text is None:
        raise fault(option, what="this is missing", allowed=what, remedy=f"{option} {remedy}")
    return text


def no_whiteness(option: str, text: str) -> RigError:
    """What ISO brightness is told: it is another thing than whiteness as the eye sees it."""
    bright = any(float(each) > 100 for each in re.findall(r"\d+(?:\.\d+)?", text))
    return fault(
        f"{option} {given(text)}",
        what="ISO brightness (ISO 2470-1) is taken in blue light about 457 nm, where brightener glows; a camera weighs "
        "all visible light",
        allowed="the luminance factor Y as --reflectivity, L* as --lightness, or neither: then that of white paper is "
        "assumed",
        remedy=f"leaving it out{'; above 100 it means fluorescent brightener, so add --brightened' if bright else ''}",
    )


@contextmanager
def refusals(where: str, options: Mapping[str, str], typed: Mapping[str, str | None]) -> Iterator[None]:
    """What the sheets refuse in this block is told in the words of the command.

    options: by name of a parameter. typed: shares as they were typed, by option
    """
    try:
        yield
    except RigError:
        raise
    except ValueError as error:
        words = {option: text for option, text in typed.items() if text is not None}
        raise RigError(paragraph(f"{where}: {in_options(str(error), options, words).rstrip('. ')}.")) from None


def told(name: str, value: Given, unit: str) -> str:
    """A figure as it was understood, "opacity 91 %" or "haze 75 to 85 % (80)"; a share where the unit is %."""
    scale = 100 if unit == "%" else 1
    if isinstance(value, tuple):
        low, middle, high = (f"{scale * each:.4g}" for each in value)
        return f"{name} {low} to {high}{f' {unit}' if unit else ''} (likely {middle})"
    return f"{name} {scale * value:.4g}{f' {unit}' if unit else ''}"


def _numbers(option: str, text: str, bare: str, *, allowed: str, remedy: str) -> list[float]:
    """One number, or three in order."""
    bare = bare.strip()
    middle, *spread = _GIVE_OR_TAKE.split(bare)
    parts = [middle] if spread else _TO.split(bare)
    found = [_number(part) for part in (*parts, *spread)]
    if not 1 <= len(found) <= 3 or not all(map(math.isfinite, found)) or len(spread) > 1:
        if "," in text:
            remedy = f"a point for the decimals, and .. between the ends of a range, as in {remedy}"
        raise fault(f"{option} {given(text)}", what="this is no such number", allowed=allowed, remedy=remedy)
    if spread:
        found = [found[0] - abs(found[1]), found[0], found[0] + abs(found[1])]
    elif len(found) == 2:
        found = [found[0], sum(found) / 2, found[1]]
    if found != sorted(found):
        ordered = "..".join(f"{each:g}" for each in sorted({found[0], found[-1]}))
        raise fault(
            f"{option} {given(text)}",
            what="the ends of this range are not in order",
            allowed=allowed,
            remedy=f"{option} {ordered}{'%' if '%' in text else ''}",
        )
    return found


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return math.nan


def _as_given(found: Sequence[float]) -> Given:
    return found[0] if len(found) == 1 else (found[0], found[1], found[2])
