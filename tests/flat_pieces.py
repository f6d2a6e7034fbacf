"""Pieces made by hand, for tests of what comes after the pattern."""

import numpy as np

from lightsim.pattern.piece import Fold, Label, Mark, Piece, signed_area


def rectangle(width, height, *, name="sheet", part=None, left=0.0, bottom=0.0, **more):
    """A rectangular piece of card, anticlockwise."""
    ring = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]]) + np.array([left, bottom])
    return Piece(part or name, name, more.pop("material", "white card"), ring, **more)


def circle(radius, *, middle=(0.0, 0.0), points=128):
    """A fine ring, anticlockwise."""
    turn = np.linspace(0.0, 2 * np.pi, points, endpoint=False)
    return radius * np.stack([np.cos(turn), np.sin(turn)], axis=1) + middle


def net(*, name="box", **more):
    """A cross-shaped net of 380 x 330 mm with folds, a square hole, a glue mark and a name; no symmetry at all."""
    across = [90, 290, 290, 380, 380, 290, 280, 100, 90, 0, 0, 90]
    up = [0, 0, 100, 110, 200, 210, 330, 330, 210, 190, 120, 100]
    ring = np.array([across, up], dtype=float).T
    hole = np.array([[150.0, 130.0], [150.0, 174.0], [214.0, 174.0], [214.0, 130.0]])
    corners = np.array([[90.0, 100.0], [290.0, 100.0], [290.0, 210.0], [90.0, 210.0]])
    folds = tuple(Fold(corners[i], corners[(i + 1) % 4], np.pi / 2) for i in range(4))
    assert signed_area(ring) > 0 > signed_area(hole)
    return Piece(
        name,
        name,
        more.pop("material", "white card"),
        ring,
        holes=(hole,),
        folds=folds,
        marks=(Mark(np.array([[100.0, 20.0], [280.0, 20.0]]), text="glue A"),),
        labels=(Label(more.pop("text", name), np.array([190.0, 60.0]), 6.0), Label("up", np.array([20.0, 150.0]), 5.0)),
        **more,
    )


def sector(*, name="cone", **more):
    """A ring sector of 128 points, radii 150 and 260 mm through 100 degrees, with a round hole of 40 mm."""
    turn = np.radians(np.linspace(40, 140, 64))
    arc = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    hole = circle(20.0, middle=(30.0, 205.0))[::-1]
    material = more.pop("material", "white card")
    return Piece(name, name, material, np.concatenate([260 * arc, 150 * arc[::-1]]), holes=(hole,), **more)
