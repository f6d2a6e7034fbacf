"""How near the diffuser comes to the subject."""

from __future__ import annotations

import numpy as np

from lightsim.light.estimate import Estimate
from lightsim.light.light import SUBJECT
from lightsim.light.scene import ROLES, Scene


def clearance(scene: Scene) -> Estimate | None:
    """Least distance from the subject to the surfaces of the diffuser [mm], exact; None without a diffuser."""
    diffuser = scene.role == ROLES.index("diffuser")
    if not diffuser.any():
        return None
    return Estimate(float(scene.distance(SUBJECT, np.where(diffuser, np.inf, -1.0)).min()))
