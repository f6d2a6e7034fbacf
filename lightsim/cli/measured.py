"""Words for lightsim measure: what was found is written and becomes text."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from lightsim.cli.layout import Cell, Line, Row, sentence, table
from lightsim.measure.flash_readings import MeasuredZoom, cos_power_of
from lightsim.measure.posterior import Range
from lightsim.measure.reading_files import (
    add_material,
    head_lines,
    how_to_put_in,
    material_text,
    users_of,
    write_material,
)
from lightsim.measure.readings import FlashReadings
from lightsim.measure.sheet_readings import MeasuredSheet
from lightsim.rig.errors import alternatives, fault, file_name, given, quoted
from lightsim.rig.files import require_free, write_safely
from lightsim.rig.library import library_materials
from lightsim.sheet.given import rounded
from lightsim.sheet.sheet import Origin, Sheet, both

# Read with numpy and the readings, not with the report, which would load the engine.
CAUTIONS = (
    "Never look into the flash or fire it close to the eyes of people or animals, and warn people with light-sensitive "
    "epilepsy. Its head gets hot: keep paper, foam and card a hand's breadth off it, and let it cool between frames. "
    "Never open a flash unit."
)
_NO_RANGE = "not given"
_RANGE = "95 % range"
_MOST_POWER = 500.0  # of a cosine, that rig files take (lightsim.rig.models.Beam)
_SQUARELY = "of light that falls on it squarely"
_SHARES = {
    "diffuse_transmittance": "passed on evenly",
    "forward_transmittance": "passed on as a blurred spot",
    "straight": "passed straight through",
    "pores": "passed through open pores",
    "diffuse_reflectance": "sent back",
    "glossy_reflectance": "sent back by its shine",
}
_PASSED = tuple(words for words in _SHARES.values() if words.startswith("passed"))


def require_all_free(*paths: Path | None, replace: bool) -> None:
    """Raise RigError if a file that is to be written exists already and may not be replaced, or is named twice."""
    named = [path for path in paths if path is not None]
    for path in named:
        if len({each.resolve() for each in named}) < len(named):
            raise fault(
                path,
                what="several options name this file",
                allowed="a file for each of --to, --record and --into",
                remedy="another name",
            )
        require_free(path, replace=replace)


def kept(record: Path | None, text: str, *, replace: bool) -> list[Path]:
    """Write the readings to a new file if one is named, and return what was written."""
    return [] if record is None else [write_safely(record, text, replace=replace)]


def written(name: str, sheet: Sheet, *, to: Path | None, into: Path | None, what: str, replace: bool) -> list[Path]:
    """Add a material to a rig file, write it to a new file, or both, and return what was written.

    what: what it is, for the first line of the new file
    replace: whether an old material of the same name and an old file may be replaced
    Raises RigError as add_material and write_material do.
    """
    # The rig goes first: if it cannot take the material, nothing at all is written.
    wrote = [add_material(name, sheet, into, replace=replace)] if into is not None else []
    return wrote + ([write_material(name, sheet, to, what=what, replace=replace)] if to is not None else [])


def chosen(found: Sequence[MeasuredZoom], zoom: str | None, *, into: Path | None) -> Sequence[MeasuredZoom]:
    """The zoom setting that is named, all if none is; for a rig there must be one.

    Raises RigError if there is none of that name, and if a rig is to take one of several.
    """
    settings = [each.setting for each in found]
    if zoom is None and (into is None or len(found) == 1):
        return found
    if zoom is None or zoom not in settings:
        raise fault(
            f"--into {file_name(into)}" if zoom is None else f"--zoom {given(zoom)}",
            what="the readings hold several zoom settings, and a head has one" if zoom is None else "it was not read",
            allowed=alternatives(settings),
            remedy=f"--zoom {quoted(settings[0])}",
        )
    return [found[settings.index(zoom)]]


def sheet_told(found: MeasuredSheet, wrote: Sequence[Path], *, to: Path | None, into: Path | None) -> list[Line]:
    """What the readings of a sheet say, and how to use it."""
    lines = [Line(f"{found.name}, from camera readings", bold=True), Line("")]
    rows = [Row(words, _cells(each)) for key, words in _SHARES.items() if (each := found.ranges.get(key)) is not None]
    if sum(row.label in _PASSED for row in rows) > 1:
        rows.insert(len(rows) - 1, Row("passed on in all", _cells(found.through)))
    lines.extend(table(_SQUARELY, ("share", _RANGE), rows))
    lines.append(Line(""))
    angle = found.ranges.get("half_value_angle")
    if angle is not None:
        lines.extend(_width(_ranged(angle, 1)))
    lines.extend(
        sentence(
            "The range holds 95 % of what the readings leave open; the reflectance of your white card is part of it. "
            "What is neither passed on nor sent back is absorbed. Both sides are taken to be alike; the shine of a "
            "coat is not measured."
        )
    )
    lines.extend(_on_parts(found.sheet))
    lines.extend(_notes(found.notes))
    lines.extend(_use(found.name, found.sheet, wrote, to=to, into=into))
    return [*lines, Line(""), *sentence(f"Care: {CAUTIONS}")]


def pack_told(
    name: str,
    sheet: Sheet,
    read_as: Sequence[str],
    notes: Sequence[str],
    wrote: Sequence[Path],
    *,
    to: Path | None,
    into: Path | None,
) -> list[Line]:
    """What the figures of a pack say of a sheet, how sure that is, and how to use it.

    read_as: each figure as it was understood
    """
    lines = [Line(f"{name}, from its pack", bold=True), *sentence(f"Read as: {', '.join(read_as)}."), Line("")]
    shown = rounded(sheet)
    found = {key: _by_itself(shown, key) for key in _SHARES}
    rows = []
    for key, each in found.items():
        if each.high > 0:
            span = f"{_share(each.low)} to {_share(each.high)}" if each.low < each.high else _NO_RANGE
            known = sheet.origins[key].known
            rows.append(Row(_SHARES[key], (Cell(_share(each.value)), Cell(span), Cell("", known or "not stated"))))
    passed = _passed_in_all(shown)
    if passed is not None:
        rows.insert(sum(row.label in _PASSED for row in rows), Row("passed on in all", (*_cells(passed), Cell("", ""))))
    lines.extend(table(_SQUARELY, ("share", "range", "known"), rows))
    lines.append(Line(""))
    if shown.half_value_angle is not None:
        angle, known = _range_of(shown, "half_value_angle"), sheet.origins["half_value_angle"].known
        lines.extend(_width(_ranged(angle, 1) if angle.low < angle.high else f"{angle.value:.1f}", f" ({known})"))
    lines.extend(
        sentence(
            "The range is what the figures of the pack, and what was assumed beside them, leave open. What is neither "
            "passed on nor sent back is absorbed. Both sides are taken to be alike. Readings with your own camera tell "
            "of your own sheet: lightsim measure sheet."
        )
    )
    lines.extend(_on_parts(sheet))
    lines.extend(_notes(notes))
    return [*lines, *_use(name, sheet, wrote, to=to, into=into)]


def flash_told(
    readings: FlashReadings,
    found: Sequence[MeasuredZoom],
    wrote: Sequence[Path],
    *,
    to: Path | None,
    head: tuple[str, Path] | None,
) -> list[Line]:
    """What the readings of a flash say, and how to use it. head: the name of a head and the rig file it was put into"""
    lines = [Line(f"{readings.name}, from a wall {readings.wall_distance:g} mm away", bold=True), Line("")]
    rows = []
    for zoom in found:
        rows.extend([Row(f"zoom {zoom.setting}")] if zoom.setting else [])
        for words, each in (
            ("half the intensity sideways, at degrees", zoom.across),
            ("half the intensity upward, at degrees", zoom.up),
            ("guide number at ISO 100, in metres", zoom.guide_number),
        ):
            if each is not None:
                low, high = f"{each.low:.1f}", f"{each.high:.1f}"
                rows.append(Row(f"  {words}", (Cell(f"{each.value:.1f}"), Cell(f"{low} to {high}"))))
    lines.extend(table("", ("value", _RANGE), rows))
    lines.append(Line(""))
    for zoom in found:
        named = f"Zoom {zoom.setting}: the" if zoom.setting else "The"
        lines.extend(
            sentence(
                f"{named} beam of both directions together is half as strong at {_ranged(zoom.angle, 1)} degrees"
                f"{_as_power(zoom.angle.value)}."
            )
        )
        lines.extend(_notes(zoom.notes))
    if any(zoom.guide_number for zoom in found):
        lines.extend(sentence(_on_guide_number(readings)))
    lines.append(Line(""))
    lines.extend(Line(f"Wrote {file_name(path)}") for path in wrote)
    if head is not None:
        lines.extend(_put_into(found[0], *head))
    elif to is not None:
        lines.extend(sentence(f"{how_to_put_in(found)}; they are in {file_name(to)}. --into RIG does so for you."))
    else:
        lines.extend(sentence(f"{how_to_put_in(found)} (--into RIG does so for you):"))
        for zoom in found:
            heading = [Line(f"# zoom {zoom.setting}")] if zoom.setting and len(found) > 1 else []
            lines.extend([Line(""), *heading, *(Line(line) for line in head_lines(zoom))])
    return [*lines, Line(""), *sentence(f"Care: {CAUTIONS}")]


def _as_power(angle: float) -> str:
    """The power of a cosine that is half at this angle [degrees]; nothing if a rig file would refuse it."""
    if angle <= 0:
        return ""
    power = float(f"{cos_power_of(angle):.2g}")
    return f", about as cos_power = {power:g} has it" if power <= _MOST_POWER else ""


def _put_into(zoom: MeasuredZoom, head: str, rig: Path) -> list[Line]:
    """What was changed in a rig file."""
    keys = [line.partition(" = ")[0] for line in head_lines(zoom)]
    lines = sentence(
        f'The head "{head}" in {file_name(rig)} has {", ".join(keys[:-1])}{" and " if keys[:-1] else ""}{keys[-1]} of '
        "these readings in place of its own; other lines stay as they were."
    )
    if not zoom.setting:
        lines += sentence("Its zoom setting was not named, so an old one was taken out.")
    if zoom.guide_number is None:
        lines += sentence("The guide number was not measured and stays, though it may belong to another zoom setting.")
    return lines


def _width(angle: str, known: str = "") -> list[Line]:
    return sentence(f"The blurred spot falls to half its intensity {angle} degrees off straight on{known}.")


def _notes(notes: Sequence[str]) -> list[Line]:
    return [line for note in notes for line in sentence(f"Note: {note}")]


def _by_itself(sheet: Sheet, key: str) -> Range:
    """The range of a number, with what it loses and gains where others stand against it."""
    own = _range_of(sheet, key)
    others = [_range_of(sheet, other) for other, origin in sheet.origins.items() if origin.against == key]
    loses, gains = sum(each.high - each.value for each in others), sum(each.value - each.low for each in others)
    return Range(own.value, max(own.low - loses, 0.0), min(own.high + gains, 1.0))


def _passed_in_all(sheet: Sheet) -> Range | None:
    """All that passes, where its range is that of the part which the others stand against; else None."""
    holders = {origin.against for origin in sheet.origins.values() if origin.against}
    if len(holders) != 1:
        return None
    holder = _range_of(sheet, holders.pop())
    total = sheet.straight + sheet.pores + sheet.forward_transmittance + sheet.diffuse_transmittance
    return Range(total, total - holder.value + holder.low, total - holder.value + holder.high)


def _on_parts(sheet: Sheet) -> list[Line]:
    if not any(origin.against for origin in sheet.origins.values()):
        return []
    return sentence(
        "What passes in all is known better than how it parts, so the table for a rig file states the parts against "
        "each other: what one gains within its range, the other loses. The range of a part can be narrower there than "
        "above, where what passes in all is left open too."
    )


def _cells(each: Range) -> tuple[Cell, Cell]:
    return Cell(_share(each.value)), Cell(f"{_share(each.low)} to {_share(each.high)}")


def _use(name: str, sheet: Sheet, wrote: Sequence[Path], *, to: Path | None, into: Path | None) -> list[Line]:
    """How a material that was found is put to use."""
    lines = []
    if name in library_materials():
        whose = "that rig" if into is not None else "a rig with yours"
        lines += sentence(f'Note: "{name}" is also the name of a ready material, which yours hides in {whose}.')
    lines += [Line(""), *(Line(f"Wrote {file_name(path)}") for path in wrote)]
    key = f'material = "{name}"'
    if into is not None:
        users = users_of(name, into)
        if users:
            parts, name_it = ("parts", "name") if len(users) > 1 else ("part", "names")
            named = f"The {parts} {' and '.join(map(quoted, users))} of {file_name(into)} {name_it} it already."
            return [*lines, *sentence(named)]
        return [*lines, *sentence(f"Name it in a part of {file_name(into)}: {key}")]
    if to is not None:
        words = f"Copy the table in {file_name(to)} to the end of a rig file, and name it in a part: {key}"
        return [*lines, *sentence(words)]
    words = f"To use it, put this at the end of a rig file and write {key} in a part; --into RIG does so:"
    return [*lines, *sentence(words), Line(""), *(Line(line) for line in material_text(name, sheet).splitlines())]


def _range_of(sheet: Sheet, key: str) -> Range:
    """A number of a sheet whose sides are alike."""
    origin, value = sheet.origins.get(key, Origin()), both(getattr(sheet, key))[0]
    return Range(value, (origin.low or (value,))[0], (origin.high or (value,))[0])


def _on_guide_number(readings: FlashReadings) -> str:
    if readings.meter == "incident":
        return (
            "The guide number takes your light meter to hold C = 250; meters differ from 240 to 400, which is in the "
            "range."
        )
    return (
        f"The guide number takes your camera's meter to hold K = 12.5 (10.6 to 13.4) and the card to reflect "
        f"{readings.card.value:g}, and means C = 250, as rig files do. Relative figures do not depend on it."
    )


def _share(value: float) -> str:
    return f"{value:.3f}" if value < 0.1 else f"{value:.2f}"


def _ranged(each: Range, digits: int) -> str:
    return f"{each.value:.{digits}f} ({each.low:.{digits}f} to {each.high:.{digits}f})"
