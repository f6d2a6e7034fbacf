"""What the page says first: title, answer, what to change, a handful of figures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from lightsim.measure.figure_words import sure
from lightsim.measure.findings import changed, compared
from lightsim.measure.first_words import HIGHLIGHT, first_words, limits_in_words, too_close
from lightsim.measure.hints import Hint, hints
from lightsim.measure.left_open import by_its_materials, matters_most, measure_next
from lightsim.measure.merged import merged
from lightsim.measure.report import Report
from lightsim.measure.rounding import length
from lightsim.measure.same_flash import stops_darker
from lightsim.measure.warnings import stands_in_picture
from lightsim.page.tables import Cell, Row, Table, cell
from lightsim.rig.load import LoadedRig
from lightsim.rig.place import PlacedRig

_SIZE, _WHITE, _LOST = "size.cone_angle", "highlight.stops_above_white", "loss.total"
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_FIRST = 2  # changes that the first screen names
_SAME_FLASH = "exposure.full_power"
_AT_A_GLANCE = (
    (_SIZE, "Apparent size"),
    (_LOST, "Light lost"),
    (_SAME_FLASH, "Same flash setting"),
    ("highlight.width", "Highlight"),
    (_WHITE, "vs white card"),
    ("shadow.edge_x", "Shadow edge"),
)


class Changes(NamedTuple):
    """What to change on one design; name empty where there is one design."""

    name: str
    hints: tuple[Hint, ...]


class Answer(NamedTuple):
    """The first screen."""

    title: str
    where: str
    lead: str
    more: tuple[str, ...]
    change: Changes | None
    limits: tuple[str, ...]
    notes: tuple[str, ...]
    glance: Table
    glance_note: str
    close: dict[str, str]


class Told(NamedTuple):
    """One design as the sentences need it."""

    loaded: LoadedRig
    report: Report
    placed: PlacedRig
    name: str


def answer(designs: Sequence[Told]) -> Answer:
    """The first screen for designs to compare, or for one rig at its magnifications."""
    return _of_one_rig(designs) if one_rig(designs) else _of_several(designs)


def one_rig(designs: Sequence[Told]) -> bool:
    """Whether all designs are one rig at its magnifications."""
    return all(each.loaded is designs[0].loaded for each in designs)


def all_changes(designs: Sequence[Told]) -> tuple[Changes, ...]:
    """What to change on each design, those left out of which nothing stands out."""
    named = [(each.name if len(designs) > 1 else "", hints(each.report, each.placed)) for each in designs]
    return tuple(Changes(name, found) for name, found in named if found)


def to_measure(designs: Sequence[Told]) -> str:
    """Which number of the materials to measure next; empty if none matters."""
    reports = [each.report for each in designs]
    if len(designs) == 1:
        return matters_most(reports[0])
    names = [f"{each.report.magnification:g}x" if one_rig(designs) else each.name for each in designs]
    return measure_next(reports, names)


def _of_one_rig(designs: Sequence[Told]) -> Answer:
    reports = [each.report for each in designs]
    several = len(designs) > 1
    sizes = [f"{report.magnification:g}x" for report in reports]
    said = first_words(reports[0], ball=_ball(designs[0]))
    highlight = [text for text in said if text.startswith(HIGHLIGHT)]  # first what shows most in the picture
    lead, *more = [*highlight, " ".join(text for text in said if text not in highlight)]
    if several:
        lead = f"At {sizes[0]} {lead[:1].lower()}{lead[1:]}"
        more.append(changed(reports[0], reports[-1], start=sizes[0], end=sizes[-1]))
    found = all_changes(designs)
    return Answer(
        title=reports[0].title,
        where=_where(designs),
        lead=lead,
        more=tuple(more),
        change=Changes("", found[0].hints[: _FIRST + 1]) if found else None,
        limits=limits_in_words(reports, sizes if several else [""]),
        notes=_notes(reports, sizes if several else [""]),
        glance=_glance(designs, sizes, "magnification"),
        glance_note=_glance_note(designs),
        close={},
    )


def _of_several(designs: Sequence[Told]) -> Answer:
    reports, names = [each.report for each in designs], [each.name for each in designs]
    lead, *more = compared(reports, names)
    count = _NUMBERS[len(designs)] if len(designs) < len(_NUMBERS) else str(len(designs))
    broken = [text for text in limits_in_words(reports, names) if not text.startswith("Keeps")]
    return Answer(
        title=f"{count.capitalize()} designs compared",
        where=_where(designs),
        lead=lead,
        more=tuple(more),
        change=_of_softest(designs),
        limits=tuple(broken),
        notes=_notes(reports, names),
        glance=_glance(designs, names, "design"),
        glance_note=_glance_note(designs),
        close=too_close(reports, names),
    )


def _of_softest(designs: Sequence[Told]) -> Changes | None:
    """What to change on the design whose light looks largest: of two too close to call either may be it."""
    usable = [each for each in designs if sure(each.report[_SIZE]) and not stands_in_picture(each.report.notes)]
    if not usable:
        return None
    largest = max(usable, key=lambda each: each.report[_SIZE].value or 0.0)
    found = hints(largest.report, largest.placed)[:_FIRST]
    return Changes(largest.name, found) if found else None


def _glance(designs: Sequence[Told], labels: Sequence[str], corner: str) -> Table:
    shown = [(name, head) for name, head in _AT_A_GLANCE if name != _SAME_FLASH or len(designs) > 1]
    darker = stops_darker([each.report for each in designs])
    rows = []
    for each, label, stops in zip(designs, labels, darker, strict=True):
        cells = [_darker(stops) if name == _SAME_FLASH else _short(each.report, name) for name, _ in shown]
        rows.append(Row(label, tuple(cells)))
    return Table("At a glance", corner, tuple(head for _, head in shown), tuple(rows))


def _short(report: Report, name: str) -> Cell:
    """A figure with what matters most of its uncertainty: its range by materials where that says more, else its bar."""
    found = cell(report[name], unit=True)
    if by_its_materials(report[name]):
        return found._replace(bar="")
    if name == _LOST and report.plain:
        return found._replace(bar="", span="range not known")
    return found._replace(span="")


def _darker(stops: float | None) -> Cell:
    """Stops against the brightest of those compared."""
    if stops is None:
        return Cell("dark")
    return Cell(f"{stops:.1f} stops".replace("-", "−") if round(stops, 1) < 0 else "brightest")


def _glance_note(designs: Sequence[Told]) -> str:
    balls = " or ".join(dict.fromkeys(length(_ball(each)) for each in designs))
    same = (
        " Same flash setting: how much darker the subject comes out, apart from what the lens loses."
        if len(designs) > 1
        else ""
    )
    heights = " or ".join(dict.fromkeys(length(each.loaded.rig.subject.edge_height) for each in designs))
    return (
        "Apparent size: full angle of a cone as large as the light looks; larger is softer. Light lost: against the "
        f"bare head where it stands.{same} Highlight: its width on a glossy ball of {balls} mm, and how bright it is "
        f"against a white card (minus: darker). Shadow edge: from light to dark under an edge {heights} mm above the "
        "surface; wider is softer. A range is what the materials may do to a figure, ± its 95 % interval."
    )


def _notes(reports: Sequence[Report], labels: Sequence[str]) -> tuple[str, ...]:
    """Warnings, with those that they are about."""
    found = []
    for numbers, text in merged([report.notes for report in reports]):
        which = f"{', '.join(labels[number] for number in numbers)}: " if any(labels) else ""
        found.append(which + text)
    return tuple(found)


def _where(designs: Sequence[Told]) -> str:
    places = dict.fromkeys(
        f"{each.report.magnification:g}x, {length(round(each.report.working_distance, 1))} mm from subject to lens"
        for each in designs
    )
    return "; ".join(places)


def _ball(each: Told) -> float:
    return 2 * each.loaded.rig.subject.ball.radius
