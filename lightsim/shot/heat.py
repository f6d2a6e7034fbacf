"""How a flash warms the diffuser: a flash, a burst, a long series, against the heat that the sheet bears.

A spot of the sheet is one lump of heat that cools by both its sides. Bounds on purpose: no heat is lost sideways, and
infrared is absorbed as light is. What comes from the hot window by touch and through the air is not in it.
docs/theory.md, The shot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import expm1

from lightsim.light.estimate import Estimate
from lightsim.light.light import Light
from lightsim.rig.beam import beam_solid_angle
from lightsim.rig.errors import fault
from lightsim.rig.place import PlacedRig
from lightsim.sheet import Sheet
from lightsim.shot.absorbed import Circle, absorbed_of, warmest
from lightsim.shot.colour import luminous_efficacy
from lightsim.shot.spoken import in_percent, two_figures

CIRCLE = 20.0  # mm, diameter of the warmest circle: smaller spots even out sideways (a choice, no source)
LOSS = 10.0  # W/(m2 K) a side: still air and radiation together (common practice in heat engineering, from memory)
ROOM = 25.0  # degrees C, from which half of the way to the limit may be gone
_PART_OF_THE_WAY = 0.5  # a choice, no source: well below where the sheet suffers
_BLACKER = 1.5  # times the warmth, from which on a black sheet is worth a word (a choice, no source)
_LITTLE = 1.0  # K, below which no number is worth a word (a choice, no source)
_SQUARE_METRE = 1e6  # mm^2


@dataclass(frozen=True)
class Warming:
    """What flashes at one power do to the warmest circle, CIRCLE mm across, of one part of the diffuser."""

    part: str
    material: str
    share: float  # of the light sent out that the whole part absorbs
    circle: tuple[float, float, float] | None  # middle of the warmest circle, mm; None where nothing is absorbed
    dose: Estimate  # energy absorbed there by a flash, J/m2
    rise: Estimate | None  # K by a flash; None where the sheet's grammage or specific heat is not known
    most: float | None  # K by a flash, if all that meets the circle were absorbed, as by a black sheet
    flashes: int  # of the burst
    burst: float | None  # K above the air just after the last flash of the burst
    pace: float  # s from flash to flash
    steady: float | None  # K above the air just after a flash of a series without end: its hottest moments
    air: float  # degrees C
    limit: float | None  # degrees C, where the sheet scorches, softens or melts; None where not known
    warn: bool  # a burst or a series could pass half of the way from ROOM to the limit
    unknown: tuple[str, ...]  # keys of the material that are missing

    @property
    def hottest(self) -> float | None:
        """Temperature that burst or series could reach, degrees C; None where not known."""
        if self.burst is None or self.steady is None:
            return None
        return self.air + max(self.burst, self.steady)


def rise_of(*, dose: float, grammage: float, specific_heat: float) -> float:
    """Warming of a sheet [K] by absorbed energy.

    dose : J/m2; grammage : g/m2; specific_heat : J/(kg K)
    Balance of energy, derived here.
    """
    return dose / (grammage / 1000 * specific_heat)


def cooling_time(*, grammage: float, specific_heat: float) -> float:
    """Time in which a warm sheet cools to 1/e of its warmth above the air [s], by both sides, LOSS each.

    grammage : g/m2; specific_heat : J/(kg K). Newton's law of cooling for a thin sheet, derived here.
    """
    return grammage / 1000 * specific_heat / (2 * LOSS)


def burst_of(*, rise: float, flashes: int, pace: float, cooling: float) -> float:
    """Warming above the air just after the last of some flashes [K].

    rise : K by one flash; pace : s from flash to flash; cooling : cooling_time, s
    rise (1 - r^n) / (1 - r) with r = exp(-pace / cooling), the sum of what is left of each flash; derived here.
    """
    return rise * expm1(-flashes * pace / cooling) / expm1(-pace / cooling)


def steady_of(*, rise: float, pace: float, cooling: float) -> float:
    """Warming above the air just after a flash of a series without end [K]: rise / (1 - r), as in burst_of."""
    return rise / -expm1(-pace / cooling)


def radiant_energy(placed: PlacedRig, *, power: float) -> float:
    """Energy of the radiation of all heads at a share of full power [J], infrared in it.

    Luminous energy by the guide number over the luminous efficacy of a black body of the flash's colour. A xenon flash
    has more infrared than that in lines about 0.9 um, and its window takes some of all (from memory).
    """
    pairs = zip(placed.heads, placed.rig.head, strict=True)
    return power * sum(
        head.axial_intensity * beam_solid_angle(head.beam) / luminous_efficacy(spec.kelvin) for head, spec in pairs
    )


def warming_of(light: Light, *, power: float, pace: float, flashes: int = 20) -> tuple[Warming, ...]:
    """How flashes at one power warm each part of the diffuser.

    power : share of full power; pace : s from flash to flash; flashes : of a burst
    Raises ValueError for a power, a pace or a number of flashes that no flash has.
    """
    _possible(power=power, pace=pace, flashes=flashes)
    scene, absorbed = light.scene, absorbed_of(light)
    energy = radiant_energy(light.placed, power=power) * _SQUARE_METRE  # J, and from 1/mm^2 to 1/m^2
    found = []
    for number, part in enumerate(scene.parts):
        if part.role != "diffuser":
            continue
        circle = warmest(scene, absorbed, number, radius=CIRCLE / 2)
        share = float(light.cloud.tally.absorbed[number])
        found.append(
            _warming(
                part.name, part.material, part.sheet, circle, share, energy,
                pace=pace, flashes=flashes, air=light.placed.rig.shot.air,
            )
        )  # fmt: skip
    return tuple(found)


def _warming(
    name: str,
    material: str,
    sheet: Sheet,
    circle: Circle | None,
    share: float,
    energy: float,
    *,
    pace: float,
    flashes: int,
    air: float,
) -> Warming:
    keys = ("grammage", "specific_heat", "softens")
    unknown = tuple(key for key in keys if getattr(sheet, key) is None)
    dose = Estimate(0.0) if circle is None else _times(circle.taken, energy)
    rise = most = burst = steady = None
    if sheet.grammage is not None and sheet.specific_heat is not None:
        per_dose = rise_of(dose=1.0, grammage=sheet.grammage, specific_heat=sheet.specific_heat)
        rise = _times(dose, per_dose)
        most = 0.0 if circle is None else circle.met.value * energy * per_dose
        cooling = cooling_time(grammage=sheet.grammage, specific_heat=sheet.specific_heat)
        burst = burst_of(rise=rise.value, flashes=flashes, pace=pace, cooling=cooling)
        steady = steady_of(rise=rise.value, pace=pace, cooling=cooling)
    bare = Warming(
        part=name,
        material=material,
        share=share,
        circle=None if circle is None else circle.middle,
        dose=dose,
        rise=rise,
        most=most,
        flashes=flashes,
        burst=burst,
        pace=pace,
        steady=steady,
        air=air,
        limit=sheet.softens,
        warn=False,
        unknown=unknown,
    )
    return replace(bare, warn=_too_warm(bare))


def _too_warm(warming: Warming) -> bool:
    if warming.limit is None or warming.hottest is None:
        return False
    return warming.hottest > ROOM + _PART_OF_THE_WAY * (warming.limit - ROOM)


def told(warming: Warming) -> str:
    """What the flashes do to one part, in a few short sentences for a photographer."""
    name = f'"{warming.part}" ({warming.material})' if warming.material else f'"{warming.part}"'
    if warming.circle is None:
        return f"{name} absorbs none of the light."
    absorbs = f"{name} absorbs {in_percent(warming.share)} of the light"
    if warming.rise is None or warming.burst is None or warming.steady is None or warming.most is None:
        return (
            f"{absorbs}. How warm it gets is not known: its material does not state {_listed(warming.unknown)}. Feel "
            "it after a few flashes."
        )
    pace = f"one every {two_figures(warming.pace)} s"
    if warming.steady < _LITTLE:
        text = f"{absorbs}. Any number of flashes ({pace}) warms it by less than {_degrees(_LITTLE)}."
    else:
        one, burst, steady = (_degrees(each) for each in (warming.rise.value, warming.burst, warming.steady))
        some = "" if burst == steady else f"{warming.flashes} flashes ({pace}) by {burst}, "
        most = f"any number {'' if some else f'({pace}) '}by no more than {steady}"
        text = f"{absorbs}. Where it gets warmest, one flash warms it by {one}, {some}{most}."
    if warming.most > max(_BLACKER * warming.rise.value, _LITTLE):
        text += f" Were it black, one flash would warm it by {_degrees(warming.most)}."
    if warming.limit is None:
        return f"{text} What it bears is not known: its material does not state softens."
    if warming.warn:
        return (
            f"{text} CAUTION: in air of {warming.air:g} degrees C it may get to {warming.hottest:.0f} degrees C; at "
            f"about {warming.limit:g} it scorches, softens or melts. Stay well below: less power, pauses, distance."
        )
    return f"{text} At about {warming.limit:g} degrees C it scorches, softens or melts."


def _possible(*, power: float, pace: float, flashes: int) -> None:
    for what, value, sound, allowed, remedy in (
        ("power", power, 0 < power <= 1, "above 0, up to 1, which is full power", "1/16, which is 0.0625"),
        ("pace", pace, 0 < pace < float("inf"), "more than 0 s from flash to flash", "the recycle time"),
        ("flashes", flashes, flashes >= 1, "1 or more", "20"),
    ):
        if not sound:
            raise fault(what, f"{value:g}", what="no flash can do so", allowed=allowed, remedy=remedy)


def _times(estimate: Estimate, factor: float) -> Estimate:
    return Estimate(estimate.value * factor, estimate.standard_error * factor, estimate.replicates)


def _degrees(rise: float) -> str:
    if rise < 0.01:
        return "less than 0.01 degrees"
    number = f"{rise:.0f}" if rise >= 10 else f"{rise:.2g}"
    return "1 degree" if number == "1" else f"{number} degrees"


def _listed(keys: Sequence[str]) -> str:
    *others, last = keys
    return f"{', '.join(others)} and {last}" if others else last
