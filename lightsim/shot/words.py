"""The plan of a shot in sentences, for terminal, page and card."""

from __future__ import annotations

from collections.abc import Callable
from math import ceil, log2

from lightsim.measure.exposure import GREY
from lightsim.measure.figure_words import sure
from lightsim.rig.fractions import power_words, seconds_words
from lightsim.shot.changes import frozen, ghost, smeared
from lightsim.shot.plan import NEAR, Fits, Plan
from lightsim.shot.rocking import MOST_FRAMES
from lightsim.shot.spoken import in_percent, in_stops, two_figures

_SPOILT = 0.95  # share of a pulse within the open frame, below which a band shows (a choice, no source)
_BRIGHTEST = 1.3  # stops above mid-grey: a stop more is still below white, which lies 2.5 above (derived here)
_ISO = (
    *(6, 8, 10, 12, 16, 20, 25, 32, 40, 50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600),
    *(2000, 2500, 3200, 4000, 5000, 6400, 8000, 10_000, 12_800),
)  # as cameras name them
_MOST_ISO = 12_800  # beyond it noise spoils what a diffuser gained (a choice, no source)
_DARK = -2.0  # stops of a background that looks dark (a choice, no source)
_OVERLAP = 0.7  # of the depth of field, from one frame of a stack to the next (common practice, no source)


def settings(plan: Plan) -> str:
    """What to set, in one line."""
    power = "full power" if plan.start.power == 1 else power_words(plan.start.power)
    return f"ISO {plan.iso:.10g}, f/{plan.f_number:g}, {seconds_words(plan.shutter)}, flash at {power}"


def answer(plan: Plan) -> str:
    """Whether the flash has the power, and what it takes."""
    if plan.named is not None and abs(log2(plan.named / plan.start.power)) > NEAR:
        start = f"The flash has no setting {power_words(plan.named)}; the nearest is taken. "
    else:
        start = ""
    return f"{start}{_verdict(plan)}"


def _verdict(plan: Plan) -> str:
    full, least = plan.rungs[0], plan.rungs[-1]
    if plan.fits is Fits.DAY_ALONE:
        return (
            f"The light of the day alone is enough: even at the least power of the flash, {power_words(least.power)}, "
            f"the picture is {in_stops(plan.off_at(least))} too bright. A shorter shutter time, shade, a lower ISO or "
            "a higher f-number helps."
        )
    if plan.fits is Fits.TOO_WEAK:
        dark = plan.off_at(full)
        iso = plan.iso * 2**-dark
        if iso > _MOST_ISO:
            start = f"The flash is far too weak: even at full power the picture is {in_stops(dark)} too dark."
            return f"{start} Does its light reach the subject, and are guide number and f-number right?"
        start = f"The flash is too weak: even at full power the picture is {in_stops(dark)} too dark."
        return f"{start} ISO {_usual_iso(iso)} would do."
    if plan.fits is Fits.TOO_STRONG:
        return (
            f"The flash is too strong: even at its least power, {power_words(least.power)}, the picture is "
            f"{in_stops(plan.off_at(least))} too bright. A lower ISO or a higher f-number helps."
        )
    left = "nothing is left" if plan.left < NEAR else f"{in_stops(plan.left)} are left above this setting"
    takes = f"It takes {_share(plan.wanted)}{_doubt(plan)}" if plan.wanted > 0 else "The day gives nearly all the light"
    return f"{_off(plan)}{takes}; {left}."


def focus_words(plan: Plan) -> str:
    """Depth of field, diffraction, and how many frames to take."""
    focus = plan.focus
    text = f"{two_figures(focus.depth)} mm are in focus"
    if plan.wished > focus.depth:
        text += f" of the {plan.wished:g} mm wished for ({_stack(plan)} frames one behind the other would cover it)"
    text += f". Diffraction spreads a point over {1000 * focus.airy:.0f} µm on the sensor; "
    text += f"{1000 * focus.blur_circle:.0f} µm count as sharp"
    text += ", so a lower f-number shows more detail, less deep." if focus.softened else "."
    if focus.chance > 0.995:
        return f"{text} Held this still, every frame is in focus."
    often = "fewer than 1 in 100" if focus.chance < 0.01 else f"{100 * focus.chance:.0f} in 100"
    frames = f"more than {MOST_FRAMES}" if focus.frames_most is None else f"{focus.frames_most}"
    return (
        f"{text} With a sway of {focus.sway:g} mm {often} frames are: take {frames} for one that is, nine times in ten."
    )


def frames_words(plan: Plan) -> str:
    """How many frames to take, in short."""
    depth, frames = two_figures(plan.focus.depth), plan.focus.frames_most
    if frames is None:
        return f"{depth} mm are in focus, and the sway misses it nearly always: rest the camera on something."
    if frames == 1:
        return f"{depth} mm are in focus."
    return f"{depth} mm are in focus: of {frames} frames one is sharp, nine times in ten."


def motion_words(plan: Plan) -> str:
    """Whether shake and wind are frozen, and whether the day draws a ghost."""
    moved, sharp = smeared(plan), plan.focus.blur_circle / plan.focus.pixel
    still = "frozen" if moved <= 1 else "sharp enough" if frozen(plan) else "blurred"
    text = (
        f"While the flash burns ({seconds_words(plan.motion.flash_time)}) the picture moves by {_pixels(moved)}; up to "
        f"{_pixels(sharp)} pass as sharp: {still}. "
    )
    text += f"The day gives {_day(plan)}"
    text += ": its blurred picture may show beside the sharp one." if ghost(plan) else ": its picture does not show."
    if plan.inside < _SPOILT:
        text += (
            f" Only {100 * plan.inside:.0f} % of the pulse comes while the frame is open: part of the light is lost, "
            "and a band may stay darker. Less power, or a longer shutter time, helps."
        )
    return text


def background_words(plan: Plan) -> str:
    """How dark the background falls."""
    parts = []
    for each in plan.backgrounds:
        if each.all is None:
            parts.append(f"black {each.distance:g} mm behind")
        elif abs(each.all) < 0.05:
            parts.append(f"as bright {each.distance:g} mm behind")
        else:
            way = "darker" if each.all < 0 else "brighter"
            parts.append(f"{in_stops(abs(each.all))} {way} {each.distance:g} mm behind")
    if not parts:
        return ""
    last = max(plan.backgrounds, key=lambda each: each.distance).all
    end = "the background looks dark" if last is None or last < _DARK else "the background stays in the picture"
    return f"A leaf as light as the subject is {', '.join(parts)}, day included: {end}."


def colour_words(plan: Plan) -> str:
    """Which white balance to set, and why."""
    colour, day = plan.colour, plan.colour.ambient_share
    lights = f"{in_percent(1 - day)} of the light is flash ({colour.flash_kelvin:.0f} K), the rest day"
    lights = f"{lights} ({colour.ambient_kelvin:.0f} K)" if day >= 0.005 else "Nearly all of the light is flash"
    return (
        f"Set the white balance to {colour.white_balance:.0f} K and leave it: an automatic one changes with every "
        f"leaf. {lights}."
    )


def frame_steps(plan: Plan) -> tuple[str, ...]:
    """The test frame: expose, read the histogram, move by a stop."""
    down = card_down(plan)
    peak, above, below = (histogram(card_level(plan) + more) for more in (0, 1, -1))
    here = f" With these settings it will stand at {in_percent(histogram(card_level(plan) + plan.off))}."
    moves = [
        f"{power_words(rung.power)} is {in_stops(log2(rung.power / plan.start.power))} {way} flash"
        for rung, way in ((plan.brighter, "more"), (plan.darker, "less"))
        if rung is not None
    ]
    lower = f" Turn the power down by {down} stops for it, as it is so much brighter than the subject." if down else ""
    return (
        f"Set camera and flash by hand: {settings(plan)}; white balance {plan.colour.white_balance:.0f} K.",
        f"Put a grey card ({100 * GREY:g} %) in place of the subject, facing the lens, and take a frame.{lower}",
        f"Its peak in the histogram belongs at {in_percent(peak)} of the width; at {in_percent(above)} the picture is "
        f"a stop too bright, at {in_percent(below)} a stop too dark.{'' if plan.as_meant else here} Cameras that add "
        "contrast spread this.",
        f"Move the power: {', '.join(moves)}. Take the card again, then the animal."
        if moves
        else "There is no other power: move ISO or f-number by a stop, and take the card again.",
        "Write down what was right, on the card that lightsim shot --card prints: it corrects the model.",
    )


def card_down(plan: Plan) -> int:
    """Whole stops by which a grey card must be exposed less than the subject, so that a stop more does not burn out."""
    return max(ceil(plan.placement + log2(GREY / plan.reflectance) - _BRIGHTEST), 0)


def card_level(plan: Plan) -> float:
    """Stops above mid-grey at which a grey card belongs, with the power turned down by card_down."""
    return plan.placement + log2(GREY / plan.reflectance) - card_down(plan)


def histogram(stops: float) -> float:
    """Where a matt surface so many stops above mid-grey stands in the histogram, 0 to 1.

    Source: IEC 61966-2-1 (sRGB), 18 % being mid-grey; without any contrast that a camera adds.
    """
    linear = min(GREY * 2.0**stops, 1.0)
    return 12.92 * linear if linear <= 0.0031308 else 1.055 * float(linear ** (1 / 2.4)) - 0.055


def _off(plan: Plan) -> str:
    """What a power that the rig file or an option names does to the picture, where it is not the one that fits."""
    if plan.as_meant:
        return ""
    return f"At this power the picture comes out {in_stops(abs(plan.off))} too {'bright' if plan.off > 0 else 'dark'}. "


def _doubt(plan: Plan) -> str:
    """The ranges that materials and calibrations give the power, in brackets."""
    powers = [level.power for level in plan.levels]
    parts = [f"{_brief(min(powers))} to {_brief(max(powers))} by what meters call mid-grey"]
    if sure(plan.headroom) and plan.headroom.value is not None:
        down, up = (plan.headroom.reach(up=way) for way in (False, True))
        if max(down, up) > 0.1:
            # What the materials may take from the light, the flash has to give more.
            parts.insert(0, f"{_brief(plan.wanted * 2**-up)} to {_brief(plan.wanted * 2**down)} by the materials")
    return f" ({'; '.join(parts)})"


def _stack(plan: Plan) -> int:
    """Frames that cover the depth wished for, each a little less than a depth of field behind the one before."""
    return 1 + ceil((plan.wished - plan.focus.depth) / (_OVERLAP * plan.focus.depth))


def _day(plan: Plan) -> str:
    if plan.day <= 0:
        return "no light"
    stops = log2(plan.flash / plan.day)
    return f"{in_stops(abs(stops))} {'less' if stops >= 0 else 'more'} light in {seconds_words(plan.shutter)}"


def _usual_iso(iso: float) -> str:
    """The next third of a stop above an ISO, as cameras name it (from memory)."""
    return f"{next((name for name in _ISO if name >= iso * 0.99), _ISO[-1])}"


def _share(power: float) -> str:
    """A power in words: "1/25 of full power"."""
    return "full power" if 0.95 < power < 1.05 else f"{_brief(power)} of full power"


def _brief(power: float) -> str:
    """A power as a plain fraction, "1/25"; as a percentage near full power."""
    if power <= 0:
        return "none"
    return f"{100 * power:.0f} %" if power > 0.5 else f"1/{two_figures(1 / power)}"


def _pixels(count: float) -> str:
    return "less than 0.1 pixels" if count < 0.1 else f"{two_figures(count)} pixels"


SAID: tuple[tuple[str, Callable[[Plan], str]], ...] = (
    ("Sharpness", focus_words),
    ("Movement", motion_words),
    ("Background", background_words),
    ("Colour", colour_words),
)  # what a plan says beside its settings, under these headings; empty where there is nothing to say
