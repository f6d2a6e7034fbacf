"""The terminal as rich sees it: whether it shows bold and colours, and how lines are written to it."""

from __future__ import annotations

import os
from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from lightsim.cli.layout import Line


class _Screen(Console):
    """A console that tells of a reader who closes the pipe, as plain output does."""

    def on_broken_pipe(self) -> None:
        raise BrokenPipeError


def screen(*, errors: bool = False) -> Console:
    """Standard output, or standard error, with nothing read into the text: no markup, no names of pictures.

    What is shown follows rich: a terminal or FORCE_COLOR, not TERM=dumb. NO_COLOR, unless empty, forbids bold as well
    (an open convention, https://no-color.org, which speaks of colours alone).
    """
    plain = bool(os.environ.get("NO_COLOR"))
    return _Screen(
        stderr=errors,
        color_system=None if plain else "auto",
        force_jupyter=False,
        highlight=False,
        markup=False,
        emoji=False,
    )


def emphasised(lines: Sequence[Line]) -> bool:
    """Write lines with their bold to standard output, if that shows any; else write nothing and return False."""
    console = screen()
    if console.color_system is None:
        return False
    texts = [Text(line.text, "bold" if line.bold else "") for line in lines]
    console.print(Text("\n").join(texts), soft_wrap=True)
    return True
