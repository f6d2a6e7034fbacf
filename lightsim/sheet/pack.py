"""Paper, film and foam from what is printed on the pack. What is not printed is assumed, with a range, and said so."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from lightsim.sheet.body import with_body
from lightsim.sheet.foam import foam_from_transmittance
from lightsim.sheet.given import Given, ends, number, share
from lightsim.sheet.haze import SCOPE, STRAIGHT_WITHIN, film, intensity_from_luminance_angle, lobe_within
from lightsim.sheet.paper import paper, reflectivity_of_lightness, warnings_of_paper
from lightsim.sheet.sheet import How, Sheet

WHITE_PAPER = (0.82, 0.87, 0.92)  # luminous R-infinity of white office paper (from memory)
# Haze does not tell the width of a lobe, degrees. Assumed; no measurement of common frosted film was found.
ANY_WIDTH = (5.0, 20.0, 60.0)
_LAMBERTIAN = 60.0
_OPAL = 1.49  # refractive index of acrylic, from memory
# Packs print whole percents, and 100 % haze, which no sheet has.
_ROUNDED = 0.005
# How far a sheet may lie from a figure that its pack prints without a range: assumed, common practice, no source.
_TOLERANCE = 0.02
_HIDES_ALL, _HIDES_HALF = 0.99, 0.5  # opacities beyond which paper is of another kind
_ON_PACK = "as given from its pack"
_SEEN = 0.005  # straight-through light of less than that is not worth a note


@dataclass(frozen=True)
class Pack:
    """A sheet from its pack, and what its owner should know, in sentences."""

    sheet: Sheet
    notes: tuple[str, ...]


def paper_pack(
    *,
    opacity: Given,
    grammage: float,
    reflectivity: Given | None = None,
    lightness: Given | None = None,
    iso_brightness: float | None = None,
    wanted_grammage: float | None = None,
    brightened: bool = False,
) -> Pack:
    """A paper as in lightsim.sheet.paper.paper; without a whiteness that of white paper is assumed.

    An opacity without a range gets the tolerance of labels, as do the figures of film_pack and foam_pack.
    reflectivity: luminous R-infinity, a share. lightness: the same as CIELAB L* of a thick pile, 9 to 100.
    Raises ValueError in words for figures no paper has, for both of these, and for ISO brightness.
    """
    if reflectivity is not None and lightness is not None:
        raise ValueError(
            "reflectivity and lightness are two names of one whiteness. Allowed: one of them. Try leaving out lightness"
        )
    if lightness is not None:
        stated = ends("lightness", lightness, lambda name, each: number(name, each, least=9, most=100, example=94))
        reflectivity = _each(stated, lambda each: reflectivity_of_lightness(lightness=each))
    assumed = reflectivity is None and iso_brightness is None
    pile = WHITE_PAPER if assumed else reflectivity
    contrast = ends("opacity", opacity, lambda name, each: share(name, each, least=0.01, example=0.9))
    sheet = paper(
        # Full opacity is a rounded figure too: half a point less already lets several per cent through.
        opacity=(1 - _ROUNDED, 1.0, 1.0)
        if contrast[0] == 1 and wanted_grammage is None
        else _as_labelled(contrast, least=0.01),
        reflectivity=pile,
        grammage=grammage,
        wanted_grammage=wanted_grammage,
        iso_brightness=iso_brightness,
        brightened=brightened,
    )
    # paper() has refused a missing whiteness by now.
    notes = list(warnings_of_paper(reflectivity=WHITE_PAPER if pile is None else pile, brightened=brightened))
    if contrast[1] > _HIDES_ALL:
        notes.append(
            f"Of an opacity above {100 * _HIDES_ALL:g} % the last digit decides how much light passes, so the "
            "transmittance is a guess. Try readings with your own camera (lightsim measure sheet)."
        )
    if contrast[1] < _HIDES_HALF:
        notes.append(
            f"An opacity below {100 * _HIDES_HALF:g} % is that of tracing paper or tissue, which show a lamp as a "
            "blurred spot; here all light counts as evenly spread. Is the figure the transmittance, or 100 % less it? "
            "Try readings with your own camera (lightsim measure sheet)."
        )
    known: dict[str, How] = {}
    remark = ""
    if assumed:
        # What one sheet sends back is opacity times whiteness, so it is as sure as the whiteness.
        known, remark = {"diffuse_reflectance": "assumed"}, ", assumed"
        note = (
            f"The whiteness was not given, so that of white paper is assumed: a thick pile of it sends back "
            f"{100 * WHITE_PAPER[0]:g} to {100 * WHITE_PAPER[2]:g} % of the light, as the eye weighs it. Grey, cream "
            "and coloured paper send back less."
        )
        notes.insert(0, note)
    sheet = with_body(sheet, known="published", source=_ON_PACK, grammage=wanted_grammage or grammage)
    return _pack(sheet, notes, known=known, remark=remark, printed={"opacity": contrast})


def film_pack(
    *,
    total_transmittance: Given,
    haze: Given,
    half_value_angle: Given | None = None,
    luminance_angle: Given | None = None,
    glossy_reflectance: float = 0.0,
) -> Pack:
    """A film as in lightsim.sheet.haze.film; without an angle any width of the blurred spot is left open.

    half_value_angle: of intensity, 0 to 60 degrees. luminance_angle: the CIE's, of luminance, 0 to 90, in its place.
    Haze up to half a point above what a sheet of that width can have counts as that.
    Raises ValueError in words for figures no film has.
    """
    if half_value_angle is not None and luminance_angle is not None:
        raise ValueError(
            "half_value_angle and luminance_angle are two measures of one width. Allowed: one of them. "
            "Try leaving out luminance_angle"
        )
    total = ends("total_transmittance", total_transmittance, lambda name, each: share(name, each, example=0.87))
    stated = ends("haze", haze, lambda name, each: share(name, each, example=0.8))
    known: How = "published"
    remark, notes = "", []
    if luminance_angle is not None:
        angles = ends(
            "luminance_angle",
            luminance_angle,
            lambda name, each: number(name, each, least=0, most=90, unit="degrees", example=20),
        )
        half_value_angle = _each(angles, lambda each: round(intensity_from_luminance_angle(each), 2))
        known, remark = "derived", f", from {angles[1]:g} degrees of luminance"
    elif half_value_angle is None:
        known, remark = "assumed", ", assumed"
        half_value_angle, note = _width_of(stated[1])
        notes.append(note)
    width = half_value_angle[1] if isinstance(half_value_angle, tuple) else half_value_angle
    sheet = film(
        total_transmittance=_as_labelled(total),
        haze=_each(_as_labelled(stated), lambda each: _as_rounded(each, width)),
        half_value_angle=half_value_angle,
        glossy_reflectance=glossy_reflectance,
    )
    if stated[1] > SCOPE:
        notes.append(
            f"Haze is defined up to {100 * SCOPE:g} % only (ASTM D1003). Beyond it instruments differ, so the range of "
            "what goes straight through is wider than the pack says."
        )
    more: dict[str, How] = {"half_value_angle": known}
    if glossy_reflectance > 0:
        more["glossy_reflectance"] = "assumed"  # what packs call gloss is no share of the light
    return _pack(sheet, notes, known=more, remark=remark, printed={"transmittance": total, "haze": stated})


def foam_pack(
    *,
    transmittance: Given,
    thickness: float,
    wanted_thickness: float | None = None,
    absorption: Given = 0.0,
    opal: bool = False,
) -> Pack:
    """A foam as in lightsim.sheet.foam.foam_from_transmittance, or a sheet of opal plastic with shiny faces.

    thickness, wanted_thickness: mm, of the sheet whose transmittance is stated, and of the one you will use.
    absorption: [1/mm].
    Raises ValueError in words where no foam has these figures.
    """

    def made(of: Given) -> Sheet:
        return foam_from_transmittance(
            transmittance=of,
            measured_thickness=thickness,
            thickness=wanted_thickness,
            absorption=absorption,
            refractive_index=_OPAL if opal else 1.0,
        )

    passed = ends("transmittance", transmittance, lambda name, each: share(name, each, least=1e-4, example=0.55))
    tolerant = passed[0] == passed[2]
    try:
        sheet = made(_as_labelled(passed, least=1e-4))
    except ValueError:
        # The figure alone, if any foam has that, and else a complaint about the figure that was given.
        sheet, tolerant = made(transmittance), False
    _, _, warning = sheet.source.partition(". ")
    notes = [f"{warning.rstrip('. ')}."] if warning else []
    if not tolerant and passed[0] == passed[2]:
        notes.append(
            f"The transmittance counts as exact: no sheet of this thickness and absorption passes {100 * _TOLERANCE:g} "
            "points more and less. Is the absorption right?"
        )
    straight = sheet.origins["straight"].high or (0.0, 0.0)
    if max(straight) > _SEEN:
        notes.append(
            "How much passes straight through is not told by the transmittance; it hangs on how far each bubble or "
            "grain turns light, which is assumed. Look through the sheet at a bare bulb from across the room: if you "
            "see nothing of its outline, you may write straight = 0 in the file."
        )
    sheet = with_body(sheet, known="published", source=_ON_PACK, thickness=wanted_thickness or thickness)
    return _pack(sheet, notes, printed={"transmittance": passed} if tolerant else {})


def _as_labelled(stated: tuple[float, float, float], *, least: float = 0.0) -> tuple[float, float, float]:
    """A printed share with its range, or with the tolerance of labels; never more than half way to none or to all."""
    low, value, high = stated
    if low < high or not 0 < value < 1:
        return stated
    step = min(_TOLERANCE, value / 2, (1 - value) / 2)
    return max(value - step, least), value, value + step


def _pack(
    sheet: Sheet,
    notes: Sequence[str],
    *,
    known: Mapping[str, How] = MappingProxyType({}),
    remark: str = "",
    printed: Mapping[str, tuple[float, float, float]],
) -> Pack:
    """The sheet with what is to be said of it; printed: the figures of the pack, by what they are called there."""
    exact = [name for name, (low, value, high) in printed.items() if low == high and 0 < value < 1]
    if exact:
        figures = " and ".join(exact)
        points = f"{100 * _TOLERANCE:g} points"
        remark = f"{remark}; {points} either way of {figures} assumed"
        notes = [
            *notes,
            f"{figures[:1].upper()}{figures[1:]} came without a range, so {points} either way are assumed (less near "
            "0 and 100 %), as single sheets may lie that far off what is printed (common practice, no source). If the "
            "data sheet has a range, give that, such as 90..92%.",
        ]
    return Pack(_amended(sheet, known=known, remark=remark), tuple(notes))


def _width_of(haze: float) -> tuple[Given, str]:
    """Half-value angle to reckon with where none is stated, and what to say about it."""
    if haze > 1 - lobe_within(angle=STRAIGHT_WITHIN, half_value_angle=ANY_WIDTH[1]):
        return _LAMBERTIAN, (
            "So much haze is that of an opal sheet; it is taken to send on what it scatters evenly to all sides. "
            "Hold it a hand's breadth before a lamp: if you see a bright spot, measure it (lightsim measure sheet)."
        )
    return ANY_WIDTH, (
        "Haze says how much light is turned, not how far, so the blurred spot may have any width from "
        f"{ANY_WIDTH[0]:g} to {ANY_WIDTH[2]:g} degrees, which moves hot spot and highlight a great deal. "
        "Measure its width: lightsim measure sheet."
    )


def _as_rounded(haze: float, half_value_angle: float) -> float:
    most = 1 - lobe_within(angle=STRAIGHT_WITHIN, half_value_angle=half_value_angle)
    return most if most < haze <= most + _ROUNDED else haze


def _each(three: tuple[float, float, float], function: Callable[[float], float]) -> tuple[float, float, float]:
    low, value, high = (function(each) for each in three)
    return low, value, high


def _amended(sheet: Sheet, *, known: Mapping[str, How], remark: str) -> Sheet:
    """The sheet with other words on how its numbers are known, and a remark after the first sentence of its source."""

    def told(source: str) -> str:
        head, dot, rest = source.partition(". ")
        return f"{head}{remark}{dot}{rest}"

    origins = {
        key: origin.model_copy(update={"known": known.get(key, origin.known), "source": told(origin.source)})
        for key, origin in sheet.origins.items()
    }
    return sheet.model_copy(update={"origins": origins, "source": told(sheet.source)})
