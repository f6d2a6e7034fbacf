"""The plan of a shot for the terminal, as JSON, and as a card to print."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from enum import Enum
from pathlib import Path
from typing import Any

import typer

import lightsim
from lightsim.cli.export import STANDARD_OUTPUT, Outputs
from lightsim.cli.layout import Cell, Line, Row, say, sentence, table
from lightsim.cli.progress import progress
from lightsim.cli.run import Asked
from lightsim.measure.merged import merged
from lightsim.measure.rounding import length
from lightsim.rig.errors import fault, given, naming
from lightsim.rig.files import write_safely
from lightsim.rig.fractions import power_words, seconds_words
from lightsim.rig.keys import with_value
from lightsim.rig.load import LoadedRig, load_data
from lightsim.shot.care import CARE, FIRST
from lightsim.shot.changes import TROUBLES, changes, frozen, ghost, ready_words, smeared
from lightsim.shot.heat import Warming
from lightsim.shot.heat import told as warming_words
from lightsim.shot.ladder import Rung
from lightsim.shot.plan import BURST, NEAR, Plan, plan_of
from lightsim.shot.spoken import two_figures
from lightsim.shot.words import SAID, answer, frame_steps, frames_words, settings

_SETTING = {"iso": "shot.iso", "f_number": "lens.f_number", "shutter": "shot.shutter", "power": "shot.power"}
_SETTING |= {"ambient": "shot.ambient"}


def with_settings(loaded: LoadedRig, given: Mapping[str, str | None]) -> LoadedRig:
    """The rig with what was typed in place of what its file says. Raises RigError for what no camera has."""
    data = loaded.data
    for name, text in given.items():
        if text is not None:
            data = with_value(data, _SETTING[name], _value(text))
    if data is loaded.data:
        return loaded
    return load_data(data, file=loaded.file, folder=loaded.folder, sources=loaded.sources)


def card_paper(text: str) -> str:
    """The paper that --paper names. Raises RigError for any other."""
    from lightsim.pattern.sizes import PAPERS

    known = {name.casefold(): name for name in PAPERS}
    found = known.get(text.strip().casefold())
    if found is None:
        what = "cards are not made for this paper"
        raise fault(f"--paper {given(text)}", what=what, allowed=", ".join(PAPERS), remedy="A4")
    return found


def in_the_way(loaded: LoadedRig) -> list[Line]:
    """That something is in the way, if anything is."""
    from lightsim.cli.fits import fit_of

    if not fit_of(loaded).in_the_way:
        return []
    text = "Before all else: something is in the way. lightsim check says what, and what to do about it."
    return sentence(text, bold=True)


def planned(loaded: LoadedRig, indices: Sequence[int], asked: Asked) -> list[Plan]:
    """The plans of a rig at some of its magnifications. Raises RigError if it cannot be placed or lit."""
    plans = []
    with progress() as whole:
        for number, index in enumerate(indices):
            whole.part(number, len(indices), f"{number + 1} of {len(indices)}: {loaded.rig.title}")
            with naming(loaded.file):
                light = lightsim.trace(loaded, magnification=index, error=asked.error, seed=asked.seed)
                plans.append(plan_of(light, lightsim.report(light)))
    return plans


def told(plans: Sequence[Plan], notes: Sequence[Line] = ()) -> list[Line]:
    """One page: whether the flash has the power, settings, what they do, what to change, the test frame, cautions.

    notes : what else to say first, such as that the rig does not fit
    """
    several = len(plans) > 1
    labels = [f"{plan.magnification:g}x" for plan in plans]
    lines = [Line(plans[0].title, bold=True), *notes]
    for plan, label in zip(plans, labels, strict=True):
        lines.extend(sentence(f"{f'{label}: ' if several else ''}{settings(plan)}. {answer(plan)}", indent="  "))
    lines.extend([Line(""), *_numbers(plans, labels), Line("")])
    for heading, words in SAID:
        said = merged([[words(plan)] if words(plan) else [] for plan in plans])
        for numbers, text in said:
            at = "" if len(numbers) == len(plans) else f" at {' and '.join(labels[number] for number in numbers)}"
            lines.extend(sentence(f"{heading}{at}: {text}", indent="  "))
    hardest = max(range(len(plans)), key=lambda number: (ghost(plans[number]), not frozen(plans[number]), -number))
    label = f" at {labels[hardest]}" if several else ""
    lines.extend([Line(""), *_changes(plans[hardest], label), Line("")])
    lines.append(Line(f"The test frame{label}", bold=True))
    for number, step in enumerate(frame_steps(plans[hardest]), 1):
        lines.extend(sentence(f"{number}. {step}", indent="   "))
    lines.extend([Line(""), *_heat(plans), Line(""), Line("Care", bold=True), *sentence(FIRST)])
    for care in CARE:
        lines.extend(sentence(f"{care.about}: {care.text}", indent="  "))
    return lines


def in_short(plans: Sequence[Plan]) -> list[Line]:
    """Settings to start from, as the end of a report."""
    lines = [Line("Settings to start from", bold=True)]
    for plan in plans:
        start = f"{plan.magnification:g}x: " if len(plans) > 1 else ""
        lines.extend(sentence(f"{start}{settings(plan)}. {answer(plan)} {frames_words(plan)}", indent="  "))
        for each in plan.warming:
            if each.warn:
                lines.extend(sentence(f"{start}{warming_words(each)}", indent="  ", bold=True))
    return [*lines, *sentence("The whole plan, with what to change and its price: lightsim shot RIG")]


def require_card(card: Path | None) -> None:
    """Raise RigError for a name of a card that no program would open as a PDF."""
    if card is not None and card.suffix.lower() != ".pdf":
        raise fault(f"--card {given(str(card))}", what="a card is a PDF", allowed="a name in .pdf", remedy="card.pdf")


def deliver(
    plans: Sequence[Plan], asked: Asked, outputs: Outputs, *, notes: Sequence[Line], card: Path | None, paper: str
) -> None:
    """Print the plans, or their numbers alone where they go to standard output; then write the files asked for.

    notes : said first; card : the PDF to write, if any
    Raises RigError for a file that cannot be written; what is told is printed by then.
    """
    text = as_json(plans, asked) if outputs.json is not None else ""
    alone = outputs.json == STANDARD_OUTPUT
    if alone:
        typer.echo(text, nl=False)
    else:
        say(told(plans, notes))
    written = []
    if outputs.json is not None and not alone:
        written.append(write_safely(outputs.json, text, replace=outputs.replace))
    if card is not None:
        from lightsim.page.card import card_pdf

        written.append(write_safely(card, card_pdf(plans, paper=paper), replace=outputs.replace))
    if written and not alone:
        say([Line(""), *(Line(f"Wrote {path}") for path in written)])


def as_json(plans: Sequence[Plan], asked: Asked) -> str:
    """One object: version, seed, error, and each plan with all its numbers, sentences and changes."""
    document = {
        "version": lightsim.__version__,
        "seed": asked.seed,
        "error": asked.error,
        "plans": [_plain(_document(plan)) for plan in plans],
    }
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _value(text: str) -> float | str:
    """What was typed as a file would state it: a number, or else a text such as 1/200."""
    try:
        return float(text)
    except ValueError:
        return text


def _numbers(plans: Sequence[Plan], labels: Sequence[str]) -> list[Line]:
    rows = [
        Row("Settings"),
        _row("  ISO", plans, lambda plan: f"{plan.iso:.10g}"),
        _row("  f-number as marked", plans, lambda plan: f"{plan.f_number:g}"),
        _row("  effective f-number", plans, lambda plan: f"{plan.working_f_number:.4g}"),
        _row("  shutter", plans, lambda plan: seconds_words(plan.shutter)),
        _row("  flash power", plans, lambda plan: power_words(plan.start.power)),
        _row("  a stop more", plans, lambda plan: power_words(plan.brighter.power) if plan.brighter else "none"),
        _row("  a stop less", plans, lambda plan: power_words(plan.darker.power) if plan.darker else "none"),
        _row("  power left above it, stops", plans, lambda plan: f"{plan.left:.1f}"),
        Row("Light on the subject, lx s"),
        _row("  by the flash at this power", plans, lambda plan: _light(plan.flash)),
        _row("  by the day", plans, lambda plan: _light(plan.day)),
        _row("  asked for", plans, lambda plan: _light(plan.needed)),
        _row("  asked for, as meters disagree", plans, _asked),
        Row("Flash at this power"),
        _row("  pulse, t0.5", plans, lambda plan: seconds_words(plan.start.half)),
        _row("  pulse, t0.1", plans, lambda plan: seconds_words(plan.start.tenth)),
    ]
    if any(plan.start.recycle is not None for plan in plans):
        rows.append(_row("  ready again after, at least", plans, lambda plan: _ready(plan.start)))
    if any(plan.start.flashes is not None for plan in plans):
        rows.append(_row("  flashes of a charge, at most", plans, lambda plan: _count(plan.start.flashes)))
    rows += [
        Row("Sharpness and movement"),
        _row("  depth of field, mm", plans, lambda plan: two_figures(plan.focus.depth)),
        _row("  depth that diffraction hides, mm", plans, lambda plan: two_figures(plan.focus.wave_depth)),
        _row("  diffraction disc, pixels", plans, lambda plan: f"{plan.focus.airy / plan.focus.pixel:.1f}"),
        _row("  one frame in focus, %", plans, lambda plan: two_figures(100 * plan.focus.chance)),
        _row("  frames to take for nine in ten", plans, lambda plan: _count(plan.focus.frames_most)),
        _row("  moved while the flash burns, pixels", plans, lambda plan: two_figures(smeared(plan))),
    ]
    assumed = sorted({name for plan in plans for name in plan.assumed})
    heads = [f"{label}, {length(plan.working_distance)} mm" for label, plan in zip(labels, plans, strict=True)]
    lines = table("magnification, subject to lens", heads, rows)
    if assumed:
        verb = "shines" if len(assumed) == 1 else "shine"
        text = (
            f"How long {' and '.join(assumed)} {verb} is assumed: t0.5 of 1/500 s at full power, cut short below. With "
            'the number of a data sheet, such as duration = "1/800" in the head\'s table, it is told better.'
        )
        lines.extend(sentence(text))
    return lines


def _row(label: str, plans: Sequence[Plan], cell: Callable[[Plan], str]) -> Row:
    return Row(label, tuple(Cell(cell(plan)) for plan in plans))


def _light(exposure: float) -> str:
    return f"{exposure:.0f}" if exposure >= 100 else f"{exposure:.3g}"


def _asked(plan: Plan) -> str:
    needed = [level.needed for level in plan.levels]
    return f"{_light(min(needed))} to {_light(max(needed))}"


def _ready(rung: Rung) -> str:
    return "-" if rung.recycle is None else ready_words(rung.recycle)


def _count(number: int | None) -> str:
    """A number of things, of many the first two figures."""
    return "-" if number is None else two_figures(number) if number >= 100 else f"{number:d}"


def _changes(plan: Plan, label: str) -> list[Line]:
    """A table of changes from the settings of one magnification; the others differ in the power alone."""
    rows = []
    for trouble in TROUBLES:
        mine = [change for change in changes(plan) if change.trouble == trouble]
        rows += [Row(f"If it is {trouble}")] if mine else []
        for change in mine:
            picture = f"{change.picture:+.1f}" if abs(change.picture) > 0.05 else "0"
            left = f"{abs(change.left):.1f}" if change.left > -NEAR else "none"
            rows.append(Row(f"  {change.do}", (Cell(picture), Cell(left), Cell("", change.price))))
    return table(f"change{label}", ("picture, stops", "power left", "price"), rows)


def _heat(plans: Sequence[Plan]) -> list[Line]:
    """A line for each part of the diffuser, at the magnification that warms it most; sentences where that is said."""
    lines = [Line("Heat", bold=True)]
    if not plans[0].warming:
        return [*lines, Line("There is no diffuser to warm.")]
    same = zip(*(plan.warming for plan in plans), strict=True)
    hottest = [max(each, key=lambda warming: warming.hottest or 0.0) for each in same]
    rows = [
        Row(
            f"{each.part} ({each.material})" if each.material else each.part,
            tuple(Cell(_degree(value)) for value in _degrees(each)),
        )
        for each in hottest
    ]
    heads = ("one flash, K", f"{BURST} in a row, K", "on and on, K", "if black, one flash, K", "bears, deg C")
    lines.extend(table("warmer by, in the warmest 20 mm of", heads, rows))
    for each in hottest:
        if each.warn or each.unknown:
            lines.extend(sentence(warming_words(each), indent="  ", bold=each.warn))
    return lines


def _degrees(warming: Warming) -> tuple[float | None, ...]:
    rise = None if warming.rise is None else warming.rise.value
    return rise, warming.burst, warming.steady, warming.most, warming.limit


def _degree(value: float | None) -> str:
    if value is None:
        return "-"
    return f"{value:.0f}" if value >= 10 else f"{value:.2g}"


def _document(plan: Plan) -> dict[str, Any]:
    return {
        "settings": settings(plan),
        "answer": answer(plan),
        **asdict(plan),
        "power_left": plan.left,
        "a_stop_more": None if plan.brighter is None else plan.brighter.power,
        "a_stop_less": None if plan.darker is None else plan.darker.power,
        "day_share": plan.day_share,
        "words": [text for _, words in SAID if (text := words(plan))],
        "changes": [asdict(change) for change in changes(plan)],
        "test_frame": list(frame_steps(plan)),
        "heat": [warming_words(each) for each in plan.warming],
        "care": [FIRST, *(f"{care.about}: {care.text}" for care in CARE)],
    }


def _plain(value: Any) -> Any:
    """Data as JSON holds it: no numpy numbers, no words of ours, None where a number is not finite."""
    if isinstance(value, Mapping):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, bool) or value is None or isinstance(value, str | int):
        return value
    number = float(value)
    return number if math.isfinite(number) else None
