"""What comes near the subject and the leaf that it sits on."""

from __future__ import annotations

from math import inf

import numpy as np

from lightsim.fit.apart import distance, way_clear
from lightsim.fit.finding import ACROSS, ANYWHERE, TOWARD_LENS, Finding, Solid, millimetres, move, nearest, up_to
from lightsim.fit.least import FARTHEST, least, way_out
from lightsim.fit.regions import Region, ball, stretch
from lightsim.rig.mesh import corners
from lightsim.rig.place import PlacedRig

ROOM = 5.0  # mm round the subject; common practice, no source
LEAF = 3.0  # mm to a leaf, which moves; common practice, no source
_TOUCHES = 0.01  # mm
_FAINT = 1e-6  # mm


def at_subject(placed: PlacedRig, parts: list[Solid]) -> list[Finding]:
    """Parts that touch the subject: its ball, and its depth of interest along the axis; else the least room."""
    subject, kind, found = placed.rig.subject, "subject", []
    middle = np.array([subject.ball.right, subject.ball.up, subject.ball.toward_lens])
    eye, line = (
        ball(centre=middle, radius=subject.ball.radius),
        stretch(start=-subject.depth / 2, end=subject.depth / 2),
    )
    lens = placed.rig.lens
    closest = len(lens.working_distance) > 1 and placed.working_distance == min(lens.working_distance)
    when = " at the closest focus of the list" if closest else ""
    limit = placed.rig.limits.least_clearance
    for part in parts:
        to_eye, to_line = least(eye, part.corner)[0], least(line, part.corner)[0]
        value = min(to_eye, to_line)
        title = part.title[:1].upper() + part.title[1:]
        if value < ROOM:
            best = (inf, "")
            for word, direction in ANYWHERE:
                farthest, grown = min(best[0], FARTHEST), (_grown(each, ROOM) for each in (eye, line))
                best = min(best, (max(way_out(each, part.corner, direction, most=farthest) for each in grown), word))
            remedy = move(best).rstrip(".") + f", which leaves {ROOM:g} mm."
            if value < _TOUCHES:
                into = f"it reaches {millimetres(-to_eye)} into its ball" if to_eye < -_TOUCHES else "it is 0 mm away"
                if to_line < _TOUCHES and to_eye >= -_TOUCHES:
                    into = f"it crosses the {millimetres(subject.depth)} of depth that count"
                sentence = f"{title} touches the subject{when}: {into}."
                found.append(Finding(kind, "in the way", part.name, max(-value, 0.0), sentence, remedy))
            else:
                sentence = f"{title} comes within {millimetres(value)} of the subject{when}."
                found.append(Finding(kind, "close", part.name, value, sentence, remedy))
            continue
        found.append(Finding(kind, "room", part.name, value, f"subject: {millimetres(value)} to {part.title}."))
        if limit is not None and not part.is_head:
            clear, _ = least(ball(centre=np.zeros(3), radius=0.0), part.corner)
            if clear < limit:
                sentence = f"{title} stands {millimetres(clear)} from the subject, less than your least_clearance."
                remedy = f"Your limit is {millimetres(limit)}: move it {up_to(limit - clear)} away."
                found.append(Finding(kind, "close", part.name, clear, sentence, remedy))
    return nearest(found)


def at_leaf(placed: PlacedRig, parts: list[Solid]) -> list[Finding]:
    """Parts, and the lens barrel, that touch the surroundings or come near them; else the least room."""
    kind, found = "surroundings", []
    barrel = next(part for part in placed.parts if part.name == "lens barrel" and part.role == "camera")
    moving = [*parts, Solid(barrel.name, corners(barrel.mesh), False)]
    for leaf in placed.parts:
        if leaf.role != "surroundings":
            continue
        still = corners(leaf.mesh)
        for part in moving:
            apart = distance(part.corner, still)
            lens = part is moving[-1]
            title = "the lens barrel" if lens else part.title
            start, name = title[:1].upper() + title[1:], "" if lens else part.name
            if apart > LEAF:
                sentence = f'surroundings: {millimetres(apart)} from {title} to "{leaf.name}".'
                found.append(Finding(kind, "room", title if lens else name, apart, sentence))
                continue
            if apart > _FAINT:
                sentence = f'{start} comes within {millimetres(apart)} of "{leaf.name}".'
                remedy = f"Leave {LEAF:g} mm at the least: a leaf moves."
                found.append(Finding(kind, "close", title if lens else name, apart, sentence, remedy))
                continue
            ways = [(way_clear(part.corner, still, way), word) for word, way in (*ACROSS, _BACK)]
            cut = min(ways)
            sentence = f'{start} runs into "{leaf.name}": it has to move {up_to(cut[0])} to be clear of it.'
            remedy = move((cut[0] + LEAF, cut[1])).rstrip(".") + f', which leaves {LEAF:g} mm, or move "{leaf.name}".'
            found.append(Finding(kind, "in the way", title if lens else name, cut[0], sentence, remedy))
    return nearest(found)


_BACK = ("toward the lens", TOWARD_LENS)


def before_plane(placed: PlacedRig, parts: list[Solid]) -> list[Finding]:
    """How far the foremost edge of the diffuser stands from the plane of the subject, for a leaf not in the file."""
    found = []
    for part in parts:
        if not part.is_head:
            foremost = float(part.corner[:, :, 2].min())
            side = "before" if foremost >= 0 else "behind"
            sentence = (
                f"plane of the subject: the foremost edge of {part.title} is {millimetres(abs(foremost))} {side} it."
            )
            found.append(Finding("plane of the subject", "room", part.name, foremost, sentence))
    return nearest(found)


def _grown(region: Region, by: float) -> Region:
    """The region with all that is nearer to it than by [mm]."""

    def grown(point: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        value, slope = region(point)
        return value - by, slope

    return grown
