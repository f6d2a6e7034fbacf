"""The effective solid angle against its bin-free form on three rigs.

int L^2 dO is the mean of L over the arriving light: the sum of w_i L(direction i), L by the backward estimator, which
knows no bins, no windows and no forward cloud. Derived here.
"""

import numpy as np
import pytest

import lightsim
from lightsim.light import backward
from lightsim.light.estimate import by_replicate, jackknife
from lightsim.light.forward import trace
from lightsim.light.light import SUBJECT
from lightsim.light.near import arrivals
from lightsim.light.scene import build
from lightsim.measure.size import effective_solid_angle
from lightsim.rig.load import placed


@pytest.mark.parametrize("name", ["flat-paper", "paper-arc", "white-box"])
def test_effective_solid_angle_agrees_with_its_bin_free_form(name):
    rig = placed(lightsim.load(name))
    # Without the surroundings all that is seen is the source; camera and lens stay in the way.
    scene = build([part for part in rig.parts if part.role != "surroundings"], rig.heads)
    seen = arrivals(trace(scene, points=2048, replicates=16, seed=11), SUBJECT)
    source = seen.only(~np.isin(seen.part, np.flatnonzero(scene.role == 3)) & ~seen.straight)
    windowed = effective_solid_angle(source)

    rng = np.random.default_rng(12)
    luminance = np.zeros(len(source.weight))
    for _ in range(24):
        start = np.repeat(SUBJECT[None, :], len(luminance), axis=0)
        luminance += backward.radiance(scene, start, source.direction, rng) / 24
    columns = [source.weight, source.weight * luminance]
    samples = np.stack([by_replicate(column, source.replicate, source.replicates) for column in columns], axis=1)
    free = jackknife(lambda mean: float(mean[0] ** 2 / mean[1]), samples)

    joint = np.hypot(windowed.standard_error, free.standard_error)
    assert abs(windowed.value - free.value) < 4 * joint
    assert joint < 0.02 * free.value
