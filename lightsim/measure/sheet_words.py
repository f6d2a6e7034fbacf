"""Readings of a sheet in words: as the source of what follows from them, and what looks odd about them."""

from __future__ import annotations

from lightsim.measure.readings import Reading, Reflectance, SheetReadings, SpotReadings

_HARDLY = 1.5  # widths of a lamp's hole: a spot as narrow as that makes a lobe of about 3 degrees at 100 mm


def source_of(readings: SheetReadings) -> str:
    """The readings in words, as the source of what follows from them."""
    cards = f"white card {_card(readings.white_card)}, black card {_card(readings.black_card)}"
    if readings.window_reflectance.high > 0:
        cards += f", window {_card(readings.window_reflectance)}"
    text = f"camera readings in stops: {_told(readings, 'window', 'white', 'black')}; {cards}"
    return text if readings.spot is None else f"{text}; {_spot_told(readings.spot, readings.uncertainty)}"


def signs_of(readings: SheetReadings) -> tuple[str, ...]:
    """Notes on readings of a sheet that is brighter than what it is compared with."""
    bare = {"window": "the bare window", "white": "bare white card", "black": "bare white card"}
    found = ((key, getattr(readings, key)) for key in bare)
    return tuple(
        f"The reading {key} = {each.stops:.2g} says that the sheet is brighter than {bare[key]}. Is the sign the wrong "
        "way round? Darker counts as positive."
        for key, each in found
        if each is not None and each.stops < 0
    )


def sizes_of(readings: SheetReadings) -> tuple[str, ...]:
    """Notes on lengths that may have been read in cm."""
    spot = readings.spot
    if spot is None or spot.width is None or spot.width >= _HARDLY * spot.lamp_width:
        return ()
    return (
        f"A spot {spot.width:g} mm wide is hardly wider than the lamp's hole of {spot.lamp_width:g} mm: is it in mm?",
    )


def swapped(readings: SheetReadings) -> str:
    """What is said where the sheet is brighter on black card than on white, without its end; empty where it is not.

    Of negative readings the sign is asked about instead: see signs_of.
    """
    if readings.white is None or not readings.white.stops > readings.black.stops >= 0:
        return ""
    return (
        "are white and black swapped? On black the sheet must be darker than on white, and here it is "
        f"{readings.black.stops:g} stops darker on black and {readings.white.stops:g} on white"
    )


def telling(key: str, readings: SheetReadings) -> str:
    """The readings that tell most of one number."""
    spot = readings.spot
    if key == "diffuse_reflectance":
        return f"{_told(readings, 'black', 'white')} stops, white card {_card(readings.white_card)}"
    through = f"{_told(readings, 'window', 'white')} stops"
    if spot is None or key == "diffuse_transmittance":
        return through
    return f"{_spot_told(spot, readings.uncertainty)}; {through}"


def _told(readings: SheetReadings, *keys: str) -> str:
    words = {"window": "window", "white": "on white", "black": "on black"}
    found = ((words[key], getattr(readings, key)) for key in keys)
    return ", ".join(f"{word} {_stops(each, readings.uncertainty)}" for word, each in found if each is not None)


def _stops(reading: Reading, uncertainty: float) -> str:
    return f"{reading.stops:.2f} ± {reading.uncertainty or uncertainty:.2f}"


def _card(card: Reflectance) -> str:
    return f"{card.value:.2g} ({card.low:.2g} to {card.high:.2g})" if card.low < card.high else f"{card.value:.2g}"


def _spot_told(spot: SpotReadings, uncertainty: float) -> str:
    parts = [f"lamp of {spot.lamp_width:g} mm, {spot.distance:g} mm behind, camera {spot.camera:g} mm before the sheet"]
    if spot.width is not None and spot.side is not None:
        parts.append(f"spot {spot.width:g} mm wide, beside it {_stops(spot.side, uncertainty)}")
    if spot.lamp is not None:
        parts.append(f"lamp itself {_stops(spot.lamp, uncertainty)}")
    return ", ".join(parts)
