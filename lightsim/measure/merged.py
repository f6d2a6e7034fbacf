"""Warnings of several reports as few sentences: what differs in figures alone is told once, with their range."""

from __future__ import annotations

import re
from collections.abc import Sequence

# Names stay as they are; numbers with a unit may differ from one rig to the next.
_FIGURE = re.compile(r'"[^"]*"|\d+(?:\.\d+)?(?= (?:%|mm\b))')


def merged(notes: Sequence[Sequence[str]]) -> list[tuple[list[int], str]]:
    """Sentences with the numbers of the rigs that they are about, in order; notes: those of each rig.

    Sentences that differ in figures alone become one, which tells the figures' range.
    """
    found: dict[str, list[tuple[int, str]]] = {}
    for number, each in enumerate(notes):
        for note in dict.fromkeys(each):
            alike = _FIGURE.sub(lambda match: match[0] if match[0].startswith('"') else "#", note)
            found.setdefault(alike, []).append((number, note))
    return [([number for number, _ in same], _ranged([note for _, note in same])) for same in found.values()]


def _ranged(notes: Sequence[str]) -> str:
    figures = [[found for found in _FIGURE.findall(note) if not found.startswith('"')] for note in notes]
    spans = iter(
        min(column, key=float) if len(set(column)) == 1 else f"{min(column, key=float)} to {max(column, key=float)}"
        for column in zip(*figures, strict=True)
    )
    return _FIGURE.sub(lambda match: match[0] if match[0].startswith('"') else next(spans), notes[0])
