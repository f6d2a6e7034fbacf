"""From three camera readings of a sheet to its shares, with ranges.

The lit window gives the transmittance: evenly bright from all sides behind, looked at squarely. By reciprocity
(Helmholtz; docs/theory.md, Sheets) that is the share of light that comes squarely and leaves anywhere, straight,
blurred and spread light together, which is what a Sheet means. A hole in the sheet shows the window as bright as the
sheet's own reflected light makes it, so that this cancels. Where the sheet lies on the window instead, the light goes
to and fro between them and both look brighter by 1 / (1 - R R_window).

White and black card behind the sheet give the reflectance, and the transmittance once more: the two-backing method of
ISO 22891 / DIN 53147 (lightsim.sheet.paper). The range of each share holds 95 % of everything that the readings leave
open, all shares that are physically possible being equally likely beforehand.

What passes in all is known better than how it parts into straight, blurred and spread light. So a sheet that was read
with a spot states the parts against each other: one of them with the range that the sum leaves, the others with the
range that they have at that sum, each against the first (lightsim.sheet.ends.moved).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.measure.posterior import Fit, LogDensity, Range, drawn, gaussian, range_of
from lightsim.measure.readings import Reading, SheetReadings, SpotReadings
from lightsim.measure.sheet_words import signs_of, sizes_of, source_of, swapped, telling
from lightsim.measure.spot import (
    CHI_SQUARE_95,
    forward_share_and_angle,
    lobe_and_even,
    misfit,
    narrow_of,
)
from lightsim.rig.errors import fault, quoted
from lightsim.sheet import Sheet
from lightsim.sheet.sheet import Origin

Floats = NDArray[np.float64]
Cards = tuple[float, float, float]  # reflectances of white card, black card, window

_BOX = ((-14.0, 0.0), (-10.0, -0.01))  # log2 of transmittance and reflectance that readings are searched for
_DOUBTFUL, _ODD, _IMPOSSIBLE = 2.25, 9.0, 30.0  # chi-square of readings that fit loosely, badly and not at all
_OPAQUE = 0.01  # whoever sees so little of a lamp need not ask what it looks like
# A lid of 300 by 200 mm, 30 mm deep and white inside, its flash 600 mm behind: the middle of its window is brighter
# than what the sheet sees all around by up to 0.06 stops (traced with lightsim).
_UNEVEN = 0.05
_EVEN = "diffuse_transmittance"
_THROUGH = ("straight", "pores", "forward_transmittance", _EVEN)
_TAKEN_AS_EVEN = "no spot was read: taken to scatter evenly"
_NO_SPOT = (
    "No spot was read, so the sheet is taken to scatter evenly. Hold it a hand's breadth before a lamp: if you see a "
    "bright spot, the head shows through it, and two more readings (docs/measure.md) say how much."
)
_DIGITS = 4  # decimals of shares
_STRAIGHT_BELOW = 2.0  # degrees: narrower lobes count as straight-through light
_SEED, _LAMP_SEED = 20_412, 20_414  # the same readings always give the same numbers


@dataclass(frozen=True)
class MeasuredSheet:
    """A sheet from readings, its numbers by key with their 95 % ranges, and what the person should know.

    ranges : of each number by itself; the sheet's own ranges are against each other where parts of a sum are known less
        well than it
    through : all that passes
    """

    name: str
    sheet: Sheet
    ranges: dict[str, Range]
    through: Range
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Lobe:
    """Draws of a forward lobe, (n,) each: its share of the scattered light and its half-value angle [degrees]."""

    share: Floats
    angle: Floats


def transmittance_over_window(*, stops: float, reflectance: float = 0.0, window_reflectance: float = 0.0) -> float:
    """Transmittance from the stops lost over an evenly lit window: 2^-stops (1 - R R_window).

    reflectance : of the sheet's back; window_reflectance : 0 where the bare window was seen through a hole in the sheet
    Derived here: the light under the sheet is 1 / (1 - R R_window) times that of the bare window.
    """
    return float(2.0**-stops * (1 - reflectance * window_reflectance))


def stops_over_window(*, transmittance: float, reflectance: float = 0.0, window_reflectance: float = 0.0) -> float:
    """Stops that a sheet loses over an evenly lit window, the inverse of transmittance_over_window."""
    passed, sent_back = np.array(transmittance, float), np.array(reflectance, float)
    return float(_over_window(passed, sent_back, window_reflectance))


def stops_over_card(*, transmittance: float, reflectance: float, backing: float, white: float) -> float:
    """Stops by which a sheet on a card of reflectance backing is darker than a bare card of reflectance white.

    Source: ISO 22891 / DIN 53147, R + T^2 Rb / (1 - R Rb), as lightsim.sheet.paper.over_backing.
    """
    return float(_over_card(np.array(transmittance, float), np.array(reflectance, float), backing, white))


def measured_sheet(readings: SheetReadings) -> MeasuredSheet:
    """The sheet that readings tell of, with ranges that hold 95 % of what they leave open.

    Raises RigError if no sheet at all could give these readings.
    """
    fit = drawn(_density(readings), box=_BOX, seed=_SEED)
    # Readings alone, for the range: near a sum of 1 what is possible would cut off too much of it.
    alone = drawn(_density(readings, possible=False), box=_BOX, seed=_SEED)
    agreement = _agreement(readings, fit)
    lobe, of_spot = _lobe(readings)
    draws, freely = (_draws(readings, each, lobe) for each in (fit, alone))
    ranges = {key: range_of(each, without_limit=freely[key]) for key, each in draws.items()}
    told = {key: _rounded(each, 2 if key == "half_value_angle" else _DIGITS) for key, each in ranges.items()}
    told = _within_energy(told)
    through, parts = _parted(readings, told, fit, alone, lobe)
    taken_as_even = through.value >= _OPAQUE and (readings.spot is None or readings.spot.width is None)
    sources = {key: f"camera readings, 95 % range: {telling(key, readings)}" for key in told}
    if taken_as_even:
        sources["diffuse_transmittance"] += f"; {_TAKEN_AS_EVEN}"
    origins = {}
    for key, each in told.items():
        span, against = parts.get(key, (each, ""))
        low, high = (span.low, span.low), (span.high, span.high)
        origins[key] = Origin(low=low, high=high, known="measured", source=sources[key], against=against)
    sheet = Sheet(
        **{key: each.value for key, each in told.items()},
        about=readings.about,
        source=source_of(readings) + (f"; {_TAKEN_AS_EVEN}" if taken_as_even else ""),
        origins=origins,
    )
    if readings.spot is not None and readings.spot.lamp is not None and np.median(draws[_straight(readings.spot)]) <= 0:
        of_spot += ("The lamp looks no brighter through the sheet than the spot does: nothing passes straight.",)
    of_spot += (_NO_SPOT,) if taken_as_even else ()
    notes = (*signs_of(readings), *agreement, *sizes_of(readings), *of_spot)
    return MeasuredSheet(readings.name, sheet, told, through, notes)


def _over_window(passed: Floats, sent_back: Floats, window: float) -> Floats:
    return np.asarray(np.log2((1 - sent_back * window) / passed))


def _over_card(passed: Floats, sent_back: Floats, backing: float, white: float) -> Floats:
    seen = sent_back + passed * passed * backing / (1 - sent_back * backing)
    return np.asarray(np.log2(white / seen))


def _expected(readings: SheetReadings, passed: Floats, sent_back: Floats, cards: Cards) -> Floats:
    """The readings that a sheet would give, (..., k) stops."""
    white, black, window = cards
    columns = []
    if readings.window is not None:
        columns.append(_over_window(passed, sent_back, window))
    if readings.white is not None:
        columns.append(_over_card(passed, sent_back, white, white))
    columns.append(_over_card(passed, sent_back, black, white))
    return np.stack(columns, axis=-1)


def _draws(readings: SheetReadings, fit: Fit, lobe: Lobe | None) -> dict[str, Floats]:
    """Draws of every number by key; fit: draws of log2 of transmittance and reflectance."""
    passed, draws = 2.0**fit.first, {"diffuse_reflectance": 2.0**fit.second}
    ahead = np.zeros_like(passed) if lobe is None else lobe.share
    straight = np.zeros_like(passed)
    spot = readings.spot
    if spot is not None and spot.lamp is not None:
        straight = _through(spot, passed, lobe, readings.uncertainty)
        draws[_straight(spot)] = straight
    draws["diffuse_transmittance"] = (passed - straight) * (1 - ahead)
    if lobe is not None:
        draws["forward_transmittance"] = (passed - straight) * ahead
        draws["half_value_angle"] = lobe.angle
    return draws


def _parted(
    readings: SheetReadings, told: dict[str, Range], fit: Fit, alone: Fit, lobe: Lobe | None
) -> tuple[Range, dict[str, tuple[Range, str]]]:
    """What passes in all, and of each part of it the range that a sheet states and the part that it stands against.

    told : every number by itself; fit, alone : draws with and without the limit of what is possible
    """
    spread = range_of(2.0**fit.first, without_limit=2.0**alone.first)
    values = {key: each.value for key, each in told.items() if key in _THROUGH}
    total = round(sum(values.values()), _DIGITS)
    most = 1 - told["diffuse_reflectance"].low
    through = _rounded(Range(total, min(spread.low, total), max(min(spread.high, most), total)), _DIGITS)
    at_sum = Fit(np.full_like(fit.first, np.log2(max(total, 1e-6))), fit.second)
    draws = _draws(readings, at_sum, lobe)
    spans = {key: range_of(draws[key]) for key in values}
    # The part that holds the range of the sum must have as much as that, or as another gains, to give away.
    given_away = max([total - through.low, *(spans[key].high - values[key] for key in values if key != _EVEN)])
    holder = _EVEN if values[_EVEN] >= given_away else max(values, key=lambda key: values[key])
    parts = {}
    for key, value in values.items():
        low, high, against = spans[key].low, min(spans[key].high, value + values[holder]), holder
        if key == holder:
            low, high, against = value + through.low - total, value + through.high - total, ""
        parts[key] = (_rounded(Range(value, max(min(low, value), 0.0), max(high, value)), _DIGITS), against)
    return through, parts


def _through(spot: SpotReadings, passed: Floats, lobe: Lobe | None, uncertainty: float) -> Floats:
    """Draws of the share that passes straight: what the lamp's own place shows, less the light of the spot over it."""
    ahead, narrow = (np.zeros_like(passed),) * 2 if lobe is None else (lobe.share, narrow_of(lobe.angle))
    blurred, even = lobe_and_even(spot, radius=0.0, narrow=narrow)
    glow = ahead * blurred + (1 - ahead) * even
    error = np.random.default_rng(_LAMP_SEED).standard_normal(len(passed))
    assert spot.lamp is not None
    seen = 2.0 ** -(spot.lamp.stops + error * (spot.lamp.uncertainty or uncertainty))
    return np.asarray(np.clip((seen - passed * glow) / (1 - glow), 0.0, passed))


def _straight(spot: SpotReadings) -> str:
    return "pores" if spot.woven else "straight"


def _density(readings: SheetReadings, *, possible: bool = True, even: bool = True) -> LogDensity:
    """ln of the density over log2 of transmittance and reflectance.

    possible : whether only sums of at most 1 count; even : whether all shares are equally likely beforehand
    """
    taken = _taken(readings)
    stops = np.array([each.stops for each in taken])
    own = np.diag([(each.uncertainty or readings.uncertainty) ** 2 for each in taken])
    if readings.window is not None:
        own[0, 0] += _UNEVEN**2
    cards = (readings.white_card, readings.black_card, readings.window_reflectance)
    nominal = (cards[0].value, cards[1].value, cards[2].value)
    slopes = [_ends(nominal, number, card.deviation) for number, card in enumerate(cards) if card.deviation > 0]

    def density(log_passed: Floats, log_back: Floats) -> Floats:
        passed, sent_back = 2.0**log_passed, 2.0**log_back
        allowed = (passed + sent_back <= 1) | (not possible)
        covariance = np.broadcast_to(own, (*passed.shape, *own.shape))
        for up, down, scale in slopes:
            # What is not known of the cards makes the readings uncertain together: to first order, by their slope.
            slope = scale * (_expected(readings, passed, sent_back, up) - _expected(readings, passed, sent_back, down))
            covariance = covariance + slope[..., :, None] * slope[..., None, :]
        value = gaussian(stops - _expected(readings, passed, sent_back, nominal), covariance)
        if even:
            value = value + (log_passed + log_back) * np.log(2)  # over the shares, not over their logarithms
        else:
            value = value + 0.5 * np.linalg.slogdet(covariance)[1]
        return np.where(allowed, value, -np.inf)

    return density


def _ends(nominal: Cards, number: int, deviation: float) -> tuple[Cards, Cards, float]:
    """The cards with one of them a standard deviation up and down, and the factor that scales what they differ by."""
    ends = [
        tuple(
            min(max(each + sign * deviation, 0.0), 1.0) if place == number else each
            for place, each in enumerate(nominal)
        )
        for sign in (1, -1)
    ]
    up, down = ((end[0], end[1], end[2]) for end in ends)
    return up, down, deviation / (up[number] - down[number])


def _taken(readings: SheetReadings) -> list[Reading]:
    return [each for each in (readings.window, readings.white, readings.black) if each is not None]


def _agreement(readings: SheetReadings, fit: Fit) -> tuple[str, ...]:
    """Notes on readings that do not fit together. Raises RigError where no sheet comes near them."""
    least = -2 * float(_density(readings, even=False)(fit.first, fit.second).max())
    question = swapped(readings)
    if least > _IMPOSSIBLE and question:
        raise fault(
            f"readings of {quoted(readings.name)}",
            what=f"no sheet gives these readings; {question}",
            allowed="readings of one sheet, of which the one on black is darker",
            remedy="white and black the other way round",
        )
    asked = f" Or {question}." if question else ""
    if least > _IMPOSSIBLE:
        signs = "the other sign, where a reading is negative, or " if signs_of(readings) else ""
        raise fault(
            f"readings of {quoted(readings.name)}",
            what="no sheet gives these readings: together they ask for more light than there is, or contradict each "
            f"other by {least**0.5:.0f} times their uncertainty",
            allowed="readings of one sheet, darker counted as positive",
            remedy=f"{signs}reading again: the same settings of the flash, the sheet flat on the card, the middle of "
            "the patch",
        )
    if least > _ODD:
        return (
            f"These readings fit together badly ({least**0.5:.1f} times their uncertainty apart). Look for light from "
            "the side, a flash that had not recharged, a sheet that did not lie flat; then read again."
            f"{asked}",
        )
    if least > _DOUBTFUL:
        return (
            f"These readings fit each other loosely ({least**0.5:.1f} times their uncertainty apart). One of them may "
            f"be off: read them again if you can.{asked}",
        )
    return ()


def _lobe(readings: SheetReadings) -> tuple[Lobe | None, tuple[str, ...]]:
    """Draws of the forward lobe if there is one, and notes."""
    spot = readings.spot
    if spot is None or spot.width is None:
        return None, ()
    none = np.zeros(1)
    if float(misfit(spot, forward=none, narrow=none, uncertainty=readings.uncertainty)[0]) <= CHI_SQUARE_95:
        return None, ("The spot looks as it would through a sheet that scatters evenly: no forward lobe is stated.",)
    lobe = Lobe(*forward_share_and_angle(spot, uncertainty=readings.uncertainty))
    notes = []
    few = slice(None, None, 20)
    least = misfit(
        spot, forward=lobe.share[few], narrow=narrow_of(lobe.angle[few]), uncertainty=readings.uncertainty
    ).min()
    if least > _ODD:
        notes.append(
            f"Width and side of the spot fit no blurred spot ({least**0.5:.1f} times their uncertainty off). Look for "
            "light from the side; is the side one spot distance away from the middle?"
        )
    elif least > _DOUBTFUL:
        notes.append(
            f"Width and side of the spot fit each other loosely ({least**0.5:.1f} times their uncertainty off). One of "
            "them may be off: read them again if you can."
        )
    if float(lobe.angle.mean()) < _STRAIGHT_BELOW:
        notes.append(
            f"The forward lobe is narrower than {_STRAIGHT_BELOW:g} degrees, which lightsim counts as straight-through "
            "light. To see how narrow it is, read the spot at a greater distance."
        )
    return lobe, tuple(notes)


def _within_energy(told: dict[str, Range]) -> dict[str, Range]:
    """No range reaches where the others would have to be below theirs, and rounding takes no sum above 1."""
    shares = {key: each for key, each in told.items() if key != "half_value_angle"}
    least = sum(each.low for each in shares.values())
    for key, each in shares.items():
        high = max(min(each.high, round(1 - (least - each.low), _DIGITS)), each.value)
        shares[key] = Range(each.value, each.low, high)
    back = shares["diffuse_reflectance"]
    others = sum(each.value for key, each in shares.items() if key != "diffuse_reflectance")
    value = min(back.value, round(1 - others, _DIGITS))
    return {**told, **shares, "diffuse_reflectance": Range(value, min(back.low, value), max(back.high, value))}


def _rounded(each: Range, digits: int) -> Range:
    return Range(*(round(number, digits) for number in (each.value, each.low, each.high)))
