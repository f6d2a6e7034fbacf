"""What the models know about a key of a file: its field, its table, its neighbours.

A file writes the placement and the shape of a part straight into the table of the part; the models keep them apart.
Here is the file's view. Paths are tuples of keys and of places in lists, which count from 0.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, get_args

from pydantic import BaseModel, BeforeValidator
from pydantic.fields import FieldInfo

from lightsim.rig.errors import shorten
from lightsim.rig.head import HeadSpec
from lightsim.rig.models import PartSpec, Rig
from lightsim.rig.placement import Placement
from lightsim.rig.units import Length
from lightsim.sheet.sheet import TABLES, Sheet

Path = tuple[str | int, ...]
NAMED_LISTS = ("head", "diffuser", "surroundings")  # lists whose entries may be called by their name
_TELLING = ("shape", "kind")  # keys that tell which of several tables is meant
_TEXTS_OF_SHEET = tuple(name for name in Sheet.model_fields if name not in TABLES)
_TO_MILLIMETRES = next(item for item in get_args(Length) if isinstance(item, BeforeValidator))


@dataclass(frozen=True)
class Known:
    """A path as the models see it."""

    field: FieldInfo | None  # of the last key; None for a key that no model knows
    owner: type[BaseModel] | None  # the table that holds the last key
    table: Any  # the data of that table
    tables: tuple[type[BaseModel], ...]  # what may stand at the path itself, if tables
    names: bool  # the keys of the table at the path are names that the user gives


def fields_of(model: type[BaseModel], table: Any) -> dict[str, FieldInfo]:
    """The keys that a table of a file may hold, in the order of the models."""
    fields = {
        field.alias or name: field
        for name, field in model.model_fields.items()
        if name != "place" and not field.exclude  # what a model works out itself is no key
    }
    if model in (HeadSpec, PartSpec):
        fields |= {field.alias or name: field for name, field in Placement.model_fields.items()}
    if model is PartSpec:
        shape = pick(_models_in(PartSpec.model_fields["shape"].annotation), table)
        if shape is not None:
            fields |= {name: field for name, field in shape.model_fields.items() if name != "shape"}
    return fields


def words_of(field: FieldInfo) -> tuple[str, ...]:
    """The words that a field allows, or that tell which of its tables is meant; none where it takes anything else."""
    fields = (model.model_fields for model in _models_in(field.annotation))
    telling = [str(each[key].default) for each in fields for key in _TELLING if key in each]
    return tuple(telling or (word for word in _leaves(field.annotation) if isinstance(word, str)))


def is_length(field: FieldInfo) -> bool:
    """Whether a field holds lengths, which files may state in inches."""
    return _TO_MILLIMETRES in field.metadata or _TO_MILLIMETRES in _leaves(field.annotation)


def look(path: Path, data: Any) -> Known:
    """What the models know of a path into the data of a file."""
    models: tuple[type[BaseModel], ...] = (Rig,)
    field, owner, table, here, names = None, None, None, data, False
    for key in path:
        if isinstance(key, int) or names:
            names = False
        else:
            owner, table = pick(models, here), here
            field = fields_of(owner, here).get(key) if owner is not None else None
            models = _models_in(field.annotation) if field is not None else ()
            if owner is PartSpec and key == "shape":
                models = ()  # in a file this is a word
            names = field is Rig.model_fields["material"]
        here = child(here, key)
    return Known(field, owner, table, models, names)


def is_number_of_sheet(path: Path) -> bool:
    """Whether a path leads to a key of a material that may be a table { value, low, high, known, source, against }.

    Keys that no model knows count too, so that they are told as such.
    """
    return len(path) == 3 and path[0] == "material" and path[2] not in _TEXTS_OF_SHEET


def pick(models: tuple[type[BaseModel], ...], table: Any) -> type[BaseModel] | None:
    """The one of several tables that is meant."""
    if len(models) == 1:
        return models[0]
    for model in models:
        for key in _TELLING:
            telling = model.model_fields.get(key)
            if telling is not None and isinstance(table, dict) and table.get(key) == telling.default:
                return model
    return None


def child(here: Any, key: str | int) -> Any:
    """What stands under a key or at a place of a list; None if nothing does."""
    if isinstance(here, dict):
        return here.get(key)
    if isinstance(here, list | tuple) and isinstance(key, int) and key < len(here):
        return here[key]
    return None


def entry_name(group: str, entry: Any) -> str | None:
    """The name by which an entry of a list is called; None if it has none."""
    if group not in NAMED_LISTS or not isinstance(entry, dict):
        return None
    name = entry.get("name", HeadSpec.model_fields["name"].default if group == "head" else None)
    return name if isinstance(name, str) else None


def key_path(path: Path, data: Any) -> str:
    """A path as users write it: lens.working_distance[1], diffuser.front.width. Places in lists count from 1."""
    text, here = "", data
    for depth, key in enumerate(path):
        if isinstance(key, str):
            text += f".{key}" if text else key
        else:
            name = entry_name(str(path[0]), child(here, key)) if depth == 1 else None
            text += f".{name}" if name else f"[{key + 1}]"
        here = child(here, key)
    return text


def spoken(path: Path, data: Any) -> str:
    """A path as messages name it: lens.working_distance[1], diffuser "front": width."""
    if len(path) > 1 and path[0] in (*NAMED_LISTS, "material"):
        group, which = str(path[0]), path[1]
        name = which if isinstance(which, str) else entry_name(group, child(child(data, group), which))
        start = f'{group} "{shorten(name)}"' if name is not None else f"{group} {int(which) + 1}"
        rest = key_path(path[2:], None)
        return f"{start}: {shorten(rest, 120)}" if rest else start
    return shorten(key_path(path, data), 120)


def _models_in(annotation: Any) -> tuple[type[BaseModel], ...]:
    return tuple(leaf for leaf in _leaves(annotation) if isinstance(leaf, type) and issubclass(leaf, BaseModel))


def _leaves(annotation: Any) -> list[Any]:
    """Everything a type is made of, in order."""
    inner = get_args(annotation)
    return [leaf for item in inner for leaf in _leaves(item)] if inner else [annotation]
