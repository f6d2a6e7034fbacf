"""Pages of the documentation: their blocks of code, the commands in them, and what a command is said to print."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parent.parent
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
PAGES += sorted((ROOT / "notebooks").glob("*.md"))

_FENCE = re.compile(r"^(\s*)(`{3,}|~{3,})\s*(.*?)\s*$")
_NUMBER = r"-?\d+(?:\.\d+)?"
# Folders of a virtual environment before a program, in Linux and in Windows.
_IN_FOLDER = re.compile(r"^\.venv(?:/bin/|\\Scripts\\)")


@dataclass(frozen=True)
class Block:
    kind: str  # "console", "python", "toml", "text" ...; "indented" where four spaces make it
    more: str  # what stands behind the kind in the line that opens it
    text: str
    line: int  # of the page, that opens it


@dataclass(frozen=True)
class Command:
    words: str  # without the sign of the shell and the folder of a virtual environment
    shown: str  # what the page shows as printed, "" if nothing
    line: int


def name_of(page: Path) -> str:
    """The page's name from the root of the project."""
    return page.relative_to(ROOT).as_posix()


def blocks(text: str) -> list[Block]:
    """All blocks of a page: fenced ones, those inside directives of the site included, and indented ones.

    Raises AssertionError where a fence is not closed.
    """
    found: list[Block] = []
    outside: list[str] = []  # lines, the fenced ones blank
    lines = iter(enumerate(text.splitlines(), start=1))
    for number, line in lines:
        opening = _FENCE.match(line)
        outside.append("" if opening else line)
        if opening is None:
            continue
        indent, fence, info = opening.groups()
        inside: list[str] = []
        for _, inner in lines:
            outside.append("")
            if re.fullmatch(rf"\s*{re.escape(fence[0])}{{{len(fence)},}}\s*", inner):
                break
            inside.append(inner.removeprefix(indent))
        else:
            raise AssertionError(f"the block in line {number} is not closed")
        kind, _, more = info.partition(" ")
        if kind == "{code-block}":
            kind, _, more = more.partition(" ")
        elif kind.startswith("{"):
            deeper = blocks("\n".join(inside))
            found += [Block(block.kind, block.more, block.text, number + block.line) for block in deeper]
        found.append(Block(kind, more, "\n".join(inside), number))
    return sorted([*found, *_indented(outside)], key=lambda block: block.line)


def _indented(lines: list[str]) -> Iterator[Block]:
    """Blocks by four spaces: after a blank line, and not part of an item of a list."""
    start, before = None, ""
    for number, line in enumerate([*lines, "end"], start=1):
        deep = line.startswith("    ") and bool(line.strip())
        if deep and start is None and not lines[number - 2].strip() and not re.match(r"\s*([-*+]|\d+\.) ", before):
            start = number
        elif not deep and line.strip():
            if start is not None:
                yield Block("indented", "", textwrap.dedent("\n".join(lines[start - 1 : number - 1])).strip(), start)
            start, before = None, line
            continue
        if line.strip() and start is None and not line.startswith(" "):
            before = line


def commands(block: Block) -> list[Command]:
    """The commands of a console block, each with what the page shows below it, or those of an indented block."""
    text = re.sub(r"\s*\\\n\s*", " ", block.text)
    if block.kind in ("console", "shell-session"):
        first, *parts = re.split(r"^\$ ", text, flags=re.MULTILINE)
        assert not first.strip(), f'line {block.line}: a console block starts with "$ ", and a command'
        pairs = [part.partition("\n")[::2] for part in parts]
    elif block.kind in ("bash", "sh", "shell"):
        pairs = [(line, "") for line in text.splitlines() if line.strip() and not line.startswith("#")]
    elif block.kind == "indented" and re.match(PROGRAMS, _IN_FOLDER.sub("", text)):
        pairs = [(line, "") for line in text.splitlines() if line.strip()]
    else:
        return []
    return [
        Command(_IN_FOLDER.sub("", re.sub(r"\s+#.*$", "", single.strip())), shown.strip("\n"), block.line)
        for words, shown in pairs
        for single in re.split(r"&&|;", words)
    ]


PROGRAMS = r"(?:lightsim|python3?|py|pip|source|pytest|ruff|mypy|sphinx-build|jupyter|jupytext|npm|git|cd)\b"


def _tokens(text: str) -> list[tuple[str, tuple[str, ...]]]:
    """Words with # for their numbers, and the numbers; lines of tables are left out."""
    words = [word for word in text.split() if not re.fullmatch(r"[─━═-]{3,}", word)]
    return [(re.sub(_NUMBER, "#", word), tuple(re.findall(_NUMBER, word))) for word in words]


def _digit(number: str) -> float:
    """One in the last place that is printed."""
    return 10.0 ** -len(number.partition(".")[2])


def _same_numbers(shown: list[tuple[str, tuple[str, ...]]], printed: list[tuple[str, tuple[str, ...]]]) -> bool:
    """Numbers agree within both error bars where they have one, else within a tenth or the last digit.

    The random numbers are the same; the tenth is what another processor's rounding may do to a figure without error
    bar. An error bar itself may be off by its half, since it is an estimate from few replicates.
    """
    for index, ((word, ours), (_, theirs)) in enumerate(zip(shown, printed, strict=True)):
        bars = [run[index + 1][1][0] for run in (shown, printed) if index + 1 < len(run) and run[index + 1][0] == "±#"]
        for one, other in zip(ours, theirs, strict=True):
            allowed = max(1.01 * _digit(one), 0.1 * abs(float(one)))
            if word == "±#":
                allowed = max(1.01 * _digit(one), 0.5 * float(one))
            elif len(bars) == 2 and word == "#":
                allowed = 1.01 * _digit(one) + sum(map(float, bars))
            if abs(float(one) - float(other)) > allowed:
                return False
    return True


def is_printed(shown: str, printed: str) -> bool:
    """Whether a command that printed the one also printed what is shown: words exactly, numbers within error bars.

    Lines of "..." stand for anything left out. Line breaks do not count.
    """
    whole = _tokens(printed)
    start = 0
    for part in re.split(r"^\s*(?:\.\.\.|…)\s*$", shown, flags=re.MULTILINE):
        wanted = _tokens(part)
        for first in range(start, len(whole) - len(wanted) + 1):
            here = whole[first : first + len(wanted)]
            if [word for word, _ in here] == [word for word, _ in wanted] and _same_numbers(wanted, here):
                start = first + len(wanted)
                break
        else:
            return False
    return True
