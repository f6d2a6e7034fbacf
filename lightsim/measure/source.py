"""The source and the rest: what light last left, by role."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.light.arrivals import Arrivals
from lightsim.light.light import Light
from lightsim.light.scene import ROLES


def last_left(light: Light, arrivals: Arrivals, *roles: str) -> NDArray[np.bool_]:
    """Which arrivals last left a part of one of these roles (see lightsim.light.scene.ROLES), (n,)."""
    wanted = np.array([role in roles for role in ROLES])
    return np.asarray(wanted[light.scene.role[arrivals.part]])


def source_only(light: Light, arrivals: Arrivals) -> Arrivals:
    """The arrivals that last left a head or the diffuser."""
    return arrivals.only(last_left(light, arrivals, "head", "diffuser"))
