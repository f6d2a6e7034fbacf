"""The plan of a shot: settings to start from, what is left of the flash, and what limits the picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from math import log2

from lightsim.light.light import Light
from lightsim.measure.exposure import CALIBRATIONS, NOMINAL, Calibration, needed_of, sensor_exposure
from lightsim.measure.figure import Figure
from lightsim.measure.report import Report
from lightsim.rig.errors import fault
from lightsim.rig.place import PlacedRig
from lightsim.shot.colour import Colour, colour_of
from lightsim.shot.focus import Focus, focus_of
from lightsim.shot.heat import Warming, warming_of
from lightsim.shot.ladder import Rung, ladder, nearest
from lightsim.shot.motion import Motion, motion_of, open_time
from lightsim.shot.pulse import light_within

BURST = 20  # flashes, for the heat
_PACE = 1.0  # s between flashes of a burst where no head states how soon it is ready
FULL = "exposure.full_power"
_BACKGROUND = "falloff.background_"
_SEEN_OFF = 0.2  # stops, a little more than half of a third (a choice, no source)
NEAR = 0.05  # of a stop, below which the ladder is met (a choice, no source)


class Fits(Enum):
    """How the flash meets what the settings ask for."""

    WELL = "on the ladder"
    TOO_WEAK = "full power is not enough"
    TOO_STRONG = "the least power is too much"
    DAY_ALONE = "the day alone is enough"


@dataclass(frozen=True)
class Level:
    """What one calibration asks for."""

    calibration: str
    needed: float  # luminous exposure at the subject, all light, lx s
    power: float  # share of full power that the flash has to give; 0 where the day alone is enough, above 1 too much


@dataclass(frozen=True)
class Background:
    """How dark a background falls, stops against the subject; negative is darker."""

    distance: float  # behind the subject, mm
    flash: float | None  # by the flash alone; None where none arrives
    all: float | None  # with the light of the day, taken to be the same there as on the subject


@dataclass(frozen=True)
class Plan:
    """All that a photographer sets and expects, of a rig at one magnification. Powers are shares of full power."""

    title: str
    magnification: float
    working_distance: float  # mm
    iso: float
    f_number: float  # as marked
    working_f_number: float
    shutter: float  # s
    sync: float  # s, the shortest shutter time with flash
    base_iso: float  # the lowest ISO speed
    f_numbers: tuple[float, float] | None  # the widest and the smallest marked on the lens, where known
    placement: float  # stops above mid-grey that the subject is meant to come out
    reflectance: float  # of the subject
    full: Figure  # luminous exposure at the subject by full power, lx s
    headroom: Figure  # stops from what is asked for to full power
    day: float  # luminous exposure at the subject by the day, lx s
    levels: tuple[Level, ...]  # by calibration, the nominal one included
    wanted: float  # power that the flash has to give by the nominal calibration; as Level.power
    fits: Fits
    rungs: tuple[Rung, ...]  # the power ladder, full first
    reaching: tuple[float, ...]  # share of the light of full power that reaches the open frame at each rung
    named: float | None  # the power that the rig file or an option names
    start: Rung
    off: float  # stops by which the picture comes out brighter than meant at that rung
    sensor: float  # luminous exposure of the sensor by the subject at the start, lx s
    focus: Focus
    wished: float  # depth of interest at the subject, mm
    motion: Motion  # while the frame gets light of the flash, and while the shutter is open
    inside: float  # share of the pulse that comes while the frame is open
    colour: Colour
    backgrounds: tuple[Background, ...]
    warming: tuple[Warming, ...]
    pace: float  # s from flash to flash in a burst
    lost: Figure  # stops lost against the bare head
    doubling: Figure  # stops for each doubling of the apparent area
    ball: Figure  # width of the highlight over the ball's diameter
    assumed: tuple[str, ...]  # names of heads whose pulses are assumed

    @property
    def needed(self) -> float:
        """Luminous exposure at the subject that the nominal calibration asks for, all light, lx s."""
        return next(level.needed for level in self.levels if level.calibration == NOMINAL.name)

    @property
    def as_meant(self) -> bool:
        """Whether the picture comes out so nearly as meant that the rest needs no word."""
        return abs(self.off) < _SEEN_OFF

    @property
    def left(self) -> float:
        """Stops of power above the start."""
        return log2(1 / self.start.power)

    @property
    def flash(self) -> float:
        """Luminous exposure at the subject by the flash at the start, while the frame is open, lx s."""
        return self.light_at(self.start)

    def light_at(self, rung: Rung) -> float:
        """Luminous exposure at the subject by the flash at a rung, while the frame is open, lx s."""
        share = next(share for each, share in zip(self.rungs, self.reaching, strict=True) if each.power == rung.power)
        return (self.full.value or 0.0) * share

    def off_at(self, rung: Rung) -> float:
        """Stops by which the picture comes out brighter than meant at a rung."""
        return log2((self.light_at(rung) + self.day) / self.needed)

    @property
    def day_share(self) -> float:
        """Share of the day in the light on the subject."""
        return self.day / (self.day + self.flash)

    @property
    def darker(self) -> Rung | None:
        """The rung that lies nearest to one stop less power; None below the ladder."""
        return self._away(-1.0)

    @property
    def brighter(self) -> Rung | None:
        """The rung that lies nearest to one stop more power; None above full."""
        return self._away(1.0)

    def _away(self, stops: float) -> Rung | None:
        beyond = [rung for rung in self.rungs if log2(rung.power / self.start.power) * stops > 1e-6]

        def apart(rung: Rung) -> tuple[float, float]:
            away = abs(log2(rung.power / self.start.power))
            return round(abs(away - abs(stops)), 6), away  # of two alike the nearer

        return min(beyond, key=apart, default=None)


def has_plan(report: Report) -> bool:
    """Whether light falls on the side of the subject that faces the lens, so that there is an exposure to plan."""
    return bool(report[FULL].value)


def plan_of(light: Light, report: Report) -> Plan:
    """The plan of a traced rig and its report.

    The power to start from is the rung of the ladder at which flash and day together come nearest to what the nominal
    calibration (C = 250) asks for, or the one nearest to the power that the rig file names. Of a pulse longer than the
    shutter time only the part within it counts.
    Raises RigError where no light falls on the side of the subject that faces the lens.
    """
    placed = light.placed
    rig, shot = placed.rig, placed.rig.shot
    working = placed.working_f_number
    full, day = report[FULL], shot.ambient * shot.shutter
    if not full.value:  # not has_plan(report)
        raise fault(
            report.title,
            what="no light falls on the side of the subject that faces the lens, so there is no exposure to plan",
            allowed="rigs that light that side",
            remedy='aim = "subject" for the head, or a diffuser that reaches before the subject',
        )
    levels = tuple(_level(placed, each, full.value, day) for each in CALIBRATIONS)
    needed, wanted = next((each.needed, each.power) for each in levels if each.calibration == NOMINAL.name)
    rungs = ladder(rig.head)
    reaching = tuple(rung.power * _inside(placed, rung.power) for rung in rungs)
    off = [log2((full.value * share + day) / needed) for share in reaching]  # at each rung, brighter than meant
    start = rungs[min(range(len(rungs)), key=lambda number: (abs(off[number]), -number))]
    fits = _fits(off, day=day, needed=needed)
    if shot.power is not None:
        start = nearest(rungs, shot.power)
    number = rungs.index(start)
    flash = full.value * reaching[number]
    pace = max(start.recycle or _PACE, shot.frame_time)
    return Plan(
        title=report.title,
        magnification=placed.magnification,
        working_distance=placed.working_distance,
        iso=shot.iso,
        f_number=rig.lens.f_number,
        working_f_number=working,
        shutter=shot.shutter,
        sync=rig.camera.sync,
        base_iso=rig.camera.base_iso,
        f_numbers=rig.lens.f_number_range,
        placement=shot.placement,
        reflectance=rig.subject.reflectance,
        full=full,
        headroom=report["exposure.headroom"],
        day=day,
        levels=levels,
        wanted=wanted,
        fits=fits,
        rungs=rungs,
        reaching=reaching,
        named=shot.power,
        start=start,
        off=off[number],
        sensor=sensor_exposure(
            exposure=flash + day,
            reflectance=rig.subject.reflectance,
            working_f_number=working,
            transmittance=rig.lens.transmittance,
        ),
        focus=focus_of(placed),
        wished=rig.subject.depth,
        motion=motion_of(placed, flash_time=min(start.tenth, shot.shutter)),
        inside=reaching[number] / start.power,
        colour=colour_of(placed, flash_exposure=flash, ambient_exposure=day),
        backgrounds=_backgrounds(report, flash, day),
        warming=warming_of(light, power=start.power, pace=pace, flashes=BURST),
        pace=pace,
        lost=report["loss.total"],
        doubling=report["loss.per_doubling"],
        ball=report["highlight.diameter_share"],
        assumed=tuple(head.name for head in rig.head if head.duration is None),
    )


def _level(placed: PlacedRig, calibration: Calibration, full: float, day: float) -> Level:
    needed = needed_of(placed, calibration=calibration)
    lacking = max(needed - day, 0.0)
    return Level(calibration.name, needed, lacking / full)


def _fits(off: Sequence[float], *, day: float, needed: float) -> Fits:
    """By the stops that the picture is too bright at each rung, full power first."""
    step = off[-2] - off[-1] if len(off) > 1 else 0.0
    if off[0] < -NEAR:
        return Fits.TOO_WEAK
    # Half a step below the last rung is still nearest to it.
    if off[-1] <= step / 2 + NEAR:
        return Fits.WELL
    return Fits.DAY_ALONE if day >= needed else Fits.TOO_STRONG


def _inside(placed: PlacedRig, power: float) -> float:
    """Share of the pulse that falls into the time in which the frame is wholly open, if it begins with it.

    Of a shutter whose curtains are not known the whole shutter time counts, which is the most that it can be.
    """
    camera, shot = placed.rig.camera, placed.rig.shot
    window = open_time(shutter=shot.shutter, curtain=camera.curtain or 0.0)
    return min(light_within(head, power, window) for head in placed.rig.head)


def _backgrounds(report: Report, flash: float, day: float) -> tuple[Background, ...]:
    found = []
    for figure in report.figures:
        if figure.name.startswith(_BACKGROUND):
            there = 0.0 if figure.value is None else flash * 2.0**figure.value
            both = log2((there + day) / (flash + day)) if there + day > 0 else None
            found.append(Background(float(figure.name.removeprefix(_BACKGROUND)), figure.value, both))
    return tuple(found)
