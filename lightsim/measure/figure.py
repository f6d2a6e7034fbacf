"""A figure of the report: a sampled value with its unit, its definition and where that comes from."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from lightsim.light.estimate import Estimate

_DERIVED = "derived here, docs/theory.md"
_FACING = "illuminance facing the lens"


@dataclass(frozen=True)
class Entry:
    """What a figure is, whatever its value."""

    label: str
    unit: str
    definition: str
    source: str = _DERIVED
    why_none: str = "no light of this kind arrives, or too little to tell"


@dataclass(frozen=True)
class Figure:
    """One number of a report. value is None where the figure has no meaning for this rig; why says so."""

    name: str  # dotted and stable: "size.cone_angle"
    label: str  # for people
    value: float | None
    standard_error: float | None  # 0 where the figure is exact, None where none is known
    half_interval: float | None  # half of the 95 % interval
    unit: str
    definition: str
    source: str
    why: str = ""
    low: float | None = None  # where the numbers of the materials, each within its range, might take it; None where
    high: float | None = None  # no number of theirs with a range moves it
    moved_by: str = ""  # the number that moves it most, in words

    def reach(self, *, up: bool) -> float:
        """How far above (up) or below its value the figure may well lie: sampling and materials in quadrature."""
        end = self.high if up else self.low
        moved = 0.0 if end is None or self.value is None else abs(end - self.value)
        return hypot(self.half_interval or 0.0, moved)


def figure(name: str, estimate: Estimate | None, *, part: str = "", key: str = "") -> Figure:
    """Figure of an estimate (None: without meaning here) by its entry in the catalogue.

    part: fills the braces of entries that stand for several figures, key: the catalogue's name where it is not name.
    """
    entry = CATALOGUE[key or name]
    label = entry.label.format(part)
    if estimate is None:
        return Figure(name, label, None, None, None, entry.unit, entry.definition, entry.source, entry.why_none)
    return Figure(
        name,
        label,
        estimate.value,
        estimate.standard_error,
        estimate.half_interval,
        entry.unit,
        entry.definition,
        entry.source,
    )


def _plane(words: str) -> Entry:
    definition = "Sum of w max(0, direction . normal), per lumen-second that the heads emit."
    return Entry(f"Illuminance on a plane {words}", "lx s per lm s", definition, "CIE S 017:2020, illuminance")


def _vector(words: str) -> Entry:
    definition = "Minus the sum of w direction: points away from the light."
    return Entry(f"Illuminance vector, {words}", "lx s per lm s", definition, "CIE S 017:2020, illuminance vector")


def _highlight(words: str, unit: str, definition: str) -> Entry:
    return Entry(
        f"Highlight on the ball: {words}",
        unit,
        f"{definition} {_GLOSS}",
        why_none="the ball mirrors no light to the lens",
    )


_GLOSS = "Of the gloss only, without the colour under it."
_EXTENT = "Between the outermost places at half of its peak, on the ball's image."
_THERE = f"log2 of the {_FACING} there over that at the subject; negative is darker."
_LOST = f"log2 of the {_FACING} before this stage over that after it; negative is a gain."

CATALOGUE: dict[str, Entry] = {
    "exposure.full_power": Entry(
        "Luminous exposure facing the lens at full power",
        "lx s",
        f"The {_FACING} times the heads' luminous energy by their guide numbers, C = 250.",
        "ISO 1230, ISO 2720 (from memory)",
    ),
    "exposure.headroom": Entry(
        "Power left at the settings of the shot",
        "stops",
        "log2 of the luminous exposure facing the lens at full power over the one that ISO, effective f-number, "
        "subject and placement ask for (C = 250), without the light of the day; negative: the flash is too weak.",
        "ISO 2720 as quoted by Conrad",
        why_none="no light reaches the subject's side that faces the lens",
    ),
    "loss.total": Entry(
        "Light lost",
        "stops",
        f"log2 of the {_FACING} by the same heads, unobstructed and aimed at the subject from where they stand, "
        "over that of the rig.",
        why_none="no light reaches the subject's side that faces the lens",
    ),
    "size.cone_angle": Entry(
        "Apparent size: full angle of the equal cone",
        "deg",
        "Full angle of the circular cone whose solid angle is the effective one.",
    ),
    "size.solid_angle": Entry(
        "Apparent size: effective solid angle",
        "sr",
        "(int L dO)^2 / int L^2 dO over light that last left a head or the diffuser.",
    ),
    "size.width": Entry(
        "Apparent width",
        "deg",
        "(int P)^2 / int P^2 of the light's distribution P across the source's horizontal.",
    ),
    "size.height": Entry(
        "Apparent height",
        "deg",
        "(int P)^2 / int P^2 of the light's distribution P across the source's vertical.",
    ),
    "size.hot_spot": Entry(
        "Hot spot",
        "stops",
        "Highest mean luminance over a circle of 5 degrees against the mean over the source.",
        why_none="the source is smaller than the circle of 5 degrees",
    ),
    "clearance": Entry(
        "From the subject to the nearest part of the diffuser",
        "mm",
        "Least distance from the subject point to the diffuser's surfaces.",
        why_none="there is no diffuser",
    ),
    "illuminance.lens": _plane("facing the lens"),
    "illuminance.up": _plane("facing up"),
    "illuminance.down": _plane("facing down"),
    "illuminance.left": _plane("facing left"),
    "illuminance.right": _plane("facing right"),
    "illuminance.eye": _plane("as the eye faces"),
    "illuminance.back": _plane("as the back faces"),
    "illuminance.flank": _plane("as the flank faces"),
    "illuminance.spherical": Entry(
        "Spherical illuminance", "lx s per lm s", "Sum of w.", "CIE S 017:2020, 17-21-066 note 2"
    ),
    "illuminance.scalar": Entry(
        "Scalar illuminance", "lx s per lm s", "A quarter of the sum of w.", "Lynes; Cuttle (from memory)"
    ),
    "illuminance.cylindrical": Entry(
        "Cylindrical illuminance about the vertical",
        "lx s per lm s",
        "(1/pi) sum of w sin(angle to the axis).",
        "CIE S 017:2020, 17-21-055",
    ),
    "illuminance.vector_x": _vector("to the right"),
    "illuminance.vector_y": _vector("up"),
    "illuminance.vector_z": _vector("toward the lens"),
    "modelling.vector_scalar_ratio": Entry(
        "How directional: vector/scalar ratio",
        "1",
        "Length of the illuminance vector over the scalar illuminance: 4 for a beam, 0 for light from everywhere.",
        "Lynes; Cuttle (from memory)",
    ),
    "modelling.top_to_underside": Entry(
        "Top against underside",
        "stops",
        "log2 of the illuminance on a plane facing up over one facing down.",
        why_none="no light reaches the top or the underside",
    ),
    "modelling.fill_share": Entry(
        "Fill from the surroundings",
        "1",
        f"Share of the {_FACING} that last left leaf, ground or other surroundings.",
    ),
    "highlight.width": _highlight("width at half its brightness", "mm", _EXTENT),
    "highlight.height": _highlight("height at half its brightness", "mm", _EXTENT),
    "highlight.width_pixels": _highlight("width in the picture", "px", _EXTENT),
    "highlight.height_pixels": _highlight("height in the picture", "px", _EXTENT),
    "highlight.diameter_share": _highlight("width over the ball's diameter", "1", _EXTENT),
    "highlight.disc_share": _highlight(
        "share of its disc", "1", "Area at half of the peak or more, over the area of the ball's image."
    ),
    "highlight.stops_above_white": _highlight(
        "against a white card at the subject, facing the lens",
        "stops",
        "log2 of its mean luminance at half of the peak or more over that of a white card that faces the lens.",
    ),
    "highlight.gap_share": _highlight(
        "dark gaps", "1", "Share of its outline that is darker than a quarter of the peak: lens hole, seams."
    ),
    "highlight.count": _highlight(
        "how many", "1", "Regions within three stops of the peak that hold 2 % of its light, parted by darker cells."
    ),
    "shadow.edge": Entry(
        "Shadow of an edge, {}: 10 to 90 % width",
        "mm",
        "Width from 10 to 90 % of the source's light on a plane facing the lens, edge_height under a straight edge.",
    ),
    "shadow.hair": Entry(
        "Shadow of a hair, {}: contrast",
        "1",
        "Greatest share of all light, fill included, that a hair takes from a plane its height under it.",
    ),
    "falloff.exponent": Entry(
        "Local exponent of the falloff",
        "1",
        "-d ln E / d ln d on planes facing the middle of the source, d away: 2 for the inverse square, 0 touching.",
    ),
    "falloff.at": Entry("Light {}", "stops", _THERE, why_none="no light arrives there"),
    "loss.stage": Entry("Lost {}", "stops", _LOST, why_none="no light before or after this stage"),
    "loss.per_doubling": Entry(
        "Stops paid for each doubling of the apparent area",
        "stops",
        "Stops lost against the heads as mounted, over log2 of the growth of the effective solid angle.",
        why_none="the source does not grow",
    ),
    "loss.lens_front": Entry(
        "Light on the lens front",
        "stops",
        "log2 of the mean illuminance on the lens front over that on the subject: makes veiling glare.",
        why_none="no light reaches the lens front",
    ),
    "budget": Entry(
        "Budget: {}",
        "1",
        "Share of the light emitted, sampled, without an error bar of its own. All budget figures sum to 1.",
    ),
}
