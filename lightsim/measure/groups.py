"""How figures are sorted and called in reports for people, in terminals and on pages: headings and short words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from lightsim.measure.figure import Figure
from lightsim.measure.report import Report, Verdict
from lightsim.measure.rounding import length, shown

BUDGET = "budget."
_SMALL = 0.02  # share of the light below which the short report does not name a place of loss
# What a figure is called under its heading, where its own label would not read well there or is long for a table.
_CALLED = {
    "size.cone_angle": "Apparent size, full angle of a cone",
    "clearance": "To nearest part of the diffuser",
    "exposure.full_power": "Exposure at full power",
    "exposure.headroom": "Power left at the settings of the shot",
    "highlight.stops_above_white": "against a white card",
    "loss.per_doubling": "For each doubling of the area",
    "loss.as mounted": "Lost as mounted, by tilt and by the lens in the way",
    "loss.total": "Light lost in all",
    "loss.surroundings": "Lost by surroundings",
}


class Group(NamedTuple):
    """Figures that belong together: their names by how they begin, and those that the short report shows."""

    heading: str
    starts: tuple[str, ...]
    short: tuple[str, ...]


GROUPS = (
    Group(
        "How big and even the source looks",
        ("size.", "clearance"),
        ("size.cone_angle", "size.width", "size.height", "size.hot_spot", "clearance"),
    ),
    Group(
        "What the light does on the subject",
        ("exposure.", "illuminance.", "modelling."),
        ("exposure.", "modelling."),
    ),
    Group(
        "Highlight on the ball",
        ("highlight.",),
        ("highlight.width", "highlight.diameter_share", "highlight.stops_above_white", "highlight.count"),
    ),
    Group("Shadow", ("shadow.",), ("shadow.edge_x", "shadow.edge_y", "shadow.hair_x")),
    Group("Falloff", ("falloff.",), ("falloff.exponent", "falloff.behind", "falloff.background_")),
    Group("Light lost, stage by stage (negative: gained)", ("loss.",), ("loss.",)),
    Group("Where each lumen went", (BUDGET,), ()),
)
_LIMITS = {
    "most_stops": "Light lost",
    "least_angle": "Apparent size",
    "most_hot_spot": "Hot spot",
    "most_highlight": "Highlight against a white card",
    "least_clearance": "Subject to diffuser",
}
_ALL_OTHERS = "Everything else"  # so that no figure is lost, whatever is added


def chosen(reports: Sequence[Report], everything: bool) -> Iterator[tuple[str, list[str]]]:
    """Headings with the names of their figures, in the order of the reports."""
    names = list(dict.fromkeys(figure.name for report in reports for figure in report.figures))
    left = list(names)
    for group in GROUPS:
        mine = [name for name in names if name.startswith(group.starts)]
        left = [name for name in left if name not in mine]
        if not everything and group.starts == (BUDGET,):
            mine = [name for name in mine if max(value_in(report, name) for report in reports) >= _SMALL]
        elif not everything:
            mine = [name for name in mine if _of_choice(name, group.short)]
        if mine:
            yield group.heading, mine
    if left and everything:
        yield _ALL_OTHERS, left


def _of_choice(name: str, short: Sequence[str]) -> bool:
    """Whether a name is one of the choice, or begins like one that ends in a point or an underscore."""
    return name in short or name.startswith(tuple(start for start in short if start.endswith((".", "_"))))


def called(figure: Figure) -> str:
    """What a figure is called under its heading."""
    label = figure.label
    for start in ("Budget: ", "Highlight on the ball: "):
        label = label.removeprefix(start)
    return _CALLED.get(figure.name, label)


def limit_in_words(verdict: Verdict, *, number: bool = True) -> str:
    """A limit of the user, "Light lost at most 3.5 stops", or without its number "Light lost at most, stops"."""
    side = "at most" if verdict.limit.startswith("most") else "at least"
    words, unit = _LIMITS.get(verdict.limit, verdict.found.label), shown(verdict.found).unit
    return f"{words} {side} {length(verdict.allowed)} {unit}" if number else f"{words} {side}, {unit}"


def against_limit(verdict: Verdict) -> str:
    """A figure against the user's limit, "light lost 3.41 stops, at most 3"."""
    side = "at most" if verdict.limit.startswith("most") else "at least"
    words, text = _LIMITS.get(verdict.limit, verdict.found.label), shown(verdict.found)
    return f"{words[:1].lower()}{words[1:]} {text.value} {text.unit}, {side} {length(verdict.allowed)}"


def find(report: Report, name: str) -> Figure | None:
    """The figure of that name, None where the report has none."""
    try:
        return report[name]
    except KeyError:
        return None


def value_in(report: Report, name: str) -> float:
    """Value of the figure of that name, 0 where there is none."""
    figure = find(report, name)
    return 0.0 if figure is None or figure.value is None else figure.value
