"""The library of materials on the command line: all in a line each, or one with every number, its range, its source."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import typer

import lightsim
from lightsim.cli.layout import Cell, Line, Row, say, sentence, table
from lightsim.rig.errors import RigError, either, fault, quoted
from lightsim.rig.files import write_safely
from lightsim.rig.library import kinds_of_materials, library_materials, near_materials
from lightsim.sheet import Sheet
from lightsim.sheet.sheet import HOW, NUMBERS, SHARES, Origin, both

STANDARD_OUTPUT = "-"
NOT_STATED = "not stated"
_HEADS = ("value", "low", "high", "known")
_SUMMED = ("passes", "range", "stops lost", "sends back", "range", "known")
_BACK = ("diffuse_reflectance", "glossy_reflectance", "metallic_reflectance")
_THROUGH = tuple(key for key in SHARES if key not in _BACK)
_MEANING = (
    "Shares of the light that falls on the sheet squarely; half_value_angle in degrees; roughness and pore_depth are "
    "plain numbers. What is not named is absorbed. The true number of such a sheet may lie anywhere from low to high."
)
_OF_LINES = (
    "Of light that falls on it squarely: what passes in all, and what the front sends back in all, each with the range "
    "of such sheets; the rest is absorbed. known is that of the least sure number of each. How the light is spread and "
    "where each number comes from: lightsim materials NAME. Few of these sheets have ever been measured in public: "
    "lightsim measure measures yours."
)
_KNOWN = (
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


def listed() -> list[Line]:
    """Every material of the library in a line: what passes and comes back in all, in which range, how that is known."""
    rows: list[Row] = []
    for kind, names in kinds_of_materials().items():
        rows.extend([Row(kind)] if kind else [])
        rows.extend(_in_a_line(name, library_materials()[name]) for name in names)
    return [*table("in % of the light", _SUMMED, rows), Line(""), *sentence(_OF_LINES), Line(""), *sentence(_KNOWN)]


def shown(name: str) -> list[Line]:
    """One material of the library: each number with value, low, high, how it is known and its source.

    Raises RigError, with the nearest name, for a material that is not there.
    """
    name, sheet = found(name)
    stated = numbers(sheet)
    lines = [*sentence(f"{name}: {sheet.about}", bold=True), *sentence(_summary(sheet)), Line("")]
    lines.extend([*_table(stated), Line("")])
    against = _against(stated)
    lines.extend([*against, Line("")] if against else [])
    lines.append(Line("Where the numbers come from", bold=True))
    for source, keys in _by_source(stated).items():
        lines.extend(sentence(f"{', '.join(keys)}, {source}", indent="  "))
    return [*lines, Line(""), *sentence(_MEANING), *sentence(_KNOWN)]


def delivered(name: str, file: str | None, *, replace: bool) -> None:
    """Print all materials, or the named one; as JSON alone where file is -, and written to any other file.

    Raises RigError for a material that is not there, and for a file that cannot be written.
    """
    if file == STANDARD_OUTPUT:
        typer.echo(as_json(name), nl=False)
        return
    say(shown(name) if name else listed())
    if file is not None:
        written = write_safely(file, as_json(name), replace=replace)
        say([Line(""), Line(f"Wrote {written}")])


def as_json(name: str = "") -> str:
    """The named material of the library, all if none is named, as one object with every number.

    Raises RigError for a material that is not there.
    """
    chosen = [found(name)] if name else [*library_materials().items()]
    document = {"version": lightsim.__version__, "materials": [_object(name, sheet) for name, sheet in chosen]}
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def found(name: str) -> tuple[str, Sheet]:
    """Name and sheet of a material of the library, capitals or not. Raises RigError if it is not there."""
    library = library_materials()
    wanted = " ".join(name.split()).casefold()
    for known, sheet in library.items():
        if known.casefold() == wanted:
            return known, sheet
    raise _unknown(name)


def _unknown(name: str) -> RigError:
    near = near_materials(name)
    return fault(
        quoted(name),
        what="there is no material of this name in the library",
        allowed=f"the {len(library_materials())} names that lightsim materials lists",
        remedy=either(near) or "lightsim materials",
    )


def _in_a_line(name: str, sheet: Sheet) -> Row:
    """What passes in all, with range and stops lost, what the front sends back, how the least sure number is known."""
    through, back = _sum(sheet, _THROUGH), _sum(sheet, _BACK)
    known = [number.known for number in numbers(sheet)]
    least_sure = max(known, key=lambda each: HOW.index(each) if each in HOW else len(HOW), default=NOT_STATED)
    cells = [*_percents(through), Cell(f"{-math.log2(through[0]):.1f}" if through[0] > 0 else "-"), *_percents(back)]
    return Row(f"  {name}", (*cells, Cell("", least_sure)))


def _sum(sheet: Sheet, keys: Sequence[str]) -> tuple[float, float, float]:
    """Sum of shares on the front and its range; shares that stand against each other only divide it."""
    value, low, high = 0.0, 0.0, 0.0
    for key in keys:
        middle, origin = both(getattr(sheet, key)), sheet.origins.get(key, Origin())
        divides = origin.against in keys
        ends = [middle if divides or end is None else end for end in (origin.low, origin.high)]
        value, low, high = value + middle[0], low + ends[0][0], high + ends[1][0]
    return value, low, min(high, 1.0)


def _percents(share: tuple[float, float, float]) -> list[Cell]:
    value, low, high = (f"{100 * each:.{0 if each >= 0.01 or each == 0 else 1}f}" for each in share)
    return [Cell(value), Cell(f"{low} to {high}" if low != high else "")]


def _against(stated: Sequence[Number]) -> list[Line]:
    """Which numbers only divide a sum with another."""
    others: dict[str, dict[str, None]] = {}
    for number in stated:
        if number.against:
            others.setdefault(number.against, {})[number.key] = None
    lines = []
    for other, keys in others.items():
        one = len(keys) == 1
        gains = "What it gains within its range" if one else "What they gain within their ranges"
        stand = f"{' and '.join(keys)} {'stands' if one else 'stand'} against {other}. {gains}, {other} loses."
        lines.extend(sentence(stand))
    return lines


def _table(stated: Sequence[Number]) -> list[Line]:
    """A table of numbers, points under points."""
    shown_numbers = [_text(value) for each in stated for value in (each.value, each.low, each.high)]
    decimals = max((len(text.partition(".")[2]) for text in shown_numbers), default=0)
    return table("", _HEADS, [_row(number, decimals) for number in stated])


def _row(number: Number, decimals: int) -> Row:
    values = []
    for value in (number.value, number.low, number.high):
        whole, point, digits = _text(value).partition(".")
        values.append(Cell(f"{whole}{point or ' ' * bool(decimals)}{digits:<{decimals}}"))
    return Row(number.label, (*values, Cell("", number.known)))


def _text(value: float) -> str:
    """A number as tables show it: whole, or with two decimals or more."""
    text = f"{value:.4g}"
    whole, point, decimals = text.partition(".")
    return f"{whole}.{decimals:0<2}" if point or value < 1 else whole


def _summary(sheet: Sheet) -> str:
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


def _by_source(stated: Sequence[Number]) -> dict[str, list[str]]:
    """Labels by what is said about them, in order."""
    grouped: dict[str, list[str]] = {}
    for number in stated:
        grouped.setdefault(f"{number.known}: {number.source or 'no source stated'}.", []).append(number.label)
    return grouped


def _object(name: str, sheet: Sheet) -> dict[str, Any]:
    return {
        "name": name,
        "about": sheet.about,
        "numbers": [_number_object(number) for number in numbers(sheet)],
    }


def _number_object(number: Number) -> dict[str, Any]:
    values = {**number._asdict(), "side": number.side or None}
    return values if number.against else {key: value for key, value in values.items() if key != "against"}
