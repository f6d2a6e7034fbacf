"""How pictures of designs are drawn section by section, and rendered beside each other meanwhile."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from threading import Event
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

from matplotlib.figure import Figure

from lightsim.light.light import Light
from lightsim.measure.report import Report

if TYPE_CHECKING:
    from lightsim.measure.view import View
    from lightsim.picture.illumination import Illumination
    from lightsim.shot.plan import Plan


class Progress(Protocol):
    """What is told how far the work is: the share that is done, from 0 to 1, and what is being done now."""

    def __call__(self, share: float, text: str | None = None) -> None: ...


class Picture(NamedTuple):
    """A figure and what stands below it; name is its alternative text where the figure brings none."""

    figure: Figure
    caption: str
    name: str
    design: int | None = None  # number of the design that it is of; None where it is of all


class Variant(NamedTuple):
    """Pictures that are seen together."""

    key: str  # in the names of files, where a section has several
    label: str  # on its switch
    pictures: tuple[Picture, ...]


Renders = dict[tuple[str, int], Future[Any]]  # done or under way, by the section's key and the design's number


@dataclass(frozen=True)
class Drawn:
    """What pictures are made of; what several of them need is made once."""

    lights: tuple[Light, ...]  # titled by the full names of the designs
    reports: tuple[Report, ...]
    short: tuple[str, ...]  # names for titles of pictures and captions
    clean: bool = False
    views: dict[int, View] = field(default_factory=dict)
    lit: dict[int, Illumination | None] = field(default_factory=dict)
    plans: dict[int, Plan] = field(default_factory=dict)
    renders: Renders = field(default_factory=dict)

    @property
    def names(self) -> tuple[str, ...]:
        """What to call each design."""
        return tuple(report.title for report in self.reports)

    @property
    def one_rig(self) -> bool:
        """Whether all are one rig at its magnifications, so that none of them can be chosen in place of another."""
        rigs = [light.placed.rig.model_copy(update={"title": ""}) for light in self.lights]
        return all(rig == rigs[0] for rig in rigs)

    @property
    def titles(self) -> tuple[str, ...]:
        """Short names as titles of pictures, empty where there is one design."""
        return self.short if len(self.reports) > 1 else ("",)

    def view(self, number: int) -> View:
        """What the subject sees of a design's light."""
        from lightsim.measure.view import view_of

        if number not in self.views:
            self.views[number] = view_of(self.lights[number])
        return self.views[number]

    def illumination(self, number: int) -> Illumination | None:
        """A design's light as samples for rendering; None where there is none to expose by."""
        from lightsim.picture.illumination import illumination_of

        if number not in self.lit:
            self.lit[number] = illumination_of(self.lights[number], self.view(number))
        return self.lit[number]

    def plan(self, number: int) -> Plan | None:
        """The plan of a design's shot, under its full name; None where no light falls on the side to photograph."""
        from lightsim.shot.plan import has_plan, plan_of

        if number not in self.plans and has_plan(self.reports[number]):
            self.plans[number] = plan_of(self.lights[number], self.reports[number])
        return self.plans.get(number)

    def rendered(self, key: str) -> dict[int, Any]:
        """What the section of this key has rendered, by design; without those that no light falls on."""
        found = {number: self.renders[key, number].result() for number in range(len(self.lights))}
        return {number: each for number, each in found.items() if each is not None}

    def each(
        self,
        draw: Callable[[int], Figure],
        kind: str,
        *,
        caption: bool = False,
        only: Iterable[int] | None = None,
    ) -> tuple[Picture, ...]:
        """A picture a design. kind: what it shows; caption: whether the design's name stands below, or in it;
        only: numbers of the designs, by default all."""
        return tuple(
            Picture(
                draw(number),
                self.short[number] if caption and len(self.short) > 1 else "",
                f"{kind}: {self.names[number]}",
                number,
            )
            for number in (range(len(self.names)) if only is None else only)
        )


class Section(NamedTuple):
    """Pictures under a heading."""

    key: str  # of its anchor on the page
    heading: str
    help: str  # how to read them, in a sentence or two
    switch: str  # what its variants differ in; empty where there is one
    draw: Callable[[Drawn], Sequence[Variant]]
    render: Callable[[Drawn, int, Callable[[float], None]], Any] | None = None  # of one design, told the share done


def named(light: Light, report: Report, name: str) -> tuple[Light, Report]:
    """The same under another title: pictures name their curves and bars by it."""
    rig = light.placed.rig.model_copy(update={"title": name})
    return replace(light, placed=replace(light.placed, rig=rig)), replace(report, title=name)


def drawn_sections(
    designs: Sequence[tuple[Light, Report]],
    wanted: Sequence[Section],
    *,
    short: Sequence[str] | None = None,
    clean: bool = False,
    progress: Progress | None = None,
    renders: Renders | None = None,
    plans: Mapping[int, Plan] | None = None,
) -> Iterator[tuple[Section, Sequence[Variant]]]:
    """Sections and their pictures, those that need no rendering first: the others are rendered beside, meanwhile.

    designs : light and report of each, titled as they are to be called (named); short : what titles of pictures call
    them, by default the same; renders : of these designs that an earlier call made, with the new ones added
    plans : by the number of the design, where they are made already
    """
    lights, reports = tuple(light for light, _ in designs), tuple(report for _, report in designs)
    drawn = Drawn(lights, reports, tuple(short or (report.title for report in reports)), clean)
    drawn.plans.update(plans or {})
    if renders is not None:
        drawn = replace(drawn, renders=renders)
    plain = [section for section in wanted if section.render is None]
    heavy = [(section, section.render) for section in wanted if section.render is not None]
    shares: dict[tuple[str, int], float] = {}

    def tell(text: str) -> None:
        if progress is not None:
            progress(sum(shares.values()) / (len(wanted) * len(designs) or 1), text)

    stopped = Event()

    def begun(section: Section, number: int, render: Callable[[Drawn, int, Callable[[float], None]], Any]) -> Any:
        def part(share: float) -> None:
            if stopped.is_set():
                raise CancelledError
            shares[section.key, number] = share
            tell(f"rendering: {section.heading.lower()}")

        return render(drawn, number, part)

    if heavy:
        from lightsim.picture.beetle import beetle

        beetle()  # before several threads make one each
    pool = ThreadPoolExecutor(os.cpu_count())
    try:
        for section, render in heavy:
            for number in range(len(designs)):
                if (section.key, number) not in drawn.renders:
                    drawn.illumination(number)  # before others ask for it in several threads at once
                    drawn.renders[section.key, number] = pool.submit(begun, section, number, render)
        for section in [*plain, *(section for section, _ in heavy)]:
            tell(f"drawing: {section.heading.lower()}")
            yield section, section.draw(drawn)
            shares.update({(section.key, number): 1.0 for number in range(len(designs))})
    finally:
        # Whoever breaks off does not wait for what is still to be rendered.
        stopped.set()
        pool.shutdown(cancel_futures=True)
    tell("")
