"""What was typed after lightsim measure becomes data: names, readings with and without their units, marks on a wall."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from lightsim.rig.errors import fault, file_name, given

STOPS, MILLIMETRES, SHARE, F_NUMBER, PLAIN = "stops", "mm", "share", "f-number", "number"
_UNITS = {  # that may stand before or behind a number, what is allowed, what to try
    STOPS: (r"\s*stops?$", "stops, a number with a point for the decimals", "1.5"),
    MILLIMETRES: (r"\s*mm$", "a number of mm, with a point for the decimals", "100"),
    SHARE: (r"\s*%$", "a share of the light, such as 0.86 or 86%", "0.86"),
    F_NUMBER: (r"^f\s*/?\s*", "an f-number, such as 8 or f/8", "8"),
    PLAIN: (r"^iso\s*", "a number, with a point for the decimals", "100"),
}
_MOST_STOPS = 14  # what a mark on a wall may be darker than the middle


def name_of(words: Sequence[str] | None, *, example: str) -> str | None:
    """The name that the words after a command make, None if there are none.

    Raises RigError where one of several words is or begins with a number, or one is a percent sign: it may be the rest
    of a figure.
    """
    if not words:
        return None
    if "%" in words:
        raise fault(
            f"NAME {given(' '.join(words))}",
            what='"%" stands alone, so it counts as a part of the name',
            allowed="a percentage in one word, such as 91%, and a name without the sign",
            remedy='91% without a space, or quotes around both, "91 %"',
        )
    for word in words if len(words) > 1 else ():
        if re.match(r"[-+.]?\d", word) or not re.search(r"[^\W\d_]", word):
            raise fault(
                f"NAME {given(' '.join(words))}",
                what=f"{given(word)} may be a part of the name or of a figure",
                allowed="a name of several words, none of them a number, or anything in quotes",
                remedy=f'quotes around the name, such as "{example}", and around a figure of several words',
            )
    return " ".join(words)


def numbers(typed: Mapping[str, tuple[str, str, str | None]]) -> dict[str, Any]:
    """Numbers by key, of the options that were given: {"--window": ("window", STOPS, "1.2")}.

    Raises RigError for what is no number.
    """
    return {key: _number(option, kind, text) for option, (key, kind, text) in typed.items() if text is not None}


def marks(option: str, text: str) -> list[list[float]]:
    """Marks on the wall as typed: "200:0.4 400:1.5". Raises RigError for anything else."""
    found = []
    for word in text.replace(",", " ").split():
        distance, colon, stops = word.partition(":")
        try:
            if not colon:
                raise ValueError
            place, darker = float(distance), float(stops)
        except ValueError:
            raise _no_mark(option, text, f"{given(word)} is no mark on the wall") from None
        if darker > _MOST_STOPS >= place:
            swapped = (
                f"{given(word)} would be {stops} stops darker at {distance} mm, which looks like the wrong way round"
            )
            raise _no_mark(option, text, swapped, remedy=f"{stops}:{distance}")
        found.append([place, darker])
    return found


def one_way(readings: Path, data: Mapping[str, Any]) -> bool:
    """That a file of readings stands alone. Raises RigError if the same was also given as options."""
    if data:
        raise fault(
            f"--readings {file_name(readings)}",
            what=f"the command holds readings too ({', '.join(sorted(data))})",
            allowed="either a file of readings, or the name and the readings in the command",
            remedy="changing them in the file",
        )
    return True


def _number(option: str, kind: str, text: str) -> float:
    unit, allowed, remedy = _UNITS[kind]
    bare = text.strip()
    if kind == STOPS and bare.endswith("%"):
        left = _float(bare[:-1])
        stops = -math.log2(left / 100) if 0 < left < 100 else 1.5
        raise fault(
            f"{option} {given(text)}",
            what="this is a percentage, and readings are in stops",
            allowed="stops, each a factor of two in light; darker counts as positive",
            remedy=f"{option} {stops:.2g}" + (f", if {left:g} % of the light is left" if 0 < left < 100 else ""),
        )
    value = _float(re.sub(unit, "", bare, flags=re.IGNORECASE))
    if not math.isfinite(value):
        if re.fullmatch(r"-?\d+,\d+", bare):
            remedy = bare.replace(",", ".")
        raise fault(
            f"{option} {given(text)}", what="this is not a number", allowed=allowed, remedy=f"{option} {remedy}"
        )
    return value / 100 if kind == SHARE and bare.endswith("%") else value


def _float(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return math.nan


def _no_mark(option: str, text: str, what: str, *, remedy: str = "") -> Exception:
    return fault(
        f"{option} {given(text)}",
        what=what,
        allowed="mm from the middle first, a colon, then stops darker than the middle; several with spaces, in quotes",
        remedy=f'{option} "{remedy or "200:0.4 400:1.5 600:2.8"}"',
    )
