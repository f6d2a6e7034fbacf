"""What figures mean, in plain sentences: pure functions of reports. Numbers are rounded for reading, not for reckoning.

Two figures count as about the same where they differ by no more than their 95 % error bars together, or where they
round to the same number.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from lightsim.measure.figure import Figure
from lightsim.measure.report import Report
from lightsim.measure.rounding import brief

_SIZE, _LOST, _PAID = "size.cone_angle", "loss.total", "loss.per_doubling"
_WIDTH, _WHITE = "highlight.diameter_share", "highlight.stops_above_white"
_WIDEST = 150.0  # degrees; beyond it a flat disc of the same look would be absurdly large


def same(one: Figure, other: Figure) -> bool:
    """Whether two figures lie within their 95 % error bars of each other (taken as independent), or read the same."""
    if one.value is None or other.value is None:
        return one.value is other.value
    bars = math.hypot(one.half_interval or 0.0, other.half_interval or 0.0)
    return abs(one.value - other.value) <= bars or _reads(one) == _reads(other)


def described(report: Report) -> tuple[str, ...]:
    """One rig at one magnification in two or three sentences."""
    size, lost = report[_SIZE], report[_LOST]
    if size.value is None:
        return ("No light of a head or the diffuser reaches the subject.",)
    sentences = [f"Seen from the subject the light is {_degrees(size)} wide{_disc(size.value, report)}."]
    if lost.value is None:
        sentences.append("None of it falls on the side that faces the lens.")
    elif report[_PAID].value is None:
        sentences.append(f"It {_costs(lost)}.")
    else:
        sentences.append(f"It {_costs(lost)}, {_stops(report[_PAID])} for each doubling of its apparent area.")
    count = report["highlight.count"].value
    several = f" There are {count:.0f} separate highlights." if count is not None and count >= 1.5 else ""
    sentences.append(f"On a shiny ball {_highlight('the highlight', report)}.{several}")
    return tuple(sentences)


def compared(reports: Sequence[Report], names: Sequence[str] | None = None) -> tuple[str, ...]:
    """What a comparison shows: the softest against the hardest, the cheapest and the best trade, the highlights.

    names: what to call each report, by default its title
    """
    names = [report.title for report in reports] if names is None else names
    everything = list(zip(names, reports, strict=True))
    lit = [(name, each) for name, each in everything if each[_SIZE].value is not None and each[_LOST].value is not None]
    dark = [name for name, each in everything if (name, each) not in lit]
    sentences = [f"No light reaches the side of the subject that faces the lens with {_listed(dark)}."] if dark else []
    if len(lit) == 1:
        sentences.extend(f"{lit[0][0]}: {sentence}" for sentence in described(lit[0][1])[:1])
    if len(lit) > 1:
        sentences.append(_softest(lit))
        sentences.extend(_trade(lit))
        sentences.extend(_highlights(lit))
    return tuple(sentences)


def changed(before: Report, after: Report, *, start: str, end: str) -> str:
    """What differs between two reports of one rig, start and end saying which they are ("1x", "2x")."""
    size, lost, white = ((before[name], after[name]) for name in (_SIZE, _LOST, _WHITE))
    if any(each.value is None for each in (*size, *lost)):
        return f"From {start} to {end}: the light does not reach the subject at both."
    told, alike = [], []
    if same(*size):
        alike.append("the apparent size")
    else:
        told.append(f"the light looks {_times(size[1], size[0])} as wide")
    if same(*lost):
        alike.append("the light lost")
    else:
        step = _step(*lost)
        told.append(f"{abs(step):.1f} {_word(step)} {'more' if step > 0 else 'less'} light is lost")
    if white[0].value is not None and white[1].value is not None:
        if same(*white):
            alike.append("the highlight against white")
        else:
            step = _step(*white)
            way = "rises" if step > 0 else "falls"
            told.append(f"the highlight {way} by {abs(step):.1f} {_word(step)} against white")
    still = f"{_listed(alike)} {'stays' if len(alike) == 1 else 'stay'} about the same"
    if not told:
        return f"From {start} to {end} {still}."
    return f"From {start} to {end}: {_listed(told)}{f'; {still}' if alike else ''}."


def varied(values: Sequence[float], reports: Sequence[Report], *, key: str, unit: str = "") -> tuple[str, ...]:
    """What a swept number does to size, loss and highlight, a sentence each.

    values: (n,) of the number called key, in unit; reports: one for each value
    """
    rows = (
        (_SIZE, "the light looks", "wide", _degrees),
        (_LOST, "the light lost is", "", _stops),
        (_WHITE, "the highlight lies", "white", _against_white),
    )
    sentences = []
    for name, subject, after, words in rows:
        found = zip(values, (report[name] for report in reports), strict=True)
        known = [(at, figure) for at, figure in found if figure.value is not None]
        if len(known) > 1:
            sentences.append(_course(known, subject, after, words, key=key, unit=unit))
    return tuple(sentences)


def _course(
    known: Sequence[tuple[float, Figure]],
    subject: str,
    after: str,
    words: Callable[[Figure], str],
    *,
    key: str,
    unit: str,
) -> str:
    """How one figure goes along a sweep: steady, up, down, or with a turning point."""
    (start, first), (end, last) = known[0], known[-1]
    least = min(known, key=lambda item: item[1].value or 0.0)
    most = max(known, key=lambda item: item[1].value or 0.0)
    begin = f"{subject[0].upper()}{subject[1:]}"
    after = f" {after}" if after else ""
    ends = f"{words(first)}{after} at {_at(start, unit)} and {words(last)}{after} at {_at(end, unit)}"
    if same(least[1], most[1]):
        why = f"{key} makes no difference beyond the error bars"
        return f"{begin} about the same all along, {words(first)}{after}: {why}."
    peaks = [item for item in (most, least) if not same(item[1], first) and not same(item[1], last)]
    if not peaks:
        return f"{begin} {ends}."
    which = "most" if peaks[0] is most else "least"
    return f"{begin} {ends}; {which}, {words(peaks[0][1])}{after}, at {_at(peaks[0][0], unit)}."


def _softest(lit: Sequence[tuple[str, Report]]) -> str:
    ordered = sorted(lit, key=lambda item: item[1][_SIZE].value or 0.0)
    (small, smallest), (large, largest) = ordered[0], ordered[-1]
    if same(smallest[_SIZE], largest[_SIZE]):
        return f"All look about the same size from the subject, {_degrees(largest[_SIZE])} wide."
    peers = [name for name, each in ordered[1:-1] if same(each[_SIZE], largest[_SIZE])]
    also = f" ({_listed(peers)} about the same)" if peers else ""
    return (
        f"Softest: {large}{also}, whose light looks {_degrees(largest[_SIZE])} wide, "
        f"{_times(largest[_SIZE], smallest[_SIZE])} as wide as that of {small}; it {_costs(largest[_LOST])}."
    )


def _trade(lit: Sequence[tuple[str, Report]]) -> list[str]:
    """Cheapest in light, and best trade of light for size, among the designs that make the source larger."""
    grown = [(name, each) for name, each in lit if each[_PAID].value is not None]
    if len(grown) < 2:
        return []
    cheap, cheapest = min(grown, key=lambda item: item[1][_LOST].value or 0.0)
    best, trade = min(grown, key=lambda item: item[1][_PAID].value or 0.0)
    others = [name for name, each in grown if each is not cheapest and same(each[_LOST], cheapest[_LOST])]
    also = f" ({_listed(others)} about the same)" if others else ""
    paid = f"{_stops(trade[_PAID])} for each doubling of its apparent area"
    peers = [name for name, each in grown if each is not trade and same(each[_PAID], trade[_PAID])]
    alike = f" ({_listed(peers)} about the same)" if peers else ""
    start = f"Of those that make the light larger, {cheap}{also} costs least, {_stops(cheapest[_LOST])}"
    if best == cheap:
        return [f"{start}, and gives most size for its light{alike}: {paid}."]
    return [f"{start}; {best} gives most size for its light{alike}: {paid}."]


def _highlights(lit: Sequence[tuple[str, Report]]) -> list[str]:
    seen = [(name, each) for name, each in lit if each[_WHITE].value is not None and each[_WIDTH].value is not None]
    if len(seen) < 2:
        return []
    ordered = sorted(seen, key=lambda item: item[1][_WHITE].value or 0.0)
    (dim, dimmest), (bright, brightest) = ordered[0], ordered[-1]
    if same(dimmest[_WHITE], brightest[_WHITE]):
        return [f"The highlights on a shiny ball lie about equally high, {_against_white(dimmest[_WHITE])} white."]
    return [
        f"On a shiny ball {_highlight(f'the highlight of {bright}', brightest)}; "
        f"{_highlight(f'that of {dim}', dimmest)}."
    ]


def _highlight(subject: str, report: Report) -> str:
    width, white = report[_WIDTH], report[_WHITE]
    if width.value is None or white.value is None:
        return f"{subject} does not show"
    return f"{subject} is {100 * width.value:.0f} % of the ball's width and lies {_against_white(white)} white"


def _step(before: Figure, after: Figure) -> float:
    return (after.value or 0.0) - (before.value or 0.0)


def _costs(lost: Figure) -> str:
    value = lost.value or 0.0
    if abs(value) < 0.05:
        return "costs no light to speak of"
    return f"costs {_stops(lost)}" if value > 0 else f"gains {-value:.1f} stops on the bare head"


def _against_white(figure: Figure) -> str:
    value = figure.value or 0.0
    if abs(value) < 0.05:
        return "level with"
    return f"{abs(value):.1f} {_word(abs(value))} {'above' if value > 0 else 'below'}"


def _stops(figure: Figure) -> str:
    value = figure.value or 0.0
    return f"{value + 0.0:.1f} {_word(value)}"


def _word(value: float) -> str:
    return "stop" if f"{abs(value):.1f}" == "1.0" else "stops"


def _degrees(figure: Figure) -> str:
    value = figure.value or 0.0
    return f"{value:.0f} degrees" if value >= 9.5 else f"{value:.1f} degrees"


def _times(large: Figure, small: Figure) -> str:
    ratio = (large.value or 0.0) / small.value if small.value else math.inf
    return f"{ratio:.1f} times" if ratio < 9.95 else f"{ratio:.0f} times"


def _disc(angle: float, report: Report) -> str:
    """A flat disc that looks as wide: 2 d tan(angle / 2). Derived here."""
    if angle > _WIDEST:
        return ""
    across = 2 * report.working_distance * math.tan(math.radians(angle) / 2)
    size = f"{across:.0f}" if across >= 9.5 else f"{across:.1f}"
    return f", as a disc of {size} mm looks from {report.working_distance:g} mm, the distance of the lens front"


def _reads(figure: Figure) -> str:
    value = figure.value or 0.0
    return f"{value:.0f}" if figure.unit == "deg" and value >= 9.5 else f"{value + 0.0:.1f}"


def _at(value: float, unit: str) -> str:
    return f"{brief(value)} {unit}".rstrip()


def _listed(words: Sequence[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)
