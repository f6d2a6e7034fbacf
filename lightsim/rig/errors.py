"""Errors that speak to the person who wrote the rig file, in words that are short, on one line and safe to print."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

LONGEST = 1400  # characters of a paragraph
_LONGEST_VALUE = 60
_LONGEST_FILE = 160


class RigError(ValueError):
    """A rig that cannot be used: one paragraph with file, key, what was given, what is allowed, what to try."""


def fault(where: object, key: str = "", *, what: str, allowed: str, remedy: str) -> RigError:
    """An error of one paragraph.

    where : the file, or what else the error is about; key : what in it, with what was given
    """
    start = f"{file_name(where)}: {key}" if key else file_name(where)
    return RigError(paragraph(told(start, what=what, allowed=allowed, remedy=remedy)))


def told(key: str, *, what: str, allowed: str, remedy: str) -> str:
    """The sentences of one fault; key may be empty."""
    start = f"{key}: " if key else ""
    return f"{start}{what.rstrip('. ')}. Allowed: {allowed.rstrip('. ')}. Try {remedy.rstrip('. ')}."


@contextmanager
def naming(file: object, key: str = "") -> Iterator[None]:
    """What is wrong in this block is told with the name of the file in front, once, and then with the key."""
    start = f"{file_name(file)}: "
    try:
        yield
    except RigError as error:
        message = str(error).removeprefix(start).rstrip(". ")
        raise RigError(paragraph(f"{start}{f'{key}: ' if key else ''}{message}.")) from None


def one_line(text: str) -> str:
    """The same text without line breaks, control characters and what cannot be printed, however strange it was."""
    printable = "".join(c if c.isprintable() else " " for c in text)
    return " ".join(printable.split())


def paragraph(text: str) -> str:
    """One line of at most LONGEST characters."""
    line = one_line(text)
    return line if len(line) <= LONGEST else line[: LONGEST - 1].rstrip() + "…"


def shorten(text: str, most: int = _LONGEST_VALUE) -> str:
    """The beginning of a text, on one line."""
    line = one_line(text[: 4 * most])
    return line if len(text) <= 4 * most and len(line) <= most else line[: most - 1].rstrip() + "…"


def file_name(file: object) -> str:
    """A file as messages name it: the whole path, or the end of a very long one."""
    line = one_line(str(file))
    return line if len(line) <= _LONGEST_FILE else "…" + line[1 - _LONGEST_FILE :]


def quoted(text: str) -> str:
    """A text in quotes, shortened."""
    return f'"{shorten(text)}"'


def given(value: Any) -> str:
    """A value about as its file would write it; tables are only called so."""
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        # Python refuses to print whole numbers of more than 4300 digits.
        return str(value) if abs(value) < 10**18 else "a whole number of more than 18 digits"
    if isinstance(value, float):
        return f"{value:.12g}"
    if isinstance(value, list | tuple):
        return shorten("[" + ", ".join(given(item) for item in value[:20]) + "]")
    return "a table" if isinstance(value, dict) else shorten(str(value))


def alternatives(words: Iterable[str], most: int = 40) -> str:
    """A list of words in quotes, the first of them where there are many."""
    names = [quoted(word) for word in words]
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


def either(words: Iterable[str]) -> str:
    """A few words in quotes of which one may do: "a", "b" or "c"; empty if there are none."""
    *others, last = [*map(quoted, words)] or [""]
    return f"{', '.join(others)} or {last}" if others else last


def closest(word: str, known: Iterable[str], *, cutoff: float = 0.55) -> str | None:
    """The known word that is most like a mistyped one, if any is; cutoff: 1 asks for the same word (difflib)."""
    from difflib import get_close_matches

    by_folded = {name.casefold(): name for name in known}
    found = get_close_matches(word[:100].casefold(), list(by_folded), n=1, cutoff=cutoff)
    return by_folded[found[0]] if found else None
