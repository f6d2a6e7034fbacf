"""The table of tolerances: where a builder has to be careful, and what an error does."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from math import isfinite
from typing import Any

import typer

import lightsim
from lightsim.cli.export import STANDARD_OUTPUT, Outputs
from lightsim.cli.layout import Cell, Line, Row, say, sentence, table
from lightsim.cli.run import Asked
from lightsim.light.estimate import Estimate
from lightsim.measure.figure import Figure
from lightsim.measure.left_open import SHORT
from lightsim.measure.rounding import is_share, rounded
from lightsim.rig.files import write_safely
from lightsim.rig.load import LoadedRig
from lightsim.search.handwork import BENDING, CUTTING, PLACING
from lightsim.search.tolerances import PAIRS, SEEN_SHARE, SEEN_STOPS, Tolerance, entry_of, surely
from lightsim.search.vary import VARIED_FIGURES

SHOWN = 10  # rows, unless all are asked for
_SHORT = {**SHORT, "shadow.edge_x": "shadow edge across", "clearance": "clearance"}
_FINEST = {"stops": -2, "deg": -1, "mm": -2, "%": -1}  # powers of ten
_IN_WORDS = {"deg": "degrees"}
_OF_ROW = ("key", "words", "what", "step", "unit", "sides", "seen", "most")
_OF_FIGURE = ("figure", "figure_unit", "effect", "standard_error", "half_interval", "alike", "alike_standard_error")


def told(
    found: Sequence[Tolerance],
    loaded: LoadedRig,
    index: int,
    asked: Asked,
    *,
    figures: Sequence[str] | None = None,
    everything: bool = False,
) -> list[Line]:
    """Where to be careful, the table, what is alike either way, and how far to trust it."""
    names = tuple(figures or VARIED_FIGURES)
    names = tuple(name for name in names if any(name in row.effects for row in found))
    rows = found if everything else found[:SHOWN]
    title = f"{loaded.rig.title} at {loaded.rig.camera.magnification[index]:g}x: what a builder's error does."
    lines = [*sentence(title), Line("")]
    for text in careful(found):
        lines += sentence(text)
    lines += [Line(""), *table("to hold", ["off by", *map(_head, names)], [_row(row, names) for row in rows])]
    if len(found) > len(rows):
        lines += sentence(f"{len(found) - len(rows)} more matter less; --all shows them.")
    lines += [
        Line(""),
        *(line for text in (either_way(rows), *_trust(found, asked)) if text for line in sentence(text)),
    ]
    return lines


def careful(found: Sequence[Tolerance]) -> list[str]:
    """What to be most careful with, in sentences; and whether it can be seen at all."""
    if not found or found[0].most is None:
        return ["No such error surely changes a figure: build it as carefully as you like."]
    first = found[0]
    name = first.most or ""
    effect, alike = first.effects[name], first.alike.get(name)
    whichever = alike is not None and surely(alike) > surely(effect)
    change = alike if whichever and alike is not None else effect
    way = " either way" if whichever else ""
    by = f"by {_in_words(name, change)}" if isfinite(change.value) else "so far that none is left"
    step = _step(first)
    there = f"{step}{way} there changes the {_short(name)} {by}."
    texts = [f"Be most careful with {first.words.replace(': ', ', ', 1)}: {there}"]
    if first.seen < 1:
        texts.append(
            f"No such error alone is sure to show in a picture: none surely reaches {_least()}. Several may add up."
        )
    return texts


def either_way(rows: Sequence[Tolerance]) -> str:
    """What errors of either sign do alike, where that is more than what they do in opposite ways; empty if nothing."""
    texts = []
    for row in rows:
        alike = row.alike.get(row.most or "")
        if row.most and alike is not None and surely(alike) > surely(row.effects[row.most]):
            texts.append(f"{row.words}, {_short(row.most)} {_in_words(row.most, alike, sign=True)}")
    return f"The same whichever way the error goes, which the table leaves out: {'; '.join(texts)}." if texts else ""


def deliver(
    found: Sequence[Tolerance], loaded: LoadedRig, index: int, asked: Asked, lines: Sequence[Line], outputs: Outputs
) -> None:
    """Print what is told, or the numbers alone where they go to standard output; then write the files asked for.

    Raises RigError for a file that cannot be written; what is told is printed by then.
    """
    wanted = {outputs.json: as_json, outputs.csv: as_csv}
    alone = wanted.get(STANDARD_OUTPUT)
    if alone is not None:
        typer.echo(alone(found, loaded, index, asked), nl=False)
    else:
        say(lines)
    written = [
        write_safely(name, text_of(found, loaded, index, asked), replace=outputs.replace)
        for name, text_of in wanted.items()
        if name is not None and name != STANDARD_OUTPUT
    ]
    if written and alone is None:
        say([Line(""), *(Line(f"Wrote {path}") for path in written)])


def as_json(found: Sequence[Tolerance], loaded: LoadedRig, index: int, asked: Asked) -> str:
    """One object: version, rig, seed, error, pairs, and every number with its effects. null: no bound, or no figure."""
    document = {
        "version": lightsim.__version__,
        "title": loaded.rig.title,
        "file": loaded.file,
        "magnification": loaded.rig.camera.magnification[index],
        "seed": asked.seed,
        "error": asked.error,
        "pairs": PAIRS,
        "tolerances": [
            {**_fields(row), "effects": _estimates(row.effects), "alike": _estimates(row.alike)} for row in found
        ],
    }
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def as_csv(found: Sequence[Tolerance], loaded: LoadedRig, index: int, asked: Asked) -> str:
    """One line a number and figure, with a first line of names; an empty field is not known."""
    del asked
    text = io.StringIO()
    lines = csv.writer(text, lineterminator="\n")
    lines.writerow(("design", "file", "magnification", *_OF_ROW, *_OF_FIGURE))
    rig = (loaded.rig.title, loaded.file, loaded.rig.camera.magnification[index])
    for row in found:
        for name, effect in row.effects.items():
            alike = row.alike.get(name)
            numbers = [effect.value, effect.standard_error, effect.half_interval]
            numbers += [] if alike is None else [alike.value, alike.standard_error]
            fields = [*rig, *_fields(row).values(), name, entry_of(name).unit, *map(_finite, numbers)]
            lines.writerow(["" if field is None else field for field in fields])
    return text.getvalue()


def _fields(row: Tolerance) -> dict[str, Any]:
    return {name: _finite(getattr(row, name)) for name in _OF_ROW}


def _estimates(effects: Any) -> dict[str, Any]:
    return {
        name: {
            "value": _finite(each.value),
            "standard_error": _finite(each.standard_error),
            "half_interval": _finite(each.half_interval),
            "unit": entry_of(name).unit,
        }
        for name, each in effects.items()
    }


def _finite(value: Any) -> Any:
    if isinstance(value, float | int):
        return float(value) if isfinite(value) else None
    return value


def _row(row: Tolerance, names: Sequence[str]) -> Row:
    return Row(row.words, (Cell("", _off(row)), *(_cell(name, row.effects.get(name)) for name in names)))


def _off(row: Tolerance) -> str:
    sign = {"both": "", "more": "+", "less": "-"}[row.sides]
    return f"{sign}{row.step:.2g} {row.unit}"


def _cell(name: str, effect: Estimate | None) -> Cell:
    if effect is None:
        return Cell("-")
    if not isfinite(effect.value):
        return Cell("all")
    value, half = _texts(name, effect)
    return Cell(value, f"±{half}" if half else "")


def _texts(name: str, effect: Estimate) -> tuple[str, str]:
    factor, unit = _scale(name)
    return rounded(effect.value * factor, effect.half_interval * factor, finest=_FINEST.get(unit, -12), digits=3)


def _scale(name: str) -> tuple[float, str]:
    return (100.0, "%") if is_share(Figure(name, "", None, None, None, "", "", "")) else (1.0, entry_of(name).unit)


def _in_words(name: str, effect: Estimate, *, sign: bool = False) -> str:
    value, half = _texts(name, effect)
    unit = _scale(name)[1]
    if not sign:
        value = value.removeprefix("-")
    elif not value.startswith("-"):
        value = f"+{value}"
    return f"{value}{f' ±{half}' if half else ''}{_unit(unit)}{' of the ball' if _of_ball(name) else ''}"


def _unit(unit: str) -> str:
    return "" if unit == "1" else f" {_IN_WORDS.get(unit, unit)}"


def _head(name: str) -> str:
    unit = _scale(name)[1]
    words = "" if unit == "1" else f", {_IN_WORDS.get(unit, unit)}{' of ball' if _of_ball(name) else ''}"
    return f"{_short(name)}{words}"


def _of_ball(name: str) -> bool:
    return name == "highlight.diameter_share"


def _short(name: str) -> str:
    label = entry_of(name).label
    return _SHORT.get(name) or (label.format(name.partition(".")[2].replace("_", " ")) if "{}" in label else label)


def _step(row: Tolerance) -> str:
    return f"{row.step:.2g} {_IN_WORDS.get(row.unit, row.unit)}"


def _least() -> str:
    return f"{SEEN_STOPS:g} stops or {100 * SEEN_SHARE:g} % of a size or width"


def _trust(found: Sequence[Tolerance], asked: Asked) -> list[str]:
    one_sided = any(row.sides != "both" for row in found)
    sides = " +, -: the rig allows an error that way alone." if one_sided else ""
    look = f" lightsim vary shows one closely, such as {found[0].key}." if found else ""
    return [
        f"Errors assumed, in mm and degrees whatever the unit of the file: {CUTTING:g} mm in cutting, {BENDING:g} deg "
        f"in bending and turning, {PLACING:g} mm in placing, one at a time; a part placed from another moves with it."
        f"{sides} The effect is that of so much more; so much less has the other sign. Light lost is counted against "
        f"heads that stand where they should. Most important first: by what can just be seen, {_least()}, clearance "
        f"apart; only what is sure counts.{look}",
        f"±: half of the 95 % interval, of {PAIRS} pairs of runs with common random numbers, seed {asked.seed}; an "
        "effect smaller than that may be nothing.",
    ]
