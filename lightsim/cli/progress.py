"""A bar on the terminal for what takes longer than about a second; nothing for short work, pipes and files."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Lock, Timer
from typing import TYPE_CHECKING

from lightsim.cli.layout import printable

if TYPE_CHECKING:
    from rich.progress import Progress

_DELAY = 1.0  # seconds before anything is shown
_BAR, _NARROW_BAR, _ROOMY = 24, 10, 60  # columns of the bar, the narrow one in windows below so many
_PERCENT = 7  # columns of the figure behind the bar, and of the gaps around it


@dataclass(frozen=True)
class Stretch:
    """A stretch of the work: call it with the share of it that is done, from 0 to 1."""

    whole: _Bar
    start: float = 0.0
    end: float = 1.0

    def __call__(self, share: float, text: str | None = None) -> None:
        """Say how far this stretch is, and what is being done where that has changed. The bar never goes back."""
        self.whole.reach(self.start + (self.end - self.start) * min(max(share, 0.0), 1.0), text)

    def part(self, number: int, count: int, text: str | None = None) -> Stretch:
        """The stretch of one of several equal pieces, counted from 0, which begins now under this text."""
        step = (self.end - self.start) / count
        found = Stretch(self.whole, self.start + number * step, self.start + (number + 1) * step)
        found(0.0, text)
        return found


@contextmanager
def progress(text: str = "") -> Iterator[Stretch]:
    """The stretch of some work as a whole, to be called with the share done while it goes on.

    After about a second a bar by rich appears on standard error, if that is a terminal; it is gone when the work ends,
    however it ends. text : what is being done
    """
    bar = _Bar(text=text)
    timer = Timer(_DELAY, bar.show)
    timer.daemon = True  # so that an end of the program does not wait for it
    if sys.stderr.isatty() and os.environ.get("TERM") != "dumb":
        timer.start()
    try:
        yield Stretch(bar)
    finally:
        timer.cancel()
        bar.close()


@dataclass
class _Bar:
    """What is known of the work, and the bar once it is shown, from a thread of its own."""

    text: str
    share: float = 0.0
    over: bool = False
    shown: Progress | None = None
    lock: Lock = field(default_factory=Lock)

    def reach(self, share: float, text: str | None) -> None:
        with self.lock:
            self.share = max(self.share, share)
            self.text = self.text if text is None else text
            if self.shown is not None:
                self.shown.update(self.shown.task_ids[0], completed=self.share, description=printable(self.text))

    def show(self) -> None:
        from rich.progress import BarColumn, Progress, TextColumn
        from rich.table import Column

        from lightsim.cli.screen import screen

        console = screen(errors=True)
        bar = _BAR if console.width >= _ROOMY else _NARROW_BAR
        words = Column(no_wrap=True, max_width=console.width - bar - _PERCENT)
        if console.options.ascii_only:
            words.overflow = "crop"  # there is no sign for what is left out
        columns = (  # the words last, so that the bar stays where it is
            BarColumn(bar, style="bright_black", complete_style="none", finished_style="none"),
            TextColumn("{task.percentage:>3.0f} %", markup=False),
            TextColumn("{task.description}", markup=False, table_column=words),
        )
        with self.lock:
            if not self.over:
                self.shown = Progress(
                    *columns,
                    console=console,
                    refresh_per_second=4,
                    transient=True,
                    redirect_stdout=False,
                    redirect_stderr=False,
                )
                task = self.shown.add_task(printable(self.text), total=1.0)
                self.shown.update(task, completed=self.share)
                self.shown.start()

    def close(self) -> None:
        with self.lock:
            self.over = True
            if self.shown is not None:
                self.shown.stop()
