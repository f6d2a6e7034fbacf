"""How a command ends: quietly, or with one paragraph that says what to try. Never with a traceback for bad input."""

from __future__ import annotations

import contextlib
import os
import shutil
import sys
import textwrap
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec

import typer

BAD_INPUT, LIMIT_BROKEN = 2, 1
_INTERRUPTED, _PIPE_CLOSED = 130, 141  # 128 and the number of the signal, as shells count (common practice)

_PROSE = 100  # columns, at most

Given = ParamSpec("Given")


def plainly(command: Callable[Given, None]) -> Callable[Given, None]:
    """A command whose RigError becomes a paragraph on standard error and exit code 2.

    Ctrl-C and a reader that closes the pipe end it without a word.
    """

    @wraps(command)
    def run(*args: Given.args, **kwargs: Given.kwargs) -> None:
        from lightsim.rig.errors import RigError

        try:
            command(*args, **kwargs)
            sys.stdout.flush()
        except RigError as error:
            complain(str(error))
            raise typer.Exit(BAD_INPUT) from None
        except KeyboardInterrupt:
            raise typer.Exit(_INTERRUPTED) from None
        except BrokenPipeError:
            # What is still buffered has nowhere to go; without this Python complains while it shuts down.
            with contextlib.suppress(OSError, ValueError):
                os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            raise typer.Exit(_PIPE_CLOSED) from None

    return run


def complain(text: str) -> None:
    """A paragraph on standard error, wrapped where that is a terminal, on one line where programs read it."""
    if sys.stderr.isatty():
        columns = shutil.get_terminal_size((_PROSE, 24)).columns
        text = textwrap.fill(text, min(_PROSE, max(columns, 40)), break_on_hyphens=False, break_long_words=False)
    typer.echo(text, err=True)
