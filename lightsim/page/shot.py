"""The shot on the page: settings to start from, what limits the picture, what to change, heat and care."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from math import log2
from typing import NamedTuple

from lightsim.measure.exposure import GREY
from lightsim.measure.merged import merged
from lightsim.measure.rounding import length, span
from lightsim.page.tables import Cell, Row, Table
from lightsim.rig.fractions import power_words, seconds_words
from lightsim.shot.care import CARE, FIRST, Care
from lightsim.shot.changes import TROUBLES, changes, ghost
from lightsim.shot.heat import told
from lightsim.shot.ladder import nearest
from lightsim.shot.plan import Fits, Level, Plan
from lightsim.shot.pulse import USUAL_DURATION
from lightsim.shot.spoken import in_percent, two_figures
from lightsim.shot.words import SAID, answer, frame_steps, settings

_NONE = Cell("–")
_MICROMETRES = 1000.0  # in a millimetre


class Remedy(NamedTuple):
    """One thing to change, and what it does."""

    do: str
    stops: str
    price: str


class Trouble(NamedTuple):
    """What a test frame may lack, and what to do about it."""

    heading: str
    remedies: tuple[Remedy, ...]


class Said(NamedTuple):
    """Sentences on one subject, each with whose it is; empty where it is of all."""

    about: str
    texts: tuple[tuple[str, str], ...]


class Told(NamedTuple):
    """What is told of each plan by itself; name empty where there is one."""

    name: str
    troubles: tuple[Trouble, ...]
    test_frame: tuple[str, ...]
    ladder: Table


class Shot(NamedTuple):
    """The section of the page."""

    start: tuple[tuple[str, str], ...]  # name, empty where there is one; settings in a sentence
    first: tuple[tuple[str, str], ...]  # the same, with what is left of the flash
    settings: Table
    limits: Table
    said: tuple[Said, ...]
    heat: Said | None
    warnings: tuple[tuple[str, str], ...]  # of the heat, with whose they are
    notes: tuple[str, ...]
    each: tuple[Told, ...]
    care_first: str
    care: tuple[Care, ...]


def shot_of(plans: Sequence[Plan], names: Sequence[str]) -> Shot:
    """What the page tells of these plans; names: what to call each."""
    labels = list(names) if len(plans) > 1 else [""]
    said = [(heading, [[words(plan)] if words(plan) else [] for plan in plans]) for heading, words in SAID]
    heat = [[told(each) for each in plan.warming] for plan in plans]
    warn = [[told(each) for each in plan.warming if each.warn] for plan in plans]
    return Shot(
        start=tuple((label, start_words(plan)) for plan, label in zip(plans, labels, strict=True)),
        first=tuple((label, first_words(plan)) for plan, label in zip(plans, labels, strict=True)),
        settings=_table("Settings to start from", "setting", plans, names, _settings(plans)),
        limits=_table("What to expect", "at these settings", plans, names, _limits(plans)),
        said=tuple(Said(heading, _whose(texts, labels)) for heading, texts in said if any(texts)),
        heat=Said("Heat", _whose(heat, labels)) if any(heat) else None,
        warnings=_whose(warn, labels),
        notes=tuple(_notes(plans)),
        each=tuple(_told(plan, label) for plan, label in zip(plans, labels, strict=True)),
        care_first=FIRST,
        care=CARE,
    )


def start_words(plan: Plan) -> str:
    """The settings in a sentence, with what the flash has left, or why they cannot be right."""
    if plan.fits is Fits.WELL and plan.as_meant:
        return f"{settings(plan)}; {_stops(plan.left)} of power left."
    return first_words(plan)


def first_words(plan: Plan) -> str:
    """The settings and whether the flash has the power for them."""
    return f"{settings(plan)}. {answer(plan)}"


def _whose(texts: Sequence[Sequence[str]], labels: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Texts that several plans share once, each with the names of its plans, none where it is of all."""
    return tuple(
        ("" if len(numbers) == len(labels) else ", ".join(labels[number] for number in numbers), text)
        for numbers, text in merged(texts)
    )


Line = tuple[str, Callable[[Plan], Cell]]  # label, and the cell of a plan


def _table(caption: str, corner: str, plans: Sequence[Plan], names: Sequence[str], lines: Iterable[Line]) -> Table:
    rows = tuple(Row(label, tuple(cell(plan) for plan in plans)) for label, cell in lines)
    return Table(caption, corner, tuple(names), rows)


def _settings(plans: Sequence[Plan]) -> Iterable[Line]:
    yield "ISO", lambda plan: Cell(f"{plan.iso:.10g}")
    yield "Aperture", lambda plan: Cell(f"f/{plan.f_number:g}", span=f"effective f/{plan.working_f_number:.4g}")
    yield "Shutter", lambda plan: Cell(seconds_words(plan.shutter))
    yield "Power of the flash", lambda plan: Cell(power_words(plan.start.power))
    yield "One stop less, one stop more", _either_way
    yield "Power left above it", lambda plan: Cell(f"{plan.left:.1f} stops")
    yield "White balance, kept", lambda plan: Cell(f"{plan.colour.white_balance:g} K")


def _limits(plans: Sequence[Plan]) -> Iterable[Line]:
    yield "Up to full power, to the dot", _headroom
    yield "Brighter than meant", lambda plan: Cell(_signed(plan.off))
    for number, level in enumerate(plans[0].levels):
        yield f"By {level.calibration}", lambda plan, number=number: Cell(_asked(plan, plan.levels[number]))  # type: ignore[misc]
    if any(plan.start.recycle is not None for plan in plans):
        yield "Ready again after", lambda plan: _maybe(plan.start.recycle, lambda time: f"{two_figures(time)} s")
    if any(plan.start.flashes is not None for plan in plans):
        yield "Flashes of a battery charge", lambda plan: _maybe(plan.start.flashes, _about)
    yield (
        "The flash lasts, t0.1",
        lambda plan: Cell(seconds_words(plan.start.tenth), span=f"t0.5: {seconds_words(plan.start.half)}"),
    )
    if any(plan.inside < 1 for plan in plans):
        yield "Of it while the frame is wholly open", lambda plan: Cell(in_percent(plan.inside))
    yield "Moved by the hand in that time", lambda plan: _moved(plan, plan.motion.shake)
    yield "Moved by the wind in that time", lambda plan: _moved(plan, plan.motion.wind)
    yield "Light of the day against the flash", _day
    yield "Moved in the light of the day", _ghost
    yield "Deep in focus", lambda plan: Cell(f"{length(plan.focus.depth)} mm")
    yield (
        "Spot that diffraction makes",
        lambda plan: Cell(
            f"{_MICROMETRES * plan.focus.airy:.0f} µm",
            span=f"counts as sharp: {_MICROMETRES * plan.focus.blur_circle:.0f} µm",
        ),
    )
    yield "Diffraction hides a wrong focus over", lambda plan: Cell(f"{length(plan.focus.wave_depth)} mm")
    yield "One frame by hand is sharp", lambda plan: Cell(in_percent(plan.focus.chance))
    yield (
        "Frames for one that is sharp",
        lambda plan: Cell(_count(plan.focus.frames_most), span=f"even chance: {_count(plan.focus.frames_half)}"),
    )
    for number, background in enumerate(plans[0].backgrounds):
        if all(_at(plan, number) == background.distance for plan in plans):
            label = f"{length(background.distance)} mm behind the subject"
            yield label, lambda plan, number=number: _behind(plan, number)  # type: ignore[misc]
    yield "Colour on the subject", _colour
    yield "Warmest part, flash after flash", _warmest


def _either_way(plan: Plan) -> Cell:
    less, more = (power_words(rung.power) if rung else "none" for rung in (plan.darker, plan.brighter))
    return Cell(f"{less}, {more}")


def _headroom(plan: Plan) -> Cell:
    """Stops from what is asked for to full power, without the rounding to a rung, with its range by materials."""
    if plan.headroom.value is None:
        return _NONE
    return Cell(_signed(plan.headroom.value), span=span(plan.headroom).replace("-", "−"))


def _asked(plan: Plan, level: Level) -> str:
    """The setting that a calibration asks for."""
    if level.power <= 0:
        return "none, the day is enough"
    if level.power >= 2**0.2:
        return f"full, {_stops(log2(level.power))} short"
    least = plan.rungs[-1].power
    if level.power <= least / 2**0.2:
        return f"{power_words(least)}, {_stops(log2(least / level.power))} too much"
    return power_words(nearest(plan.rungs, level.power).power)


def _moved(plan: Plan, blur: float, more: str = "") -> Cell:
    pixels = blur / plan.focus.pixel
    return Cell("below 0.1 pixels" if pixels < 0.1 else f"{two_figures(pixels)} pixels", span=more)


def _day(plan: Plan) -> Cell:
    if plan.day <= 0:
        return Cell("no light of the day")
    return Cell(_signed(log2(plan.day / plan.flash)))


def _ghost(plan: Plan) -> Cell:
    """How far the day's picture is blurred, and whether that shows."""
    if plan.day <= 0:
        return Cell("no light of the day")
    blur = max(plan.motion.ambient_shake, plan.motion.ambient_wind)
    return _moved(plan, blur, "may show" if ghost(plan) else "hardly shows")


def _at(plan: Plan, number: int) -> float | None:
    return plan.backgrounds[number].distance if number < len(plan.backgrounds) else None


def _behind(plan: Plan, number: int) -> Cell:
    behind = plan.backgrounds[number]
    flash = "no light of the flash" if behind.flash is None else f"flash alone: {_signed(behind.flash)}"
    return Cell("dark" if behind.all is None else _signed(behind.all), span=flash)


def _colour(plan: Plan) -> Cell:
    return Cell(
        f"{round(plan.colour.mixed_kelvin, -1):.0f} K", span=f"{in_percent(plan.colour.ambient_share)} of the day"
    )


def _warmest(plan: Plan) -> Cell:
    """The hottest that a part of the diffuser may get, of those of which that is known."""
    if not plan.warming:
        return Cell("no diffuser")
    known = [(each.hottest, each) for each in plan.warming if each.hottest is not None]
    if not known:
        return Cell("not known")
    hottest, warming = max(known, key=lambda pair: pair[0])
    bears = "" if warming.limit is None else f", bears {warming.limit:g} °C"
    return Cell(f"{hottest:.0f} °C", span=f"{warming.part}{bears}", sign="!" if warming.warn else "")


def _notes(plans: Sequence[Plan]) -> Iterable[str]:
    heads = dict.fromkeys(head for plan in plans for head in plan.assumed)
    if heads:
        yield (
            f"How long the flash lasts is assumed where the file does not tell it ({', '.join(heads)}): t0.5 of "
            f"{seconds_words(USUAL_DURATION)} at full power, cut short below. A data sheet tells it better."
        )
    subjects = dict.fromkeys(_subject(plan) for plan in plans)
    yield (
        "Meters do not agree what a right exposure is; the settings go by C = 250, as guide numbers do. A card of "
        f"{100 * GREY:g} % is what meters call mid-grey; the powers are for {' or '.join(subjects)}. How far the "
        "others are off is what to expect of the first frame. ISO, shutter, power, the light of the day, shake, wind "
        "and sway stand in the rig file under [shot]."
    )


def _subject(plan: Plan) -> str:
    """The subject that the powers are for, and how bright it is meant to come out."""
    meant = f"{_stops(plan.placement)} {'above' if plan.placement > 0 else 'below'} mid-grey"
    if abs(plan.placement) < 0.05:
        meant = "as mid-grey"
    return f"a subject that sends back {two_figures(100 * plan.reflectance)} % of the light and comes out {meant}"


def _told(plan: Plan, name: str) -> Told:
    found = changes(plan)
    troubles = []
    for trouble in TROUBLES:
        remedies = tuple(
            Remedy(_capital(each.do), _effect(each.picture, each.left), each.price)
            for each in found
            if each.trouble == trouble
        )
        if remedies:
            troubles.append(Trouble(_capital(trouble), remedies))
    return Told(name, tuple(troubles), frame_steps(plan), _ladder(plan, name))


def _effect(picture: float, left: float) -> str:
    """What a change does to the picture and to the power that is left."""
    power = f"{_stops(left)} of power left" if left >= 0 else f"{_stops(left)} more than the flash has"
    if abs(picture) < 0.05:
        return f"picture as bright, {power}"
    return f"{_stops(picture)} {'brighter' if picture > 0 else 'darker'}, {power}"


def _ladder(plan: Plan, name: str) -> Table:
    """Every setting of the flash."""
    heads, cells = ["t0.5", "t0.1"], []
    more = {
        "ready again after": any(rung.recycle is not None for rung in plan.rungs),
        "flashes of a charge": any(rung.flashes is not None for rung in plan.rungs),
        "energy": any(rung.energy is not None for rung in plan.rungs),
    }
    heads += [head for head, known in more.items() if known]
    for rung in plan.rungs:
        words = [
            _maybe(rung.recycle, lambda time: f"{two_figures(time)} s"),
            _maybe(rung.flashes, _about),
            _maybe(rung.energy, lambda energy: f"{two_figures(energy)} J"),
        ]
        times = [Cell(seconds_words(rung.half)), Cell(seconds_words(rung.tenth))]
        known = [cell for cell, wanted in zip(words, more.values(), strict=True) if wanted]
        label = power_words(rung.power) + (" (start)" if rung == plan.start else "")
        cells.append(Row(label, (*times, *known)))
    return Table(f"Every power setting{f' of {name}' if name else ''}", "power", tuple(heads), tuple(cells))


def _maybe(value: float | None, words: Callable[[float], str]) -> Cell:
    return _NONE if value is None else Cell(words(value))


def _about(count: float) -> str:
    return f"about {two_figures(count)}"


def _count(frames: int | None) -> str:
    return "over 1000" if frames is None else str(frames)


def _signed(stops: float) -> str:
    return f"{_number(stops)} stops"


def _stops(stops: float) -> str:
    words = f"{abs(stops):.1f}".removesuffix(".0")
    return "1 stop" if words == "1" else f"{words} stops"


def _number(value: float) -> str:
    text = f"{value:+.1f}"
    return "0.0" if float(text) == 0 else text.replace("-", "−")


def _capital(text: str) -> str:
    return text if text.startswith("f/") else text[:1].upper() + text[1:]
