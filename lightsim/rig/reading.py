"""From a file to plain data: reading, TOML, source notes; everything strange is refused here, before the models."""

from __future__ import annotations

import re
import tomllib
from datetime import date, datetime, time
from pathlib import Path as FilePath
from typing import Any

from lightsim.rig.errors import RigError, alternatives, closest, fault, file_name, given, quoted, shorten
from lightsim.rig.known import Path, is_number_of_sheet, key_path, spoken
from lightsim.rig.library import design_files
from lightsim.rig.meant import unquoted
from lightsim.sheet.sheet import TABLES

MOST_BYTES = 1_000_000
MOST_DEPTH = 8  # the deepest key of a rig lies 5 deep
MOST_ENTRIES = 1000
MOST_CUTS = 200  # holes and slits of a rig: dividing a large sheet with that many takes seconds
LONGEST_SOURCE = 500
_LONGEST_HEADING = 300
# Strings and comments (in the group). No possessive quantifiers: Python before 3.11.5 mismatches them.
STRINGS = re.compile(
    r'"""[^"\\]*(?:(?:\\.|"(?!""))[^"\\]*)*"""|\'\'\'[^\']*(?:\'(?!\'\')[^\']*)*\'\'\'|'
    r'"[^"\\\n]*(?:\\.[^"\\\n]*)*"|\'[^\'\n]*\'|(#)[^\n]*',
    re.DOTALL,
)
# Keys of very many parts, on which the reader would spend hours.
_LONG_KEY = re.compile(r"(?<![\w-])(?:[\w-]+[ \t]*\.[ \t]*){16}")
_HEADING = re.compile(r"\s*(\[([^\[\]\n]+)\])\s*(?:#.*)?")
_BARE_NAME = re.compile(r"\s*material\s*\.\s*([^\"'=]*?)((?:\.\w+)?)\s*")  # of a material that may need quotes
_CURLY = re.compile(r"[“”„‟«»]|(?:^|[=,.\[{])\s*[‘’‚‛]")  # in place of quotes; a single one within words is none
_WITHOUT_ZERO = re.compile(r"[=,\[]\s*\+?(-?)\.(\d+)")
_POSITION = re.compile(r"^(.*?) \(at (?:line (\d+), column (\d+)|end of document)\)$", re.DOTALL)


def read_text(path: FilePath, *, file: str) -> str:
    """The text of a file. Raises RigError if there is none, or none that could be a rig."""
    try:
        if path.is_dir():
            raise fault(
                file,
                what="this is a folder, not a file",
                allowed="a rig file (.toml) or a ready design",
                remedy=_in_folder(path) or "lightsim designs for a list",
            )
        if not path.is_file():
            raise _missing(path, file)
        with path.open("rb") as stream:
            content = stream.read(MOST_BYTES + 1)
    except RigError:
        raise
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise fault(
            file,
            what=f"this file cannot be read ({reason})",
            allowed="a file that you may open",
            remedy="another file, or changing its permissions",
        ) from None
    if len(content) > MOST_BYTES:
        raise fault(
            file,
            what="this file is larger than 1 MB",
            allowed="a rig file, which has a few kB",
            remedy='another file; a mesh is named in the rig file with shape = "mesh"',
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise fault(
            file,
            what=f"this is not text in UTF-8 (line {line}, byte {error.start + 1} of the file)",
            allowed="a TOML text in UTF-8",
            remedy="saving it as UTF-8 in the editor",
        ) from None


def parse(text: str, *, file: str) -> dict[str, Any]:
    """The data of a TOML text. Raises RigError with line, column and the line's text."""
    if not text.strip():
        raise fault(
            file,
            what="this file is empty",
            allowed="a rig with title, camera, lens and at least one head",
            remedy="lightsim new, which writes a rig file from a ready design",
        )
    found = _LONG_KEY.search(STRINGS.sub(lambda match: "" if match[1] else "s", text))
    if found:
        raise _nested(file, f"the key that begins {quoted(found[0])}")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise _nested(file, "the text") from None
    except ValueError as error:
        raise _not_toml(str(error), text, file) from None


def plain(data: Any, *, file: str) -> tuple[dict[str, Any], dict[str, str]]:
    """Data with the numbers of tables { value = , source = } in their place, and the notes by key.

    The numbers of materials keep their tables, which also hold low, high, known and against: Sheet splits them. The
    data given stay as they are. Raises RigError for what no rig could hold.
    """
    sources: dict[str, str] = {}
    cuts = 0

    def walk(here: Any, path: Path) -> Any:
        nonlocal cuts
        if len(path) > MOST_DEPTH:
            raise _nested(file, spoken(path[:3], data))
        if isinstance(here, dict) and "value" in here and not isinstance(here["value"], dict) and path:
            here = _noted(here, path) if is_number_of_sheet(path) else _without_source(here, path)
        if isinstance(here, dict | list | tuple):
            if len(here) > MOST_ENTRIES:
                raise _too_many(path, len(here))
            if path and path[-1] in ("holes", "slits") and not isinstance(here, dict):
                cuts += len(here)
        if isinstance(here, dict):
            if not all(isinstance(key, str) for key in here):
                raise _unusable(path, "the keys of a table must be texts")
            return {key: walk(value, (*path, key)) for key, value in here.items()}
        if isinstance(here, list | tuple):
            return [walk(value, (*path, index)) for index, value in enumerate(here)]
        if not isinstance(here, str | int | float | datetime | date | time):
            raise _unusable(path, "this is no value that a rig file could hold")
        return here

    def _noted(here: dict[str, Any], path: Path) -> dict[str, Any]:
        source = here.get("source")
        if source and isinstance(source, str):
            sources[key_path(path, data)] = source
        return here

    def _without_source(here: dict[str, Any], path: Path) -> Any:
        for key in here:
            if key not in ("value", "source"):
                remedy = '"source", if you meant that' if closest(str(key), ["source"]) else "leaving it out"
                if is_number_of_sheet(path[:3]):
                    remedy = "one table for both sides, { value = [0.7, 0.6], low = [0.6, 0.5], high = [0.8, 0.7] }"
                raise fault(
                    file,
                    spoken(path, data),
                    what=f"the key {quoted(str(key))} is not known beside value",
                    allowed="value, source",
                    remedy=remedy,
                )
        source = here.get("source", "")
        if not isinstance(source, str) or len(source) > LONGEST_SOURCE:
            raise fault(
                file,
                f"{spoken((*path, 'source'), data)} = {given(source)}",
                what="this is not a source note",
                allowed=f"a text of at most {LONGEST_SOURCE} letters",
                remedy='source = "measured with a ruler"',
            )
        if source:
            sources[key_path(path, data)] = source
        return here["value"]

    def _too_many(path: Path, count: int) -> RigError:
        return fault(
            file,
            f"{spoken(path, data)}" if path else "",
            what=f"this holds {count} entries",
            allowed=f"at most {MOST_ENTRIES}",
            remedy="fewer of them",
        )

    def _unusable(path: Path, what: str) -> RigError:
        return fault(
            file,
            f"{spoken(path, data)}" if path else "",
            what=what,
            allowed="texts, numbers, true and false, lists and tables",
            remedy="one of these",
        )

    result = walk(data, ())
    if not isinstance(result, dict):
        raise _unusable((), "the data of a rig must be a table")
    if cuts > MOST_CUTS:
        raise fault(
            file,
            "holes and slits",
            what=f"the rig has {cuts} of them",
            allowed=f"at most {MOST_CUTS} in all parts together",
            remedy="fewer, or a material with a share of straight light in place of many small holes",
        )
    return result, sources


def _nested(file: str, key: str) -> RigError:
    return fault(
        file,
        key,
        what="tables and lists stand too deep inside each other",
        allowed=f"at most {MOST_DEPTH} levels",
        remedy="writing the tables of a rig side by side, as in the ready designs",
    )


def _not_toml(message: str, text: str, file: str) -> RigError:
    lines = text.split("\n")
    found = _POSITION.match(message)
    what = found[1] if found else message
    number = int(found[2]) if found and found[2] else len(text.rstrip("\n").split("\n"))
    line = lines[number - 1] if number <= len(lines) else ""
    column = int(found[3]) if found and found[3] else len(line) + 1
    if "4300" in message:
        what = "a number has too many digits"
    open_quote = any(sign in what for sign in ("Unterminated", "character '\\n'", 'Expected "\'"', "Expected '\"'"))
    open_quote = open_quote or line.count('"') % 2 == 1
    if open_quote:
        what = "the quote is not closed"
    near = line if len(line) <= 60 else line[max(0, column - 40) :]
    remedy = "quotes around texts, a point for decimals, and each key and table once"
    bare = STRINGS.sub(lambda match: "" if match[1] else '""', line)
    without_zero = _WITHOUT_ZERO.search(bare)
    if _CURLY.search(bare):
        what, remedy = "curly quotes", "straight quotes, \" or ', in place of the curly ones"
    elif not open_quote and (words := unquoted(bare)):
        remedy = words
    elif re.search(r"=\s*-?\d+,\d", line):
        remedy = "a point for the decimals"
    elif without_zero:
        remedy = f"{without_zero[1]}0.{without_zero[2]}, with a 0 before the point"
    elif open_quote:
        remedy = "a quote at the end of the text too"
    elif "unclosed array" in what.lower():
        what += "; a comma is missing between numbers of a list?"
        remedy = "a comma between the numbers, and ] at the end of the list"
    elif told := _of_heading(line, what, text):
        what, remedy = told
    elif "overwrite" in what.lower() or "twice" in what.lower() or "redefine" in what.lower():
        remedy = "each key and each [table] once; lists of tables have double brackets, as in [[diffuser]]"
    return fault(
        file,
        f"line {number}, column {column}: {quoted(near) if near.strip() else 'the end of the text'}",
        what=f"this is not TOML ({shorten(what[:1].lower() + what[1:], 160)})",
        allowed='lines such as width = 120.5, material = "copy paper", [lens] and [[diffuser]]',
        remedy=remedy,
    )


def _of_heading(line: str, what: str, text: str) -> tuple[str, str] | None:
    """What is wrong with a heading and what to try, where that can be told."""
    found = _HEADING.fullmatch(line) if len(line) <= _LONGEST_HEADING else None
    if found is None:
        return None
    heading, inside = found[1], found[2].strip()
    if "twice" in what.lower():
        if re.search(rf"^[ \t]*\[\[[ \t]*{re.escape(inside)}[ \t]*\]\]", text, flags=re.MULTILINE):
            return None
        return f"{shorten(heading)} stands twice", "one table with the keys of both, or another name for one of them"
    bare = _BARE_NAME.fullmatch(inside)
    if bare is None or not bare[1]:
        return None
    name, key = (bare[1], bare[2]) if bare[2][1:] in TABLES else (bare[1] + bare[2], "")
    return f"the name {quoted(name)} needs quotes", f"[material.{quoted(name)}{key}]"


def _missing(path: FilePath, file: str) -> RigError:
    files = _rigs_in(path.parent)
    ready = list(design_files())
    stems = {name.removesuffix(".toml"): name for name in files} | {name: name for name in ready}
    near = closest(path.name.removesuffix(".toml"), stems, cutoff=0.6)
    here = f"rig files in this folder ({alternatives(files, 8)}), or " if files else ""
    what = "there is no such file" if path.parent.is_dir() else f"there is no folder {file_name(path.parent)}"
    return fault(
        file,
        what=what,
        allowed=f"{here}ready designs ({alternatives(ready, 30)})",
        remedy=quoted(stems[near]) if near else "lightsim designs for a list",
    )


def _in_folder(folder: FilePath) -> str:
    files = _rigs_in(folder)
    return quoted(files[0]) + " in it" if files else ""


def _rigs_in(folder: FilePath) -> list[str]:
    try:
        return sorted(path.name for path in folder.glob("*.toml"))[:1000]
    except (OSError, ValueError):
        return []
