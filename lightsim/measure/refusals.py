"""What is wrong with readings, in words: those of their file, or those of the command that they were typed into."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from lightsim.rig.errors import RigError, closest, fault, file_name, given, paragraph, quoted

_NOT_A_NUMBER = ("float_type", "int_type", "float_parsing")
_BOUNDS = {"greater_than_equal": "this is too small", "less_than_equal": "this is too large"}


def refused(error: ValidationError, kind: type[BaseModel], where: str, options: Mapping[str, str]) -> RigError:
    """The first fault that a model found in its data, in words.

    where : what the data are, such as the name of their file
    options : by key, the options of a command that the data come from, which take the place of keys; none for files
    """
    # A misspelt key is also a missing one, and tells more.
    first = min(error.errors(include_url=False), key=lambda each: each["type"] != "extra_forbidden")
    loc = [part for part in first["loc"] if not str(part).startswith(("function-", "tuple", "nullable"))]
    described, known = _described(kind, loc)
    allowed, _, remedy = described.partition("; try ")
    option = next((options[str(part)] for part in reversed(loc) if str(part) in options), "")
    if options:
        allowed, remedy = _as_typed(allowed), _as_typed(remedy)
    key = ""
    for part in loc:
        key += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if key else str(part)
    value, sort = first["input"], first["type"]
    if sort == "value_error":
        words = str(first["ctx"]["error"]).rstrip(". ")
        words = words if "Allowed:" in words else f"{words}. Allowed: {allowed}"
        key = option if options else key
        words = in_options(words, options)
        return RigError(paragraph(f"{file_name(where)}: {f'{key}: ' if key else ''}{words}."))
    if sort == "extra_forbidden":
        near = closest(str(loc[-1]), known)
        return fault(
            where,
            key,
            what=f"the key {quoted(str(loc[-1]))} is not known",
            allowed=", ".join(known),
            remedy=f"{quoted(near)}, if you meant that" if near else "leaving it out",
        )
    if sort == "missing":
        before = f"{option} " if option.startswith("--") else "" if option else f"{loc[-1]} = "
        remedy = f"{before}{remedy}" if remedy and not isinstance(loc[-1], int) else "adding it"
        return fault(where, what=f"{option or key} is missing", allowed=allowed or ", ".join(known), remedy=remedy)
    what = _BOUNDS.get(sort) or ("this must be a number" if sort in _NOT_A_NUMBER else "this cannot be used")
    remedy = remedy or (f"{first['ctx'].get('ge', first['ctx'].get('le')):g}" if sort in _BOUNDS else "another value")
    shown = f"{option} {given(value)}" if option else f"{key} = {given(value)}"
    remedy = f"{option} {remedy}" if option.startswith("--") and remedy != "another value" else remedy
    return fault(where, shown, what=what, allowed=allowed or "what docs/measure.md says", remedy=remedy)


def in_options(text: str, options: Mapping[str, str], typed: Mapping[str, str] = MappingProxyType({})) -> str:
    """A complaint about keys as one about options: "white_card = 0.1" becomes "--white-card 0.1".

    options : by key; typed : what was typed after each option, where it may read otherwise than the number does
    """
    before, allowed, after = text.partition(" Allowed: ")
    for name, option in options.items():
        if option in typed:
            words = f"{option} {typed[option]}".replace("\\", r"\\")
            before = re.sub(rf"(?<![\w-]){re.escape(name)} = (\([^)]*\)|[-\d.e]*\d)", words, before)
    text = f"{before}{allowed}{after}"
    for name, option in options.items():
        start = rf"(?<![\w-]){re.escape(name)}"
        text = re.sub(rf"{start} = \(([^)]*)\)", lambda found: f"{option} {found[1].replace(', ', '..')}", text)  # noqa: B023
        text = re.sub(rf"{start} = ", f"{option} ", text)
        if re.search(r"[_ ]", name):  # which no plain word has
            text = re.sub(rf"{start}(?!\w)", option, text)
    return text


def _as_typed(words: str) -> str:
    """What a file allows as one types it: no tables, and lists of marks as text."""
    marks = re.findall(r"\[([\d.]+), ([\d.]+)\]", words)
    if words.startswith("[["):
        return '"' + " ".join(":".join(mark) for mark in marks) + '"'
    return re.sub(r" or \{[^}]*\}", "", words)


def _described(kind: type[BaseModel], loc: Sequence[Any]) -> tuple[str, list[str]]:
    """The description of the last key that has one, and the keys of the table that it stands in."""
    model, described, known = kind, "", list(kind.model_fields)
    for part in loc:
        field = model.model_fields.get(str(part))
        if field is None:
            continue
        known = list(model.model_fields)
        described = field.description or next(iter(_descriptions(field.annotation)), described)
        model = next(iter(_models(field.annotation)), model)
    if loc and str(loc[-1]) not in known:
        known = list(model.model_fields)
    return described, known


def _descriptions(annotation: Any) -> list[str]:
    own = [each.description for each in getattr(annotation, "__metadata__", ()) if getattr(each, "description", None)]
    return own + [each for inner in get_args(annotation) for each in _descriptions(inner)]


def _models(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for inner in get_args(annotation) for model in _models(inner)]
