"""Ready designs and the library of materials, which come with the package as TOML files."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path, PurePath
from types import MappingProxyType
from typing import Any

from pydantic import ValidationError

import lightsim
from lightsim.rig.errors import RigError, alternatives, closest, fault, quoted, shorten
from lightsim.rig.files import make_folder, write_safely
from lightsim.sheet import Sheet

MATERIALS = "materials.toml"


@dataclass(frozen=True)
class Design:
    """A ready design: its name on the command line, and what its file says about it."""

    name: str
    title: str
    about: str


def folder_of_designs() -> Path:
    """The folder with the ready designs: in the package once installed, beside it in a source tree.

    Raises RigError if there is none.
    """
    package = Path(str(lightsim.__path__[0]))
    for folder in (package / "shapes", package.parent / "shapes"):
        if folder.is_dir():
            return folder
    raise fault(
        package / "shapes",
        what="the folder of the ready designs is missing",
        allowed="a whole installation",
        remedy="installing lightsim again",
    )


def design_files() -> dict[str, Path]:
    """The files of the ready designs by name."""
    return {path.stem: path for path in sorted(folder_of_designs().glob("*.toml")) if path.name != MATERIALS}


def designs() -> tuple[Design, ...]:
    """All ready designs by name, read no further than title and description."""
    read = ((name, _read(path)) for name, path in design_files().items())
    return tuple(
        Design(name, str(data.get("title", name)), " ".join(str(data.get("about", "")).split())) for name, data in read
    )


def design_path(name: str) -> Path:
    """The file of a ready design. Raises RigError, with the nearest name, if there is no such design."""
    known = design_files()
    if name in known:
        return known[name]
    near = closest(name, known)
    raise fault(
        quoted(name),
        what="there is no ready design of this name",
        allowed=alternatives(known),
        remedy=quoted(near) if near else "one of these",
    )


def library_materials() -> Mapping[str, Sheet]:
    """The sheets of the library by name. Raises RigError if the library cannot be read."""
    return _materials(folder_of_designs() / MATERIALS)


def new_file(name: str, path: Path | str, *, replace: bool = False) -> tuple[Path, ...]:
    """Write a rig file from a ready design, with the meshes it needs next to it, and return what was written.

    The first comment, which tells how to copy a ready design, names the new file instead.
    Raises RigError for an unknown design, for a file that exists already (unless replace), and if a file cannot be
    written.
    """
    source, target = design_path(name), Path(path)
    text = source.read_text(encoding="utf-8")
    meshes = {target.parent / mesh: (source.parent / mesh).read_bytes() for mesh in _mesh_files(text)}
    begun = f"# {shorten(target.stem)}: a rig file for lightsim, begun from the ready design {name}."
    text = re.sub(r"\A# [^\n]*lightsim new [^\n]*", lambda _: begun, text)
    # The rig file goes first: if its name is taken, nothing at all is written.
    written = [write_safely(target, text, replace=replace)]
    for place, content in meshes.items():
        if not (place.is_file() and place.read_bytes() == content):
            make_folder(place.parent)
            written.append(write_safely(place, content, replace=replace))
    return tuple(written)


def _mesh_files(text: str) -> list[str]:
    data = tomllib.loads(text)
    parts = [*data.get("diffuser", ()), *data.get("surroundings", ())]
    files = [str(part["file"]) for part in parts if part.get("shape") == "mesh"]
    return [file for file in files if not PurePath(file).is_absolute() and ".." not in PurePath(file).parts]


@cache
def _materials(path: Path) -> Mapping[str, Sheet]:
    sheets = {}
    for name, values in _read(path).get("material", {}).items():
        try:
            sheets[name] = Sheet.model_validate(values)
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            key = ".".join(str(part) for part in first["loc"])
            raise _spoilt(path, f"material {quoted(name)}: {key}: {first['msg']}") from None
    return MappingProxyType(sheets)


def _read(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise _spoilt(path, f"this file of the installation cannot be read ({error})") from None


def _spoilt(path: Path, what: str) -> RigError:
    return fault(path, what=what, allowed="the file as it came", remedy="installing lightsim again")
