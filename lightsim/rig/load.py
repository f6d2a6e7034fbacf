"""Rig files: read, validated as a whole, placed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from lightsim.rig.errors import RigError, alternatives, closest, either, fault, file_name, given, naming, quoted
from lightsim.rig.faults import rig_error
from lightsim.rig.known import fields_of
from lightsim.rig.library import design_files, library_materials, near_materials
from lightsim.rig.models import Rig
from lightsim.rig.place import PlacedRig, place
from lightsim.rig.placement import NAMED_ANCHORS
from lightsim.rig.reading import parse, plain, read_text
from lightsim.rig.units import INCH
from lightsim.sheet import Sheet
from lightsim.sheet.sheet import BODY

_CAMERA = ("camera", "camera body", "body")  # what has two places to measure from
_OWN_LISTED = 3  # names of a file's own materials in a message
_ONLY_IN_RIGS = ("title", "camera", "lens", "head", "diffuser", "surroundings", "subject", "limits")
# Keys by which files of readings are known, and the command that reads them.
_READINGS = {"wall_distance": "flash", "window": "sheet", "white": "sheet", "black": "sheet"}


@dataclass(frozen=True)
class LoadedRig:
    """A validated rig and where it came from."""

    rig: Rig  # lengths in mm
    folder: Path  # where the paths of meshes begin
    file: str  # its name in messages
    sources: Mapping[str, str] = field(default_factory=dict)  # source notes by key
    data: Mapping[str, Any] = field(default_factory=dict)  # what the file says, in its own unit; the notes in sources
    text: str = ""  # the file as it was read; empty for data that came from no text


def load(rig: str | Path) -> LoadedRig:
    """Read a rig: the name of a ready design such as "white-box", or the path of a TOML file.

    A text without ending and folder is first taken as the name of a ready design; a Path is always a file.
    Raises RigError, one paragraph with file, key, what was given, what is allowed and what to try.
    """
    ready = design_files().get(rig) if isinstance(rig, str) else None
    path, file = (Path(rig), str(rig)) if ready is None else (ready, ready.name)
    return loads(read_text(path, file=file), file=file, folder=path.parent)


def loads(text: str, *, file: str = "rig", folder: Path | None = None) -> LoadedRig:
    """Read a rig from a TOML text.

    file : its name in messages; folder : where the paths of meshes begin, by default the current one
    Raises RigError as load does.
    """
    data = parse(text.removeprefix("\ufeff"), file=file)
    return replace(load_data(data, file=file, folder=folder), text=text)


def load_data(
    data: Mapping[str, Any],
    *,
    file: str = "rig",
    folder: Path | None = None,
    sources: Mapping[str, str] | None = None,
) -> LoadedRig:
    """Validate the data of a rig file, such as LoadedRig.data with one number changed (keys.with_value).

    sources : notes to keep beside those in the data
    Raises RigError as load does.
    """
    _refuse_other_files(data, file)
    clean, notes = plain(dict(data), file=file)
    _refuse_own_fields(clean, file)
    scale = INCH if clean.get("unit") == "inch" else 1.0
    try:
        rig = Rig.model_validate(clean, context={"scale": scale})
    except ValidationError as error:
        raise rig_error(error, data=clean, file=file) from None
    _check_names(rig, clean, file)
    return LoadedRig(rig, folder or Path(), file, {**(sources or {}), **notes}, clean)


def material(loaded: LoadedRig, name: str) -> Sheet:
    """The sheet of this name, the rig's own before the library's; sheets in contact become the one they amount to.

    Raises RigError if there is none, if its layers go round in a circle, and if they cannot be stacked.
    """
    made: dict[str, Sheet] = {}

    def make(this: str) -> Sheet:
        if this not in made:
            sheet = _sheet(loaded.rig, this)
            if sheet is None:
                raise _unknown_material(loaded.rig, loaded.file, "", this)
            made[this] = _stacked(loaded.file, this, sheet, [(layer, make(layer)) for layer in sheet.layers])
        return made[this]

    _check_layers(loaded.rig, [name], loaded.file)
    return make(name)


def placed(loaded: LoadedRig, index: int = 0) -> PlacedRig:
    """The rig at its index-th magnification, in world coordinates.

    Raises RigError as place does, with the name of the file, and IndexError for an index that there is not.
    """
    count = len(loaded.rig.camera.magnification)
    if not 0 <= index < count:
        raise IndexError(f"magnification {index} of {count}")
    with naming(loaded.file):
        return place(loaded.rig, materials=lambda name: material(loaded, name), folder=loaded.folder, index=index)


def _sheet(rig: Rig, name: str) -> Sheet | None:
    return rig.material.get(name) or library_materials().get(name)


def _stacked(file: str, name: str, sheet: Sheet, layers: list[tuple[str, Sheet]]) -> Sheet:
    """The sheet itself, or what its layers amount to."""
    if not layers:
        return sheet
    from lightsim.sheet.stack import stack

    try:
        amounts = stack([layer for _, layer in layers])
    except ValueError as error:
        words = error.errors()[0]["msg"] if isinstance(error, ValidationError) else str(error)
        with naming(file, f"material {quoted(name)}: layers = {given(sheet.layers)}"):
            raise RigError(words.removeprefix("Value error, ")) from None
    own: dict[str, Any] = {"about": sheet.about or amounts.about, "source": sheet.source or amounts.source}
    stated = {key: value for key in BODY if (value := getattr(sheet, key)) is not None}
    own |= {**stated, "body": {**{key: each for key, each in amounts.body.items() if key not in stated}, **sheet.body}}
    return amounts.model_copy(update={**own, "made_of": tuple(layers)})


def _check_layers(rig: Rig, names: Iterable[str], file: str) -> None:
    """The layers of materials, and theirs, must exist and end in sheets with numbers."""
    sound: set[str] = set()

    def walk(name: str, chain: tuple[str, ...]) -> None:
        sheet = _sheet(rig, name)
        layers = sheet.layers if sheet else ()
        where, chain = f"material {quoted(name)}", (*chain, name)
        for number, layer in enumerate(layers, 1):
            if _sheet(rig, layer) is None:
                raise _unknown_material(rig, file, where, layer, key=f"layers[{number}]")
            if layer in chain:
                first, *others = [*chain[chain.index(layer) :], layer]
                circle = [quoted(first), quoted(others[0]), *(f", that of {quoted(other)}" for other in others[1:])]
                another = f"another name for this one, such as {quoted(f'double {name}'[:60])}"
                raise fault(
                    file,
                    f"{where}: layers = {given(layers)}",
                    what=f"this goes round in a circle: {' is made of '.join(circle[:2])}{''.join(circle[2:6])}",
                    allowed="layers that end in materials with numbers",
                    remedy=another
                    if name in library_materials()
                    else f"numbers in place of layers for {quoted(layer)}",
                )
            if layer not in sound:
                walk(layer, chain)
        sound.add(name)

    for name in names:
        walk(name, ())


def _refuse_other_files(data: Mapping[str, Any], file: str) -> None:
    """Materials, readings and beams, as lightsim measure writes them, are told as such and not as incomplete rigs."""
    if not data or any(key in data for key in _ONLY_IN_RIGS):
        return
    rig = "a rig file, with title, camera, lens and at least one head"
    materials = data.get("material")
    kind = next((kind for key, kind in _READINGS.items() if key in data), None)
    if isinstance(materials, dict) and materials:
        name = str(next(iter(materials)))
        table = "its table" if len(materials) == 1 else "the table that you want, such as"
        raise fault(
            file,
            what=f"this file holds materials ({alternatives(map(str, materials), _OWN_LISTED)}), no rig",
            allowed=rig,
            remedy=f"copying {table} [material.{quoted(name)}], into a rig file (lightsim measure ... --into RIG does "
            f"so) and naming it in a part there: material = {quoted(name)}",
        )
    if kind is not None:
        path = file_name(file)
        raise fault(
            file,
            what=f"these are readings of a {kind}, no rig",
            allowed=rig,
            remedy=f"lightsim measure {kind} --readings {quoted(path) if ' ' in path else path}, which makes a "
            f"{'material' if kind == 'sheet' else 'beam'} of them",
        )
    if all(isinstance(table, dict) and "beam" in table for table in data.values()):
        raise fault(
            file,
            what="this file holds beams of a flash, no rig",
            allowed=rig,
            remedy="copying the lines of one zoom setting into a [[head]] of a rig file",
        )


def _refuse_own_fields(data: dict[str, Any], file: str) -> None:
    """What Sheet works out from the tables of its numbers and from its layers is no key of a file."""
    own = {key: "layers" for key, field in Sheet.model_fields.items() if field.exclude}
    own["origins"] = own["body"] = "low, high, known and source in the tables of its numbers"
    materials = data.get("material")
    for name, values in materials.items() if isinstance(materials, dict) else ():
        for key, remedy in own.items():
            if isinstance(values, dict) and key in values:
                raise fault(
                    file,
                    f"material {quoted(name)}",
                    what=f"the key {quoted(key)} is not known",
                    allowed=", ".join(fields_of(Sheet, values)),
                    remedy=remedy,
                )


def _check_names(rig: Rig, data: dict[str, Any], file: str) -> None:
    """Anchors and materials that parts and stacks name must exist."""
    _check_layers(rig, rig.material, file)
    anchors = [*NAMED_ANCHORS, *(item.name for item in rig.heads_and_parts)]
    for group in (key for key in data if key in ("head", "diffuser", "surroundings")):
        for item in getattr(rig, group):
            where = f"{group} {quoted(item.name)}"
            if item.place.anchor not in anchors:
                near = closest(item.place.anchor, anchors)
                remedy = '"shoe" or "lens"' if item.place.anchor.casefold() in _CAMERA else quoted(near or "subject")
                raise fault(
                    file,
                    f"{where}: from = {given(item.place.anchor)}",
                    what="there is no head, part or place of this name",
                    allowed=alternatives(anchors, 12),
                    remedy=remedy,
                )
            if group != "head" and item.material not in rig.material and item.material not in library_materials():
                raise _unknown_material(rig, file, where, item.material)


def _unknown_material(rig: Rig, file: str, where: str, name: str, *, key: str = "material") -> RigError:
    own = f"{alternatives(rig.material, _OWN_LISTED)} of this file, or " if rig.material else ""
    near = either(near_materials(name, rig.material)) or (either([next(iter(rig.material))]) if rig.material else "")
    return fault(
        file,
        f"{where}{': ' if where else ''}{key} = {given(name)}",
        what="this material is not known",
        allowed=f"{own}the {len(library_materials())} of the library, all named by: lightsim materials",
        remedy=f"{near or 'one of them'}, or write your own [material.{quoted(name)}]",
    )
