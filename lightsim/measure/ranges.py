"""How far the figures move between the low and the high end of the materials' numbers.

One number at a time, all others as said; what several do is added in quadrature, as numbers of different materials err
independently. Steps to either side are kept apart.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import floor, hypot, inf, isnan, log2, log10, nan, sqrt

import numpy as np

from lightsim.light.arrivals import Arrivals
from lightsim.light.light import SUBJECT, Light
from lightsim.light.others import Moved, under_others
from lightsim.measure import loss
from lightsim.measure.falloff import FACING_LENS
from lightsim.measure.figure import Figure
from lightsim.measure.figures import shapes, strengths
from lightsim.measure.illuminance import plane_samples
from lightsim.measure.ratio import ratio_in_stops
from lightsim.measure.rounding import never_negative
from lightsim.measure.source import source_only
from lightsim.rig.place import PlacedRig
from lightsim.sheet.ends import layers_of
from lightsim.sheet.sheet import NUMBERS, Origin, Sheet, both

# Where all arrivals change alike, to this share, it is the strength of the light that changes and not its shape.
_ALIKE = 0.003
_NAMED = {"straight": "straight-through share", "pores": "open share"}
_HOT_SPOT, _WHITE, _PAID = "size.hot_spot", "highlight.stops_above_white", "loss.per_doubling"
_LOST, _HAIRS = "loss.total", ("shadow.hair_x", "shadow.hair_y")
KEY_FIGURES = (
    "size.cone_angle",
    "size.hot_spot",
    "loss.total",
    "highlight.diameter_share",
    "highlight.stops_above_white",
    "shadow.edge_x",
)
Shift = tuple[float, float]  # of a figure, with the number at its low and at its high end
_Name = tuple[str, str]  # of a number: material and key
_NONE: Shift = (0.0, 0.0)
_LITTLE = 0.05  # doublings that are not worth a word


@dataclass(frozen=True)
class Step:
    """What one number of a material does to the figures."""

    material: str
    key: str  # of the sheet: "diffuse_transmittance"
    value: float | tuple[float, float]
    low: tuple[float, float]  # by side
    high: tuple[float, float]
    known: str  # how the number is known, or nothing
    shifts: Mapping[str, Shift]  # by the figure's name

    @property
    def words(self) -> str:
        """The number in words: what it is and its range."""
        return f"{in_words(self.key)} of {self.material} ({self._span})"

    @property
    def known_by(self) -> tuple[object, ...]:
        """What makes numbers of two rigs the same: material, key, value and range."""
        return self.material, self.key, self.value, self.low, self.high

    @property
    def _span(self) -> str:
        unit = " degrees" if self.key == "half_value_angle" else ""
        spans = [f"{_two_digits(low, high)}{unit}" for low, high in zip(self.low, self.high, strict=True)]
        if len({*spans}) == 1:
            return spans[0]
        sides = zip(spans, ("front", "back"), self.low, self.high, strict=True)
        return ", ".join(f"{span} on the {side}" for span, side, low, high in sides if low < high)


@dataclass(frozen=True)
class Plain:
    """A number of a material of which no range is known."""

    material: str
    key: str
    value: float | tuple[float, float]


def steps(light: Light) -> tuple[Step, ...]:
    """What each number with a range among the rig's materials does to its figures, by one small cloud weighed anew.

    For the stages of the light lost there is one more for each stage, with what stands by then.
    """
    moves = under_others(light)
    if not moves:
        return ()
    by_stage = _by_stage(light, moves)
    bare = loss.mounted(moves[0].as_said)
    said: dict[int, _Said] = {}
    for move in moves:
        key = id(move.as_said)
        if key not in said:
            said[key] = _as_said(move.as_said, bare)
    return tuple(_step(move, said[id(move.as_said)], bare, by_stage) for move in moves)


def plain_numbers(placed: PlacedRig) -> tuple[Plain, ...]:
    """The numbers that a rig's materials state without a range, in the order of its parts; of a stack, its layers'."""
    found: dict[_Name, Plain] = {}
    for part in placed.parts:
        for material, sheet in layers_of(part.material, part.sheet) if part.material else ():
            for key in NUMBERS:
                value = getattr(sheet, key)
                stated = value is not None and value != Sheet.model_fields[key].default and any(both(value))
                if stated and sheet.origins.get(key, Origin()).low is None:
                    found.setdefault((material, key), Plain(material, key, value))
    return tuple(found.values())


def in_words(key: str) -> str:
    """A key of a sheet for reading: "half-value angle"."""
    if key in _NAMED:
        return _NAMED[key]
    return key.replace("half_value", "half-value").replace("_", " ")


def ranged(figures: Sequence[Figure], steps: Sequence[Step]) -> tuple[Figure, ...]:
    """The figures with the range that the materials give them."""
    return tuple(_ranged(each, steps) for each in figures)


def heaviest(figures: Sequence[Figure], steps: Sequence[Step]) -> Step | None:
    """The number that matters most: that moves the key figures most, all in doublings; None if none moves any."""
    weights = [weight(figures, step) for step in steps]
    return steps[int(np.argmax(weights))] if weights and max(weights) > 0 else None


def weight(figures: Sequence[Figure], step: Step) -> float:
    """How much a number moves the key figures: the sum of the squares of its shifts in doublings."""
    total = 0.0
    for figure in figures:
        if figure.name in KEY_FIGURES and figure.value is not None:
            total += sum(_doublings(figure, shift) ** 2 for shift in step.shifts.get(figure.name, ()))
    return total


def most_moved(figures: Sequence[Figure], step: Step) -> tuple[Figure, Shift] | None:
    """The key figure that a number moves most, in doublings, and by how much; None if by less than a 20th of one."""
    moved = [
        (each, step.shifts[each.name]) for each in figures if each.name in KEY_FIGURES and each.name in step.shifts
    ]
    weighed = [(max(abs(_doublings(each, shift)) for shift in shifts), each, shifts) for each, shifts in moved]
    most = max(weighed, key=lambda item: item[0], default=None)
    return None if most is None or most[0] < _LITTLE else most[1:]


def leeway(name: str, of_one: Sequence[Step], of_other: Sequence[Step]) -> Shift:
    """How far the materials may lower and raise the difference, one less other, of two designs' figures; none negative.

    A number that both designs share moves both, and only what it does to the difference counts.
    """
    mine, others = ({step.known_by: step.shifts.get(name, _NONE) for step in each} for each in (of_one, of_other))
    lowered, raised = [], []
    for key in {*mine, *others}:
        moves = [a - b if a != b else 0.0 for a, b in zip(mine.get(key, _NONE), others.get(key, _NONE), strict=True)]
        lowered.append(min(*moves, 0.0))
        raised.append(max(*moves, 0.0))
    return hypot(*lowered), hypot(*raised)


def unsure(one: Figure, other: Figure, of_one: Sequence[Step], of_other: Sequence[Step]) -> bool:
    """Whether the difference of two designs' figures is too small to call, for their sampling and their materials."""
    if one.value is None or other.value is None:
        return False
    apart = one.value - other.value
    lowered, raised = leeway(one.name, of_one, of_other)
    nearer = lowered if apart >= 0 else raised
    return abs(apart) <= hypot(one.half_interval or 0.0, other.half_interval or 0.0, nearer)


@dataclass(frozen=True)
class _Said:
    """The small cloud's figures with the materials as said, its source, and half an interval of the hot spot."""

    values: Mapping[str, float]
    source: Arrivals
    hot_spot: float
    doublings: float  # of the apparent area, against the bare heads


def _as_said(light: Light, bare: Arrivals) -> _Said:
    figures = [*strengths(light), *shapes(light, bare)]
    unsure = next((each.half_interval or 0.0 for each in figures if each.name == _HOT_SPOT), 0.0)
    values = _values(figures)
    paid = ratio_in_stops(plane_samples(bare, FACING_LENS), plane_samples(light.at(SUBJECT), FACING_LENS))
    doublings = paid.value / values[_PAID] if paid is not None and values.get(_PAID) else 0.0
    return _Said(values, source_only(light, light.at(SUBJECT)), unsure, doublings)


def _by_stage(light: Light, moves: Sequence[Moved]) -> dict[_Name, dict[str, Shift]]:
    """What each number does to the stages of the light lost, by number and by the figure's name.

    moves: of the whole rig. A stage moves as far as its number brightens what stands before it more than what stands
    after it; the stages of loss.stages, and so all of them together as the light lost.
    """
    shifts: dict[_Name, dict[str, Shift]] = {move.number.name: {} for move in moves}
    whole = _brightened(moves)
    before: dict[_Name, Shift] = {}
    for name, parts in loss.standing(light.placed):
        standing = replace(light, placed=replace(light.placed, parts=parts))
        after = whole if len(parts) == len(light.placed.parts) else _brightened(under_others(standing))
        for number, of_number in shifts.items():
            ends = zip(before.get(number, _NONE), after.get(number, _NONE), strict=True)
            low, high = (first - last if first != last else 0.0 for first, last in ends)
            if not (isnan(low) or isnan(high)):
                of_number[f"loss.{name}"] = (low, high)
        before = after
    return shifts


def _brightened(moves: Sequence[Moved]) -> dict[_Name, Shift]:
    """By how many stops each number at its ends brightens a plane that faces the lens; no numbers where it is dark."""
    found: dict[_Name, Shift] = {}
    for move in moves:
        said, low, high = (
            float(plane_samples(each.at(SUBJECT), FACING_LENS).mean()) for each in (move.as_said, move.low, move.high)
        )
        ends = [(log2(end / said) if end > 0 else -inf) if said > 0 else nan for end in (low, high)]
        found[move.number.name] = (ends[0], ends[1])
    return found


def _two_digits(low: float, high: float) -> str:
    """A range in words, to two significant digits of what lies between its ends."""
    decimals = 1 - floor(log10(high - low)) if high > low else 3
    return f"{round(low, decimals):g} to {round(high, decimals):g}"


def _step(move: Moved, said: _Said, bare: Arrivals, by_stage: Mapping[_Name, Mapping[str, Shift]]) -> Step:
    number = move.number
    origin = number.sheet.origins[number.key]
    assert origin.low is not None
    assert origin.high is not None
    low, high = (_end(end, said, bare) for end in (move.low, move.high))
    if _LOST in said.values:
        # No light left at an end is all light lost.
        low, high = ({_LOST: inf} | end for end in (low, high))
    shifts = {
        name: (low.get(name, value) - value, high.get(name, value) - value) for name, value in said.values.items()
    }
    shifts |= by_stage[number.name]
    # The brightest place is chosen anew at each end, and by chance: a step within the error bar says nothing.
    if max((abs(each) for each in shifts.get(_HOT_SPOT, ())), default=0.0) < said.hot_spot:
        shifts[_HOT_SPOT] = _NONE
    value = getattr(number.sheet, number.key)
    return Step(number.material, number.key, value, origin.low, origin.high, origin.known or "", shifts)


def _end(light: Light, said: _Said, bare: Arrivals) -> dict[str, float]:
    """The figures with a number at one end; those of the source's shape only where that changes."""
    values = _values(strengths(light))
    source = source_only(light, light.at(SUBJECT))
    brighter = None if light.other is None else _alike(said.source, source)
    if brighter is None:
        return values | _values(shapes(light, bare))
    # The same shape: the highlight brightens as the source does, a hair takes as much more of all light, and the size
    # costs what is lost more or less.
    lost = said.values.get(_LOST, 0.0) - values.get(_LOST, 0.0)
    if _WHITE in said.values:
        values[_WHITE] = said.values[_WHITE] + brighter - lost
    values |= {name: said.values[name] * 2 ** (brighter - lost) for name in _HAIRS if name in said.values}
    if _PAID in said.values and said.doublings:
        values[_PAID] = said.values[_PAID] - lost / said.doublings
    return values


def _alike(said: Arrivals, end: Arrivals) -> float | None:
    """By how many stops all light of the source brightens alike; None where it does not."""
    before, after = said.weight, end.weight
    total, changed = float(before.sum()), float(after.sum())
    if not (total > 0 and changed > 0):
        return None
    mean = changed / total
    spread = sqrt(float(((after - mean * before) ** 2 / np.maximum(before, 1e-30)).sum()) / total)
    return log2(mean) if spread < _ALIKE * mean else None


def _values(figures: Iterable[Figure]) -> dict[str, float]:
    return {each.name: each.value for each in figures if each.value is not None}


def _ranged(figure: Figure, steps: Sequence[Step]) -> Figure:
    moves = [(step, *step.shifts.get(figure.name, _NONE)) for step in steps]
    up, down = ([pick(low, high, 0.0) for _, low, high in moves] for pick in (max, min))
    if figure.value is None or (not any(up) and not any(down)):
        return figure
    most = max(moves, key=lambda move: max(abs(move[1]), abs(move[2])))[0]
    low, high = figure.value - hypot(*down), figure.value + hypot(*up)
    if never_negative(figure):
        low = max(low, min(figure.value, 0.0))
    return replace(figure, low=low, high=high, moved_by=most.words)


def _doublings(figure: Figure, shift: float) -> float:
    if figure.unit == "stops":
        return shift
    value = figure.value or 0.0
    return log2(max(value + shift, 1e-9) / value) if value > 0 else 0.0
