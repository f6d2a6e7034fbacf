"""A card for the bag: what to set and what to expect, with empty fields for what was seen in the garden.

A card takes a quarter of a page, about A6. Lengths in mm from the lower left.
"""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from typing import NamedTuple

import numpy as np
from reportlab.pdfgen.canvas import Canvas

from lightsim.measure.rounding import blank, length
from lightsim.pattern.ink import GREY, INK, POINT, fitted, line, new_canvas, rectangle, width_of, words, wrapped
from lightsim.pattern.pages import Page, page_of
from lightsim.rig.fractions import power_words, seconds_words
from lightsim.shot.ladder import nearest
from lightsim.shot.plan import Fits, Plan
from lightsim.shot.spoken import in_stops
from lightsim.shot.words import card_down, card_level, histogram

TICK = "[] "
_MARGIN = 7.5  # mm inside a card, where a printer may leave its page blank
_LEFT_OUT, _MARK = 4.0, 5.0  # mm, from the edge of the page to a cutting mark, and its length
_PLANNED, _SEEN = 0.4, 0.69  # where the columns of the table begin, in parts of its width
_LOWEST, _HIGHEST = 6.0, 9.8  # mm, of a row to write in
_BOX = 2.4  # mm, of a box to tick
_BODY, _LABEL, _SMALL, _FINE = 8.0, 7.2, 7.0, 5.6  # points
_LARGE, _BESIDE = 12.0, 1.8  # points, of the settings where there is room for all; mm beside them in their boxes
_LEADING = 1.3  # from line to line, in parts of the font's size
# Common practice, no source; see shot/care.py for the whole of it.
_CAUTION = (
    "Never fire a flash close to the eyes of people or animals; warn people with light-sensitive epilepsy. A few "
    "frames of one animal, then leave it in peace. Keep paper, foam and film off the window, nothing black on it; "
    "pause when the head is warm. Never open a flash: high voltage. The makers' instructions and local codes go "
    "first; no claim of photobiological safety is made."
)


class Field(NamedTuple):
    """A row of the table: what was planned, beside room for what was seen."""

    label: str
    planned: str
    seen: tuple[str, ...] = ("",)  # words before each blank to write in; those beside a box begin with TICK


def card_pdf(plans: Sequence[Plan], *, paper: str) -> bytes:
    """A card a plan, up to four on a page of this paper ("A4" or "Letter"), with marks where to cut.

    The same plans give the same bytes. Raises RigError for another paper, ValueError for no plans.
    """
    if not plans:
        raise ValueError("a card needs a plan: there is none")
    page = page_of(paper, landscape=False)
    file = BytesIO()
    canvas = new_canvas(file, title=f"Cards: {plans[0].title}", subject="What to set, to expect and to write down")
    wide, high = page.width / 2, page.height / 2
    for first in range(0, len(plans), 4):
        canvas.setPageSize((page.width / POINT, page.height / POINT))
        for place, plan in enumerate(plans[first : first + 4]):
            across, down = place % 2, place // 2
            _card(canvas, plan, left=across * wide + _MARGIN, top=page.height - down * high - _MARGIN, page=page)
        _marks(canvas, page)
        canvas.showPage()
    canvas.save()
    return file.getvalue()


def fields(plan: Plan) -> tuple[Field, ...]:
    """What a card has room for, beside what was planned."""
    most = plan.focus.frames_most
    return (
        Field("Date, place", "", ("", "")),
        Field("Power that was right", _right(plan)),
        Field("Grey card, histogram", _expected(plan), (f"{TICK}left", f"{TICK}there", f"{TICK}right")),
        Field("Grey card vs bare head", _darker(plan), ("stops",)),
        Field("Highlight, share of the ball", _share(plan), ("%",)),
        Field("Frames for a sharp one", "over 1000" if most is None else f"{most} (9 in 10)", ("taken", "sharp")),
        Field("Notes", ""),
    )


def settings(plan: Plan) -> tuple[tuple[str, str], ...]:
    """What to set, each with what it is."""
    return (
        ("ISO", f"{plan.iso:.10g}"),
        ("aperture", f"f/{plan.f_number:g}"),
        ("shutter", seconds_words(plan.shutter)),
        ("flash, manual", power_words(plan.start.power)),
    )


def warning(plan: Plan) -> str:
    """What is wrong with these settings; empty where the picture comes out as meant."""
    if plan.fits is Fits.WELL and plan.as_meant:
        return ""
    why = {
        Fits.WELL: f"{_right(plan)} would be right",
        Fits.TOO_WEAK: "the flash is too weak",
        Fits.TOO_STRONG: "the flash is too strong",
        Fits.DAY_ALONE: "the day alone is enough",
    }[plan.fits]
    return f"This setting: {in_stops(plan.off)} too {_way(plan)}; {why}."


def notes(plan: Plan) -> tuple[str, ...]:
    """What stands under the settings, a sentence or two each."""
    ways = [
        f"{name}: {power_words(rung.power)}"
        for name, rung in (("one stop less", plan.darker), ("one stop more", plan.brighter))
        if rung is not None
    ]
    focus = plan.focus
    facts = [
        f"Effective f-number f/{plan.working_f_number:.4g}",
        f"{length(focus.depth)} mm deep in focus",
        f"the flash lasts {seconds_words(plan.start.tenth)} (t0.1)",
        f"white balance {plan.colour.white_balance:g} K, kept",
    ]
    lower = f", with {card_down(plan)} stops less power" if card_down(plan) else ""
    test = (
        f"Test frame: a grey card where the subject will be{lower}. Its peak in the histogram belongs at "
        f"{_peak(plan, 0.0)} of the width; farther left: a stop more, farther right: a stop less."
    )
    behind = sorted((each for each in plan.backgrounds if each.all is not None), key=lambda each: each.distance)
    if behind:
        stops = round(behind[-1].all or 0.0, 1)
        told = f"{abs(stops):.1f} stops {'darker' if stops < 0 else 'brighter'}" if stops else "as bright"
        facts.append(f"{length(behind[-1].distance)} mm behind: {told}")
    return (f"{_capital('; '.join([*ways, f'{plan.left:.1f} stops left']))}.", f"{'; '.join(facts)}.", test)


def _card(canvas: Canvas, plan: Plan, *, left: float, top: float, page: Page) -> None:
    """One card, whose words begin at left and top."""
    width, end = page.width / 2 - 2 * _MARGIN, top - page.height / 2 + 2 * _MARGIN
    top = _line(canvas, fitted(plan.title, width, size=11, bold=True), left, top, size=11, bold=True)
    place = f"{plan.magnification:g}x, {length(round(plan.working_distance, 1))} mm from subject to lens"
    top = _line(canvas, place, left, top, size=_BODY, colour=GREY) - 1.5
    top = _settings(canvas, plan, left, top, width)
    for each in wrapped(warning(plan), width, size=_SMALL, bold=True) if warning(plan) else ():
        top = _line(canvas, each, left, top - 0.4, size=_SMALL, bold=True)
    for text in notes(plan):
        top -= 0.8
        for each in wrapped(text, width, size=_SMALL):
            top = _line(canvas, each, left, top, size=_SMALL)
    fine = wrapped(_CAUTION, width, size=_FINE)
    foot = end + len(fine) * _FINE * _LEADING * POINT
    _table(canvas, fields(plan), left, top - 1.5, width, foot=foot + 1.5)
    for each in fine:
        foot = _line(canvas, each, left, foot, size=_FINE, colour=GREY)


def _settings(canvas: Canvas, plan: Plan, left: float, top: float, width: float) -> float:
    """The settings beside each other, large, in a frame; returns where they end."""
    bottom = top - 11.5
    line(canvas, rectangle(np.array([[left, bottom], [left + width, top]])), width=0.3)
    found = settings(plan)
    rooms, size = _rooms(found, width - 2 * _BESIDE * len(found))
    start = left
    for (name, value), room in zip(found, rooms, strict=True):
        if start > left:
            line(canvas, np.array([[start, bottom], [start, top]]), colour=GREY, width=0.15)
        words(canvas, value, (start + _BESIDE, top - 5.6), size=size, bold=True)
        words(canvas, name, (start + _BESIDE, bottom + 1.9), size=_LABEL, colour=GREY)
        start += room + 2 * _BESIDE
    return bottom - 0.8


def _rooms(found: Sequence[tuple[str, str]], width: float) -> tuple[list[float], float]:
    """How wide each setting may stand in so many mm in all, and the size at which all of them do, in points."""
    labels = [width_of(name, size=_LABEL) for name, _ in found]
    size = _LARGE
    while True:
        needed = [
            max(width_of(value, size=size, bold=True), label) for (_, value), label in zip(found, labels, strict=True)
        ]
        spare = (width - sum(needed)) / len(needed)
        if spare >= 0 or size <= _FINE:
            return [each + spare for each in needed], size
        size -= 0.25


def _table(canvas: Canvas, rows: Sequence[Field], left: float, top: float, width: float, *, foot: float) -> None:
    """What was planned beside blanks for what was seen, as high as there is room above foot."""
    planned, seen = left + _PLANNED * width, left + _SEEN * width
    for text, start in (("planned", planned), ("seen", seen)):
        words(canvas, text, (start, top - 2.6), size=_LABEL, bold=True)
    top -= 3.6
    line(canvas, np.array([[left, top], [left + width, top]]), width=0.3)
    high = min(max((top - foot) / len(rows), _LOWEST), _HIGHEST)
    for row in rows:
        top -= high
        base = top + 0.3 * high
        words(canvas, row.label, (left, base), size=_LABEL)
        room = seen - planned - 0.8
        words(canvas, fitted(row.planned, room, size=_LABEL, bold=True), (planned, base), size=_LABEL, bold=True)
        start = seen if row.planned else planned
        for number, text in enumerate(row.seen):
            ticked = text.startswith(TICK)
            place = start + number * (left + width - start) / len(row.seen) if not ticked else start
            if ticked:
                box = np.array([[place, base - 0.2], [place + _BOX, base - 0.2 + _BOX]])
                line(canvas, rectangle(box), width=0.2)
                text = text.removeprefix(TICK)
                words(canvas, text, (place + _BOX + 0.5, base), size=_FINE)
                start += _BOX + width_of(text, size=_FINE) + 1.6
            else:
                words(canvas, text, (place, top + 0.8), size=_FINE, colour=GREY)
        line(canvas, np.array([[left, top], [left + width, top]]), colour=GREY, width=0.15)


def _marks(canvas: Canvas, page: Page) -> None:
    """Short lines where to cut a page into quarters: at its edges, and a cross in its middle."""
    middle = np.array([page.width, page.height]) / 2
    for way in (np.array([1.0, 0.0]), np.array([0.0, 1.0])):
        reach = float(middle @ way)
        for near, far in ((_LEFT_OUT - reach, _LEFT_OUT + _MARK - reach), (-_MARK / 2, _MARK / 2)):
            for side in (1.0, -1.0) if near < -_MARK else (1.0,):
                line(canvas, np.array([middle + side * near * way, middle + side * far * way]), colour=GREY, width=0.2)


def _line(
    canvas: Canvas, text: str, left: float, top: float, *, size: float, bold: bool = False, colour: str = INK
) -> float:
    """A line of words under top; returns where the next begins."""
    words(canvas, text, (left, top - size * POINT), size=size, bold=bold, colour=colour)
    return top - size * POINT * _LEADING


def _peak(plan: Plan, off: float) -> str:
    """Where a grey card stands in the histogram if the picture is so many stops off, as part of its width."""
    return f"{100 * histogram(off + card_level(plan)):.0f} %"


def _expected(plan: Plan) -> str:
    """Where the grey card will stand in the histogram: where it belongs, or else where, and what is wrong."""
    if plan.as_meant:
        return f"at {_peak(plan, 0.0)}"
    return f"{_peak(plan, plan.off)}, too {_way(plan)}"


def _right(plan: Plan) -> str:
    """The power that brings the picture out as meant, of those that the flash has."""
    if plan.fits is Fits.WELL:
        return power_words(nearest(plan.rungs, plan.wanted).power)
    return {
        Fits.TOO_WEAK: "above full",
        Fits.TOO_STRONG: f"below {power_words(plan.rungs[-1].power)}",
        Fits.DAY_ALONE: "no flash",
    }[plan.fits]


def _way(plan: Plan) -> str:
    return "bright" if plan.off > 0 else "dark"


def _darker(plan: Plan) -> str:
    lost = plan.lost.value
    if lost is None:
        return "–"
    return f"{-lost:+.1f} stops".replace("-", "−") if abs(lost) >= 0.05 else "0.0 stops"


def _share(plan: Plan) -> str:
    if plan.ball.value is None or blank(plan.ball) is not None:
        return "–"
    return f"{100 * plan.ball.value:.0f} %"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
