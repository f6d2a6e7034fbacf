"""Write docs/gallery.md and its pictures from the current code: python docs/make_gallery.py

The pictures are those of the page (lightsim.page.pictures) for four ready designs, then every ready design as a small
portrait and as a small map of what the subject sees. Takes about a minute.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

import lightsim
from lightsim.cli.main import DEFAULT_DESIGNS
from lightsim.light.light import Light
from lightsim.measure.report import Report
from lightsim.measure.report import report as plain_report
from lightsim.measure.source_map import source_map
from lightsim.measure.view import view_of
from lightsim.page.drawing import Section, named
from lightsim.page.pictures import SECTIONS, pictures_of
from lightsim.picture.illumination import illumination_of
from lightsim.picture.portrait import portrait_of, portrait_picture
from lightsim.picture.source import source_picture
from lightsim.picture.style import alternative_text, settings
from lightsim.rig.library import design_files

HERE = Path(__file__).parent
FOLDER = "gallery"
TITLE = "# Gallery"
INTRODUCTION = f"""\
What `lightsim compare --html page.html` shows of {len(DEFAULT_DESIGNS)} ready designs, and every ready design in small.
Made from the current code by `python docs/make_gallery.py`; the designs, the beetle and its leaf are invented.
Portraits are previews with a little grain in soft shadows; `--clean` renders them without."""
FOUR = "four"  # the picture of the README
EVERY = "## Every ready design"
SHEETS = {
    "portraits": "All exposed alike, so that a white card facing the lens just reaches white.",
    "sources": "What the subject sees of each light, all on one scale: white is what burns out on a shiny eye.",
}
_DOTS = 90  # per inch
_COLUMNS = 4
_ONE_VARIANT = ("portrait", "highlight", "edge", "hair", "field")  # shown in their first variant only


def shown(
    designs: Sequence[tuple[Light, Report]], sections: Sequence[Section] = SECTIONS
) -> Iterator[tuple[Section, str, Figure]]:
    """Each picture with its section and the name of its file."""
    for section, variants in pictures_of(designs, sections=sections):
        ending = "jpg" if section.render else "png"
        for place, variant in enumerate(variants[:1] if section.key in _ONE_VARIANT else variants):
            for number, picture in enumerate(variant.pictures):
                yield section, f"{section.key}-{place + 1}-{number + 1}.{ending}", picture.figure


def designs_of(names: Iterable[str]) -> list[tuple[Light, Report]]:
    """Ready designs at their first magnification, traced and reported on."""
    found = []
    for name in names:
        light = lightsim.trace(lightsim.load(name))
        report = plain_report(light)
        found.append(named(light, report, report.title))
    return found


def sheet_of(kind: str, designs: Sequence[tuple[Light, Report]]) -> Figure:
    """All designs in one picture, small."""
    columns = min(_COLUMNS, len(designs)) if kind != FOUR else 2
    rows = -(-len(designs) // columns)
    wide, high = {"sources": (3.0, 3.5), FOUR: (5.0, 4.1)}.get(kind, (3.0, 2.6))
    figure = Figure(figsize=(columns * wide, rows * high), dpi=_DOTS, layout="constrained")
    FigureCanvasAgg(figure)
    grid = figure.subplots(rows, columns, squeeze=False).ravel()
    for axes, (light, report) in zip(grid, designs, strict=False):
        seen = view_of(light)
        if kind != "sources":
            lit = illumination_of(light, seen)
            assert lit is not None
            portrait_picture(portrait_of(lit, light.placed), axes=axes)
        else:
            source_picture(source_map(light, view=seen), report, axes=axes)
            for bar in figure.axes[len(grid) :]:
                bar.remove()
            axes.get_legend().remove()
        for text in list(axes.texts):
            if not text.get_text().endswith(" mm"):  # the scale's stays
                text.remove()
        axes.set_title(report.title, loc="left", fontsize=9.5, pad=4)
    for axes in grid[len(designs) :]:
        axes.set_axis_off()
    return figure


def page(entries: Sequence[tuple[Section, str, str]]) -> str:
    """The text of the gallery. entries: section, file and alternative text of each picture."""
    lines = [TITLE, "", INTRODUCTION]
    for section in SECTIONS:
        lines += ["", f"## {section.heading}", "", section.help, ""]
        lines += [f"![{text}]({FOLDER}/{file})" for own, file, text in entries if own is section]
    lines += ["", EVERY]
    for kind, words in SHEETS.items():
        lines += ["", words, "", f"![{words}]({FOLDER}/{kind}.jpg)"]
    return "\n".join(lines) + "\n"


def save(figure: Figure, path: Path) -> None:
    """Write a figure as JPEG or PNG, by the ending of its path."""
    with settings():
        kind = {"pil_kwargs": {"quality": 85} if path.suffix == ".jpg" else {"optimize": True}}
        figure.savefig(path, dpi=_DOTS, **({"metadata": {"Software": None}} if path.suffix == ".png" else {}), **kind)


def main() -> None:
    """Write all of it."""
    folder = HERE / FOLDER
    folder.mkdir(exist_ok=True)
    for old in folder.iterdir():
        old.unlink()
    entries = []
    first = designs_of(DEFAULT_DESIGNS)
    save(sheet_of(FOUR, first), folder / f"{FOUR}.jpg")
    for section, file, figure in shown(first):
        save(figure, folder / file)
        entries.append((section, file, " ".join(alternative_text(figure).split())))
    everything = designs_of(sorted(design_files()))
    for kind in SHEETS:
        save(sheet_of(kind, everything), folder / f"{kind}.jpg")
    (HERE / "gallery.md").write_text(page(entries), encoding="utf-8")
    print(f"wrote docs/gallery.md and {len(list(folder.iterdir()))} pictures", file=sys.stderr)


if __name__ == "__main__":
    main()
