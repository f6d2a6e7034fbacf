"""What figures mean, in plain sentences: pure functions of reports. Numbers are rounded for reading, not for reckoning.

Two figures count as about the same where they differ by no more than their 95 % error bars together, or where they
round to the same number; as too close to call where the materials might turn the difference round.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from lightsim.measure.figure import Figure
from lightsim.measure.figure_words import (
    against_card,
    bare,
    costs,
    degrees,
    spent,
    stop_or_stops,
    stops,
    sure,
    tenths,
    times,
)
from lightsim.measure.left_open import by_its_materials, listed
from lightsim.measure.nearness import Nearness, nearness, same
from lightsim.measure.report import Report
from lightsim.measure.rounding import brief, length
from lightsim.measure.warnings import stands_in_picture

_SIZE, _LOST, _PAID = "size.cone_angle", "loss.total", "loss.per_doubling"
_WIDTH, _WHITE = "highlight.diameter_share", "highlight.stops_above_white"
_CARD = "the highlight against a white card"
_AS_LARGE = "1.0 times"
_WIDEST = 150.0  # degrees; beyond it a flat disc of the same look would be absurdly large


def described(report: Report) -> tuple[str, ...]:
    """One rig at one magnification in a few sentences, about what is known of it."""
    size, lost, paid = report[_SIZE], report[_LOST], report[_PAID]
    if size.value is None and lost.value is None:
        return ("No light of a head or the diffuser reaches the subject, or too little to tell anything.",)
    if sure(size):
        large = f"as large as a cone of {degrees(size)}{by_its_materials(size)}"
        sentences = [f"Seen from the subject the light is {large}{_disc(size.value or 0.0, report)}."]
    else:
        sentences = ["Too little light comes from a head or the diffuser to tell how large it looks."]
    if lost.value is None:
        sentences.append("None of it falls on the side that faces the lens.")
    elif sure(lost):
        trade = f", {stops(paid)} for each doubling of its apparent area" if sure(paid) and spent(paid) else ""
        sentences.append(f"It {costs(lost, report)}{by_its_materials(lost) if _loses(lost) else ''}{trade}.")
    if _shows(report):
        sentences.append(f"On a shiny ball {_highlight('the highlight', report)}.{_shadows(report)}")
    return tuple(sentences)


def test_frame(report: Report) -> str:
    """What a test frame should show, so that the prediction can be checked in the garden."""
    lost, share = report[_LOST], report[_WIDTH]
    if lost.value is None:
        return "A test frame will stay dark: no light reaches the side of the subject that faces the lens."
    if not sure(lost):
        return "Too little light reaches the subject to tell what a test frame would show."
    step = lost.value
    way = f"darker{by_its_materials(lost)}" if step > 0 else f"brighter{by_its_materials(_turned(lost))}"
    against = f"{abs(step):.1f} {stop_or_stops(step)} {way} than" if spent(lost) else ""
    held = "held where it is" if report.heads == 1 else "held where they are"
    card = (
        f"A grey card in place of the subject, facing the lens, should come out {against or 'about as bright as'} with "
        f"{bare(report)} {held} and aimed at the card"
    )
    if share.value is None:
        return f"{card}; the ball shows no highlight."
    if not sure(share):
        return f"{card}."
    count = _count(report)
    what = "highlight should be" if count == 1 else f"{count} highlights together should be"
    return f"{card}; on a shiny ball the {what} {100 * share.value:.0f} % of the ball's diameter wide."


def compared(reports: Sequence[Report], names: Sequence[str] | None = None) -> tuple[str, ...]:
    """What a comparison shows: the softest against the hardest, the cheapest and the best trade, the highlights.

    names: what to call each report, by default its title. Designs that cannot be used as they are, because part of
    them stands in the picture, take no part.
    """
    names = [report.title for report in reports] if names is None else names
    everything = list(zip(names, reports, strict=True))
    sentences = []
    if dark := [name for name, each in everything if each[_LOST].value is None]:
        sentences.append(f"No light reaches the side of the subject that faces the lens with {listed(dark)}.")
    bright = [(name, each) for name, each in everything if name not in dark]
    if dim := [name for name, each in bright if not (sure(each[_SIZE]) and sure(each[_LOST]))]:
        sentences.append(f"Too little light reaches the subject to judge {listed(dim)}.")
    usable = [(name, each) for name, each in bright if name not in dim]
    if hiding := [name for name, each in usable if stands_in_picture(each.notes)]:
        sentences.append(f"Left out of the following, as part of it stands in the picture: {listed(hiding)}.")
    lit = [(name, each) for name, each in usable if name not in hiding]
    if len(lit) == 1:
        sentences.extend(f"{lit[0][0]}: {sentence}" for sentence in described(lit[0][1])[:1])
    if len(lit) > 1:
        sentences.append(_softest(lit))
        sentences.extend(_trade(lit))
        sentences.extend(_highlights(lit))
    for name, each in lit:
        if _shows(each) and _count(each) > 1:
            count = _count(each)
            sentences.append(
                f"{name} makes {count} highlights, and {_fold(count)} shadow of an edge: the widths given span all."
            )
    return tuple(sentences)


def changed(before: Report, after: Report, *, start: str, end: str) -> str:
    """What differs between two reports of one rig, start and end saying which they are ("1x", "2x")."""
    told, alike, close = [], [], []
    for name, what in ((_SIZE, "the apparent size"), (_LOST, "the light lost"), (_WHITE, _CARD)):
        first, last = before[name], after[name]
        if not (sure(first) and sure(last)):
            continue
        step = (last.value or 0.0) - (first.value or 0.0)
        amount = f"{abs(step):.1f} {stop_or_stops(step)}"
        near = nearness(before, after, name)
        little = times(last, first) == _AS_LARGE if name == _SIZE else not tenths(step)
        if near is Nearness.CLOSE:
            close.append(what)
        elif near is Nearness.SAME or little:
            alike.append(what)
        elif name == _SIZE:
            told.append(f"the light looks {times(last, first)} as wide")
        elif name == _LOST:
            told.append(f"{amount} {'more' if step > 0 else 'less'} light is lost")
        else:
            told.append(f"the highlight {'rises' if step > 0 else 'falls'} by {amount} against a white card")
    clauses = [listed(told)] if told else []
    if alike:
        clauses.append(f"{listed(alike)} {'stays' if len(alike) == 1 else 'stay'} about the same")
    if close:
        clauses.append(
            f"whether {listed(close)} {'changes' if len(close) == 1 else 'change'} is {Nearness.CLOSE.value}"
        )
    if not clauses:
        return f"Too little light reaches the subject to compare {start} with {end}."
    return f"From {start} to {end}{':' if told else ''} {'; '.join(clauses)}."


def varied(
    values: Sequence[float],
    reports: Sequence[Report],
    *,
    key: str,
    unit: str = "",
    figures: Sequence[str] | None = None,
) -> tuple[str, ...]:
    """What a swept number does to size, loss and highlight, a sentence each.

    values: (n,) of the number called key, in unit; reports: one for each value; figures: names of those to speak of,
    by default all three
    """
    sentences = []
    for name, course in _COURSES.items():
        found = zip(values, (report[name] for report in reports), strict=True)
        known = [(at, figure) for at, figure in found if sure(figure)]
        if len(known) > 1 and (figures is None or name in figures):
            sentences.append(_told(known, course, key=key, unit=unit))
    return tuple(sentences)


class _Course(NamedTuple):
    """How to speak of a figure along a sweep."""

    subject: str
    after: str
    words: Callable[[Figure], str]
    most: str
    least: str


def _told(known: Sequence[tuple[float, Figure]], course: _Course, *, key: str, unit: str) -> str:
    """How one figure goes along a sweep: steady, up, down, or with a turning point."""
    (start, first), (end, last) = known[0], known[-1]
    least = min(known, key=lambda item: item[1].value or 0.0)
    most = max(known, key=lambda item: item[1].value or 0.0)
    words, after = course.words, f" {course.after}" if course.after else ""
    ends = f"{words(first)}{after} at {_at(start, unit)} and {words(last)}{after} at {_at(end, unit)}"
    if same(least[1], most[1]):
        why = f"{key} makes no difference to speak of"
        return f"{course.subject} about the same all along, {words(first)}{after}: {why}."
    peaks = [item for item in (most, least) if not same(item[1], first) and not same(item[1], last)]
    if not peaks:
        return f"{course.subject} {ends}."
    which = course.most if peaks[0] is most else course.least
    return f"{course.subject} {ends}; {which}, {words(peaks[0][1])}{after}, at {_at(peaks[0][0], unit)}."


def _softest(lit: Sequence[tuple[str, Report]]) -> str:
    ordered = sorted(lit, key=lambda item: item[1][_SIZE].value or 0.0)
    large, largest = ordered[-1]
    near = {name: nearness(each, largest, _SIZE) for name, each in ordered[:-1]}
    smaller = [(name, each) for name, each in ordered[:-1] if near[name] is Nearness.APART]
    small, smallest = (smaller or ordered)[0]
    wider = times(largest[_SIZE], smallest[_SIZE])
    close = Nearness.CLOSE in near.values()
    if not close and (not smaller or wider == _AS_LARGE):
        return f"All look about the same size from the subject, a cone of {degrees(largest[_SIZE])}."
    if not smaller:
        least = f"{degrees(smallest[_SIZE])} ({small})"
        return f"Which looks largest is {Nearness.CLOSE.value}: from {least} to {degrees(largest[_SIZE])} ({large})."
    lost = largest[_LOST]
    leeway = by_its_materials(lost) if _loses(lost) else ""
    return (
        f"Softest: {large}{_peers(near)}, whose light looks as large as a cone of {degrees(largest[_SIZE])}, {wider} "
        f"as wide as that of {small}{_rivals(near, 'apparent size')}; {large if close else 'it'} {costs(lost, largest)}"
        f"{leeway}{f' against {bare(largest)}' if _loses(lost) else ''}."
    )


def _trade(lit: Sequence[tuple[str, Report]]) -> list[str]:
    """Cheapest in light, and best trade of light for size, among the designs that make the source larger."""
    grown = [(name, each) for name, each in lit if sure(each[_PAID])]
    if len(grown) < 2:
        return []
    cheap, cheapest = min(grown, key=lambda item: item[1][_LOST].value or 0.0)
    best, trade = min(grown, key=lambda item: item[1][_PAID].value or 0.0)
    by_loss = {name: nearness(each, cheapest, _LOST) for name, each in grown if each is not cheapest}
    by_trade = {name: nearness(each, trade, _PAID) for name, each in grown if each is not trade}
    paid = f": {stops(trade[_PAID])} for each doubling of its apparent area" if spent(trade[_PAID]) else ""
    start = f"Of those that make the light larger, {cheap}{_peers(by_loss)} "
    if spent(cheapest[_LOST]):
        start += f"costs least, {stops(cheapest[_LOST])}"
    else:
        start += costs(cheapest[_LOST], cheapest)
    most = f"gives most size for its light{_peers(by_trade)}{paid}"
    rivals, others = _rivals(by_loss, "light lost"), _rivals(by_trade, "stops per doubling")
    if best != cheap:
        return [f"{start}{rivals}; {best} {most}{others}."]
    if _close_in(by_loss) == _close_in(by_trade):
        return [f"{start}, and {most}{_rivals(by_trade, 'both')}."]
    return [f"{start}{rivals}{'; it' if rivals else ', and'} {most}{others}."]


def _peers(near: Mapping[str, Nearness]) -> str:
    names = [name for name, each in near.items() if each is Nearness.SAME]
    return f" ({listed(names)} {Nearness.SAME.value})" if names else ""


def _rivals(near: Mapping[str, Nearness], figure: str) -> str:
    """Which designs are too close to call, and in what."""
    names = _close_in(near)
    if not names:
        return ""
    return f", but in {figure} {listed(names)} {'is' if len(names) == 1 else 'are'} {Nearness.CLOSE.value}"


def _close_in(near: Mapping[str, Nearness]) -> list[str]:
    return [name for name, each in near.items() if each is Nearness.CLOSE]


def _highlights(lit: Sequence[tuple[str, Report]]) -> list[str]:
    seen = [(name, each) for name, each in lit if _shows(each)]
    if len(seen) < 2:
        return []
    ordered = sorted(seen, key=lambda item: item[1][_WHITE].value or 0.0)
    (dim, dimmest), (bright, brightest) = ordered[0], ordered[-1]
    near = nearness(dimmest, brightest, _WHITE)
    if near is Nearness.SAME:
        return [f"The highlights on a shiny ball are about equally bright, {against_card(dimmest[_WHITE])}."]
    if near is Nearness.CLOSE:
        ends = [f"{against_card(each[_WHITE])} ({name})" for name, each in ((dim, dimmest), (bright, brightest))]
        return [f"Which highlight on a shiny ball is brightest is {near.value}: from {ends[0]} to {ends[1]}."]
    return [
        f"On a shiny ball {_highlight(f'the highlight of {bright}', brightest)}; "
        f"{_highlight(f'that of {dim}', dimmest)}."
    ]


def _highlight(subject: str, report: Report) -> str:
    width, count = 100 * (report[_WIDTH].value or 0.0), _count(report)
    card = against_card(report[_WHITE])
    if count > 1:
        return f"{subject} is in {count} pieces that together span {width:.0f} % of the ball's width, {card}"
    return f"{subject} is {width:.0f} % of the ball's width and {card}"


def _shows(report: Report) -> bool:
    return sure(report[_WIDTH]) and sure(report[_WHITE])


def _count(report: Report) -> int:
    return round(report["highlight.count"].value or 1.0)


def _shadows(report: Report) -> str:
    count = _count(report)
    return f" An edge throws {_fold(count)} shadow, and the width given spans all of it." if count > 1 else ""


def _fold(count: int) -> str:
    return "a double" if count == 2 else f"a {count}-fold"


def _loses(lost: Figure) -> bool:
    return spent(lost) and (lost.value or 0.0) > 0


def _turned(figure: Figure) -> Figure:
    """The figure with its sign turned round."""
    value, low, high = (None if each is None else -each for each in (figure.value, figure.high, figure.low))
    return replace(figure, value=value, low=low, high=high)


def _disc(angle: float, report: Report) -> str:
    """A flat disc that looks as wide: 2 d tan(angle / 2). Derived here."""
    if angle > _WIDEST:
        return ""
    across = 2 * report.working_distance * math.tan(math.radians(angle) / 2)
    size = f"{across:.0f}" if across >= 9.5 else f"{across:.1f}"
    return f", or a disc of {size} mm seen from {length(report.working_distance)} mm, the distance of the lens front"


def _at(value: float, unit: str) -> str:
    return f"{brief(value)} {unit}".rstrip()


_COURSES = {
    _SIZE: _Course("The light looks", "wide", degrees, "widest", "narrowest"),
    _LOST: _Course("The light lost is", "", stops, "most", "least"),
    _WHITE: _Course("The highlight is", "", against_card, "brightest", "dimmest"),
}
