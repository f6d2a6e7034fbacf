"""Warnings beside the figures: one line for all the magnifications, designs or values that it is about."""

from __future__ import annotations

import re
from collections.abc import Sequence

from lightsim.cli.layout import Line, sentence

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


def told(notes: Sequence[Sequence[str]], labels: Sequence[str]) -> list[Line]:
    """A line for each sentence that begins with the labels of those that it is about, where there are several."""
    lines = []
    for numbers, text in merged(notes):
        which = f" ({', '.join(labels[number] for number in numbers)})" if any(labels) else ""
        lines.extend(sentence(f"Note{which}: {text}", indent="  ", bold=True))
    return lines


def swept(notes: Sequence[Sequence[str]], labels: Sequence[str]) -> list[Line]:
    """The same for the values of a sweep, neighbours told as from and to."""
    lines = []
    for numbers, text in merged(notes):
        runs: list[list[int]] = []
        for number in numbers:
            if runs and runs[-1][-1] == number - 1:
                runs[-1].append(number)
            else:
                runs.append([number])
        spans = [f"{labels[run[0]]} to {labels[run[-1]]}" if len(run) > 1 else labels[run[0]] for run in runs]
        which = "at all values" if len(numbers) == len(labels) else f"at {', '.join(spans)}"
        lines.extend(sentence(f"Note ({which}): {text}", indent="  ", bold=True))
    return lines


def _ranged(notes: Sequence[str]) -> str:
    figures = [[found for found in _FIGURE.findall(note) if not found.startswith('"')] for note in notes]
    spans = iter(
        min(column, key=float) if len(set(column)) == 1 else f"{min(column, key=float)} to {max(column, key=float)}"
        for column in zip(*figures, strict=True)
    )
    return _FIGURE.sub(lambda match: match[0] if match[0].startswith('"') else next(spans), notes[0])
