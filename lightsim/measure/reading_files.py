"""Readings kept as files, and the files that follow from them: a material, or the beam and guide number of a head."""

from __future__ import annotations

import json
import re
import textwrap
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from lightsim.measure.flash_readings import MeasuredZoom
from lightsim.measure.posterior import Range
from lightsim.measure.readings import (
    FlashReadings,
    Mark,
    NamedSheet,
    Reading,
    Reflectance,
    SheetReadings,
    SpotReadings,
)
from lightsim.measure.refusals import refused
from lightsim.measure.rig_text import head_named, with_head, with_material
from lightsim.rig.errors import fault, given, one_line, quoted
from lightsim.rig.files import write_safely
from lightsim.rig.fractions import power_words
from lightsim.rig.library import data_of
from lightsim.rig.load import load, loads
from lightsim.rig.reading import parse, read_text
from lightsim.rig.units import INCH
from lightsim.sheet.given import rounded
from lightsim.sheet.sheet import BODY, NUMBERS, Origin, Sheet, both

Readings = TypeVar("Readings", NamedSheet, SheetReadings, FlashReadings)


def load_readings(path: Path | str, kind: type[Readings]) -> Readings:
    """Readings from a TOML file. Raises RigError: file, key, what was given, what is allowed, what to try."""
    path = Path(path)
    if not path.exists():
        raise fault(
            path,
            what="there is no such file",
            allowed="a file of readings, as --record writes it",
            remedy="the readings as options, with --record FILE to keep them",
        )
    file = str(path)
    return checked(parse(read_text(path, file=file), file=file), kind, where=file)


def checked(
    data: Mapping[str, Any], kind: type[Readings], *, where: str, options: Mapping[str, str] | None = None
) -> Readings:
    """Readings from plain data. Raises RigError.

    where : what it is about, such as the name of the file
    options : by key, the options of a command that the data come from, which complaints then name in place of the key
    """
    try:
        return kind.model_validate(dict(data))
    except ValidationError as error:
        raise refused(error, kind, where, options or {}) from None


def sheet_readings_text(readings: SheetReadings) -> str:
    """The readings of a sheet as a TOML text that load_readings reads."""
    defaults = SheetReadings(name="any", black=Reading(stops=0), white=Reading(stops=0))
    lines = [
        "# Readings of a sheet, in stops; docs/measure.md says how they are taken.",
        f"name = {_text(readings.name)}",
        *([f"about = {_text(readings.about)}"] if readings.about else []),
        f"uncertainty = {_number(readings.uncertainty)}  # standard uncertainty of each reading, stops",
        *_reading_lines(readings, ("window", "white", "black")),
        *(
            f"{key} = {_reflectance(getattr(readings, key))}"
            for key in ("white_card", "black_card", "window_reflectance")
            if getattr(readings, key) != getattr(defaults, key)
        ),
    ]
    if readings.spot is not None:
        spot = readings.spot
        sizes = [f"{key} = {_number(getattr(spot, key))}" for key in ("distance", "camera", "lamp_width")]
        width = [f"width = {_number(spot.width)}"] if spot.width is not None else []
        lines += ["", "[spot]  # lengths in mm", *sizes, *width, *_reading_lines(spot, ("side", "lamp"))]
        lines += ["woven = true"] if spot.woven else []
    return "\n".join(lines) + "\n"


def flash_readings_text(readings: FlashReadings) -> str:
    """The readings of a flash as a TOML text that load_readings reads."""
    lines = [
        "# Readings of a flash on a plain wall, in mm and stops; docs/measure.md says how they are taken.",
        f"name = {_text(readings.name)}",
        f"wall_distance = {_number(readings.wall_distance)}",
        f"uncertainty = {_number(readings.uncertainty)}  # standard uncertainty of each reading, stops",
        f"meter = {_text(readings.meter)}",
        f"card = {_reflectance(readings.card)}",
    ]
    for zoom in readings.zoom:
        lines += ["", "[[zoom]]", *([f"setting = {_text(zoom.setting)}"] if zoom.setting else [])]
        lines += [f"across = {_marks(zoom.across)}"]
        lines += [f"up = {_marks(zoom.up)}"] if zoom.up else []
        if zoom.f_number is not None:
            lines += [f"{key} = {_number(getattr(zoom, key))}" for key in ("f_number", "iso", "brighter")]
            lines += [f"power = {_text(power_words(zoom.power))}"] if zoom.power_was_named else []
    return "\n".join(lines) + "\n"


def material_text(name: str, sheet: Sheet, *, unit: str = "mm") -> str:
    """The table of a sheet, its numbers in four decimals, for a rig file or a file of its own.

    unit : of the lengths in that file, "mm" or "inch"
    """
    return "\n".join([f"[material.{_text(name)}]", *_sheet_lines(rounded(sheet), unit)]) + "\n"


def write_material(
    name: str, sheet: Sheet, path: Path | str, *, what: str = "A sheet measured with a camera", replace: bool = False
) -> Path:
    """Write the table of a sheet to a new file, under a line that says what it is.

    replace : whether an existing file may be replaced
    Raises RigError if the file exists and may not be replaced, or cannot be written.
    """
    head = (
        f"# {what}. Copy this table to the end of a rig file, and name it there in a part:\n"
        f"# material = {_text(name)}\n\n"
    )
    return write_safely(path, head + material_text(name, sheet), replace=replace)


def add_material(name: str, sheet: Sheet, rig: Path | str, *, replace: bool = False) -> Path:
    """Add the table of a sheet at the end of a rig file, whose other lines stay as they are.

    The rig may already name the material in a part. replace : whether the new table may take the place of an old one
    Raises RigError if the file with the material is no rig, if it has a material of this name already that may not be
    replaced, or if it cannot be changed or written.
    """
    path, file = Path(rig), str(rig)
    text = read_text(path, file=file)
    unit = "inch" if parse(text, file=file).get("unit") == "inch" else "mm"
    new = with_material(text, name, material_text(name, sheet, unit=unit), file=file, replace=replace)
    loads(new, file=file, folder=path.parent)
    return write_safely(path, new, replace=True)


def users_of(name: str, rig: Path | str) -> tuple[str, ...]:
    """The parts of a rig file that name a material, as its report calls them. Raises RigError if it is no rig."""
    loaded = load(rig)
    return tuple(part.name for part in (*loaded.rig.diffuser, *loaded.rig.surroundings) if part.material == name)


def add_flash(
    zoom: MeasuredZoom, rig: Path | str, *, head: str | None = None, replace: bool = False
) -> tuple[str, Path]:
    """Put beam and guide number into a head of a rig file, in place of its own; other lines and comments stay.

    head : its name, needed where there are several
    replace : whether numbers may be replaced whose source notes say that they were measured; others always may
    A zoom setting without a name takes away the one that the head had. A guide number that was not measured stays; one
    that was takes away the guide_number_beam of the old.
    Returns the name of the head, and the path.
    Raises RigError if there is no such head, if its numbers may not be replaced, if the file cannot be changed surely,
    and if it is no rig afterwards.
    """
    path, file = Path(rig), str(rig)
    old = read_text(path, file=file)
    index, name = head_named(old, head, file=file)
    lines = head_lines(zoom)
    # A guide number measured with this beam belongs to no other.
    gone = ("zoom",) if zoom.guide_number is None else ("zoom", "guide_number_beam")
    if not replace:
        _require_unmeasured(old, index, name, lines, file=file)
    new = with_head(old, index, lines, gone=gone, file=file)
    loads(new, file=file, folder=path.parent)
    return name, write_safely(path, new, replace=True)


def _require_unmeasured(text: str, index: int, name: str, lines: Sequence[str], *, file: str) -> None:
    """Raise RigError if a number of a head that these lines replace has a source note that says it was measured."""
    head = parse(text, file=file)["head"][index]
    for key in tomllib.loads("\n".join(lines)):
        of_key = head.get(key)
        tables = (of_key, *(of_key.values() if isinstance(of_key, dict) else ()))
        notes = (str(each["source"]) for each in tables if isinstance(each, dict) and "source" in each)
        note = next((each for each in notes if re.search(r"\bmeasured\b", each, re.IGNORECASE)), None)
        if note is not None:
            raise fault(
                file,
                f"head {quoted(name)}, {key}",
                what=f"this was measured ({given(note)}), so it was left as it is",
                allowed="a head whose numbers nobody has measured",
                remedy="--replace to exchange it, or --to with a new file",
            )


def head_lines(zoom: MeasuredZoom) -> list[str]:
    """Lines for a [[head]] of a rig file, each with its key."""
    note = f"half at {_ranged(zoom.angle)} degrees, {zoom.source}"[:500]
    beam = f"{{ value = {_list(zoom.beam.angle)}, source = {_text(note)} }}"
    lines = [
        *([f"zoom = {_text(zoom.setting)}"] if zoom.setting else []),
        f"beam = {{ angle = {beam}, intensity = {_list(zoom.beam.intensity)} }}",
    ]
    if zoom.guide_number is not None:
        low, high = f"{zoom.guide_number.low:.3g}", f"{zoom.guide_number.high:.3g}"
        note = f"{low} to {high} m at ISO 100; {zoom.source}"[:500]
        lines.append(f"guide_number = {{ value = {zoom.guide_number.value:.3g}, source = {_text(note)} }}")
        lines += ['guide_number_unit = "m"', "iso = 100"]
    return lines


def how_to_put_in(zooms: Sequence[MeasuredZoom]) -> str:
    """How the lines of a head are put into a rig file by hand, in one sentence without its end."""
    measured = any(zoom.guide_number is not None for zoom in zooms)
    own = "the lines zoom, guide_number, guide_number_beam, guide_number_unit and iso" if measured else "the line zoom"
    which = "these lines" if len(zooms) == 1 else "the lines of one zoom setting"
    return (
        f"In your rig file, delete from its [[head]] {own} and all of beam (one line, or the table [head.beam] down to "
        f"the next blank line), and put {which} directly under the line [[head]]"
    )


def write_flash(name: str, zooms: Sequence[MeasuredZoom], path: Path | str, *, replace: bool = False) -> Path:
    """Write beams and guide numbers to a new file, with how to use them.

    name : of the flash; replace : whether an existing file may be replaced
    Raises RigError if the file exists and may not be replaced, or cannot be written.
    """
    words = f"The flash {_text(name)}, measured on a wall. {how_to_put_in(zooms)}; --into RIG does so for you."
    text = "".join(f"# {line}\n" for line in textwrap.wrap(words, 116, break_on_hyphens=False))
    for zoom in zooms:
        heading = [f"# zoom {one_line(zoom.setting)}"] if zoom.setting and len(zooms) > 1 else []
        text += "\n".join(["", *heading, *head_lines(zoom)]) + "\n"
    return write_safely(path, text, replace=replace)


def _sheet_lines(sheet: Sheet, unit: str) -> list[str]:
    lines = [f"about = {_text(sheet.about)}"] if sheet.about else []
    lines += [f"layers = [{', '.join(map(_text, sheet.layers))}]"] if sheet.layers else []
    for key in NUMBERS:
        origin, value = sheet.origins.get(key, Origin()), getattr(sheet, key)
        if value is None or (value == Sheet.model_fields[key].default and not origin.has_range):
            continue
        parts = [f"value = {_value(value)}"]
        if origin.low is not None and origin.high is not None:
            parts += [f"low = {_value(origin.low)}", f"high = {_value(origin.high)}"]
        parts += [f"against = {_text(origin.against)}"] if origin.against else []
        parts += [f"known = {_text(origin.known)}"] if origin.known else []
        parts += [f"source = {_text(origin.source)}"] if origin.source else []
        lines.append(f"{key} = {{ {', '.join(parts)} }}" if len(parts) > 1 else f"{key} = {_value(value)}")
    table = data_of(sheet, scale=INCH if unit == "inch" else 1.0)
    lines += [f"{key} = {_body(table[key])}" for key in BODY if key in table]
    return [*lines, f"source = {_text(sheet.source)}"] if sheet.source else lines


def _body(stated: Any) -> str:
    """A thickness or a grammage as files have it: a number, or the table of one."""
    if isinstance(stated, dict):
        return f"{{ {', '.join(f'{key} = {_body(each)}' for key, each in stated.items())} }}"
    return _text(stated) if isinstance(stated, str) else _number(float(f"{stated:.5g}"))


def _reading_lines(of: SheetReadings | SpotReadings, keys: tuple[str, ...]) -> list[str]:
    lines = []
    for key in keys:
        reading: Reading | None = getattr(of, key)
        if reading is not None:
            own = reading.uncertainty
            stops = _number(reading.stops)
            lines.append(
                f"{key} = {stops}" if own is None else f"{key} = {{ stops = {stops}, uncertainty = {_number(own)} }}"
            )
    return lines


def _reflectance(card: Reflectance) -> str:
    return f"{{ value = {_number(card.value)}, low = {_number(card.low)}, high = {_number(card.high)} }}"


def _marks(marks: Sequence[Mark]) -> str:
    return "[" + ", ".join(f"[{_number(offset)}, {_number(stops)}]" for offset, stops in marks) + "]"


def _value(value: Any) -> str:
    front, back = both(value)
    return _number(front) if front == back else f"[{_number(front)}, {_number(back)}]"


def _list(values: Sequence[float]) -> str:
    return "[" + ", ".join(f"{value:g}" for value in values) + "]"


def _number(value: float) -> str:
    short = f"{value:g}"
    return short if float(short) == value else repr(float(value))


def _text(text: str) -> str:
    # A JSON string is a TOML string, but for the one control character that JSON lets pass.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _ranged(each: Range) -> str:
    return f"{each.value:g} ({each.low:g} to {each.high:g})"
