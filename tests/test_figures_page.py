"""docs/figures.md tells every figure, docs/rig-file.md every key, and what the drawings say can be read."""

import math
import re
import sys
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

import pytest
from pydantic import BaseModel, Field
from test_docs import MODELS, NUMBER, rows_of

from lightsim.measure.figure import CATALOGUE, Entry
from lightsim.picture.style import settings

DOCS = Path(__file__).parent.parent / "docs"
TEXT = (DOCS / "figures.md").read_text(encoding="utf-8")
REMAKE = "docs/figures.md is not what the code says now. Remake it: python docs/make_figures.py"


@pytest.fixture(scope="module")
def script():
    """docs/make_figures.py as a module."""
    sys.path.insert(0, str(DOCS))
    try:
        import make_figures

        yield make_figures
    finally:
        sys.path.remove(str(DOCS))


def plain(text: str) -> str:
    """One line, as it reads: without the backslashes that keep signs from being read as emphasis."""
    return " ".join(text.replace("\\", "").split())


def lacking(text: str, catalogue: dict[str, Entry]) -> list[str]:
    """What the page does not say of the figures of a catalogue."""
    sections = [plain(part) for part in re.split(r"^#{2,3} ", text, flags=re.MULTILINE)]
    found = []
    for key, entry in catalogue.items():
        mine = [part for part in sections if f"`{key}` **{entry.label.replace('{}', '...')}**" in part]
        if len(mine) != 1:
            found.append(f"{key}: {len(mine)} entries")
            continue
        start = key.removesuffix(".at").removesuffix(".stage")
        wanted = {
            "drawing": re.search(r"!\[.{20,}?\]\(drawings/figure-[\w-]+\.svg\)", mine[0]),
            "unit": entry.unit in mine[0] if entry.unit != "1" else "without unit]" in mine[0] or "in %]" in mine[0],
            "definition": plain(entry.definition) in mine[0],
            "source": f"Source: {entry.source.partition('docs/')[0]}" in mine[0],
            "limits": re.search(r"\*\*Limits\.\*\* .{40,}", mine[0]),
            "plain words": len(mine[0].partition("Definition:")[0].partition(".svg)")[2]) > 80,
            "values": re.search(rf"\| `{re.escape(start)}[^`]*`[^|]*\| [^|]+ \|( [^|]+ \|){{4}}", mine[0]),
        }
        found += [f"{key}: no {what}" for what, there in wanted.items() if not there]
    return found


def test_every_figure_has_its_entry():
    assert lacking(TEXT, CATALOGUE) == []


def test_a_new_figure_or_a_changed_one_is_found_lacking():
    cone = CATALOGUE["size.cone_angle"]
    assert lacking(TEXT, {"size.new": Entry("New", "deg", "Something new.")}) == ["size.new: 0 entries"]
    for field in fields(Entry):
        if field.name != "why_none":
            changed = replace(cone, **{field.name: "something else"})
            assert len(lacking(TEXT, {"size.cone_angle": changed})) == 1, field.name


def test_the_page_is_what_the_code_says(script):
    # Words to the letter, numbers within what another processor's rounding and their error bars leave open.
    new = script.page(script.reports())
    assert re.sub(NUMBER, "#", new).split() == re.sub(NUMBER, "#", TEXT).split(), REMAKE
    for ours, theirs in zip(re.findall(NUMBER, new), re.findall(NUMBER, TEXT), strict=True):
        assert float(ours) == pytest.approx(float(theirs), rel=0.1, abs=0.3), REMAKE


def value(name: str, column: int) -> float:
    """A value of the page's tables; column 0 is the bare flash."""
    row = re.search(rf"^\| `{re.escape(name)}` \| (.*) \|$", TEXT, flags=re.MULTILINE)
    assert row is not None, name
    return float(row[1].split(" | ")[1 + column])


def test_values_of_the_bare_flash():
    # shapes/bare-flash.toml: window of 60 x 40 mm, 55 + 80 mm above the axis, 95 + 120 + 20 - 30 mm before the subject.
    # Rectangle seen from above its middle (any optics textbook): 4 atan(a b / (2 d sqrt(4 d^2 + a^2 + b^2))); it looks
    # 2.6 degrees past the subject, which takes 0.1 %.
    wide, high, distance = 60, 40, math.hypot(135, 205)
    solid = 4 * math.atan(wide * high / (2 * distance * math.sqrt(4 * distance**2 + wide**2 + high**2)))
    assert value("size.solid_angle", 0) == pytest.approx(solid, abs=0.0005)
    # The cone of equal solid angle, 2 pi (1 - cos of its half angle) (any optics textbook).
    assert value("size.cone_angle", 0) == pytest.approx(math.degrees(2 * math.acos(1 - solid / math.tau)), abs=0.06)


@pytest.mark.parametrize(
    ("number", "words"),
    [
        # Definitions of the steradian and of the stop; a cone has 2 pi (1 - cos of its half angle).
        (4 * math.pi, r"All around is ([\d.]+) sr"),
        (2 * math.pi, r"half of it ([\d.]+) sr"),
        (math.tau * (1 - math.cos(math.radians(30))), r"a cone of 60 degrees from side to side has ([\d.]+) sr"),
        (100 * (2**0.1 - 1), r"a tenth of a stop is (\d+) %"),
        (math.log2(340 / 250), r"340 in its place would add ([\d.]+) stop"),
        # An even source: log2(pi F / solid angle) over a white card, F = ((n - 1)/(n + 1))^2 (Fresnel) at n = 1.56.
        (math.pi * (0.56 / 2.56) ** 2, r"balance lies at ([\d.]+) sr"),
        (math.degrees(2 * math.acos(1 - (0.56 / 2.56) ** 2 / 2)), r"a cone of (\d+) degrees \(derived"),
    ],
)
def test_numbers_in_the_words(number, words):
    found = re.search(words, " ".join(TEXT.split()))
    assert found is not None
    assert float(found[1]) == pytest.approx(number, abs=0.51 * 10.0 ** -len(found[1].partition(".")[2]))


def test_pages_show_every_drawing(script):
    engine = (DOCS / "engine.md").read_text(encoding="utf-8")
    for text, start, drawings in ((TEXT, "figure", script.DRAWINGS), (engine, "engine", script.ENGINE)):
        shown = dict(re.findall(rf"!\[(.+)\]\(drawings/{start}-([\w-]+)\.svg\)", text))
        assert {name: alt for alt, name in shown.items()} == {name: alt for name, (_, alt) in drawings.items()}
        files = {path.stem: path for path in (DOCS / "drawings").glob(f"{start}-*.svg")}
        assert set(files) == {f"{start}-{name}" for name in drawings}, REMAKE
        assert max(path.stat().st_size for path in files.values()) < 60_000


def unreadable(script, draw_on) -> list[str]:
    """Words of a drawing that are cut off by its edge or lie on each other."""
    with settings():
        figure, axes = script.canvas()
        draw_on(axes)
        figure.draw_without_rendering()
        boxes = [(text.get_text(), text.get_window_extent()) for text in axes.texts if text.get_text()]
    found = []
    for number, (words, box) in enumerate(boxes):
        across, up = figure.bbox.containsx, figure.bbox.containsy
        if not (across(box.x0) and across(box.x1) and up(box.y0) and up(box.y1)):
            found.append(f"{words!r} is cut off")
        found += [f"{words!r} lies on {others!r}" for others, other in boxes[:number] if box.overlaps(other)]
    return found


def test_words_of_the_drawings_can_be_read(script):
    for name, (draw_on, _) in {**script.DRAWINGS, **script.ENGINE}.items():
        assert unreadable(script, draw_on) == [], name


def test_words_that_cannot_be_read_are_found(script):
    def bad(axes):
        axes.text(45, 10, "beyond the edge")
        axes.text(10, 10, "below")
        axes.text(11, 10.5, "above")

    assert unreadable(script, bad) == ["'beyond the edge' is cut off", "'above' lies on 'below'"]


def is_number(annotation: Any) -> bool:
    """Whether a key takes a number, or a list of numbers."""
    if annotation in (int, float):
        return True
    if get_origin(annotation) is Literal or (isinstance(annotation, type) and issubclass(annotation, BaseModel)):
        return False
    return any(map(is_number, get_args(annotation)))


def undescribed(model: type[BaseModel], rows: dict[str, list[str]]) -> list[str]:
    """What the rows of a table do not say of the keys of a model. Cells: what it is, what is allowed, default, unit."""
    found = []
    for name, field in model.model_fields.items():
        key = field.alias or name
        if key == "place" or field.exclude:
            continue
        what, allowed, default, unit = rows.get(key, [""] * 4)
        number = is_number(field.annotation)
        wanted = {
            "description": what and what.replace(" ", "_") != name,
            "what is allowed": allowed and not (number and allowed == "a text"),
            "default": default,
            "unit": unit or not number,
        }
        found += [f"{model.__name__}.{key}: no {what}" for what, there in wanted.items() if not there]
    return found


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.__name__)
def test_every_key_has_description_range_and_unit(model):
    assert undescribed(model, rows_of(model)) == []


def test_a_key_without_words_is_found_undescribed():
    class Lamp(BaseModel):
        reach: float = 1.0
        glow: float = Field(default=1.0, description="how bright it is, from 0 to 9")
        tag: str = Field(default="", description="a name of 1 to 9 letters")

    sys.path.insert(0, str(DOCS))
    try:
        import make_rig_file
    finally:
        sys.path.remove(str(DOCS))
    made = re.findall(r"^\| `(\w+)` \| (.*) \|$", make_rig_file.keys(Lamp), flags=re.MULTILINE)
    assert undescribed(Lamp, {key: cells.split(" | ") for key, cells in made}) == [
        "Lamp.reach: no description",
        "Lamp.reach: no what is allowed",
        "Lamp.reach: no unit",
        "Lamp.glow: no unit",
        "Lamp.tag: no description",
    ]
