"""The page: one self-contained HTML file with findings, pictures, every figure, and the rig file itself.

No script, no network, no font from elsewhere. What users wrote is escaped wherever it stands.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import lightsim
from lightsim.light.light import Light
from lightsim.measure.findings import test_frame
from lightsim.measure.left_open import without_range
from lightsim.measure.report import CAUTIONS, Report
from lightsim.page.materials import materials_of
from lightsim.page.shot import shot_of
from lightsim.page.tables import figure_groups, limits, second_opinions
from lightsim.page.words import Told, all_changes, answer, one_rig, to_measure
from lightsim.rig.load import LoadedRig
from lightsim.sheet.stated import KNOWN, MEANING
from lightsim.shot.plan import Plan, has_plan, plan_of

if TYPE_CHECKING:
    from lightsim.page.drawing import Progress, Renders, Section

_HERE = Path(__file__).parent
_TEMPLATE, _STYLE = "page.html.jinja", "page.css"
SHOT = ("power", "frames")  # keys of the sections of pictures that stand beside the settings of the shot
_WIDE = 5  # designs from which tables stand below each other even on a wide page


@dataclass(frozen=True)
class Design:
    """A rig at one magnification with its light and its report; name: what the page calls it."""

    loaded: LoadedRig
    report: Report
    light: Light
    name: str


class RigFile(NamedTuple):
    """A rig file as it was read."""

    name: str
    title: str
    text: str
    meshes: tuple[str, ...]  # files that it needs beside itself
    sources: tuple[tuple[str, str], ...]  # source notes by key


class PictureSection(NamedTuple):
    """Pictures as the page takes them: drawn, as markup."""

    key: str
    heading: str
    help: str
    switch: str
    variants: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]  # label, (svg, caption)

    @property
    def single(self) -> bool:
        """Whether one picture is seen at a time."""
        return all(len(pictures) == 1 for _, pictures in self.variants)


def page_of(
    designs: Sequence[Design],
    *,
    footing: str,
    clean: bool = False,
    progress: Progress | None = None,
    pictures: Sequence[Section] | None = None,
    renders: Renders | None = None,
) -> str:
    """One self-contained HTML text on designs to compare, or on one rig at its magnifications.

    designs : of one rig where all have the same loaded; footing : what the error bars mean, in sentences
    clean : portraits without grain, which take about half a minute each; progress : told how far the work is
    pictures : the sections to draw, by default all; renders : as drawn_sections
    The same designs give the same text.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    told = [Told(each.loaded, each.report, each.light.placed, each.name) for each in designs]
    single = one_rig(told)
    names = [each.name for each in designs]
    if single:
        names = [f"{each.report.magnification:g}x" for each in designs]
    reports = [each.report for each in designs]
    plans = {n: plan_of(each.light, each.report) for n, each in enumerate(designs) if has_plan(each.report)}
    sections, letters, thumbnails = _drawn(designs, names, clean, progress, pictures, renders, plans)
    beside = [section for section in sections if section.key in SHOT]
    environment = Environment(
        loader=FileSystemLoader(_HERE), autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=StrictUndefined
    )
    rigs = list({id(each.loaded): (each.loaded, "" if single else each.name) for each in designs}.values())
    return environment.get_template(_TEMPLATE).render(
        style=Markup(_style()),
        letters=Markup(letters),
        thumbnails=thumbnails[:1] if single else thumbnails,
        answer=answer(told),
        single=single,
        narrow=len(designs) >= _WIDE,
        about=" ".join(designs[0].loaded.rig.about.split()) if single else "",
        rows=_rows([section for section in sections if section.key not in SHOT]),
        shot=shot_of(list(plans.values()), [names[number] for number in plans]) if plans else None,
        shot_rows=_rows(beside),
        changes=all_changes(told),
        groups=figure_groups(reports, names),
        limits=limits(reports, names),
        measure=to_measure(told),
        without_range=without_range(reports),
        frames=[
            (name if len(designs) > 1 else "", test_frame(report)) for name, report in zip(names, reports, strict=True)
        ],
        materials=materials_of(rigs),
        material_words=(MEANING, KNOWN),
        second=second_opinions(reports, names),
        footing=footing,
        cautions=CAUTIONS,
        files=tuple(_file(loaded) for loaded, _ in rigs),
        inches=any(loaded.rig.unit == "inch" for loaded, _ in rigs),
        seed=reports[0].seed,
        error=designs[0].light.error,
        version=lightsim.__version__,
    )


def _drawn(
    designs: Sequence[Design],
    short: Sequence[str],
    clean: bool,
    progress: Progress | None,
    pictures: Sequence[Section] | None,
    renders: Renders | None,
    plans: Mapping[int, Plan],
) -> tuple[tuple[PictureSection, ...], str, list[tuple[str, str]]]:
    """The pictures as markup, the letters that they share, and small portraits with the names of their designs."""
    from markupsafe import Markup

    if pictures is not None and not pictures:
        return (), "", []
    from lightsim.page.drawing import named
    from lightsim.page.pictures import PORTRAIT, SECTIONS, pictures_of
    from lightsim.page.svg import Letters, drawing, thumbnail

    pairs = [named(each.light, each.report, each.name) for each in designs]
    wanted = SECTIONS if pictures is None else pictures
    letters, number = Letters(), 0
    found: dict[str, PictureSection] = {}
    small: list[tuple[str, str]] = []
    for section, drawn in pictures_of(
        pairs,
        short=short,
        clean=clean,
        progress=progress,
        sections=wanted,
        renders=renders,
        plans=plans,
    ):
        if section.key == PORTRAIT and drawn:
            small = [(thumbnail(picture.figure, PORTRAIT), short[picture.design or 0]) for picture in drawn[0].pictures]
        variants = []
        for variant in drawn:
            shown = []
            for picture in variant.pictures:
                markup = drawing(picture.figure, number=number, letters=letters, name=picture.name)
                shown.append((Markup(markup), picture.caption))
                number += 1
            variants.append((variant.label, tuple(shown)))
        if variants:
            words = (section.key, section.heading, section.help, section.switch)
            found[section.key] = PictureSection(*words, tuple(variants))
    return tuple(found[section.key] for section in wanted if section.key in found), letters.drawn(), small


def _rows(sections: Sequence[PictureSection]) -> list[list[PictureSection]]:
    """Sections that stand beside each other where the page is wide: those of one picture that follow each other."""
    rows: list[list[PictureSection]] = []
    for section in sections:
        if rows and section.single and rows[-1][-1].single:
            rows[-1].append(section)
        else:
            rows.append([section])
    return rows


def _style() -> str:
    """The style sheet without its comments and indents."""
    text = re.sub(r"/\*.*?\*/", "", (_HERE / _STYLE).read_text(encoding="utf-8"), flags=re.DOTALL)
    return "\n".join(line.strip() for line in text.splitlines() if line.strip())


def _file(loaded: LoadedRig) -> RigFile:
    parts = (*loaded.rig.diffuser, *loaded.rig.surroundings)
    meshes = dict.fromkeys(str(file) for part in parts if (file := getattr(part.shape, "file", None)))
    return RigFile(loaded.file, loaded.rig.title, loaded.text, tuple(meshes), tuple(loaded.sources.items()))
