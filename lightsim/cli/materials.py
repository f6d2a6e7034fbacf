"""The library of materials on the command line: all in a line each, or one with every number, its range, its source."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

import typer

import lightsim
from lightsim.cli.layout import Cell, Line, Row, say, sentence, table
from lightsim.rig.errors import RigError, either, fault, quoted
from lightsim.rig.files import write_safely
from lightsim.rig.library import kinds_of_materials, library_materials, near_materials
from lightsim.sheet import Sheet
from lightsim.sheet.body import UNITS, density
from lightsim.sheet.sheet import BODY, HOW, SHARES, Origin, both
from lightsim.sheet.stated import (
    KNOWN,
    MEANING,
    NOT_STATED,
    Number,
    as_text,
    body,
    by_source,
    divisions,
    numbers,
    summary,
)

STANDARD_OUTPUT = "-"
_HEADS = ("value", "low", "high", "known")
_SUMMED = ("passes", "range", "stops lost", "sends back", "range", "known")
_BACK = ("diffuse_reflectance", "glossy_reflectance", "metallic_reflectance")
_THROUGH = tuple(key for key in SHARES if key not in _BACK)
_OF_LINES = (
    "Of light that falls on it squarely: what passes in all, and what the front sends back in all, each with the range "
    "of such sheets; the rest is absorbed. known is that of the least sure number of each. How the light is spread and "
    "where each number comes from: lightsim materials NAME. Few of these sheets have ever been measured in public: "
    "lightsim measure measures yours."
)


def listed() -> list[Line]:
    """Every material of the library in a line: what passes and comes back in all, in which range, how that is known."""
    rows: list[Row] = []
    for kind, names in kinds_of_materials().items():
        rows.extend([Row(kind)] if kind else [])
        rows.extend(_in_a_line(name, library_materials()[name]) for name in names)
    return [*table("in % of the light", _SUMMED, rows), Line(""), *sentence(_OF_LINES), Line(""), *sentence(KNOWN)]


def shown(name: str) -> list[Line]:
    """One material of the library: each number with value, low, high, how it is known and its source.

    Raises RigError, with the nearest name, for a material that is not there.
    """
    name, sheet = found(name)
    stated = numbers(sheet)
    lines = [*sentence(f"{name}: {sheet.about}", bold=True), *sentence(summary(sheet)), Line("")]
    lines.extend([*_table(stated), Line("")])
    divided = [line for text in divisions(stated) for line in sentence(text)]
    lines.extend([*divided, Line("")] if divided else [])
    lines.extend(_of_the_sheet(sheet))
    lines.append(Line("Where the numbers come from", bold=True))
    for source, keys in by_source([*stated, *body(sheet)]).items():
        lines.extend(sentence(f"{', '.join(keys)}, {source}", indent="  "))
    return [*lines, Line(""), *sentence(MEANING), *sentence(KNOWN)]


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


def _table(stated: Sequence[Number]) -> list[Line]:
    """A table of numbers, points under points."""
    shown_numbers = [as_text(value) for each in stated for value in (each.value, each.low, each.high)]
    decimals = max((len(text.partition(".")[2]) for text in shown_numbers), default=0)
    return table("", _HEADS, [_row(number, decimals) for number in stated])


def _of_the_sheet(sheet: Sheet) -> list[Line]:
    """What no light asks for: thickness, grammage, specific heat, where it softens; nothing where none is known."""
    words = []
    for number in body(sheet):
        ends = f" ({number.low:g} to {number.high:g})" if number.low < number.high else ""
        words.append(f"{number.key} {number.value:g} {UNITS[number.key]}{ends}, {number.known}")
    heavy = density(sheet)
    words += [f"density {heavy:.3g} g/cm3 with the air in it"] if heavy is not None else []
    return [*sentence(f"The sheet itself: {'; '.join(words)}."), Line("")] if words else []


def _row(number: Number, decimals: int) -> Row:
    values = []
    for value in (number.value, number.low, number.high):
        whole, point, digits = as_text(value).partition(".")
        values.append(Cell(f"{whole}{point or ' ' * bool(decimals)}{digits:<{decimals}}"))
    return Row(number.label, (*values, Cell("", number.known)))


def _object(name: str, sheet: Sheet) -> dict[str, Any]:
    amounts = {number.key: _amount_object(number) for number in body(sheet)}
    return {
        "name": name,
        "about": sheet.about,
        "numbers": [_number_object(number) for number in numbers(sheet)],
        **{key: amounts.get(key) for key in BODY},
    }


def _amount_object(number: Number) -> dict[str, Any]:
    stated = {key: getattr(number, key) for key in ("value", "low", "high", "known", "source")}
    return {"unit": UNITS[number.key], **stated}


def _number_object(number: Number) -> dict[str, Any]:
    values = {**number._asdict(), "side": number.side or None}
    return values if number.against else {key: value for key, value in values.items() if key != "against"}
