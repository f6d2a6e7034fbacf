"""All figures of a rig at one magnification, in the order in which a report tells them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lightsim.light.arrivals import Arrivals
from lightsim.light.estimate import Estimate
from lightsim.light.light import SUBJECT, Light
from lightsim.measure import falloff, illuminance, loss, shadow, size
from lightsim.measure.clearance import clearance
from lightsim.measure.exposure import PER_SQUARE_METRE, headroom, luminous_energy
from lightsim.measure.figure import Figure, figure
from lightsim.measure.highlight import highlight
from lightsim.measure.rounding import length
from lightsim.measure.source import last_left, source_only

_PLANES = {"lens": (0, 0, 1), "up": (0, 1, 0), "down": (0, -1, 0), "left": (-1, 0, 0), "right": (1, 0, 0)}
_DIRECTIONS: dict[Literal["x", "y"], str] = {"x": "across", "y": "up and down"}


@dataclass(frozen=True)
class AtSubject:
    """Light at the subject, and what several figures need of it."""

    all: Arrivals
    source: Arrivals  # light that last left a head or the diffuser
    fill: NDArray[np.bool_]  # (n,) of all: light that last left the surroundings
    bare: Arrivals  # the heads as mounted, without diffuser and surroundings
    solid_angle: Estimate | None  # effective one of the source


def at_subject(light: Light, bare: Arrivals | None = None) -> AtSubject:
    """Light at the subject: source, fill and bare heads apart. bare: the heads as mounted, where they are known."""
    everything = light.at(SUBJECT)
    source = source_only(light, everything)
    return AtSubject(
        all=everything,
        source=source,
        fill=last_left(light, everything, "surroundings"),
        bare=loss.mounted(light) if bare is None else bare,
        solid_angle=size.known(lambda: size.effective_solid_angle(source)),
    )


def figures(light: Light) -> tuple[Figure, ...]:
    """Every figure of a rig; those without meaning for it carry None and the reason.

    light: from lightsim.light.light.light_of.
    """
    here = at_subject(light)
    return (
        *_size(light, here),
        *_strength(light, here.all),
        figure("clearance", clearance(light.scene)),
        *_planes(light, here.all, here.fill),
        *_highlight(light, here),
        *_shadow(light, here),
        *_falloff(light, here.source),
        *_loss(light, here),
        *_budget(light),
    )


def strengths(light: Light) -> tuple[Figure, ...]:
    """The figures that say how much light there is, which are sums over arrivals at the subject and behind it."""
    everything = light.at(SUBJECT)
    fill = last_left(light, everything, "surroundings")
    return (*_strength(light, everything), *_planes(light, everything, fill), *_behind(light))


def shapes(light: Light, bare: Arrivals) -> tuple[Figure, ...]:
    """The figures that say from where the source's light comes, and so how large, soft and even it is.

    bare: the heads as mounted (loss.mounted).
    """
    here = at_subject(light, bare)
    return (
        *_size(light, here),
        *_highlight(light, here),
        *_shadow(light, here),
        figure("loss.per_doubling", loss.per_doubling(light, here.bare, here.solid_angle)),
    )


def _scaled(estimate: Estimate | None, factor: float) -> Estimate | None:
    if estimate is None:
        return None
    return Estimate(estimate.value * factor, estimate.standard_error * factor, estimate.replicates)


def _size(light: Light, here: AtSubject) -> list[Figure]:
    cone = width = height = hot = None
    if here.solid_angle is not None:
        cone = size.cone_angle(here.solid_angle)
        width, height = size.known_extents(here.source)
        hot = size.hot_spot(here.source, here.solid_angle)
    return [
        figure("size.cone_angle", cone),
        figure("size.solid_angle", here.solid_angle),
        figure("size.width", width),
        figure("size.height", height),
        figure("size.hot_spot", hot),
    ]


def _strength(light: Light, everything: Arrivals) -> list[Figure]:
    facing = illuminance.illuminance(everything, falloff.FACING_LENS)
    return [
        figure("loss.total", loss.stops_lost(light)),
        figure("exposure.full_power", _scaled(facing, PER_SQUARE_METRE * luminous_energy(light.placed))),
        figure("exposure.headroom", headroom(light)),
    ]


def _planes(light: Light, everything: Arrivals, fill: NDArray[np.bool_]) -> list[Figure]:
    subject = light.placed.rig.subject
    ways = {**_PLANES, "eye": subject.eye, "back": subject.back, "flank": subject.flank}
    values = {name: illuminance.illuminance(everything, way) for name, way in ways.items()}
    values["spherical"] = illuminance.spherical_illuminance(everything)
    values["scalar"] = illuminance.scalar_illuminance(everything)
    values["cylindrical"] = illuminance.cylindrical_illuminance(everything, (0, 1, 0))
    vector = illuminance.illuminance_vector(everything)
    for number, axis in enumerate("xyz"):
        values[f"vector_{axis}"] = Estimate(vector.value[number], vector.standard_error[number], vector.replicates)
    return [
        *(figure(f"illuminance.{name}", _scaled(value, PER_SQUARE_METRE)) for name, value in values.items()),
        figure("modelling.vector_scalar_ratio", illuminance.vector_scalar_ratio(everything)),
        figure("modelling.top_to_underside", illuminance.top_to_underside(everything)),
        figure("modelling.fill_share", illuminance.share(everything, fill, falloff.FACING_LENS)),
    ]


def _highlight(light: Light, here: AtSubject) -> list[Figure]:
    placed = light.placed
    ball = placed.rig.subject.ball
    centre = np.array([ball.right, ball.up, ball.toward_lens])
    seen = highlight(
        source_only(light, light.at(centre)),
        centre=centre,
        radius=ball.radius,
        refractive_index=ball.refractive_index,
        camera=np.array([0.0, 0.0, placed.working_distance]),
        pixel=placed.pixel,
        illuminance=illuminance.plane_samples(here.all, falloff.FACING_LENS),
    )
    values = {
        "width": seen.width,
        "height": seen.height,
        "width_pixels": seen.width_pixels,
        "height_pixels": seen.height_pixels,
        "diameter_share": _scaled(seen.width, 0.5 / ball.radius),
        "disc_share": seen.disc_share,
        "stops_above_white": seen.stops_above_white,
        "gap_share": seen.gap_share,
        "count": Estimate(float(seen.count)) if seen.count else None,
    }
    return [figure(f"highlight.{name}", value) for name, value in values.items()]


def _shadow(light: Light, here: AtSubject) -> list[Figure]:
    subject = light.placed.rig.subject
    edges = [
        figure(
            f"shadow.edge_{axis}",
            shadow.edge_width(here.source, height=subject.edge_height, direction=axis),
            key="shadow.edge",
            part=f"{length(subject.edge_height)} mm above the surface, {words}",
        )
        for axis, words in _DIRECTIONS.items()
    ]
    hairs = [
        figure(
            f"shadow.hair_{axis}",
            shadow.hair_contrast(here.all, diameter=subject.hair.diameter, height=subject.hair.height, direction=axis),
            key="shadow.hair",
            part=words,
        )
        for axis, words in _DIRECTIONS.items()
    ]
    return edges + hairs


def _falloff(light: Light, source: Arrivals) -> list[Figure]:
    (width, height), half = light.placed.field, light.placed.rig.subject.depth / 2
    places = {
        "nearer": (f"{length(half)} mm nearer to the lens", (0.0, 0.0, half)),
        "left": ("at the left edge of the field", (-width / 2, 0.0, 0.0)),
        "right": ("at the right edge of the field", (width / 2, 0.0, 0.0)),
        "top": ("at the top edge of the field", (0.0, height / 2, 0.0)),
        "bottom": ("at the bottom edge of the field", (0.0, -height / 2, 0.0)),
    }
    exponent = figure("falloff.exponent", falloff.local_exponent(light, source))
    return [exponent, *_stops_at(light, places), *_behind(light)]


def _behind(light: Light) -> list[Figure]:
    subject = light.placed.rig.subject
    half = subject.depth / 2
    places = {"behind": (f"{length(half)} mm behind", (0.0, 0.0, -half))}
    for distance in subject.background:
        far = length(round(distance, 1) if distance >= 10 else distance)  # alike in mm and inch
        places[f"background_{far}"] = (f"on a background {far} mm behind", (0.0, 0.0, -distance))
    return _stops_at(light, places)


def _stops_at(light: Light, places: dict[str, tuple[str, tuple[float, float, float]]]) -> list[Figure]:
    return [
        figure(f"falloff.{name}", falloff.stops_at(light, point), key="falloff.at", part=words)
        for name, (words, point) in places.items()
    ]


def _loss(light: Light, here: AtSubject) -> list[Figure]:
    return [
        *(
            figure(f"loss.{stage.name}", stage.stops, key="loss.stage", part=_stage(stage.name))
            for stage in loss.stages(light, here.bare)
        ),
        figure("loss.per_doubling", loss.per_doubling(light, here.bare, here.solid_angle)),
        figure("loss.lens_front", loss.lens_front(light)),
    ]


def _stage(name: str) -> str:
    return name if name == loss.MOUNTED else f"by {name}"


def _budget(light: Light) -> list[Figure]:
    tally, parts = light.cloud.tally, light.scene.parts
    rows = [(f"absorbed by {part.name}", "", tally.absorbed[number]) for number, part in enumerate(parts)]
    rows += [
        (f"escaped past {part.name}", f"missed everything, last from {part.name}", tally.escaped[number])
        for number, part in enumerate(parts)
    ]
    rows.append(("lost by ending paths", "", tally.residual))
    # Sampled, but tallied over all replicates at once: no error bar of their own.
    return [
        replace(
            figure(f"budget.{name}", Estimate(float(value)), key="budget", part=words or name),
            standard_error=None,
            half_interval=None,
        )
        for name, words, value in rows
        if value or name.startswith("lost")
    ]
