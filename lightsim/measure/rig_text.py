"""Changes to the text of a rig file that leave the owner's other lines and comments as they are.

A text is taken apart into statements: headings and keys with their values. After a change it is read again and must say
what it said before but for what was to be changed; where it does not, nothing is done and the owner is told so.
"""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from lightsim.rig.errors import RigError, alternatives, fault, file_name, given, quoted
from lightsim.rig.reading import STRINGS, parse

Key = tuple[str | int, ...]
_UNNAMED = "flash"  # what a head without a name is called


@dataclass(frozen=True)
class _Statement:
    """Lines of a text from start to end: a heading or a key with its value, or neither (blank lines and comments)."""

    start: int
    end: int
    table: Key = ()  # that it stands in, or heads
    key: Key = ()  # of the whole text, empty where it is neither
    is_heading: bool = False
    is_blank: bool = False


def with_material(text: str, name: str, table: str, *, file: str, replace: bool = False) -> str:
    """The text of a rig file with one more material, at its end, or in place of the one of this name.

    table : its text, as lightsim.measure.reading_files.material_text writes it; replace : whether it may take a place
    Raises RigError if there is a material of this name that may not be replaced, and if the text cannot be changed.
    """
    data = parse(text, file=file)
    materials = data.get("material", {})
    new = tomllib.loads(table)["material"][name]
    if not isinstance(materials, dict) or name not in materials:
        end = _line_end(text)
        changed = f"{text.rstrip()}{2 * end}{_with_ends(table, end)}"
        return _sure(changed, data, ("material", name), new, file=file)
    if not replace:
        raise fault(
            file,
            f"material {quoted(name)}",
            what="the rig has a material of this name already, which was left as it is",
            allowed="a name that the rig does not use",
            remedy="another name, --replace, or --to with a new file",
        )
    changed = _exchanged(text, ("material", name), table, file=file)
    return _sure(changed, data, ("material", name), new, file=file)


def with_head(text: str, index: int, lines: Sequence[str], *, gone: Sequence[str] = (), file: str) -> str:
    """The text of a rig file with other lines for one of its heads, each in place of what the head had under its key.

    index : of the head in the file; gone : keys that the head loses and no line gives
    Raises RigError if the text cannot be changed.
    """
    data, new = parse(text, file=file), tomllib.loads("\n".join(lines))
    head = copy.deepcopy(data["head"][index])
    head = {key: value for key, value in head.items() if key not in (*new, *gone)} | new
    changed = _exchanged(text, ("head", index), "\n".join(lines) + "\n", keys=(*new, *gone), file=file)
    return _sure(changed, data, ("head", index), head, file=file)


def head_named(text: str, name: str | None, *, file: str) -> tuple[int, str]:
    """Which head of a rig file has this name, and the name; without a name the only one.

    Raises RigError if there is none of this name, and if there are several and none is named.
    """
    heads = parse(text, file=file).get("head")
    if not isinstance(heads, list) or not heads or not all(isinstance(head, dict) for head in heads):
        raise fault(
            file,
            what="this file has no head",
            allowed="a rig with tables [[head]]",
            remedy="lightsim new, for a rig file",
        )
    names = [str(head.get("name", _UNNAMED)) for head in heads]
    if name is None and len(names) == 1:
        return 0, names[0]
    if name is None or name not in names:
        raise fault(
            file if name is None else f"--head {given(name)}",
            what="this rig has several heads" if name is None else f"{file_name(file)} has no head of this name",
            allowed=alternatives(names),
            remedy=f"--head {quoted(names[0])}",
        )
    return names.index(name), name


def _exchanged(text: str, owner: Key, new: str, *, keys: Sequence[str] | None = None, file: str) -> str:
    """The text with new lines in place of what it says of an owner: of these keys, or (None) the whole of it."""
    try:
        found = list(_statements(text))
    except (ValueError, KeyError, IndexError, RecursionError):
        raise _unsure(file) from None
    depth = len(owner)

    def concerned(key: Key) -> bool:
        return key[:depth] == owner and (keys is None or (len(key) > depth and key[depth] in keys))

    old = [number for number, each in enumerate(found) if concerned(each.key)]
    direct = [number for number in old if keys is None or found[number].table == owner]
    own = [number for number, each in enumerate(found) if each.table == owner and each.key]
    if not direct and not own:
        raise _unsure(file)
    place = direct[0] if direct else own[-1] + 1
    dropped = set(old)
    for number in old:
        # A heading goes with the comments between it and its last key.
        if found[number].is_heading:
            inside = [later for later in old if found[later].table == found[number].table]
            dropped |= set(range(number, inside[-1] + 1)) if _unbroken(found, number, inside[-1]) else set()
    pieces = []
    last_blank = False
    for number, each in enumerate([*found, None]):
        if number == place:
            pieces.append(_with_ends(new, _line_end(text)))
            last_blank = False
        if each is None or number in dropped:
            continue
        # Where a table stood between blank lines, one of them is enough.
        if each.is_blank and last_blank and number - 1 in dropped:
            continue
        before = text[each.start : each.end]
        pieces.append(before if before.endswith("\n") else before + _line_end(text))
        last_blank = each.is_blank
    return "".join(pieces)


def _unbroken(found: Sequence[_Statement], first: int, last: int) -> bool:
    """Whether all headings and keys between two statements are of one table."""
    return all(each.table == found[first].table for each in found[first : last + 1] if each.key)


def _statements(text: str) -> Iterator[_Statement]:
    """What a TOML text says, line by line or several lines together. Raises ValueError where that cannot be told."""
    masked = STRINGS.sub(lambda found: (" " if found[1] else '"') * len(found[0]), text)
    counts: dict[str, int] = {}
    table: Key = ()
    for start, end in _whole_lines(masked):
        piece = masked[start:end].strip()
        if not piece:
            yield _Statement(start, end, table, is_blank=not text[start:end].strip())
            continue
        path, is_list = _path(tomllib.loads(text[start:end]))
        if not piece.startswith("["):
            yield _Statement(start, end, table, (*table, *path))
            continue
        if is_list and len(path) == 1:
            counts[path[0]] = counts.get(path[0], -1) + 1
        table = (path[0], counts[path[0]], *path[1:]) if path[0] in counts else path
        yield _Statement(start, end, table, table, is_heading=True)


def _whole_lines(masked: str) -> Iterator[tuple[int, int]]:
    """Lines, or as many of them as stand in one pair of brackets."""
    start = depth = 0
    for found in re.finditer(r"[\[{]|[\]}]|\n", masked):
        depth += {"[": 1, "{": 1, "]": -1, "}": -1}.get(found[0], 0)
        if found[0] == "\n" and depth == 0:
            yield start, found.end()
            start = found.end()
    if start < len(masked):
        yield start, len(masked)


def _path(data: Any) -> tuple[tuple[str, ...], bool]:
    """The key of a text that holds one, as far as it has no other beside it, and whether a list of tables ends it."""
    path: list[str] = []
    while isinstance(data, dict) and len(data) == 1:
        ((key, data),) = data.items()
        path.append(key)
    return tuple(path), data == [{}]


def _sure(text: str, before: dict[str, Any], owner: Key, new: Any, *, file: str) -> str:
    """The text, if it says what was said before but for the owner, of which it says the new."""
    group, name = owner
    wanted = copy.deepcopy(before)
    if isinstance(name, int):
        wanted[str(group)][name] = new
    else:
        wanted[str(group)] = {**wanted.get(str(group), {}), name: new}
    try:
        found = parse(text, file=file)
    except RigError:
        raise _unsure(file) from None
    if found != wanted:
        raise _unsure(file)
    return text


def _unsure(file: str) -> RigError:
    return fault(
        file,
        what="this file is written in a way that cannot be changed surely, so it was left as it is",
        allowed='heads as tables [[head]] and materials as tables [material."name"], as in the ready designs',
        remedy="the command without --into, and your editor",
    )


def _line_end(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"


def _with_ends(text: str, end: str) -> str:
    return text.replace("\n", end)
