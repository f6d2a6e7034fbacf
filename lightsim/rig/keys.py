"""Numbers of a rig by their key: "lens.working_distance", "diffuser.front.width", "head.flash.up".

A key is what stands in the file, joined by points. Entries of lists are called by their name or by their number,
which counts from 1: "head.1.up", "lens.working_distance[2]". The number of a material has the same key whether it is
written plainly or as a table { value, low, high, known, source, against }: "material.copy paper.diffuse_transmittance".
"""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from pydantic import BaseModel
from pydantic_core import PydanticUndefined

from lightsim.rig.errors import RigError, alternatives, closest, either, fault, quoted
from lightsim.rig.known import (
    NAMED_LISTS,
    Path,
    child,
    entry_name,
    fields_of,
    is_length,
    is_number_of_sheet,
    key_path,
    look,
    pick,
)
from lightsim.rig.library import data_of, library_materials
from lightsim.rig.units import INCH
from lightsim.sheet.sheet import both

_LISTED = 8  # names of materials in a message
_SUGGESTED = 3  # keys in a message
_MISSPELT = 0.85  # likeness (difflib) from which one key is another, misspelt
_PLACE = re.compile(r"\[(\d{1,6})\]|\.?(\d{1,6})(?=$|[.\[])")


def with_value(data: Mapping[str, Any], key: str, value: float | int | str | bool) -> dict[str, Any]:
    """Data of a rig file with one value changed, in the unit of the file; the data given stay as they are.

    Keys that the file leaves out can be set where the models know them, and so can those of library materials, which
    are then copied into the rig. The value takes the place of the whole table of a material's number: what is set is
    meant exactly, without the range and the source of what stood there. Set on one side alone, the other side keeps
    its range.
    Raises RigError for keys that do not exist. Whether the value is allowed shows when the data are validated.
    """
    changed = copy.deepcopy(dict(data))
    path, _ = find(changed, key)
    here: Any = changed
    for depth, (part, after) in enumerate(pairwise(path)):
        if child(here, part) is None:
            here[part] = _new_table(path[: depth + 1], after, changed)
        if is_number_of_sheet(path[: depth + 1]) and isinstance(here[part], dict):
            here[part] = _exact_side(here[part], int(after), value)
            return changed
        here = child(here, part)
    here[path[-1]] = value
    return changed


def find(data: Mapping[str, Any], key: str) -> tuple[Path, Any]:
    """The path of a key that holds one value, and that value in the unit of the file.

    Where the file leaves it out it is that of the models, None if they have none. Of a list of one entry that entry is
    meant. Raises RigError for keys that do not exist or hold several values.
    """
    data = _without_tables(data)
    path = _path(data, key)
    value: Any = data
    for part in path:
        value = child(value, part)
    if value is None:
        value = _left_out(path, data)
    if isinstance(value, list | tuple) and len(value) == 1:
        path, value = (*path, 0), value[0]
    if isinstance(value, list | tuple | dict | BaseModel):
        raise _several(path, data)
    return path, value


def number_keys(data: Mapping[str, Any]) -> tuple[str, ...]:
    """The keys of all numbers that stand in a file, in its order."""
    found: list[str] = []

    def walk(here: Any, path: Path) -> None:
        if isinstance(here, dict):
            for key, value in here.items():
                walk(value, (*path, key))
        elif isinstance(here, list | tuple):
            for index, value in enumerate(here):
                walk(value, (*path, index))
        elif isinstance(here, int | float) and not isinstance(here, bool):
            found.append(key_path(path, data))

    data = _without_tables(data)
    walk(data, ())
    return tuple(found)


def _without_tables(data: Mapping[str, Any]) -> dict[str, Any]:
    """The data with the numbers of materials in place of their tables."""
    materials = data.get("material")
    if not isinstance(materials, dict):
        return dict(data)
    return {
        **data,
        "material": {
            name: {key: _number(value) for key, value in sheet.items()} if isinstance(sheet, dict) else sheet
            for name, sheet in materials.items()
        },
    }


def _number(value: Any) -> Any:
    return value["value"] if isinstance(value, dict) and "value" in value else value


def _exact_side(table: dict[str, Any], side: int, value: Any) -> dict[str, Any]:
    """The table of a number of both sides with one of them set, low and high there too."""
    changed = dict(table)
    for end in ("value", "low", "high"):
        if end in table:
            changed[end] = [value if number == side else old for number, old in enumerate(both(table[end]))]
    return changed


def _path(data: Mapping[str, Any], key: str) -> Path:
    """The path of a key, its last part possibly not in the file but known to the models."""
    path: Path = ()
    rest = key
    here: Any = data
    while rest:
        step = _step(path, here, rest, data)
        if step is None:
            raise _refused(key, path, here, data)
        part, length = step
        path, rest = (*path, part), rest[length:]
        here = child(here, part)
        if here is None and isinstance(left_out := _left_out(path, data), list | tuple):
            here = left_out
        if rest.startswith("."):
            rest = rest[1:] or " "
    if not path:
        raise _refused(key, path, here, data)
    return path


def _step(path: Path, here: Any, rest: str, data: Any) -> tuple[str | int, int] | None:
    """The first part of a key and how many letters it takes; None if there is no such part."""
    if isinstance(here, list | tuple):
        if len(path) == 1 and path[0] in NAMED_LISTS:
            for index, entry in enumerate(here):
                name = entry_name(str(path[0]), entry)
                if name is not None and _begins(rest, name):
                    return index, len(name)
        found = _PLACE.match(rest)
        if found is None or not 1 <= int(found[1] or found[2]) <= len(here):
            return None
        return int(found[1] or found[2]) - 1, found.end()
    if here is not None and not isinstance(here, dict):
        return None
    fitting = [name for name in _names(path, here, data) if _begins(rest, name)]
    longest = max(fitting, key=len, default=None)
    return None if longest is None else (longest, len(longest))


def _names(path: Path, here: Any, data: Any) -> list[str]:
    """What may follow a path."""
    if isinstance(here, list | tuple):
        named = [entry_name(str(path[0]), entry) for entry in here] if len(path) == 1 else []
        return [name or str(index + 1) for index, name in enumerate(named or [None] * len(here))]
    if here is not None and not isinstance(here, dict):
        return []
    known = look(path, data)
    owner = pick(known.tables, here)
    more = library_materials() if known.names else fields_of(owner, here) if owner is not None else ()
    return list(dict.fromkeys([*(here or ()), *more]))


def _begins(rest: str, name: str) -> bool:
    return bool(name) and rest.startswith(name) and (len(rest) == len(name) or rest[len(name)] in ".[")


def _several(path: Path, data: Any) -> RigError:
    key = key_path(path, data)
    inside = [name for name in number_keys(data) if name.startswith((f"{key}.", f"{key}["))]
    inside = inside or [f"{key}.{name}" for name in _names(path, None, data)]
    return fault(
        quoted(key),
        what="this key holds several values",
        allowed=alternatives(inside, 12) or "the key of one value",
        remedy=quoted(inside[0]) if inside else "another key",
    )


def _new_table(path: Path, after: str | int, data: Any) -> Any:
    """What has to be made so that a key that the file leaves out can be set in it."""
    if len(path) == 2 and path[0] == "material":
        return data_of(library_materials()[str(path[1])], scale=_scale(data))
    value = _left_out(path, data)
    return list(value) if isinstance(after, int) and isinstance(value, list | tuple) else {}


def _left_out(path: Path, data: Any) -> Any:
    """The value that the models give to what a file leaves out, in the unit of the file."""
    if len(path) in (3, 4) and path[0] == "material" and path[1] not in (child(data, "material") or {}):
        sheet = library_materials().get(str(path[1]))
        value = None if sheet is None else getattr(sheet, str(path[2]), None)
        if path[2] == "thickness" and value is not None:
            value /= _scale(data)
        return child(value, path[3]) if len(path) == 4 else value
    field = look(path, data).field
    if field is None or field.default is PydanticUndefined or field.default is None:
        return None
    value = field.default
    if isinstance(path[-1], int) and isinstance(value, tuple):
        value = value[path[-1]]
    if is_length(field):
        scale = _scale(data)
        return tuple(v / scale for v in value) if isinstance(value, tuple) else value / scale
    return value


def _scale(data: Any) -> float:
    """How many mm the unit of a file has."""
    return INCH if data.get("unit") == "inch" else 1.0


def _refused(key: str, path: Path, here: Any, data: Mapping[str, Any]) -> RigError:
    """For a key of which only the path is known."""
    names = _names(path, here, data)
    within = f" in {quoted(key_path(path, data))}" if path else ""
    counted = " (places in lists count from 1)" if isinstance(here, list | tuple) else ""
    listed = _LISTED if look(path, data).names else 30
    near = closest(_end(key), names, cutoff=_MISSPELT) if path and not counted else None
    meant = [f"{key_path(path, data)}.{near}"] if near else _meant(key, data)
    return fault(
        quoted(key),
        what=f"there is no such key{within}",
        allowed=(alternatives(names, listed) or "nothing further") + counted,
        remedy=either(meant) or quoted(next(iter(names), "lens.diameter")),
    )


def _meant(key: str, data: Mapping[str, Any]) -> list[str]:
    """Keys of numbers of a rig that may be meant by one that is not there: the same misspelt, or with the same end."""
    from difflib import SequenceMatcher

    keys = [*number_keys(data), *number_keys({"material": _ready_materials(data)})]
    misspelt = closest(key, keys, cutoff=_MISSPELT)
    if misspelt:
        return [misspelt]
    end = _end(key)
    end = closest(end, map(_end, keys), cutoff=_MISSPELT) or end
    alike = [each for each in keys if f"_{_end(each)}".endswith(f"_{end}")]
    alike.sort(key=lambda each: (_end(each) != end, -SequenceMatcher(None, key[:100], each[:100]).ratio()))
    near = closest(key, keys)
    return alike[:_SUGGESTED] if end and alike else [near] if near else []


def _end(key: str) -> str:
    """The last name of a key, without a place in a list."""
    return key.rpartition("[")[0 if key.endswith("]") else 2].rpartition(".")[2].strip()


def _ready_materials(data: Mapping[str, Any]) -> dict[str, Any]:
    """The tables of those materials of the library that the parts of a rig are made of."""
    own = data.get("material") or {}
    parts = [part for group in ("diffuser", "surroundings") for part in data.get(group) or ()]
    names = dict.fromkeys(str(part.get("material")) for part in parts if isinstance(part, dict))
    layers = [str(layer) for sheet in own.values() if isinstance(sheet, dict) for layer in sheet.get("layers") or ()]
    ready = library_materials()
    return {
        name: data_of(ready[name], scale=_scale(data))
        for name in (*names, *layers)
        if name in ready and name not in own
    }
