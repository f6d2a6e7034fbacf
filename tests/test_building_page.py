"""The page on building: its commands exist, and the numbers it tells of the white box are those of the white box."""

from __future__ import annotations

import math
import re
import shlex
from pathlib import Path

import pytest
from typer.main import get_command

from lightsim.cli import app
from lightsim.pattern.pattern import THICKEST_TAB, pattern_of
from lightsim.rig.load import load
from lightsim.rig.shells import Box

TEXT = (Path(__file__).parent.parent / "docs" / "building.md").read_text(encoding="utf-8")
FLAT = " ".join(TEXT.split())
COMMANDS = re.findall(r"^\$ lightsim (.+)$", TEXT, flags=re.MULTILINE)


@pytest.mark.parametrize("command", COMMANDS)
def test_commands_and_their_options_exist(command: str) -> None:
    known = get_command(app).commands
    name, *words = shlex.split(command)
    assert name in known
    options = {option for param in known[name].params for option in param.opts}
    assert {word for word in words if word.startswith("--")} <= options


def test_options_in_the_text_are_those_of_pattern() -> None:
    options = {option for param in get_command(app).commands["pattern"].params for option in param.opts}
    told = set(re.findall(r"`(--[a-z]+)", TEXT))
    assert told >= {"--part", "--paper", "--tab", "--gores"}
    assert told <= options


def test_sizes_of_the_white_box_are_those_of_its_file() -> None:
    rig = load("white-box").rig
    front, box = rig.diffuser
    assert isinstance(box.shape, Box)
    assert f"front {front.shape.width:g} mm by {front.shape.height:g} mm, depth {box.shape.depth:g} mm" in FLAT
    assert f"{front.place.tilt:g}° between the front and the upright" in FLAT


def test_play_round_the_head_is_that_of_the_pattern() -> None:
    notes = " ".join(note for piece in pattern_of(load("white-box")).pieces for note in piece.notes)
    (play,) = re.findall(r"([\d.]+ mm) of play", notes)
    assert f"({play} for the white box)" in FLAT


def test_what_a_fold_takes_up() -> None:
    # Inside radius 0, neutral line in the middle: angle times half the thickness (Machinery's Handbook, from memory).
    told = [
        float(number) for number in re.findall(r"([\d.]+) mm for a right angle in card of 0.3 mm, ([\d.]+) mm", FLAT)[0]
    ]
    assert told == [round(math.pi / 2 * 0.3 / 2, 2), round(math.pi / 2 * 2 / 2, 1)]
    assert f"Sheets above {THICKEST_TAB:g} mm get no tabs" in FLAT
