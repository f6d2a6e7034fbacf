"""Small rigs as text, for tests that go from a rig file to a figure."""

from pathlib import Path

from lightsim.light.light import Light, light_of
from lightsim.rig.load import loads, placed

# A lens 2 m away leaves the axis free for a head; nothing else stands in the scene.
_BARE = """
title = "test"
[camera]
sensor = [24, 16]
pixels = [6000, 4000]
magnification = [1]
[lens]
working_distance = [2000]
diameter = 60
length = 100
[[head]]
name = "flash"
from = "subject"
toward_lens = {distance}
right = {right}
tilt = {tilt}
turn = {turn}
window = [{window}, {window}]
window_reflectance = 0
guide_number = {guide_number}
[head.beam]
cos_power = {power}
"""


def bare_text(*, distance=1000.0, right=0.0, tilt=0.0, turn=0.0, window=2.0, guide_number=20.0, power=5.0, more=""):
    """Rig file of one head before the subject, facing it unless turned; more: text put behind."""
    return _BARE.format(**{key: value for key, value in locals().items() if key != "more"}) + more


def lit(text, *, seed=1, error=0.005) -> Light:
    """The light of a rig file's text at its first magnification."""
    return light_of(placed(loads(text, file="test.toml", folder=Path.cwd())), seed=seed, error=error)
