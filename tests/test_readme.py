"""The README does what it says: its Python, its commands, and the output it shows."""

import doctest
import os
import re
import shlex
import subprocess
from pathlib import Path

import pytest

README = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")
_NUMBER = r"-?\d+(?:\.\d+)?"


@pytest.mark.parametrize("page", ["README.md", "docs/materials.md"])
def test_python_of_the_pages_runs(page):
    text = (Path(__file__).parent.parent / page).read_text(encoding="utf-8")
    parsed = doctest.DocTestParser().get_doctest(text, {}, page, page, 0)
    assert len(parsed.examples) >= 6
    runner = doctest.DocTestRunner()
    runner.run(parsed)
    assert runner.summarize().failed == 0


def test_readme_commands_run(tmp_path):
    commands = re.findall(r"^\$ (lightsim .+)$", README, flags=re.MULTILINE)
    assert len(commands) >= 10
    for command in commands:
        done = subprocess.run(shlex.split(command), cwd=tmp_path, capture_output=True, text=True)
        assert done.returncode == 0, f"{command}\n{done.stderr}"
    assert (tmp_path / "pictures" / "falloff.png").stat().st_size > 5000


def test_readme_shows_what_compare_prints():
    shown = re.search(r"```text\n(What each design.*?)\n```", README, flags=re.DOTALL)
    assert shown is not None
    # The width of a pipe, whatever the terminal that the tests run in.
    wide = {**os.environ, "COLUMNS": "100"}
    done = subprocess.run(["lightsim", "compare"], capture_output=True, text=True, check=True, env=wide)
    printed = done.stdout.strip()
    # Words to the letter, numbers within what another processor's rounding and their error bars leave open.
    assert _words(printed) == _words(shown.group(1))
    for ours, theirs in zip(_numbers(printed), _numbers(shown.group(1)), strict=True):
        assert ours == pytest.approx(theirs, rel=0.1, abs=0.3)


def _words(text: str) -> list[str]:
    return re.sub(_NUMBER, "#", text).split()


def _numbers(text: str) -> list[float]:
    return [float(number) for number in re.findall(_NUMBER, text)]
