"""What pydantic found wrong with a rig, told to a photographer: key, what was given, what is allowed, what to try."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any

from pydantic import ValidationError

from lightsim.rig import meant
from lightsim.rig.beam import Beam
from lightsim.rig.errors import (
    LONGEST,
    RigError,
    alternatives,
    closest,
    either,
    file_name,
    given,
    paragraph,
    quoted,
    shorten,
    told,
)
from lightsim.rig.head import HeadSpec
from lightsim.rig.known import NAMED_LISTS, Known, Path, child, fields_of, look, spoken, words_of
from lightsim.sheet.sheet import BY_SIDE, SHARES, Sheet

MOST_FAULTS = 3  # told at once; with the first ones mended the others often go
_BOUNDS = {"greater_than_equal": "ge", "less_than_equal": "le", "greater_than": "gt", "less_than": "lt"}
_NUMBER_WANTED = ("float_type", "int_type", "int_from_float", "float_parsing", "int_parsing", "int_parsing_size")
_LIST_WANTED = ("tuple_type", "list_type")
_TABLE_WANTED = ("model_type", "model_attributes_type", "dict_type", "dataclass_type")
_WRITE_NUMBER = "a number without quotes, with a point for the decimals"
_ONE_NUMBER = "one number alone"
_MORE = "docs/materials.md tells the keys apart"
_EVENLY = f'"diffuse_transmittance", for what passes evenly scattered as through paper; {_MORE}'
_STRAIGHT = f'"straight", for what passes straight through; {_MORE}'
_SENT_BACK = f'"diffuse_reflectance", for what comes back evenly as from matt paper; {_MORE}'
_SPOT = f'"forward_transmittance" and "half_value_angle", for what passes as a blurred spot; {_MORE}'
_SHINE = f'"glossy_reflectance", about 0.04 for a shiny coat, and "roughness"; {_MORE}'
_METAL = f'"metallic_reflectance", for foil and metal, and "roughness"; {_MORE}'
_HAZE = "lightsim measure film, which makes the keys of a film from transmittance and haze; see docs/materials.md"
_PAPER = "lightsim measure paper, which makes the keys of a paper from opacity and grammage; see docs/materials.md"
_THICKNESS = f'"thickness", in the unit of the file; {_MORE}'
_GRAMMAGE = f'"grammage", in g/m2; {_MORE}'
# What people call the numbers of a sheet: whole keys first, then their words in the order in which they stand.
_MEANT = {
    **dict.fromkeys(("direct_transmittance", "regular_transmittance", "specular_transmittance"), _STRAIGHT),
    **dict.fromkeys(("transmittance", "transmission", "transmissivity", "translucency"), _EVENLY),
    **dict.fromkeys(("clear", "transparency"), _STRAIGHT),
    **dict.fromkeys(("forward", "spot", "lobe", "angle"), _SPOT),
    **dict.fromkeys(("reflectance", "reflection", "reflectivity", "albedo", "white"), _SENT_BACK),
    **dict.fromkeys(("gloss", "glossy", "shine", "shiny", "specular", "coat", "coating", "fresnel"), _SHINE),
    **dict.fromkeys(("metal", "metallic", "mirror", "foil"), _METAL),
    **dict.fromkeys(("haze", "clarity"), _HAZE),
    **dict.fromkeys(("opacity", "brightness", "whiteness"), _PAPER),
    **dict.fromkeys(("thickness", "thick", "caliper", "calliper"), _THICKNESS),
    **dict.fromkeys(("grammage", "gsm", "weight", "mass"), _GRAMMAGE),
    **dict.fromkeys(
        ("absorption", "absorptance", "absorbed", "black"), "leaving it out: what no key names is absorbed"
    ),
}
# What data sheets call the full angle of a flash, whole keys.
_FULL_ANGLES = (
    *("coverage", "coverage_angle", "angle_of_coverage", "flash_coverage", "full_angle", "beam_angle", "field_angle"),
    *("illumination_angle", "angle_of_illumination", "lighting_angle", "angle_of_view", "spread"),
)
_MISSPELT = 0.88  # likeness (difflib) from which a key, or a word of one, is another that is misspelt


def rig_error(error: ValidationError, *, data: Any, file: str) -> RigError:
    """The first few faults of a file, in the order of the file, as one paragraph."""
    faults = [(_path(fault["loc"]), fault) for fault in error.errors(include_url=False)]
    # Of a list with a faulty entry pydantic also says that it is too short.
    broken = {path[:depth] for path, _ in faults for depth in range(len(path))}
    found = sorted(
        (item for item in faults if item[1]["type"] != "too_short" or item[0] not in broken),
        key=lambda item: _order(item[0], data),
    )
    sentences: list[str] = []
    for path, fault in found[:MOST_FAULTS]:
        sentence = shorten(_sentence(path, dict(fault), data), 600)
        if sentences and sum(map(len, sentences)) + len(sentence) > LONGEST - 250:
            break
        sentences.append(sentence)
    if len(sentences) > 1:
        sentences = [f"({number}) {sentence}" for number, sentence in enumerate(sentences, 1)]
    more = len(found) - len(sentences)
    if more:
        sentences.append(f"There {'is 1 more fault' if more == 1 else f'are {more} more faults'}.")
    return RigError(paragraph(f"{file_name(file)}: {' '.join(sentences)}"))


def _path(loc: tuple[str | int, ...]) -> Path:
    """The path in the file: pydantic also names tables that only the models have, and the kind of table it tried."""
    path: list[str | int] = []
    index = 0
    while index < len(loc):
        key = loc[index]
        in_entry = len(path) == 2 and path[0] in NAMED_LISTS and isinstance(path[1], int)
        in_material = len(path) in (2, 3) and path[0] == "material"
        if in_entry and key == "shape" and path[0] != "head" and index + 1 < len(loc):
            index += 1  # and the kind of shape after it
        elif not (
            (in_entry and key == "place")
            or (in_material and key in ("one", "sides"))
            or (key == "[key]" and index == len(loc) - 1)
        ):
            path.append(key)
            if len(path) > 1 and path[-2] == "holes" and isinstance(key, int):
                index += 1  # the kind of hole
        index += 1
    return tuple(path)


def _order(path: Path, data: Any) -> list[int]:
    order, here = [], data
    for key in path:
        if isinstance(here, dict):
            keys = list(here)
            order.append(keys.index(key) if key in here else len(keys))
        else:
            order.append(key if isinstance(key, int) else 0)
        here = child(here, key)
    return order


def _sentence(path: Path, fault: dict[str, Any], data: Any) -> str:
    kind, value = fault["type"], fault["input"]
    if kind == "missing" and path and isinstance(path[-1], int):
        path = path[:-1]  # of a list that is too short, what is missing is no key
        kind = "too_short"
    known = look(path, data)
    key = spoken(_written(path, data), data)
    if kind == "extra_forbidden":
        return _unknown_key(path, data, known)
    if kind == "missing":
        return _missing(path, data, known)
    if kind.startswith("union_tag"):
        return _unknown_kind(path, data, known)
    allowed, remedy = _described(known)
    remedy = meant.example(remedy, known, of_list=isinstance(path[-1] if path else "", int))
    if kind == "value_error":
        what, own_allowed, own_remedy = _parts(str(fault["ctx"]["error"]))
        where = key if isinstance(value, dict) or not path else f"{key} = {given(value)}"
        if own_remedy and own_remedy.startswith("it without quotes"):
            several = isinstance(value, list | tuple)
            own_remedy = meant.sizes_from(value, data, known) if known.owner is Beam else ""
            own_remedy = own_remedy or meant.number_from(value, data, known) or _WRITE_NUMBER
            own_remedy = _ONE_NUMBER if several else own_remedy
        elif own_fraction := meant.fraction_from(value, known):
            own_remedy = own_fraction
        own_remedy = own_remedy or (meant.number_from(value, data, known) if isinstance(value, str) else "")
        return told(where, what=what, allowed=own_allowed or allowed, remedy=own_remedy or remedy or "another value")
    what, allowed, remedy = _wrong_value(kind, value, path, fault.get("ctx") or {}, data, known)
    return told(f"{key} = {given(value)}", what=what, allowed=allowed, remedy=remedy)


def _wrong_value(
    kind: str, value: Any, path: Path, ctx: dict[str, Any], data: Any, known: Known
) -> tuple[str, str, str]:
    """What is wrong, what is allowed and what to try for a value of a key that is known."""
    allowed, remedy = _described(known)
    remedy = meant.example(remedy, known, of_list=bool(path) and isinstance(path[-1], int))
    if isinstance(value, float) and not math.isfinite(value):
        return "this is not a number that one could measure", allowed, remedy or "a plain number, such as 1.5"
    if kind in _BOUNDS:
        side = "too small" if kind.startswith("greater") else "too large"
        return f"this is {side}", allowed, meant.within(value, ctx, data, known) or remedy or "a number in that range"
    if kind in _NUMBER_WANTED:
        if isinstance(value, float):
            return "this must be a whole number", allowed, f"{value:.0f}" if abs(value) < 1e15 else "a whole number"
        if isinstance(value, int) and not isinstance(value, bool):
            return "this number is too large to be used", allowed, remedy or "fewer digits"
        if isinstance(value, list | tuple):
            same = known.owner is Sheet and path[-1] in SHARES and path[-1] not in BY_SIDE
            return "this must be a number", allowed, "one number, the same both ways" if same else _ONE_NUMBER
        return "this must be a number", allowed, meant.number_from(value, data, known) or remedy or _WRITE_NUMBER
    if kind == "literal_error":
        words = words_of(known.field) if known.field else ()
        near = closest(value, words) if isinstance(value, str) else None
        return "this word is not known", alternatives(words), quoted(near or (words[0] if words else ""))
    if kind in ("too_short", "too_long"):
        size = len(value) if isinstance(value, list | tuple | dict | str) else 0
        few = "few" if kind == "too_short" else "many"
        return (
            f"this holds too {few} entries ({size})",
            allowed,
            remedy or f"{'more' if few == 'few' else 'fewer'} of them",
        )
    if kind in _LIST_WANTED:
        if isinstance(value, dict) and len(path) == 1:
            return "this must be a list of tables", allowed, f"double brackets, [[{path[0]}]]"
        own = meant.sizes_from(value, data, known)
        if not own and "," not in remedy:  # one number may stand for a list of one
            own = meant.number_from(value, data, known)
        remedy = own or remedy or "square brackets around it, even for one"
        return "this must be a list in square brackets", allowed, remedy
    if kind in _TABLE_WANTED:
        if isinstance(value, list) and len(path) == 1:
            return "this must be one table", allowed, f"single brackets, [{path[0]}]"
        return "this must be a table", allowed, remedy or "braces around its keys, as in { key = 1 }"
    if kind in ("string_type", "string_too_short", "string_too_long", "string_pattern_mismatch"):
        what = {
            "string_type": "this must be a text",
            "string_too_short": "this text is empty",
            "string_too_long": "this text is too long",
        }.get(kind, "this text has letters that cannot be used")
        return what, allowed, "a text in quotes" if kind == "string_type" else "a short text of plain letters"
    if kind.startswith("bool"):
        return "this must be true or false", allowed, "true or false, without quotes"
    return "this cannot be used", allowed, remedy or "another value"


def _unknown_key(path: Path, data: Any, known: Known) -> str:
    words = list(fields_of(known.owner, known.table)) if known.owner else []
    near = closest(str(path[-1]), words)
    where = spoken(path[:-1], data) if len(path) > 1 else ""
    remedy = f"{quoted(near)}, if you meant that" if near else "leaving it out"
    if known.owner in (Beam, HeadSpec) and str(path[-1])[:60].casefold().replace(" ", "_") in _FULL_ANGLES:
        half = meant.half_of(_at(path, data))
        remedy = f"{half if known.owner is Beam else f'beam = {{ {half} }}'}, half of each full angle of a data sheet"
        if "=" not in half:
            remedy = '"half_value_angle" in its beam, half of each full angle of a data sheet'
    if known.owner is Sheet:
        remedy = _meant(str(path[-1]), words) or (remedy if near else f"leaving it out; {_MORE}")
    return told(where, what=f"the key {quoted(str(path[-1]))} is not known", allowed=", ".join(words), remedy=remedy)


def _meant(key: str, words: Sequence[str]) -> str:
    """What to try in place of a key of a material that people call otherwise; empty if it is not one of theirs."""
    key = key[:60].casefold().replace(" ", "_").replace("-", "_")
    if key in _MEANT:
        return _MEANT[key]
    if closest(key, words, cutoff=_MISSPELT):
        return ""
    first, _, rest = key.partition("_")
    alike = [word for word in words if first and word.partition("_")[0] == first]
    if alike:
        near = closest(key, alike, cutoff=0.0) if rest else None
        return f"{either([near] if near else alike)}, if you meant that; {_MORE}"
    near = next(filter(None, (closest(word, _MEANT, cutoff=_MISSPELT) for word in key.split("_"))), None)
    return _MEANT[near] if near else ""


def _missing(path: Path, data: Any, known: Known) -> str:
    allowed, remedy = _described(known)
    key = str(path[-1])
    where = spoken(path[:-1], data) if len(path) > 1 else ""
    if not remedy:
        remedy = f"a line that begins with {key} ="
        if known.tables:
            remedy = f"adding a table [[{key}]]" if key in NAMED_LISTS else f"adding a table [{key}]"
    else:
        remedy = f"{key} = {remedy}"
    return told(where, what=f"the key {quoted(key)} is missing", allowed=allowed, remedy=remedy)


def _unknown_kind(path: Path, data: Any, known: Known) -> str:
    """For shapes and holes whose kind is missing or not known."""
    path = path if path[-1] == "shape" else (*path, "kind")
    key, value, words = str(path[-1]), _at(path, data), words_of(known.field) if known.field else ()
    allowed, first = alternatives(words), quoted(words[0])
    if value is None:
        what = f"the key {quoted(key)} is missing"
        return told(spoken(path[:-1], data), what=what, allowed=allowed, remedy=f"{key} = {first}")
    near = closest(value, words) if isinstance(value, str) else None
    where, what = f"{spoken(path, data)} = {given(value)}", f"this {key} is not known"
    return told(where, what=what, allowed=allowed, remedy=quoted(near) if near else first)


def _described(known: Known) -> tuple[str, str]:
    """What a key allows, and what to try, from the description of its field."""
    if known.field is None:
        return "what the documentation of rig files lists", ""
    words = words_of(known.field)
    text = known.field.description or (alternatives(words) if words else "")
    allowed, _, remedy = text.partition("; try ")
    return allowed, remedy


def _parts(message: str) -> tuple[str, str, str]:
    """A message of ours, "what. Allowed: a. Try b", in its three parts; missing ones are empty."""
    found = re.fullmatch(r"(.*?)(?:\.? Allowed: (.*?))?(?:\.? Try (.*?))?\.?", message, re.DOTALL)
    return (found[1], found[2] or "", found[3] or "") if found else (message, "", "")


def _written(path: Path, data: Any) -> Path:
    """The path as far as the file has it: models make a list or a table of one number."""
    for depth, key in enumerate(path, 1):
        data = child(data, key)
        if data is not None and not isinstance(data, dict | list | tuple):
            return path[:depth]
    return path


def _at(path: Sequence[str | int], data: Any) -> Any:
    for key in path:
        data = child(data, key)
    return data
