"""What the numbers of the materials leave open, in plain sentences: pure functions of reports."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from lightsim.measure.figure import Figure
from lightsim.measure.ranges import Plain, Step, in_words, most_moved, weight
from lightsim.measure.report import Report
from lightsim.measure.rounding import shown, span

_THREE, _SPOT = ("--window", "--white", "--black"), ("--spot-width", "--spot-side")
# The readings of lightsim measure sheet that tell a number; those that are not here no reading of a sheet tells.
READINGS = {
    "diffuse_transmittance": _THREE,
    "diffuse_reflectance": ("--white", "--black"),
    "forward_transmittance": (*_THREE, *_SPOT),
    "half_value_angle": (*_THREE, *_SPOT),
    "straight": (*_THREE, "--lamp"),
    "pores": (*_THREE, "--lamp", "--woven"),
}
SHORT = {
    "size.cone_angle": "apparent size",
    "size.hot_spot": "hot spot",
    "loss.total": "light lost",
    "highlight.diameter_share": "highlight width",
    "highlight.stops_above_white": "highlight against a white card",
    "shadow.edge_x": "shadow edge",
}  # what a figure is called in sentences
_MEASURED = "measured"  # how a number is known that needs no further measuring
_MOST_NAMED = 3
_TRY = "No reading of a sheet tells this one; a test frame of the finished rig does."


def by_its_materials(figure: Figure) -> str:
    """Range of a figure for the middle of a sentence, " (37 to 62 by its materials)"; empty where it is little."""
    decimals = 0 if figure.unit == "deg" else 1
    moved = [abs(end - (figure.value or 0.0)) for end in (figure.low, figure.high) if end is not None]
    if not span(figure) or max(moved) < 10.0**-decimals:
        return ""
    low, high = (f"{round(each, decimals) + 0.0:.{decimals}f}" for each in (figure.low or 0.0, figure.high or 0.0))
    ends = f"{low} or more" if high == "inf" else f"{high} or less" if low == "-inf" else f"{low} to {high}"
    return f" ({ends} by its materials)"


def matters_most(report: Report, *, at: str = "") -> str:
    """Which number of a rig's materials matters most, what it does alone, and what to do about it; empty if none.

    at: the magnification ("1x"), where there are several
    """
    step = report.heaviest
    if step is None:
        return ""
    moved = _effect(report, step)
    if not moved:
        return f"Of the numbers of its materials none matters much; most does {_named(step)}."
    comma = "," if step.known else ""
    alone = f"alone it puts {moved}{f' at {at}' if at else ''}"
    advice = "" if step.known == _MEASURED else f" {how_to_measure(step.key)}"
    return f"Of the numbers of its materials, {_named(step)}{comma} matters most: {alone}.{advice}"


def measure_next(reports: Sequence[Report], names: Sequence[str]) -> str:
    """Which number, not measured yet, matters most over all designs, in which of them, and how to measure it.

    names: what to call each report. Empty where no number moves any design by as much as a word is worth.
    """
    weights: dict[tuple[object, ...], float] = {}
    found: dict[tuple[object, ...], tuple[Step, list[str]]] = {}
    felt = [
        (report, name, step)
        for report, name in zip(reports, names, strict=True)
        for step in report.steps
        if _effect(report, step)
    ]
    for report, name, step in felt:
        if step.known != _MEASURED:
            weights[step.known_by] = weights.get(step.known_by, 0.0) + weight(report.figures, step)
            found.setdefault(step.known_by, (step, []))[1].append(name)
    if not weights:
        return ""
    step, those = found[max(weights, key=weights.__getitem__)]
    others = " of those not measured yet" if any(each.known == _MEASURED for _, _, each in felt) else ""
    where = f", for {_few(those)}" if len(reports) > 1 else ""
    return f"Measure this next: {_named(step)}. It matters most{others}{where}. {how_to_measure(step.key)}"


def how_to_measure(key: str) -> str:
    """What tells a number of a sheet, in a sentence."""
    readings = READINGS.get(key)
    if readings is None:
        return _TRY
    return f"To measure yours: lightsim measure sheet with {listed(readings)} (docs/measure.md)."


def not_reckoned(report: Report) -> frozenset[str]:
    """Names of the figures with a value of which no range by materials is reckoned, though the rig's numbers have some.

    What is exact, such as a clearance, hangs on no material and is not among them.
    """
    if not report.steps:
        return frozenset()
    reckoned = {name for step in report.steps for name in step.shifts}
    sampled = {each.name for each in report.figures if each.value is not None and each.half_interval != 0}
    return frozenset(sampled - reckoned)


def without_range(reports: Sequence[Report]) -> str:
    """Which numbers of the materials have no range, and how to give one; empty if all have."""
    plain = list(dict.fromkeys(each for report in reports for each in report.plain))
    if not plain:
        return ""
    words = [f"{in_words(each.key)} of {each.material} ({_value(each)})" for each in plain]
    first = plain[0]
    return (
        f"No range is known for {_few(words)}, so what is said of materials leaves "
        f"{'them' if len(plain) > 1 else 'it'} out. To give one: {first.key} = {{ value = {_value(first)}, low = ..., "
        'high = ..., known = "measured", source = "..." } in the table of the material.'
    )


def listed(words: Sequence[str]) -> str:
    """Words with commas, and "and" before the last."""
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


def _few(words: Sequence[str]) -> str:
    """The first few words, and how many more."""
    more = [f"{len(words) - _MOST_NAMED} more"] if len(words) > _MOST_NAMED else []
    return listed([*words[:_MOST_NAMED], *more])


def _named(step: Step) -> str:
    return f"the {step.words}{f', {step.known}' if step.known else ''}"


def _effect(report: Report, step: Step) -> str:
    """What one number alone does to the figure that it moves most; empty where that is not worth a word."""
    most = most_moved(report.figures, step)
    if most is None:
        return ""
    figure, (low, high) = most
    value = figure.value or 0.0
    alone = replace(figure, low=value + min(low, high, 0.0), high=value + max(low, high, 0.0))
    unit = shown(figure).unit
    return f"the {SHORT[figure.name]} at {span(alone)}{f' {unit}' if unit else ''}" if span(alone) else ""


def _value(plain: Plain) -> str:
    value = plain.value
    return f"{value:.3g}" if isinstance(value, int | float) else f"[{value[0]:.3g}, {value[1]:.3g}]"
