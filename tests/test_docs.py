"""The documentation is true: its reference of rig files, its examples, its links, the figures that it names."""

import copy
import importlib.util
import math
import re
import tomllib
from importlib.metadata import files
from pathlib import Path
from typing import Any, get_args

import pytest
from annotated_types import Ge, Le
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from lightsim.light.light import light_of
from lightsim.measure.figure import CATALOGUE
from lightsim.measure.report import report
from lightsim.picture.style import alternative_text
from lightsim.rig.errors import RigError
from lightsim.rig.library import folder_of_designs, library_materials
from lightsim.rig.load import load, load_data, loads, placed
from lightsim.rig.models import Limits, Rig

NUMBER = r"-?\d+(?:\.\d+)?"
ROOT = Path(__file__).parent.parent
PAGE = ROOT / "docs" / "rig-file.md"
TEXT = PAGE.read_text(encoding="utf-8")
DOCUMENTS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
EXAMPLES = re.findall(r"^```toml ?(.*)\n([^`]*)^```$", TEXT, flags=re.MULTILINE)
SMALLEST = EXAMPLES[0][1]


def models_of(annotation: Any, around: tuple[type[BaseModel], ...] = ()) -> list[type[BaseModel]]:
    """All models that a type is made of, those inside their fields included; around: those that it is itself inside."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        if annotation in around:
            return []
        fields = annotation.model_fields.values()
        inside = [model for field in fields for model in models_of(field.annotation, (*around, annotation))]
        return [annotation, *inside]
    return [model for part in get_args(annotation) for model in models_of(part, around)]


MODELS = list(dict.fromkeys(models_of(Rig)))


def tables() -> list[dict[str, list[str]]]:
    """The tables of the page: cells by key."""
    found: list[dict[str, list[str]]] = [{}]
    for line in TEXT.splitlines():
        if row := re.fullmatch(r"\| `([^`]+)` \| (.*) \|", line):
            found[-1][row[1]] = row[2].split(" | ")
        elif found[-1]:
            found.append({})
    return found


def rows_of(model: type[BaseModel]) -> dict[str, list[str]]:
    """The rows on a model: of the tables that hold all of its keys, the shortest."""
    keys = {field.alias or name for name, field in model.model_fields.items() if not field.exclude} - {"place"}
    holding = [table for table in tables() if keys <= set(table)]
    assert holding, f"docs/rig-file.md has no table with all keys of {model.__name__}: {sorted(keys)}"
    return min(holding, key=len)


def bounds(field: FieldInfo) -> tuple[list[float], list[float]]:
    """Lower and upper bounds anywhere in the type of a field."""
    marks = list(field.metadata)
    parts = [field.annotation]
    while parts:
        part = parts.pop()
        marks += part.metadata if isinstance(part, FieldInfo) else [part]
        parts += [*get_args(part), *getattr(part, "__metadata__", ())]
    return [m.ge for m in marks if isinstance(m, Ge)], [m.le for m in marks if isinstance(m, Le)]


def test_the_page_is_what_the_models_say():
    spec = importlib.util.spec_from_file_location("make_rig_file", ROOT / "docs" / "make_rig_file.py")
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    remake = "docs/rig-file.md is not what the models say now. Remake it: python docs/make_rig_file.py"
    assert script.page() == TEXT, remake
    known = {f"{m.__name__}.{field.alias or name}" for m in MODELS for name, field in m.model_fields.items()}
    assert set(script.WHAT) <= known, "docs/make_rig_file.py describes keys that no model has"


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.__name__)
def test_every_key_is_described(model):
    for key, cells in rows_of(model).items():
        assert len(cells) == 4, key
        assert all(cells[:3]), f"{model.__name__}.{key} is not described"


def test_all_tables_of_a_rig_file_are_looked_at():
    names = {model.__name__ for model in MODELS}
    assert names >= {"Rig", "Camera", "Lens", "HeadSpec", "Beam", "Placement", "PartSpec", "Subject", "Ball", "Hair"}
    assert names >= {"Limits", "Sheet", "FlatSheet", "Dome", "MeshFile", "RoundHole", "SquareWallHole", "Slit"}


def test_ranges_on_the_page_are_those_of_the_models():
    units = {"": 1, "mm": 1, "m": 1000}
    checked = 0
    for model in MODELS:
        rows = rows_of(model)
        for name, field in model.model_fields.items():
            row = rows.get(field.alias or name, ["", ""])
            if model.__name__ == "Dome" or row[1].startswith("0 or"):
                continue  # sizes limited by each other, sizes that may also be 0
            found = re.search(
                r"from (-?[\d.]+(?:e\d+)?) ?(mm|m)?(?: \(\w+\))? to (-?[\d.]+(?:e\d+)?) ?(mm|m)?\b", row[1]
            )
            if found:
                low, high = bounds(field)
                assert float(found[1]) * units[found[2] or ""] == pytest.approx(max(low)), f"{model.__name__}.{name}"
                assert float(found[3]) * units[found[4] or ""] == pytest.approx(min(high)), f"{model.__name__}.{name}"
                checked += 1
    assert checked >= 40


def merged(base: dict[str, Any], more: dict[str, Any]) -> dict[str, Any]:
    """The fragment's keys go before those of the rig that it is put into."""
    result = copy.deepcopy(base)
    for key, value in more.items():
        both = isinstance(value, dict) and isinstance(result.get(key), dict)
        result[key] = merged(result[key], value) if both else value
    return result


@pytest.mark.parametrize(("kind", "text"), EXAMPLES, ids=[str(number) for number in range(1, len(EXAMPLES) + 1)])
def test_examples_load(kind, text):
    assert kind in ("rig", "fragment"), f"say which of the two this is: ```toml {kind}"
    data = tomllib.loads(text)
    if kind == "fragment":
        with pytest.raises(RigError):
            load_data(data)
        data = merged(tomllib.loads(SMALLEST), data)
    loaded = load_data(data, folder=folder_of_designs())
    for index in range(len(loaded.rig.camera.magnification)):
        parts = placed(loaded, index).parts
        assert {spec.name for spec in (*loaded.rig.diffuser, *loaded.rig.surroundings)} <= {part.name for part in parts}


def test_there_is_an_example_of_every_shape():
    shown = {entry["shape"] for _, text in EXAMPLES for entry in tomllib.loads(text).get("diffuser", ())}
    shapes = {model.model_fields["shape"].default for model in MODELS if "shape" in model.model_fields} - {None}
    assert shown == {shape for shape in shapes if isinstance(shape, str)}
    assert len(shown) >= 8


def test_the_smallest_rig_is_the_smallest():
    data = tomllib.loads(SMALLEST)
    head = data["head"][0]
    for table, key in [
        *((data, key) for key in data),
        *((data[name], key) for name in ("camera", "lens") for key in data[name]),
        *((head, key) for key in head if key not in ("up", "toward_subject", "aim")),
    ]:
        kept = table.pop(key)
        with pytest.raises(RigError):
            load_data(data)
        table[key] = kept
    for key in ("up", "toward_subject", "aim"):  # as the page says
        del head[key]
    assert load_data(data).rig.head[0].place.up == 0


def test_inches():
    # International yard and pound agreement of 1959: 1 inch is 25.4 mm.
    text = next(text for _, text in EXAMPLES if 'unit = "inch"' in text)
    rig = loads(text).rig
    assert rig.lens.working_distance == pytest.approx((3.75 * 25.4,))
    assert rig.head[0].window == pytest.approx((2.4 * 25.4, 1.6 * 25.4))
    assert rig.head[0].guide_number == 98
    assert rig.camera.shoe_up == 55, "what is left out keeps its value in mm"


# Half of cos^m at acos 2^(-1/m), derived here; m = 1 is a Lambertian window, 60 degrees. The printed digits were
# worked out apart from the script.
@pytest.mark.parametrize(
    ("power", "half"), [(1, 60.0), (2, 45.0), (5, 29.47732), (10, 21.08735), (50, 9.51835)], ids=str
)
def test_beam_angles(power, half):
    row = re.search(rf"^\| {power} \| ([\d.]+)° \| ([\d.]+)° \| (\d+) cm", TEXT, flags=re.MULTILINE)
    assert float(row[1]) == pytest.approx(half, abs=0.05)
    # On a wall 1 m away, a point d from the middle gets I cos / r^2: half of what the middle gets. Derived here.
    angle = math.radians(float(row[2]))
    slant = 1 / math.cos(angle)
    assert math.cos(angle) ** power * math.cos(angle) / slant**2 == pytest.approx(0.5, abs=0.004 * (1 + power / 4))
    assert float(row[3]) == pytest.approx(100 * math.tan(angle), abs=0.6)


def test_every_ready_material_is_listed():
    for name, sheet in library_materials().items():
        row = re.search(rf"^\| `{re.escape(name)}` \| (.*) \|$", TEXT, flags=re.MULTILINE)
        assert row, name
        shown = row[1].split(" | ")
        assert shown[2].partition(" (")[0] == (
            f"{sheet.diffuse_transmittance:g}" if sheet.diffuse_transmittance else "–"
        )
        if sheet.diffuse_transmittance:
            origin = sheet.origins["diffuse_transmittance"]
            assert shown[2].endswith(f" ({origin.low[0]:g} to {origin.high[0]:g})")


def slug(heading: str) -> str:
    """The name that a heading of a page has in links."""
    return re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_links_lead_somewhere(document):
    # The licence goes into the wheel with its metadata, not beside the tests.
    licences = {path.name for path in files("lightsim") or () if "licenses" in path.parts}
    text = re.sub(r"^```.*?^```$|`[^`\n]*`", "", document.read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL)
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        path, _, anchor = target.partition("#")
        if re.match(r"[a-z]+:", target):
            continue
        place = document.parent / path if path else document
        assert place.exists() or path in licences, f"{document.name} links to {path}, which does not exist"
        if anchor:
            headings = re.findall(r"^#+ (.+)$", place.read_text(encoding="utf-8"), flags=re.MULTILINE)
            assert anchor in map(slug, headings), f"{document.name} links to {target}: there is no such heading"


@pytest.fixture(scope="module")
def figure_names():
    """The names of the catalogue, and those that a report gives to entries which stand for several figures."""
    light = light_of(placed(load("white-box")), points=512)
    return set(CATALOGUE) | {figure.name for figure in report(light).figures}


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_figures_have_their_names(document, figure_names):
    groups = "|".join(sorted({name.partition(".")[0] for name in CATALOGUE if "." in name}))
    pattern = rf"""[`"']((?:{groups})\.(?!py\b|md\b)\w+)[`"']"""
    for name in re.findall(pattern, document.read_text(encoding="utf-8")):
        assert name in figure_names, f"{document.name} names {name}, which is no figure"


def test_the_page_names_the_figures_of_the_limits():
    words = " ".join(cells[0] for cells in rows_of(Limits).values())
    figures = set(re.findall(r"`([a-z_.]+)`", words))
    assert len(figures) == 5
    assert figures <= set(CATALOGUE)


def test_gallery_shows_the_pictures_of_the_page():
    from lightsim.page.pictures import SECTIONS

    spec = importlib.util.spec_from_file_location("make_gallery", ROOT / "docs" / "make_gallery.py")
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    text = (ROOT / "docs" / "gallery.md").read_text(encoding="utf-8")
    remake = "docs/gallery.md is not what the code draws now. Remake it: python docs/make_gallery.py"
    shown = re.findall(r"!\[(.+)\]\(gallery/(.+)\)", text)
    files = {path.name for path in (ROOT / "docs" / "gallery").iterdir()}
    assert {file for _, file in shown} | {f"{script.FOUR}.jpg"} == files, remake
    for section in SECTIONS:
        assert f"## {section.heading}\n\n{section.help}\n" in text, remake
        assert any(file.startswith(f"{section.key}-") for file in files), remake
    # Drawn anew: what the alternative texts tell, numbers within what another processor's rounding leaves open.
    cheap = [section for section in SECTIONS if section.key in ("cost", "edge", "budget")]
    for _, file, figure in script.shown(script.designs_of(script.DEFAULT_DESIGNS), cheap):
        (old,) = (words for words, name in shown if name == file)
        new = " ".join(alternative_text(figure).split())
        assert re.sub(NUMBER, "#", new) == re.sub(NUMBER, "#", old), remake
        for ours, theirs in zip(re.findall(NUMBER, new), re.findall(NUMBER, old), strict=True):
            assert float(ours) == pytest.approx(float(theirs), rel=0.1, abs=0.3), remake
