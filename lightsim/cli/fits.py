"""Whether a rig fits, at all its magnifications, in words and a table. Nothing is traced."""

from __future__ import annotations

from dataclasses import dataclass

from lightsim.cli.layout import Cell, Line, Row, sentence, table
from lightsim.fit.finding import Finding, Verdict
from lightsim.fit.findings import findings
from lightsim.measure.merged import merged
from lightsim.measure.rounding import length
from lightsim.rig.load import LoadedRig, placed
from lightsim.rig.place import PlacedRig

_DECIMALS = 1  # of mm: rulers tell no more
_TITLES: dict[Verdict, str] = {"in the way": "In the way", "close": "Close", "not checked": "Not checked"}


@dataclass(frozen=True)
class Fit:
    """What is found of a rig at each magnification."""

    worlds: tuple[PlacedRig, ...]  # at each magnification
    labels: tuple[str, ...]  # of the magnifications
    found: tuple[tuple[Finding, ...], ...]

    @property
    def in_the_way(self) -> bool:
        """Whether anything is, at any magnification."""
        return any(each.verdict == "in the way" for group in self.found for each in group)


def fit_of(loaded: LoadedRig) -> Fit:
    """What is found of a rig at all its magnifications. Raises RigError if it cannot be placed."""
    magnifications = loaded.rig.camera.magnification
    worlds = [placed(loaded, index) for index in range(len(magnifications))]
    labels = tuple(f"{each:g}x" for each in magnifications)
    return Fit(tuple(worlds), labels, tuple(findings(world) for world in worlds))


def will_it_fit(fit: Fit) -> list[Line]:
    """The section: first what is in the way, with its remedy, then what is close, then the room left."""
    lines = [Line("Will it fit", bold=True)]
    for verdict in _TITLES:
        lines.extend(_sentences(fit, verdict))
    if not fit.in_the_way:
        lines.append(Line("Nothing is in the way."))
    return [*lines, Line(""), *_room(fit)]


def _sentences(fit: Fit, verdict: Verdict) -> list[Line]:
    """What has a verdict, each sentence once, with the magnifications that it is about where it is not about all."""
    notes = [
        [f"{each.sentence} {each.remedy}".strip() for each in group if each.verdict == verdict] for group in fit.found
    ]
    lines = []
    for numbers, text in merged(notes):
        every = len(numbers) == len(fit.labels)
        which = "" if every else f" at {' and '.join(fit.labels[number] for number in numbers)}"
        bold = verdict == "in the way"
        lines.extend(sentence(f"{_TITLES[verdict]}{which}: {text}", indent="  ", bold=bold))
    return lines


def _room(fit: Fit) -> list[Line]:
    """The room left, a row for each thing that must stay free and the part that is nearest to it."""
    cells: dict[tuple[str, str], list[str]] = {}
    for column, group in enumerate(fit.found):
        for each in group:
            if each.verdict == "room":
                row = cells.setdefault((each.kind, each.part), ["" for _ in fit.labels])
                # Room can be less than none where nothing is wrong: a roof that reaches over the subject.
                far = length(round(abs(each.distance), _DECIMALS))
                row[column] = far if each.distance >= 0 else f"{far} beyond"
    order = list(dict.fromkeys(kind for kind, _ in cells))
    rows = [
        Row(f"{kind}, to {part}", tuple(map(Cell, cells[kind, part])))
        for kind, part in sorted(cells, key=lambda key: order.index(key[0]))
    ]
    return table("room left, mm", fit.labels, rows) if rows else []
