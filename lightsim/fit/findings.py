"""Will it fit: everything that is found of a placed rig. Traces no light."""

from __future__ import annotations

from lightsim.fit.camera import at_body, at_focus_ring, behind_subject, in_view, on_barrel, over_shoe
from lightsim.fit.finding import Finding, solids
from lightsim.fit.heads import before_windows, in_holes, standing_off
from lightsim.fit.near import at_leaf, at_subject, before_plane
from lightsim.fit.shade import shading
from lightsim.rig.place import PlacedRig

__all__ = ["Finding", "findings"]


def findings(placed: PlacedRig) -> tuple[Finding, ...]:
    """What is in the way, what is close, what room is left and what could not be checked.

    Two parts of the diffuser that cut each other are none: they are glued or slotted together.
    """
    parts = solids(placed)
    return (
        *in_view(placed, parts),
        *behind_subject(placed, parts),
        *on_barrel(placed, parts),
        *at_focus_ring(placed, parts),
        *at_body(placed, parts),
        *over_shoe(placed, parts),
        *in_holes(placed, parts),
        *before_windows(placed, parts),
        *standing_off(placed),
        *shading(placed),
        *at_subject(placed, parts),
        *at_leaf(placed, parts),
        *before_plane(placed, parts),
    )
