"""Write docs/figures.md, the page on every figure, and the drawings of that page and of docs/engine.md.

    python docs/make_figures.py

Labels, definitions, units and sources are those of lightsim.measure.figure.CATALOGUE; the values are those of the ready
designs, traced anew (a few seconds). The plain words are in docs/figure_topics.py, the drawings in
docs/figure_drawings.py and docs/engine_drawings.py.
"""

from __future__ import annotations

import re
import sys
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from engine_drawings import DRAWINGS as ENGINE
from figure_drawings import DRAWINGS
from figure_topics import INTRODUCTION, TOPICS, VOCABULARY, Topic
from matplotlib.axes import Axes
from matplotlib.figure import Figure as Canvas
from sketch import HEIGHT, WIDTH

import lightsim
from lightsim.cli.main import DEFAULT_DESIGNS
from lightsim.measure.figure import CATALOGUE, Entry, Figure
from lightsim.measure.groups import GROUPS, Group, find
from lightsim.measure.report import Report
from lightsim.measure.rounding import is_share, shown
from lightsim.picture.style import bare_canvas, settings

HERE = Path(__file__).parent
PAGE = HERE / "figures.md"
FOLDER = HERE / "drawings"
_DIGITS = 3
_STAGES = ("as mounted", "diffuser", "surroundings")
_USUAL = Entry("", "", "").why_none  # so common a reason for a dash that the page says it once
_ANY = Figure("", "", None, None, None, "1", "", "")
# Where docs/theory.md proves the figures, by how their names begin.
_THEORY = {
    "size": "101-apparent-size",
    "clearance": "101-apparent-size",
    "exposure": "1011-the-shot",
    "illuminance": "102-illuminance-and-modelling",
    "modelling": "102-illuminance-and-modelling",
    "highlight": "103-highlight-on-a-ball",
    "shadow": "104-shadows",
    "falloff": "105-falloff",
    "loss": "106-light-lost",
    "budget": "5-forward-cloud",
}


def reports() -> list[Report]:
    """The ready designs that compare takes by default, each at its first magnification."""
    return [lightsim.report(lightsim.trace(lightsim.load(name))) for name in DEFAULT_DESIGNS]


def belonging(key: str, names: Sequence[str]) -> list[str]:
    """The figures of a report that an entry of the catalogue stands for."""
    if key in names:
        return [key]
    start = {"falloff.at": "falloff.", "loss.stage": "loss.", "budget": "budget."}.get(key, f"{key}_")
    return [name for name in names if name.startswith(start) and name not in CATALOGUE]


def slug(heading: str) -> str:
    """The name that a heading has in links."""
    return re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")


def cell(figure: Figure | None) -> str:
    """A value for the table, rounded to what its error bar allows; a dash where the design has none."""
    return "–" if figure is None or figure.value is None else shown(figure, digits=_DIGITS).value


def rows(topic: Topic, designs: Sequence[Report]) -> Iterator[str]:
    """The lines of the table of a topic: each figure with its unit and its values in the designs."""
    for key in topic.entries:
        if key in ("loss.stage", "budget"):
            summed = _stages if key == "loss.stage" else _shares
            yield from summed(designs)
            continue
        for name in belonging(key, [figure.name for figure in designs[-1].figures]):
            found = [find(report, name) for report in designs]
            unit = next((shown(figure).unit for figure in found if figure is not None), "")
            yield f"| `{name}` | {unit or 'number'} | {' | '.join(map(cell, found))} |"


def _stages(designs: Sequence[Report]) -> Iterator[str]:
    """Stops lost by stages, those of all parts of the diffuser in one line."""
    for stage in _STAGES:
        cells = []
        for report in designs:
            parts = [f for f in report.figures if f.name in belonging("loss.stage", [f.name])]
            others = [f for f in parts if f.name.removeprefix("loss.") not in (_STAGES[0], _STAGES[2])]
            mine = others if stage == "diffuser" else [f for f in parts if f.name == f"loss.{stage}"]
            cells.append(f"{sum(f.value or 0.0 for f in mine):.2f}" if mine else "–")
        words = "all parts of the diffuser together" if stage == "diffuser" else f"`loss.{stage}`"
        yield f"| {words} | stops | {' | '.join(cells)} |"


def _shares(designs: Sequence[Report]) -> Iterator[str]:
    """Where the light went, summed over the parts."""
    for start, words in (
        ("budget.absorbed by", "`budget.absorbed by ...`, all parts together"),
        ("budget.escaped past", "`budget.escaped past ...`, all together"),
        ("budget.lost by ending paths", "`budget.lost by ending paths`"),
    ):
        sums = [sum(f.value or 0.0 for f in report.figures if f.name.startswith(start)) for report in designs]
        yield f"| {words} | % | {' | '.join(f'{100 * each + 0.0:.1f}' for each in sums)} |"


def wrapped(text: str, indent: str = "") -> str:
    """A paragraph in lines of at most 120 letters; indent: of all but the first."""
    return textwrap.fill(
        " ".join(text.split()), 120, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )


def entries(topic: Topic) -> Iterator[str]:
    """What the catalogue says of the figures of a topic, those that are defined alike in one paragraph."""
    alike: dict[tuple[str, str, str, str], list[str]] = {}
    for key in topic.entries:
        found = CATALOGUE[key]
        unit = found.unit
        if unit == "1":
            shares = any(is_share(replace(_ANY, name=name)) for name in (key, f"{key}_x", f"{key}."))
            unit = "a share, shown in %" if shares else "a number without unit"
        said = (unit, found.definition, found.source, found.why_none)
        alike.setdefault(said, []).append(f"`{key}` **{found.label.replace('{}', '...')}**")
    for (unit, definition, source, why), names in alike.items():
        anchor = _THEORY[topic.entries[0].partition(".")[0]]
        source = source.replace("docs/theory.md", f"[theory](theory.md#{anchor})")
        dash = "" if why == _USUAL else f" A dash means: {why}."
        definition = definition.replace("*", r"\*")  # kept from being read as emphasis
        yield wrapped(f"- {', '.join(names)} [{unit}]. {definition} Source: {source}.{dash}", "  ")


def section(topic: Topic, designs: Sequence[Report]) -> str:
    """The text of a topic."""
    _, alt = DRAWINGS[topic.drawing]
    return "\n".join(
        [
            f"### {topic.heading}",
            "",
            f"![{alt}](drawings/figure-{topic.drawing}.svg)",
            "",
            "\n\n".join(wrapped(paragraph) for paragraph in topic.words.split("\n\n")),
            "",
            "Definition:",
            "",
            *entries(topic),
            "",
            f"| figure | unit | {' | '.join(report.title for report in designs)} |",
            f"| --- | --- |{' --- |' * len(designs)}",
            *rows(topic, designs),
            "",
            wrapped(f"**Limits.** {topic.limits}"),
            "",
        ]
    )


def topics_of(group: Group) -> list[Topic]:
    """The topics of a group of the report."""
    starts = tuple(start.rstrip(".") for start in group.starts)
    return [topic for topic in TOPICS if topic.entries[0].partition(".")[0] in starts]


def page(designs: Sequence[Report]) -> str:
    """The whole page."""
    contents = []
    parts = []
    for group in GROUPS:
        mine = topics_of(group)
        links = ", ".join(f"[{topic.heading.lower()}](#{slug(topic.heading)})" for topic in mine)
        contents.append(wrapped(f"- [{group.heading}](#{slug(group.heading)}): {links}", "  "))
        parts += [f"## {group.heading}\n", *(section(topic, designs) for topic in mine)]
    words = [f"| {word} | {meaning} |" for word, meaning in VOCABULARY]
    made = {"@stage": DRAWINGS["stage"][1], "@contents": "\n".join(contents), "@words": "\n".join(words)}
    first = INTRODUCTION
    for name, text in made.items():
        first = first.replace(name, text)
    return first.strip() + "\n\n" + "\n".join(parts).strip() + "\n"


def canvas() -> tuple[Canvas, Axes]:
    """A picture and axes for a drawing. To be called, and drawn on, within settings()."""
    figure, axes = bare_canvas((WIDTH / 10, HEIGHT / 10))
    axes.set_position((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set_xlim(0, WIDTH)
    axes.set_ylim(0, HEIGHT)
    return figure, axes


def draw() -> None:
    """Write all drawings."""
    for start, drawings in (("figure", DRAWINGS), ("engine", ENGINE)):
        for name, (draw_on, alt) in drawings.items():
            with settings():
                figure, axes = canvas()
                draw_on(axes)
                about = {"Date": None, "Creator": None, "Title": alt}
                figure.savefig(FOLDER / f"{start}-{name}.svg", format="svg", metadata=about)


def main() -> None:
    """Write the page and its drawings."""
    draw()
    PAGE.write_text(page(reports()), encoding="utf-8")
    print(f"{PAGE} is written.", file=sys.stderr)


if __name__ == "__main__":
    main()
