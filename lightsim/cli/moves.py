"""What each number of the materials does to the figures, as a table, for those who ask to have it explained."""

from __future__ import annotations

from collections.abc import Sequence

from lightsim.cli.layout import Cell, Line, Row, sentence, table
from lightsim.measure.figure import Figure
from lightsim.measure.left_open import READINGS, SHORT, listed, not_reckoned
from lightsim.measure.ranges import KEY_FIGURES, Step, in_words
from lightsim.measure.report import Report
from lightsim.measure.rounding import is_share, shown

_HOW = (
    "One number at a time goes to the low and to the high end of its range, all others as they are said to be. The "
    "same light paths are weighed anew; where the shape of a lobe changes they are traced anew with the same random "
    "numbers. Each number errs on its own, and hardly ever all of them to the same side, so what they do to one side "
    "is squared and summed, and the root of that is the range. It does not hold the error bar of the sampling. A "
    "number that two designs share moves both, so in a difference between them only what is left of it counts."
)
_MOST = (
    "The number that matters most is the one that moves the key figures most (size, hot spot, light lost, highlight, "
    "shadow): each in doublings, a stop being one, and all of them squared and summed."
)
_NO_READING = "Roughness, gloss and metal show in no reading of a sheet, but in a test frame of the finished rig."
_NOT_RECKONED = "No range by materials is reckoned for"


def moves(reports: Sequence[Report]) -> list[Line]:
    """How ranges are reckoned, and a table of what each number does to the key figures; nothing if none has a range."""
    if not any(report.steps for report in reports):
        return []
    lines = [Line(""), Line("How far the materials move the figures", bold=True), *sentence(_HOW, indent="  ")]
    for report in reports:
        at = f" at {report.magnification:g}x" if len(reports) > 1 else ""
        lines.extend([Line(""), *_table(report, f"number, low to high end{at}")])
    texts = [_MOST, _readings(), *_not_reckoned(reports)]
    return [*lines, *(line for text in texts for line in [Line(""), *sentence(text)])]


def _table(report: Report, head: str) -> list[Line]:
    found = [report[name] for name in KEY_FIGURES if report[name].value is not None]
    heads = [f"{SHORT[each.name]}{f', {unit}' if (unit := shown(each).unit) else ''}" for each in found]
    rows = [
        Row(f"{step.words}{f', {step.known}' if step.known else ''}", tuple(_moved(step, each) for each in found))
        for step in report.steps
    ]
    return table(head, heads, rows)


def _moved(step: Step, figure: Figure) -> Cell:
    """What a number does to a figure between its ends, "-0.32 to +0.30"; nothing where that reads as nothing."""
    factor, decimals = (100.0 if is_share(figure) else 1.0), 1 if is_share(figure) or figure.unit == "deg" else 2
    ends = [f"{round(factor * shift, decimals) + 0.0:+.{decimals}f}" for shift in step.shifts.get(figure.name, ())]
    return Cell(" to ".join(ends) if any(float(end) for end in ends) else "")


def _readings() -> str:
    """Which readings of lightsim measure sheet tell which numbers."""
    keys: dict[tuple[str, ...], list[str]] = {}
    for key, readings in READINGS.items():
        keys.setdefault(readings, []).append(in_words(key))
    told = "; ".join(f"{listed(those)}: {listed(readings)}" for readings, those in keys.items())
    return f"What lightsim measure sheet tells by which readings (docs/measure.md): {told}. {_NO_READING}"


def _not_reckoned(reports: Sequence[Report]) -> list[str]:
    found = set[str]().union(*map(not_reckoned, reports))
    names = dict.fromkeys(each.name for report in reports for each in report.figures if each.name in found)
    kinds = dict.fromkeys("budget.*" if name.startswith("budget.") else name for name in names)
    return [f"{_NOT_RECKONED} {', '.join(kinds)}."] if kinds else []
