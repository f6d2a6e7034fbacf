"""From a flash on a plain wall to its beam and its guide number, with ranges.

A matt wall square to the beam at distance d darkens away from the middle as E = I cos^3 / d^2: the beam's own
intensity I, one cosine for light that comes in at a slant and two for the longer way (derived here). So a place that
is y stops darker than the middle, at the angle t, has an intensity log2(I(0) / I(t)) = y + 3 log2(cos t) stops below
the axis.

The guide number follows from the exposure of a card in the middle of the wall. A camera's meter gives grey for a
luminance L = K N^2 / S (ISO 2720 as quoted by Conrad, K = 12.5; 10.6 to 13.4 recommended), an incident light meter
shows N for H = C N^2 / S (C = 250; 240 to 400 for flat receptors, from memory). Guide numbers of a rig file mean
C = 250: I = C G^2 / S. docs/theory.md, Heads.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.measure.exposure import K
from lightsim.measure.posterior import NORMAL_95, Range
from lightsim.measure.readings import FlashReadings, Mark, ZoomReadings
from lightsim.rig.beam import Beam
from lightsim.rig.beam import cos_power_of as cos_power_of
from lightsim.rig.beam import half_value_angle as half_value_angle
from lightsim.rig.fractions import power_words
from lightsim.rig.head import C

Floats = NDArray[np.float64]

K_RANGE, C_RANGE = (10.6, 13.4), (240.0, 400.0)
_DRAWS, _SEED = 4000, 31_007
_STEPS = ((20.0, 5.0), (8.0, 2.5), (0.0, 1.0))  # degrees between the beam's angles, from these half-value angles on
_DARK = 8.0  # stops below the axis, where the table ends
_NARROW = 6.0  # degrees, half-value angle below which a flash would be uncommon (common practice, no source)


@dataclass(frozen=True)
class MeasuredZoom:
    """One zoom setting: half-value angles of intensity [degrees], the beam for a rig file, the guide number in metres
    at ISO 100 and full power, where they come from, notes. across and up are those of the two directions, angle that of
    the beam; setting is empty where none was named."""

    setting: str
    angle: Range
    across: Range
    up: Range | None
    beam: Beam
    guide_number: Range | None
    source: str
    notes: tuple[str, ...]


def intensity_below_axis(*, stops: float, offset: float, distance: float) -> float:
    """Stops by which the beam's intensity lies below that on the axis, from those on a wall square to it.

    stops : darker than the middle, at offset [mm] from it; distance : mm, flash to wall
    Derived here: E = I cos^3 / d^2.
    """
    return float(stops + 3 * np.log2(np.cos(np.arctan2(offset, distance))))


def guide_number(
    *,
    f_number: float,
    distance: float,
    iso: float = 100.0,
    power: float = 1.0,
    brighter: float = 0.0,
    reflectance: float | None = None,
    constant: float | None = None,
) -> float:
    """Guide number in metres at ISO 100 and full power.

    f_number, iso, power : the settings; distance : mm from flash to card or meter
    brighter : stops by which the card came out brighter than a metered grey
    reflectance : of the card, for which constant is K; None for an incident light meter, whose constant is C
    Source: N^2 = L S / K and N^2 = H S / C (ISO 2720 as quoted by Conrad), L = reflectance H / pi, H = I / d^2.
    """
    if reflectance is None:
        exposure = (C if constant is None else constant) * f_number**2 / iso
    else:
        exposure = np.pi / reflectance * (K if constant is None else constant) * f_number**2 / iso
    intensity = exposure * 2.0**brighter * (distance / 1000) ** 2 / power
    return float(np.sqrt(intensity * 100 / C))


def measured_flash(readings: FlashReadings) -> tuple[MeasuredZoom, ...]:
    """Beam and guide number of each zoom setting."""
    return tuple(_measured_zoom(readings, zoom) for zoom in readings.zoom)


def source_of(readings: FlashReadings, zoom: ZoomReadings) -> str:
    """Where beam and guide number come from, in words."""
    marks = [*zoom.across, *zoom.up]
    outermost = _angle(max(mark[0] for mark in marks), readings.wall_distance)
    text = (
        f"measured on a wall at {readings.wall_distance:g} mm by {len(marks)} mark{'s' if len(marks) > 1 else ''} out "
        f"to {outermost:.0f} degrees (± {readings.uncertainty:.2f} stops)"
    )
    if zoom.f_number is None:
        return text
    by_meter = readings.meter == "incident"
    card = f"card {readings.card.value:g}{f', {zoom.brighter:+g} stops' if zoom.brighter else ''}, K = {K:g}"
    power = f"{power_words(zoom.power)} power{'' if zoom.power_was_named else ' (none was named)'}"
    how = f"incident light meter, C = {C:g}" if by_meter else card
    return f"{text}; f/{zoom.f_number:g}, ISO {zoom.iso:g}, {power}, {how}"


def _measured_zoom(readings: FlashReadings, zoom: ZoomReadings) -> MeasuredZoom:
    rng = np.random.default_rng(_SEED)
    profiles = [_Profile.of(marks, readings.wall_distance) for marks in (zoom.across, zoom.up) if marks]
    angles = [_half_value(profile, readings.uncertainty, rng) for profile in profiles]
    beam = _beam(profiles)
    value = half_value_angle(beam)
    angle = Range(value, min(value, *(each.low for each in angles)), max(value, *(each.high for each in angles)))
    return MeasuredZoom(
        setting=zoom.setting,
        angle=_rounded(angle),
        across=_rounded(angles[0]),
        up=_rounded(angles[1]) if len(angles) > 1 else None,
        beam=beam,
        guide_number=_guide_number(readings, zoom),
        source=source_of(readings, zoom),
        notes=(*_notes(readings, zoom, profiles), *_on_width(value)),
    )


def _notes(readings: FlashReadings, zoom: ZoomReadings, profiles: Sequence[_Profile]) -> tuple[str, ...]:
    """What the person should know about the readings of one zoom setting."""
    notes = []
    for way, marks, profile in zip(("sideways", "upward"), (zoom.across, zoom.up), profiles, strict=False):
        farthest = max(mark[0] for mark in marks)
        angle = _angle(farthest, readings.wall_distance)
        if profile.below[-1] < 1:
            notes.append(
                f"Looking {way}, the beam has not fallen to half at the outermost mark. From {angle:.0f} degrees off "
                f"its axis on ({farthest:g} mm on the wall) it is guessed from how it falls up to there, and so is its "
                "half-value angle. Read marks farther out, or bring the flash nearer to the wall."
            )
        if any(mark[1] < 0 for mark in marks):
            notes.append(
                f"A mark {way} has negative stops, which says that the wall is brighter there than in the middle. Is "
                "the sign the wrong way round? Darker counts as positive."
            )
    if len(profiles) == 1:
        notes.append("Without marks upward the beam is taken to be round.")
    if zoom.f_number is not None and not zoom.power_was_named:
        notes.append("The guide number is reckoned at full power, since none was named (--power 1/16, for example).")
    return tuple(notes)


def _on_width(angle: float) -> tuple[str, ...]:
    """What there is to ask about a half-value angle [degrees] of a beam."""
    if angle >= _NARROW:
        return ()
    return (
        f"A beam that is half as strong {angle:.1f} degrees off its axis is narrower than any common flash: are the "
        "distances in mm?",
    )


def _angle(offset: float, distance: float) -> float:
    """Degrees off the axis of a mark on the wall; offset, distance: mm."""
    return float(np.degrees(np.arctan2(offset, distance)))


@dataclass(frozen=True)
class _Profile:
    """Marks on the wall, rising, as angles from the axis."""

    square: Floats  # (n,) of the angle, degrees^2
    below: Floats  # (..., n) stops of intensity below the axis
    count: Floats  # (n,) readings that each mark is the mean of

    @staticmethod
    def of(marks: Sequence[Mark], distance: float) -> _Profile:
        """Marks at one distance from the middle (left and right of it) are averaged."""
        offsets = np.array([mark[0] for mark in marks])
        stops = np.array([mark[1] for mark in marks])
        offset, group, count = np.unique(offsets, return_inverse=True, return_counts=True)
        mean = np.bincount(group, stops) / count
        angle = np.arctan2(offset, distance)
        return _Profile(np.degrees(angle) ** 2, mean + 3 * np.log2(np.cos(angle)), count.astype(float))


def _knots(profile: _Profile) -> tuple[Floats, Floats]:
    """Squares of angles and stops from the axis out to 90 degrees, (k,) and (..., k): straight between them, as cos^m
    nearly is; beyond the last mark on as before it."""
    shape = profile.below.shape[:-1]
    x = np.concatenate([[0.0], profile.square, [90.0**2]])
    y = np.concatenate([np.zeros((*shape, 1)), profile.below], axis=-1)
    slope = (y[..., -1] - y[..., -2]) / (x[-2] - x[-3])
    # Noise alone makes the last marks rise again: then on as from the axis to the last.
    slope = np.where(slope > 0, slope, np.maximum(y[..., -1], 0.1) / x[-2])
    return x, np.concatenate([y, (y[..., -1] + slope * (x[-1] - x[-2]))[..., None]], axis=-1)


def _half_value(profile: _Profile, uncertainty: float, rng: np.random.Generator) -> Range:
    """Angle at which the intensity is half of that on the axis, and its 95 % range."""
    value = float(_crossing(*_knots(profile)))
    error = rng.standard_normal((_DRAWS, len(profile.below))) * (uncertainty / np.sqrt(profile.count))
    read_again = _Profile(profile.square, profile.below + error, profile.count)
    low, high = np.percentile(_crossing(*_knots(read_again)), (2.5, 97.5))
    return Range(value, min(float(low), value), max(float(high), value))


def _crossing(square: Floats, below: Floats) -> Floats:
    """First angle [degrees] at which the intensity is half, (...); 90 if it never is. square (k,), below (..., k)."""
    beyond = below >= 1
    after = np.where(beyond.any(axis=-1), beyond.argmax(axis=-1), below.shape[-1] - 1)
    low, high = (np.take_along_axis(below, place[..., None], -1)[..., 0] for place in (after - 1, after))
    part = np.clip((1 - low) / np.maximum(high - low, 1e-9), 0, 1)
    return np.asarray(np.sqrt(square[after - 1] + part * (square[after] - square[after - 1])))


def _beam(profiles: Sequence[_Profile]) -> Beam:
    """The mean of both directions as a table: what passes through a ring about the axis is kept."""
    half = min(float(_crossing(*_knots(profile))) for profile in profiles)
    step = next(step for least, step in _STEPS if half >= least)
    angle = np.arange(0, 90 + step / 2, step)
    below = [np.interp(angle**2, *_knots(profile)) for profile in profiles]
    intensity = np.mean([2.0 ** -np.minimum(each, 40) for each in below], axis=0)
    intensity[0] = 1.0
    last = int(np.flatnonzero(intensity > 2.0**-_DARK)[-1])
    angle, intensity = angle[: last + 2], intensity[: last + 2]
    return Beam(
        angle=tuple(float(each) for each in angle), intensity=tuple(round(float(each), 4) for each in intensity)
    )


def _guide_number(readings: FlashReadings, zoom: ZoomReadings) -> Range | None:
    if zoom.f_number is None:
        return None
    by_card = readings.meter == "camera"
    value = guide_number(
        f_number=zoom.f_number,
        distance=readings.wall_distance,
        iso=zoom.iso,
        power=zoom.power,
        brighter=zoom.brighter,
        reflectance=readings.card.value if by_card else None,
    )
    # Guide numbers go as the root of the light: half of each logarithm; the parts are independent, so squares add.
    nominal, (least, most) = (K, K_RANGE) if by_card else (C, C_RANGE)
    down, up = [NORMAL_95 * readings.uncertainty * np.log(2)] * 2
    down, up = np.hypot(down, np.log(nominal / least)), np.hypot(up, np.log(most / nominal))
    if by_card:
        down = np.hypot(down, np.log(max(readings.card.high, 1e-6) / readings.card.value))
        up = np.hypot(up, np.log(readings.card.value / max(readings.card.low, 1e-6)))
    return Range(round(value, 2), round(float(value * np.exp(-down / 2)), 2), round(float(value * np.exp(up / 2)), 2))


def _rounded(each: Range) -> Range:
    return Range(round(each.value, 1), round(each.low, 1), round(each.high, 1))
