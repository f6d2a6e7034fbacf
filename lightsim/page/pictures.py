"""Which pictures the page shows, under which heading, with which help to read them: a line a section.

A section draws its pictures when it is asked. Where a picture has variants, the page switches them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from lightsim.light.light import Light
from lightsim.measure.report import Report
from lightsim.measure.same_flash import stops_darker
from lightsim.measure.shadow import Direction
from lightsim.page.drawing import Drawn, Picture, Progress, Renders, Section, Variant, drawn_sections

if TYPE_CHECKING:
    from lightsim.picture.portrait import Portrait
    from lightsim.picture.shine import Shine
    from lightsim.shot.plan import Plan

PORTRAIT = "portrait"  # key of the section, and gid of the image in its pictures
_FRAMES = 50  # that the picture of the chances shows


def pictures_of(
    designs: Sequence[tuple[Light, Report]],
    *,
    short: Sequence[str] | None = None,
    clean: bool = False,
    progress: Progress | None = None,
    sections: Sequence[Section] | None = None,
    renders: Renders | None = None,
    plans: Mapping[int, Plan] | None = None,
) -> Iterator[tuple[Section, Sequence[Variant]]]:
    """Sections and their pictures, as drawing.drawn_sections; sections : by default all."""
    wanted = SECTIONS if sections is None else sections
    return drawn_sections(designs, wanted, short=short, clean=clean, progress=progress, renders=renders, plans=plans)


def _rendered_portrait(drawn: Drawn, number: int, tell: Callable[[float], None]) -> Portrait | None:
    from lightsim.picture.portrait import Quality, portrait_of

    lit = drawn.illumination(number)
    quality: Quality = "clean" if drawn.clean else "preview"
    return None if lit is None else portrait_of(lit, drawn.lights[number].placed, quality=quality, progress=tell)


def _portrait(drawn: Drawn) -> list[Variant]:
    from lightsim.picture.portrait import portrait_picture

    portraits: dict[int, Portrait] = drawn.rendered(PORTRAIT)
    darker = {number: round(stops or 0.0, 1) + 0.0 for number, stops in enumerate(stops_darker(drawn.reports))}
    titles = [f"Lit as at {name}" if drawn.one_rig and name else name for name in drawn.titles]
    alike = drawn.each(
        lambda number: portrait_picture(portraits[number], title=titles[number]), "A beetle in", only=portraits
    )
    if not alike:
        return []
    if not any(darker.values()):
        return [Variant("", "", alike)]
    same = drawn.each(
        lambda number: portrait_picture(portraits[number], title=titles[number], stops=darker[number]),
        "A beetle with the same flash in",
        only=portraits,
    )
    return [
        Variant("alike", "all exposed alike", alike),
        Variant("same-flash", "the same flash setting for all", same),
    ]


def _rendered_shine(drawn: Drawn, number: int, tell: Callable[[float], None]) -> Shine | None:
    from lightsim.picture.shine import shine_of

    tell(0.0)
    lit = drawn.illumination(number)
    return None if lit is None else shine_of(drawn.lights[number], lit)


def _highlight(drawn: Drawn) -> list[Variant]:
    from lightsim.picture.shine import ball_picture, wing_case_picture

    shines: dict[int, Shine] = drawn.rendered("highlight")
    if not shines:
        return []
    balls = drawn.each(
        lambda number: ball_picture(shines[number], drawn.reports[number], title=drawn.titles[number]),
        "The highlight on a ball",
        only=shines,
    )
    cases = drawn.each(
        lambda number: wing_case_picture(shines[number], title=drawn.titles[number]),
        "The highlight on a wing case",
        only=shines,
    )
    return [Variant("ball", "on a ball, such as an eye", balls), Variant("wing-case", "on a wing case", cases)]


def _source(drawn: Drawn) -> list[Variant]:
    from lightsim.measure.source_map import source_map
    from lightsim.picture.source import source_picture

    maps = [source_map(light, view=drawn.view(number)) for number, light in enumerate(drawn.lights)]
    pictures = drawn.each(
        lambda number: source_picture(maps[number], drawn.reports[number], title=drawn.titles[number]),
        "What the subject sees",
    )
    return [Variant("", "", pictures)]


def _edge(drawn: Drawn) -> list[Variant]:
    from lightsim.measure.profiles import edge_shadows
    from lightsim.picture.shadow import edge_chart

    return _both_ways(lambda way: edge_chart(edge_shadows(drawn.lights, direction=way)), "The shadow of an edge")


def _hair(drawn: Drawn) -> list[Variant]:
    from lightsim.measure.profiles import hair_shadows
    from lightsim.picture.shadow import hair_picture

    return _both_ways(lambda way: hair_picture(hair_shadows(drawn.lights, direction=way)), "The shadow of a hair")


def _falloff(drawn: Drawn) -> list[Variant]:
    from lightsim.picture.charts import falloff_of

    return [Variant("", "", (Picture(falloff_of(drawn.lights), "", "Light behind the subject"),))]


def _across(drawn: Drawn) -> list[Variant]:
    from lightsim.measure.curves import across_curve, across_offsets
    from lightsim.picture.charts import across_chart

    rigs = [light.placed for light in drawn.lights]

    def draw(way: Direction) -> Figure:
        places = across_offsets(rigs, way)
        return across_chart([across_curve(light, _own(light, places, way), way) for light in drawn.lights])

    return _both_ways(draw, "Light across the field")


def _own(light: Light, places: NDArray[np.float64], way: Direction) -> NDArray[np.float64]:
    """Those places that lie in a design's own field."""
    edge = light.placed.field[0 if way == "x" else 1] / 2
    return places[np.abs(places) <= edge * (1 + 1e-9)]


def _both_ways(draw: Callable[[Direction], Figure], kind: str) -> list[Variant]:
    ways: tuple[tuple[Direction, str, str], ...] = (
        ("x", "across", "from left to right"),
        ("y", "up-down", "up and down"),
    )
    return [Variant(key, words, (Picture(draw(way), "", f"{kind}, {words}"),)) for way, key, words in ways]


def _budget(drawn: Drawn) -> list[Variant]:
    from lightsim.measure.budget import budget_of
    from lightsim.picture.budget import budget_picture

    budgets = [budget_of(light, name) for light, name in zip(drawn.lights, drawn.names, strict=True)]
    return [Variant("", "", (Picture(budget_picture(budgets), "", "Where each lumen went"),))]


def _size_cost(drawn: Drawn) -> list[Variant]:
    from lightsim.picture.charts import size_cost_chart

    if drawn.one_rig:
        return []
    return [Variant("", "", (Picture(size_cost_chart(drawn.reports), "", "Apparent size against light lost"),))]


def _rig(drawn: Drawn) -> list[Variant]:
    from lightsim.light.paths import paths_of
    from lightsim.picture.rig import front_picture, side_picture

    paths = [paths_of(light) for light in drawn.lights]
    placed = [light.placed for light in drawn.lights]
    side = drawn.each(lambda n: side_picture(placed[n], paths[n]), "The rig from the side")
    front = drawn.each(lambda n: front_picture(placed[n], paths[n]), "The rig from the subject")
    return [Variant("side", "from the side", side), Variant("front", "from the subject", front)]


def _plans(drawn: Drawn) -> dict[int, Plan]:
    """The plans by the number of the design, under the names that pictures give them."""
    count = len(drawn.lights)
    found = {number: plan for number in range(count) if (plan := drawn.plan(number)) is not None}
    return {n: replace(plan, title=drawn.short[n] if count > 1 else drawn.names[n]) for n, plan in found.items()}


def _power(drawn: Drawn) -> list[Variant]:
    from lightsim.picture.ladder import ladder_picture

    plans = list(_plans(drawn).values())
    return [Variant("", "", (Picture(ladder_picture(plans), "", "Which power the shot takes"),))] if plans else []


def _frames(drawn: Drawn) -> list[Variant]:
    from lightsim.picture.focus import focus_picture
    from lightsim.shot.rocking import chances

    plans, found = _plans(drawn), []
    for number, plan in plans.items():
        shot, focus = drawn.lights[number].placed.rig.shot, plan.focus
        times = {"sway_time": shot.sway_time, "frame_time": shot.frame_time}
        found.append(np.array(chances(_FRAMES, depth=focus.depth, sway=focus.sway, **times)))
    if not plans:
        return []
    return [Variant("", "", (Picture(focus_picture(list(plans.values()), found), "", "How many frames to take"),))]


def _cut(drawn: Drawn) -> list[Variant]:
    from lightsim.pattern.pattern import pattern_of_placed
    from lightsim.picture.pattern import pattern_picture

    patterns = {}
    for number, light in enumerate(drawn.lights[:1] if drawn.one_rig else drawn.lights):
        if light.placed.rig.diffuser:
            found = pattern_of_placed(light.placed)
            if found.pieces:
                patterns[number] = found
    if not patterns:
        return []
    titles = ("",) if drawn.one_rig else drawn.titles
    pictures = drawn.each(lambda n: pattern_picture(patterns[n], title=titles[n]), "The pieces of", only=patterns)
    return [Variant("", "", pictures)]


SECTIONS: tuple[Section, ...] = (
    Section(
        PORTRAIT,
        "A beetle in this light",
        "An invented beetle with shiny wing cases, eyes and fine hairs, on a leaf of its own that leans toward the "
        "lens. Look at the highlights, and at the shadow on the leaf under it.",
        "Exposure",
        _portrait,
        _rendered_portrait,
    ),
    Section(
        "highlight",
        "The highlight",
        "The highlight mirrors the light: large and grey keeps the colour under it, small and white burns a hole. "
        "What is mirrored below is the leaf.",
        "Highlight",
        _highlight,
        _rendered_shine,
    ),
    Section(
        "source",
        "The light as the subject sees it",
        "In the subject's place, looking at the lens. Large and even is soft; a small bright patch is hard. The scale "
        "is the same for all designs.",
        "",
        _source,
    ),
    Section(
        "edge",
        "The shadow of an edge",
        "From shadow on one side to full light on the other: the longer the way, the softer the shadow.",
        "Direction",
        _edge,
    ),
    Section(
        "hair",
        "The shadow of a hair",
        "Light goes round a fine hair: the larger the light looks, the fainter the shadow.",
        "Direction",
        _hair,
    ),
    Section(
        "falloff",
        "How the light falls off",
        "A curve that drops steeply leaves the background dark; a flat one lights it as well.",
        "",
        _falloff,
    ),
    Section(
        "field",
        "How even the light is across the field",
        "A level curve lights the whole frame alike; where it drops, the edge of the picture is darker.",
        "Direction",
        _across,
    ),
    Section(
        "budget",
        "Where the light went",
        "Each bar is all the light that the heads emit. What is swallowed or flies past can be worked on.",
        "",
        _budget,
    ),
    Section(
        "cost",
        "What softness costs",
        "Further up is softer, further right is darker: the best bargain lies at the upper left.",
        "",
        _size_cost,
    ),
    Section(
        "rig",
        "The rig, drawn to scale",
        "Lines are true paths of light, coloured by what was swallowed on the way. Light that flies past is not in the "
        "colour: look where lines leave the picture, and where they end.",
        "View",
        _rig,
    ),
    Section(
        "pieces",
        "The pieces to cut",
        "Drawn as their backs are seen, all of one design to one scale. For patterns at full size: lightsim pattern "
        "with the name of the rig and --pdf, --svg or --dxf.",
        "",
        _cut,
    ),
    Section(
        "power",
        "Which power the shot takes",
        "Each bar is the ladder of power settings, from the least to full. What is left above the mark pays for a "
        "larger diffuser, a smaller aperture or a lower ISO.",
        "",
        _power,
    ),
    Section(
        "frames",
        "How many frames to take",
        "Hand-held, most frames miss the plane of focus. The curve tells how many to take until one is likely to have "
        "it.",
        "",
        _frames,
    ),
)
