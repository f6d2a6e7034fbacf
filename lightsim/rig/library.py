"""Ready designs and the library of materials, which come with the package as TOML files."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
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
from lightsim.sheet.sheet import Origin

MATERIALS = "materials.toml"
NEAREST = 3  # names offered in place of one that is not known
# What people also call sheets of the library; within longer names it counts for less.
_ALSO_CALLED = {
    "vellum": "tracing paper",
    "drafting film": "frosted polyester",
    "drafting paper": "tracing paper",
    "polyester film": "frosted polyester",
    "parchment": "baking parchment",
    "parchment paper": "baking parchment",
    "greaseproof paper": "baking parchment",
    "baking paper": "baking parchment",
    "paper": "copy paper",
    "printer paper": "copy paper",
    "printing paper": "copy paper",
    "office paper": "copy paper",
    "wrapping paper": "tissue paper",
    "card": "white card",
    "cardboard": "kraft card",
    "glossy card": "coated card",
    "black paper": "black card",
    "foam": "packing foam",
    "acrylic": "opal acrylic",
    "opal": "opal acrylic",
    "milk jug": "milk-bottle plastic",
    "thread seal tape": "PTFE film",
    "plumber tape": "PTFE film",
    "cotton": "white cotton",
    "bed sheet": "white cloth",
    "cloth": "white cloth",
    "nylon": "white nylon",
    "ripstop": "white nylon",
    "velvet": "black felt",
    "foil": "smooth foil",
    "tin foil": "smooth foil",
    "kitchen foil": "smooth foil",
    "aluminium": "smooth foil",
    "aluminum": "smooth foil",
    "mirror film": "silver adhesive film",
    "vinyl": "white adhesive film",
    "grass": "leaf",
    "earth": "soil",
}
_MISSPELT = 0.85  # likeness of whole names (difflib) from which one is the other, misspelt
_LIKE_NAME = 0.6  # from which names without a word in common count as alike
_MISSPELT_WORD, _LIKE_WORD = 0.8, 0.65  # from which words do, and those that begin alike
_OWN = 1.5  # factor on the likeness of a file's own names
_WORTH = 0.2  # of the likeliest name's likeness: names below it are not worth a mention


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


def kinds_of_materials() -> dict[str, tuple[str, ...]]:
    """The names of the library by kind, as the lines "# Paper" of its file group them; "" where there is no such line.

    Raises RigError if the library cannot be read.
    """
    names = list(library_materials())
    # The lines lie outside what the TOML reader sees.
    found = re.findall(
        r'^# ([A-Z][^\n]{0,59})\n\n|^\[material\."([^"\n]+)"\]$',
        (folder_of_designs() / MATERIALS).read_text(encoding="utf-8"),
        flags=re.MULTILINE,
    )
    groups: dict[str, list[str]] = {}
    kind = ""
    for heading, name in found:
        if heading:
            kind = heading
        elif name in names:
            groups.setdefault(kind, []).append(name)
    left = [name for name in names if not any(name in group for group in groups.values())]
    groups |= {"": [*groups.get("", ()), *left]} if left else {}
    return {kind: tuple(group) for kind, group in groups.items()}


def near_materials(name: str, own: Iterable[str] = ()) -> tuple[str, ...]:
    """Names of materials that may be meant by one that is not known, at most NEAREST; empty if none is like it.

    own: names of the file's own materials, which go before those of the library
    Raises RigError if the library cannot be read.
    """
    own, ready = list(own), [each for each in library_materials() if each not in own]
    words = {each: _words(each) for each in (*own, *ready)}
    common = Counter(word for each in words.values() for word in set(each))
    likeness = {each: _likeness(name[:100], each, words, common) * (_OWN if each in own else 1.0) for each in words}
    least = max(_WORTH * max(likeness.values(), default=0.0), 1e-9)
    near = sorted((each for each in words if likeness[each] >= least), key=lambda each: -likeness[each])
    return tuple(sorted(near[:NEAREST], key=lambda each: each not in own))


def data_of(sheet: Sheet, *, scale: float = 1.0) -> dict[str, Any]:
    """A sheet as the table of a file, what is left at its default left out; numbers with a range or a source as tables.

    scale: how many mm the unit of the file has, for lengths
    Sheet.model_validate of it, with context={"scale": scale}, gives the same sheet.
    """
    data: dict[str, Any] = {}
    origins = {**sheet.origins, **sheet.body}
    for key, value in sheet.model_dump().items():
        plain = list(value) if isinstance(value, tuple) else value
        if key == "thickness" and value is not None:
            plain = value / scale
        if key in origins:
            unit = scale if key == "thickness" else 1.0
            data[key] = {"value": plain, **_origin(origins[key], sides=isinstance(value, tuple), scale=unit)}
        elif value != Sheet.model_fields[key].default:
            data[key] = plain
    return data


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


def _origin(origin: Origin, *, sides: bool, scale: float) -> dict[str, Any]:
    both_ends = {"low": origin.low, "high": origin.high}
    ends = {name: pair and (pair[0] / scale, pair[1] / scale) for name, pair in both_ends.items()}
    several = sides or any(pair is not None and pair[0] != pair[1] for pair in ends.values())
    data: dict[str, Any] = {name: list(pair) if several else pair[0] for name, pair in ends.items() if pair is not None}
    if origin.known is not None:
        data["known"] = origin.known
    return data | {name: text for name in ("source", "against") if (text := getattr(origin, name))}


def _words(name: str) -> tuple[str, ...]:
    """The words of a name in small letters, without the s of a plural."""
    return tuple(
        word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word
        for word in re.findall(r"[^\W_]+", name.casefold())
    )


def _likeness(name: str, other: str, words: Mapping[str, Sequence[str]], common: Mapping[str, int]) -> float:
    """How likely a name that is not known means another: 0 if nothing speaks for it.

    words: of each known name; common: in how many of them each word stands
    """
    whole, asked = _alike(name.casefold(), other.casefold()), _words(name)
    if whole >= _MISSPELT:
        return 10 + whole
    shared = 0.0
    for word in asked:  # one that few names hold tells most
        like = {each: _alike(word, each) for each in words[other] if word not in common}
        shared += (word in words[other]) / max(common[word], 1)
        shared += max((each**2 / common[key] for key, each in like.items() if _same(word, key, each)), default=0.0)
    called = 0.0
    for phrase, meant in _ALSO_CALLED.items():
        parts = _words(phrase)
        if meant == other and set(parts) <= set(asked):
            telling = sum(part not in common for part in parts)
            called = max(called, 5.0 * bool(telling) + 1.0 if len(parts) == len(asked) else 0.1 + 0.5 * telling)
    if not shared + called and whole < _LIKE_NAME:
        return 0.0
    return shared + called + 0.1 * (asked[:1] == words[other][:1]) + 0.2 * whole


def _alike(one: str, two: str) -> float:
    from difflib import SequenceMatcher

    return SequenceMatcher(None, one, two).ratio()


def _same(word: str, other: str, alike: float) -> bool:
    """Whether one word may be the other, misspelt."""
    return alike >= _MISSPELT_WORD or (alike >= _LIKE_WORD and word[0] == other[0])


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
