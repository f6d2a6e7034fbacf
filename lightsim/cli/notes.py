"""Warnings beside the figures: one line for all the magnifications, designs or values that it is about."""

from __future__ import annotations

from collections.abc import Sequence

from lightsim.cli.layout import Line, sentence
from lightsim.measure.merged import merged


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
