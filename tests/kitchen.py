"""The kitchen table of docs/measure.md in the engine: what a camera would read of a sheet and of a flash."""

from itertools import pairwise

import numpy as np
from scenes import hollow_box, lamp, sheet_part, window_head

from lightsim.light.forward import trace
from lightsim.light.near import arrivals
from lightsim.light.scene import build
from lightsim.rig.beam import Beam
from lightsim.rig.place import Part, rotation
from lightsim.rig.shapes import FlatSheet, triangulate
from lightsim.sheet import Sheet

CAMERA = 500.0  # mm before the sheet, which lies at z = 0 with the camera at negative z
HOLE, GAP, LID = 6.0, 30.0, (300.0, 200.0)
WHITE, BLACK, PAPER = 0.86, 0.05, 0.79
REPLICATES = 16


def window_reading(sheet, *, seed=1, points=8192):
    """Stops from the hole in the sheet to the sheet beside it; the window shines evenly and reflects as white paper."""
    pierced = triangulate(
        FlatSheet(shape="sheet", width=LID[0], height=LID[1], holes=[{"kind": "round", "diameter": HOLE}])
    )
    walls = hollow_box(*LID, 0, GAP, Sheet(diffuse_reflectance=0.8), back=False)
    window = lamp(distance=GAP, width=LID[0], height=LID[1], power=1.0, reflectance=PAPER)
    scene = build([Part("sheet", "diffuser", pierced, sheet), walls], [window])
    cloud = trace(scene, points=points, replicates=REPLICATES, seed=seed)
    names = [part.name for part in scene.parts]
    seen = arrivals(cloud, np.array([0, 0, -CAMERA]))
    # What is seen through the sheet crosses it nearer to the middle than it started.
    radius = np.hypot(seen.origin[:, 0], seen.origin[:, 1])
    radius = np.where(seen.part == names.index("sheet"), radius, radius * CAMERA / (CAMERA + GAP))
    beside = luminance(seen.only((radius > HOLE / 2 + 2) & (radius < 25)), CAMERA, HOLE / 2 + 2, 25)
    in_hole = arrivals(cloud, np.array([0, 0, -0.01]), ignore=("sheet",))
    radius = np.hypot(in_hole.origin[:, 0], in_hole.origin[:, 1])
    bare = luminance(in_hole.only((in_hole.part == names.index("flash")) & (radius < 10)), GAP, 0, 10)
    return stops(bare, beside)


def card_readings(sheet, *, seed=1, points=8192):
    """Stops by which the sheet on white and on black card is darker than bare white card; light at 45 degrees."""
    bare = _on_card(None, WHITE, seed=seed, points=points)
    return tuple(stops(bare, _on_card(sheet, card, seed=seed, points=points)) for card in (WHITE, BLACK))


def spot_readings(sheet, *, distance=100.0, seed=1, points=8192):
    """Width of the spot [mm], stops at its side, stops that the lamp itself loses. The lamp is a square hole of the
    area of a round one of 6 mm, which makes no difference at 100 mm."""
    side = HOLE * np.sqrt(np.pi) / 2
    hole = lamp(distance=distance, width=side, height=side, power=1.0, reflectance=0.0)
    scene = build([sheet_part(0.0, 500, 500, sheet)], [hole])
    cloud = trace(scene, points=points, replicates=REPLICATES, seed=seed)
    seen = arrivals(cloud, np.array([0, 0, -CAMERA]))
    scattered = seen.only(~seen.straight)
    radius = np.hypot(scattered.origin[:, 0], scattered.origin[:, 1])

    def ring(low, high):
        return luminance(scattered.only((radius >= low) & (radius < high)), CAMERA, low, high).mean()

    edge = np.concatenate([[0.0], np.geomspace(3, 90, 30)])
    bright = np.array([ring(low, high) for low, high in pairwise(edge)])
    middle = np.sqrt((edge[1:] ** 2 + edge[:-1] ** 2) / 2)
    # A parabola through the stops about half of the peak smooths what is left of the noise.
    top = bright[:2].mean() if bright[1] > 0.9 * bright[0] else bright[0]
    below = np.log2(top / bright)
    near = (below > 0.3) & (below < 2)
    width = 2 * np.sqrt(np.polyval(np.polyfit(below[near], middle[near] ** 2, 2), 1.0))
    lamp_luminance = 1 / (np.pi * scene.area[0])  # of a Lambertian window that sends out one lumen
    straight = seen.luminance[seen.straight].mean() if seen.straight.any() else 0.0
    return width, np.log2(top / ring(95, 105)), np.log2(lamp_luminance / (straight + top))


def wall_readings(beam, marks, *, distance=1000.0, luminous_energy=1.0, seed=1):
    """Luminous exposure of a wall at the marks [mm from the middle], lx s, lit by a head of this beam."""
    head = lamp(distance=distance, beam=beam, width=60, height=40, reflectance=0.0)
    scene = build([], [head])
    cloud = trace(scene, points=1024, replicates=REPLICATES, seed=seed)
    found = []
    for mark in marks:
        at = arrivals(cloud, np.array([mark, 0.0, 0.0]))
        found.append((at.weight * np.maximum(at.direction[:, 2], 0)).sum() * 1e6 * luminous_energy)
    return np.array(found)


def luminance(arrived, distance, low, high):
    """Luminance of a ring about the axis at a distance, by replicate."""
    solid_angle = 2 * np.pi * (distance / np.hypot(distance, low) - distance / np.hypot(distance, high))
    return np.bincount(arrived.replicate, arrived.weight, REPLICATES) * REPLICATES / solid_angle


def stops(brighter, darker):
    return float(np.log2(brighter.mean() / darker.mean()))


def _on_card(sheet, reflectance, *, seed, points):
    angle, away, width = 45.0, 600.0, 150.0
    slant = np.radians(angle)
    head = window_head(
        name="flash",
        centre=np.array([0, np.sin(slant), -np.cos(slant)]) * away,
        turned=rotation(tilt=180 - angle, turn=0, roll=0),
        width=60,
        height=40,
        beam=Beam(cos_power=10),
        share=1.0,
        glass=Sheet(),
    )
    backing = sheet_part(0.5, width, width, Sheet(diffuse_reflectance=reflectance), name="card")
    parts = [backing] if sheet is None else [sheet_part(0.0, width, width, sheet), backing]
    cloud = trace(build(parts, [head]), points=points, replicates=REPLICATES, seed=seed)
    seen = arrivals(cloud, np.array([0, 0, -CAMERA]))
    radius = np.hypot(seen.origin[:, 0], seen.origin[:, 1])
    return luminance(seen.only((radius < 25) & (seen.part > 0)), CAMERA, 0, 25)
