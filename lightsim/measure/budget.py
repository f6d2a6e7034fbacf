"""Where each lumen went, in few groups that are the same for all designs, so that these can be compared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from lightsim.light.estimate import Estimate
from lightsim.light.light import SUBJECT, Light
from lightsim.measure.falloff import FACING_LENS
from lightsim.measure.illuminance import illuminance

ENDED = "Counting error: paths ended at random"
# What becomes of light that a part of each role takes in, in the order in which light meets them, and of light that
# last left one and met nothing more.
_ABSORBED = {
    "head": "Back into the flash head",
    "diffuser": "Absorbed by the diffuser",
    "camera": "Absorbed by camera and lens",
    "surroundings": "Absorbed by the surroundings",
}
_MISSED = {
    "head": "Missed everything, straight from the head",
    "diffuser": "Missed everything, from the diffuser",
    "camera": "Missed everything, from camera or surroundings",
    "surroundings": "Missed everything, from camera or surroundings",
}
LABELS = tuple(dict.fromkeys([*_ABSORBED.values(), *_MISSED.values(), ENDED]))


class Piece(NamedTuple):
    """A group of the budget."""

    label: str
    share: float  # of the light emitted


@dataclass(frozen=True)
class Budget:
    """Where the light of one design went; the pieces are those of LABELS, in that order, and sum to 1."""

    title: str
    rows: tuple[Piece, ...]
    on_field: Estimate  # share that falls on the field on its way, if lit as in its middle: not one of the pieces
    field: tuple[float, float]  # mm, width and height


def budget_of(light: Light, title: str) -> Budget:
    """The budget of a traced rig: its tally by the roles of the parts.

    The last piece is what was lost (or, negative, won) by ending paths at random; zero on average. The others are no
    less than 0 and are sums of the report's budget figures.
    """
    tally, parts = light.cloud.tally, light.scene.parts
    shares = dict.fromkeys(LABELS, 0.0)
    for part, absorbed, missed in zip(parts, tally.absorbed, tally.escaped, strict=True):
        shares[_ABSORBED[part.role]] += float(absorbed)
        shares[_MISSED[part.role]] += float(missed)
    shares[ENDED] += tally.residual
    rows = tuple(Piece(label, share) for label, share in shares.items())
    return Budget(title, rows, on_field(light), light.placed.field)


def on_field(light: Light) -> Estimate:
    """Share of the light emitted that falls on a card as large as the field, lit all over as in its middle [1].

    The report's illuminance facing the lens times the area of the field. Not a mean over the field: a leaf that keeps
    the light off the lower edge says nothing of the diffuser. Derived here.
    """
    width, height = light.placed.field
    found = illuminance(light.at(SUBJECT), FACING_LENS)
    return Estimate(found.value * width * height, found.standard_error * width * height, found.replicates)
