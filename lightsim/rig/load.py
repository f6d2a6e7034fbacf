"""Rig files: read, validated as a whole, placed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from lightsim.rig.errors import RigError, alternatives, closest, fault, given, naming, quoted
from lightsim.rig.faults import rig_error
from lightsim.rig.library import design_files, library_materials
from lightsim.rig.models import NAMED_ANCHORS, Rig
from lightsim.rig.place import PlacedRig, place
from lightsim.rig.reading import parse, plain, read_text
from lightsim.rig.units import INCH
from lightsim.sheet import Sheet

_CAMERA = ("camera", "camera body", "body")  # what has two places to measure from


@dataclass(frozen=True)
class LoadedRig:
    """A validated rig and where it came from."""

    rig: Rig  # lengths in mm
    folder: Path  # where the paths of meshes begin
    file: str  # its name in messages
    sources: Mapping[str, str] = field(default_factory=dict)  # source notes by key
    data: Mapping[str, Any] = field(default_factory=dict)  # what the file says, in its own unit, without source notes


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
    return load_data(parse(text.removeprefix("\ufeff"), file=file), file=file, folder=folder)


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
    clean, notes = plain(dict(data), file=file)
    scale = INCH if clean.get("unit") == "inch" else 1.0
    try:
        rig = Rig.model_validate(clean, context={"scale": scale})
    except ValidationError as error:
        raise rig_error(error, data=clean, file=file) from None
    _check_names(rig, clean, file)
    return LoadedRig(rig, folder or Path(), file, {**(sources or {}), **notes}, clean)


def material(loaded: LoadedRig, name: str) -> Sheet:
    """The sheet of this name, the rig's own before the library's. Raises RigError if there is none."""
    sheet = loaded.rig.material.get(name) or library_materials().get(name)
    if sheet is None:
        raise _unknown_material(loaded.rig, loaded.file, "", name)
    return sheet


def placed(loaded: LoadedRig, index: int = 0) -> PlacedRig:
    """The rig at its index-th magnification, in world coordinates.

    Raises RigError as place does, with the name of the file, and IndexError for an index that there is not.
    """
    count = len(loaded.rig.camera.magnification)
    if not 0 <= index < count:
        raise IndexError(f"magnification {index} of {count}")
    with naming(loaded.file):
        return place(loaded.rig, materials=lambda name: material(loaded, name), folder=loaded.folder, index=index)


def _check_names(rig: Rig, data: dict[str, Any], file: str) -> None:
    """Anchors and materials that parts name must exist."""
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


def _unknown_material(rig: Rig, file: str, where: str, name: str) -> RigError:
    library = library_materials()
    own = f"{alternatives(rig.material, 8)} of this file, " if rig.material else ""
    near = closest(name, [*rig.material, *library])
    return fault(
        file,
        f"{where}{': ' if where else ''}material = {given(name)}",
        what="this material is not known",
        allowed=f"{own}{alternatives(library, 40)} of the library",
        remedy=f"{f'{quoted(near)}, or' if near else 'one of these, or'} write your own [material.{quoted(name)}]",
    )
