"""How a flash warms a sheet: worked examples, bounds, the warmest circle, what is told; and the cautions."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest
from scenes import PAIR, disc, hollow_box, lamp, sheet_part
from shapely.geometry import Point, Polygon

from lightsim.light.estimate import Estimate
from lightsim.light.forward import trace
from lightsim.light.light import Light
from lightsim.light.scene import build
from lightsim.rig.keys import with_value
from lightsim.rig.library import design_path, library_materials
from lightsim.rig.load import load, load_data, loads, placed
from lightsim.rig.mesh import Mesh
from lightsim.rig.place import Part
from lightsim.sheet import Sheet
from lightsim.shot.absorbed import absorbed_of, area_within, warmest
from lightsim.shot.care import CARE, FIRST
from lightsim.shot.colour import luminous_efficacy
from lightsim.shot.heat import (
    CIRCLE,
    Warming,
    burst_of,
    cooling_time,
    radiant_energy,
    rise_of,
    steady_of,
    told,
    warming_of,
)

WINDOW = 60e-3 * 40e-3  # m2
PAPER_TAKES = 0.043604  # 1 - R0 - T, R0 = 0.80, T = 0.156396 by Kubelka & Munk at R-infinity = 0.87
CELLULOSE = 1340.0  # J/(kg K), from memory


def lit(parts: list[Part], head: Any, *, seed: int = 1, points: int = 1024) -> Any:
    """The light of a scene, as far as the heat asks for it."""
    scene = build(parts, [head])
    cloud = trace(scene, points=points, replicates=16, seed=2 * seed + 1)
    return Light(None, scene, cloud, seed, 0.01, cloud)  # type: ignore[arg-type]


def light_of_design(name: str, *, points: int = 1024, **values: Any) -> Light:
    data = load(design_path(name)).data
    for key, value in values.items():
        data = with_value(data, key.replace("__", ".").replace("_of_", " "), value)
    rig = placed(load_data(data))
    scene = build(rig.parts, rig.heads)
    cloud = trace(scene, points=points, replicates=16, seed=3)
    return Light(rig, scene, cloud, 1, 0.01, cloud)


# --- worked examples


def test_the_worked_examples_of_paper_on_a_window() -> None:
    # Worked apart: 10 J through a window of 60 x 40 mm, paper of 80 g/m2 and 1340 J/(kg K): 1.6948 K a flash, 33.896 K
    # by 20 flashes without loss; darkened, so that 95 % is absorbed, 36.925 K a flash.
    white = rise_of(dose=10 * PAPER_TAKES / WINDOW, grammage=80, specific_heat=CELLULOSE)
    black = rise_of(dose=10 * 0.95 / WINDOW, grammage=80, specific_heat=CELLULOSE)
    assert white == pytest.approx(1.6948, abs=5e-5)
    assert 20 * white == pytest.approx(33.896, abs=5e-4)
    assert black == pytest.approx(36.925, abs=5e-4)
    # The cautions say a twentieth, and twenty times as much.
    assert pytest.approx(1 / 20, rel=0.2) == PAPER_TAKES
    assert black / white == pytest.approx(20, rel=0.1)


# Newton's law of cooling in Euler steps, w c dT/dt = q - 2 h T with h = 10 W/(m2 K): 60 J/m2 a flash on 80 g/m2 of
# cellulose, whose w c is 107.2 J/(m2 K).
@pytest.mark.parametrize("pace", [0.5, 2.5, 20.0])
def test_a_series_follows_newtons_law_of_cooling(pace: float) -> None:
    mass, step = 0.080 * CELLULOSE, 0.0005
    cooling = cooling_time(grammage=80, specific_heat=CELLULOSE)
    rise = rise_of(dose=60, grammage=80, specific_heat=CELLULOSE)
    temperature, after = 0.0, []
    for _ in range(40):
        temperature += 60 / mass
        after.append(temperature)
        for _ in range(round(pace / step)):
            temperature -= 20 * temperature / mass * step
            if temperature < 1e-12:
                break
    for flashes in (1, 2, 5, 20):
        found = burst_of(rise=rise, flashes=flashes, pace=pace, cooling=cooling)
        assert found == pytest.approx(after[flashes - 1], rel=1e-3)
    steady = steady_of(rise=rise, pace=pace, cooling=cooling)
    if 40 * pace > 10 * mass / 20:
        assert steady == pytest.approx(after[-1], rel=1e-3)
    assert max(after) <= steady * (1 + 1e-3)


def test_a_burst_at_once_loses_nothing_and_a_slow_one_all() -> None:
    # The limits of the sum, by hand: 20 times 1.6948 K without any loss, and one flash where all is lost in between.
    rise = rise_of(dose=10 * PAPER_TAKES / WINDOW, grammage=80, specific_heat=CELLULOSE)
    cooling = cooling_time(grammage=80, specific_heat=CELLULOSE)
    assert cooling == pytest.approx(5.36, rel=1e-12)  # 107.2 J/(m2 K) over 20 W/(m2 K)
    assert burst_of(rise=rise, flashes=20, pace=1e-7, cooling=cooling) == pytest.approx(33.896, abs=5e-4)
    assert burst_of(rise=rise, flashes=20, pace=1e4, cooling=cooling) == pytest.approx(rise, rel=1e-12)
    assert burst_of(rise=rise, flashes=1, pace=2.5, cooling=cooling) == pytest.approx(rise, rel=1e-12)
    long = burst_of(rise=rise, flashes=1000, pace=2.5, cooling=cooling)
    assert long == pytest.approx(steady_of(rise=rise, pace=2.5, cooling=cooling), rel=1e-12)


def test_the_mean_of_a_long_series_is_what_both_sides_give_off() -> None:
    # By hand: 100 J/m2 every 5 s are 20 W/m2, which two sides of 10 W/(m2 K) give off at 1 K above the air. The mean
    # of steady e^(-t / cooling) over a pace is steady (1 - r) cooling / pace.
    for grammage in (80, 250):
        cooling = cooling_time(grammage=grammage, specific_heat=CELLULOSE)
        rise = rise_of(dose=100, grammage=grammage, specific_heat=CELLULOSE)
        peak = steady_of(rise=rise, pace=5, cooling=cooling)
        assert peak * (1 - math.exp(-5 / cooling)) * cooling / 5 == pytest.approx(1.0, rel=1e-12)


# --- energy of the flash


def test_radiant_energy_by_hand() -> None:
    # Guide number 30 m at ISO 100: 2250 cd s on the axis with C = 250; cos^4: 2 pi / 5 sr, 2827.4 lm s; at full power.
    rig = light_of_design("flat-paper").placed
    assert radiant_energy(rig, power=1) == pytest.approx(2827.433 / luminous_efficacy(5500), rel=1e-6)
    assert radiant_energy(rig, power=1 / 16) == pytest.approx(radiant_energy(rig, power=1) / 16)
    # The same light of a redder flash has more infrared with it: a black body of 3200 K gives about
    # 27 lm/W, of 5500 K about 90.
    warm = light_of_design("flat-paper", points=64, head__flash__kelvin=3200).placed
    assert radiant_energy(warm, power=1) == pytest.approx(2827.433 / luminous_efficacy(3200), rel=1e-6)
    assert radiant_energy(warm, power=1) > 2 * radiant_energy(rig, power=1)


def test_the_energy_that_a_head_states_is_not_taken_for_light() -> None:
    """Most of it stays in the head; the light follows from the guide number, for white and black sheets alike."""
    one, other = (light_of_design("flat-paper", points=256, head__flash__energy=energy) for energy in (5.0, 500.0))
    for found, same in zip(*(warming_of(light, power=1, pace=2.5) for light in (one, other)), strict=True):
        assert (found.rise, found.most) == (same.rise, same.most)


# --- where it is absorbed


SQUARE = [(-30.0, -20.0), (30.0, -20.0), (30.0, 20.0), (-30.0, 20.0)]


@pytest.mark.parametrize(
    "centre, height, expected",
    [
        ((0, 0), 0, math.pi * 100),  # whole, by the formula of the circle
        ((30, 0), 0, math.pi * 50),  # half over an edge
        ((30, 20), 0, math.pi * 25),  # at a corner
        ((0, 0), 6, math.pi * 64),  # a ball of 10 cut 6 above its middle: a disc of 8 (Pythagoras)
        ((0, 0), 10.5, 0),
        ((50, 0), 0, 0),
    ],
)
def test_area_of_a_circle_on_a_sheet(centre: tuple[float, float], height: float, expected: float) -> None:
    corners = np.array([(x, y, height) for x, y in SQUARE])[PAIR]
    assert area_within(corners, np.array([*centre, 0.0]), radius=10) == pytest.approx(expected, abs=1e-9)


def test_area_of_circle_and_triangle_agrees_with_a_geometry_library() -> None:
    # shapely 2: a polygon of 16,384 sides for the disc of 314 mm2, whose area falls short by 8e-6 mm2.
    rng = np.random.default_rng(5)
    for _ in range(60):
        corners = rng.uniform(-15, 15, (3, 2))
        middle = Point(*rng.uniform(-8, 8, 2))
        expected = Polygon(corners).intersection(middle.buffer(10, quad_segs=4096)).area
        there = np.array([np.column_stack([corners, np.zeros(3)])])
        found = area_within(there, np.array([middle.x, middle.y, 0.0]), radius=10)
        assert found == pytest.approx(expected, abs=1e-5)


def test_a_tilted_mesh_has_the_same_circles() -> None:
    """Turning all by a rotation changes no area."""
    rng = np.random.default_rng(6)
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    corners = rng.uniform(-15, 15, (20, 3, 3))
    centre = np.array([1.0, 2.0, 3.0])
    assert area_within(corners @ turn.T, turn @ centre, radius=9) == pytest.approx(
        area_within(corners, centre, radius=9), rel=1e-9
    )


def test_an_even_light_warms_all_places_alike() -> None:
    """A sheet close before a window takes the same everywhere but near the edges of the light; worked by hand."""
    # A disc of 200 mm right at a Lambertian window (cos^1) of 60 x 40 mm, 0.5 mm off: the light of the window arrives
    # evenly over it, so a circle in its middle takes 0.3 of 1 / 2400 mm2.
    glass = lamp(distance=50, power=1.0, reflectance=0.0)
    light = lit([disc(distance=49.5, radius=100, sheet=Sheet(diffuse_reflectance=0.7))], glass, points=4096)
    circle = warmest(light.scene, absorbed_of(light, paths=4096), 1, radius=CIRCLE / 2)
    assert circle is not None
    assert circle.area == pytest.approx(math.pi * 100, rel=1e-3)
    assert circle.taken.value == pytest.approx(0.3 / 2400, abs=4 * circle.taken.standard_error)
    assert circle.taken.standard_error < 0.03 * circle.taken.value
    assert circle.met.value == pytest.approx(circle.taken.value / 0.3, rel=1e-6)
    assert max(abs(circle.middle[0]) - 30, abs(circle.middle[1]) - 20) < 0


def test_a_circle_over_a_corner_is_no_place() -> None:
    """Light on the very corner of a sheet: there a quarter of a circle lies on it, and at least half is asked for."""
    glass = lamp(distance=60, width=1, height=1, power=1.0, reflectance=0.0, right=50, up=50)
    light = lit([sheet_part(50, 100, 100, Sheet(diffuse_reflectance=0.05))], glass)
    circle = warmest(light.scene, absorbed_of(light), 1, radius=CIRCLE / 2)
    assert circle is not None
    assert 0.5 * math.pi * 100 * 0.98 < circle.area < 0.8 * math.pi * 100


def test_all_that_is_absorbed_is_found() -> None:
    """The same light by two counts: landings with their places, and the engine's tally (conservation of energy)."""
    light = light_of_design("white-box")
    found = absorbed_of(light, paths=1024)
    by_part = np.bincount(found.part, found.taken, len(light.scene.parts))
    assert by_part == pytest.approx(light.cloud.tally.absorbed, abs=1e-6)
    assert np.all(found.met >= found.taken - 1e-9)


def test_black_sheets_and_clear_film_are_found_too() -> None:
    # By hand: a black sheet that sends nothing on takes all that lands, 20 mm before a window all that falls on it; a
    # film that passes 0.9 straight takes a tenth.
    for sheet, share in ((Sheet(), 1.0), (Sheet(straight=0.9), 0.1)):
        light = lit([sheet_part(48.0, 1000, 1000, sheet)], lamp(distance=50, power=5.0, reflectance=0.0))
        found = absorbed_of(light)
        assert found.taken.sum() == pytest.approx(share, abs=0.02)
        circle = warmest(light.scene, found, 1, radius=CIRCLE / 2)
        assert circle is not None
        assert circle.met.value == pytest.approx(circle.taken.value, rel=0.05)


def test_a_part_in_the_dark_has_no_warmest_circle() -> None:
    behind = sheet_part(80.0, 100, 100, Sheet(diffuse_reflectance=0.5), name="behind")
    light = lit([behind], lamp(distance=50, reflectance=0.0))
    assert warmest(light.scene, absorbed_of(light), 1, radius=10) is None


def test_the_circle_is_measured_by_other_light_than_it_was_chosen_by() -> None:
    """Unbiased, and its error bar honest: on an evenly lit sheet the choice is by chance alone."""
    # As above: 0.3 of 1 / 2400 mm2 anywhere before the window.
    runs = []
    for seed in range(24):
        light = lit(
            [disc(distance=49.5, radius=100, sheet=Sheet(diffuse_reflectance=0.7), sides=60)],
            lamp(distance=50, power=1.0, reflectance=0.0),
            seed=seed,
            points=256,
        )
        circle = warmest(light.scene, absorbed_of(light, paths=256), 1, radius=CIRCLE / 2)
        assert circle is not None
        runs.append((circle.taken.value, circle.taken.standard_error))
    value, error = np.array(runs).T
    spread = value.std(ddof=1)
    assert abs(value.mean() - 0.3 / 2400) < 4 * spread / math.sqrt(24)
    assert 0.6 < math.sqrt((error**2).mean()) / spread < 1.6  # 24 runs: a spread is known to 15 %


def test_corners_count_both_walls() -> None:
    """A ball about an inner corner holds two walls, and so does its area: no place looks twice as warm."""
    walls = hollow_box(80, 80, 0, 60, Sheet(diffuse_reflectance=0.5))
    corners = walls.mesh.vertices[walls.mesh.faces]
    assert area_within(corners, np.array([40.0, 0.0, 30.0]), radius=10) == pytest.approx(math.pi * 100, rel=1e-9)
    assert area_within(corners, np.array([40.0, 40.0, 30.0]), radius=10) == pytest.approx(math.pi * 100, rel=1e-9)


# --- the diffuser of a rig


def test_the_parts_of_a_design_and_its_numbers() -> None:
    light = light_of_design("white-box")
    found = {each.part: each for each in warming_of(light, power=1.0, pace=2.5, flashes=20)}
    assert set(found) == {part.name for part in light.scene.parts if part.role == "diffuser"}
    for each in found.values():
        assert each.rise is not None
        # The sum of what is left of twenty flashes, one by one.
        mass = each.dose.value / each.rise.value
        assert each.burst == pytest.approx(sum(each.rise.value * math.exp(-2.5 * n * 20 / mass) for n in range(20)))
        assert each.rise.value < each.burst <= each.steady
        assert each.hottest == 25 + each.steady
        assert each.most is not None
        assert each.most > each.rise.value
        assert 0 < each.share < 1
        assert each.air == 25
        assert each.unknown == ()
    card = library_materials()["white card"]
    box = next(each for each in found.values() if each.material == "white card")
    assert box.rise is not None
    assert box.rise.value == pytest.approx(box.dose.value / (0.250 * card.specific_heat), rel=1e-12)
    assert box.limit == card.softens
    half = warming_of(light, power=0.5, pace=2.5, flashes=20)
    for one, other in zip(found.values(), half, strict=True):
        assert one.rise is not None
        assert other.rise is not None
        assert other.rise.value == pytest.approx(one.rise.value / 2)
        assert other.burst == pytest.approx(one.burst / 2)
        assert other.steady == pytest.approx(one.steady / 2)


def test_paper_on_the_window_as_the_worked_example_has_it() -> None:
    """The engine on the worked example: all of a window's light on white paper of the same absorption."""
    paper = Sheet(
        diffuse_transmittance=0.156396, diffuse_reflectance=0.80, grammage=80, specific_heat=CELLULOSE, softens=218
    )
    window = lamp(distance=50, power=1.0, reflectance=0.0)
    light = lit([sheet_part(49.8, 300, 300, paper)], window, points=4096)
    circle = warmest(light.scene, absorbed_of(light, paths=4096), 1, radius=CIRCLE / 2)
    assert circle is not None
    # 10 J in all; the paper's own light comes back from the black glass no more.
    dose = 10 * circle.taken.value * 1e6
    rise = rise_of(dose=dose, grammage=80, specific_heat=CELLULOSE)
    error = rise * circle.taken.standard_error / circle.taken.value
    assert rise == pytest.approx(1.6948, abs=4 * error)
    assert error < 0.06


ON_THE_WINDOW = """\
title = "Hedge and pond, invented: a sheet 2 mm before the window, which nobody should put there"
[camera]
sensor = [23.5, 15.6]
magnification = 1
[lens]
working_distance = 95
diameter = 65
length = 120
[[head]]
name = "flash"
from = "subject"
up = 60
toward_lens = 160
window = [60, 40]
beam = { cos_power = 4 }
guide_number = 30
[[diffuser]]
name = "front"
shape = "sheet"
width = 110
height = 90
material = "mine"
from = "flash"
toward_subject = 2
[material.mine]
grammage = 80
specific_heat = 1340
softens = 218
"""


def test_nothing_black_goes_on_the_window() -> None:
    """Half flashes every 2.5 s on paper 2 mm before the window: white paper bears them, black does not."""
    found = {}
    for name, lines in (
        ("white", "diffuse_transmittance = 0.16\ndiffuse_reflectance = 0.79"),
        ("black", "diffuse_reflectance = 0.05"),
    ):
        rig = placed(loads(f"{ON_THE_WINDOW}{lines}\n"))
        scene = build(rig.parts, rig.heads)
        cloud = trace(scene, points=256, replicates=16, seed=3)
        (found[name],) = warming_of(Light(rig, scene, cloud, 1, 0.01, cloud), power=0.5, pace=2.5)
    white, black = found["white"], found["black"]
    assert (white.warn, black.warn) == (False, True)
    assert "CAUTION: in air of 25 degrees C" in told(black)
    assert "CAUTION" not in told(white)
    # By hand: half of 31.7 J over 2400 mm2 are 6.6 kJ/m2; black takes 0.95 of it, on 80 g/m2 of 1340 J/(kg K)
    # 58 K. In the middle the light does not thin out over 2 mm.
    energy = 0.5 * 2827.433 / luminous_efficacy(5500)
    by_hand = rise_of(dose=0.95 * energy / WINDOW, grammage=80, specific_heat=CELLULOSE)
    assert black.rise is not None
    assert black.rise.value == pytest.approx(by_hand, rel=0.06)
    # What is told of a black sheet in place of the white one is a bound, and of the right size: the white one gets
    # some light twice, by way of the window.
    assert white.most is not None
    assert by_hand / 0.95 < white.most * 1.06
    assert white.most < 1.5 * by_hand / 0.95


def test_the_warmest_circle_is_twenty_millimetres_across() -> None:
    """A tiny Lambertian window 10 mm before a black sheet: half of its light, sin^2 45 degrees, lands within 10 mm."""
    text = ON_THE_WINDOW.replace("toward_subject = 2", "toward_subject = 10").replace("cos_power = 4", "cos_power = 1")
    text = text.replace("window = [60, 40]", "window = [1, 1]")
    rig = placed(loads(f"{text}diffuse_reflectance = 0.05\n"))
    scene = build(rig.parts, rig.heads)
    cloud = trace(scene, points=256, replicates=16, seed=3)
    (found,) = warming_of(Light(rig, scene, cloud, 1, 0.01, cloud), power=1, pace=2.5)
    by_hand = 0.95 * 0.5 * radiant_energy(rig, power=1) / (math.pi * 0.010**2)
    # The circle is about one of 64 landings, none of which need be in the very middle.
    assert found.dose.value == pytest.approx(by_hand, rel=0.15)


def warming(**changed: Any) -> Warming:
    stated: dict[str, Any] = {
        "part": "front", "material": "copy paper", "share": 0.05, "circle": (0.0, 0.0, 0.0), "dose": Estimate(100.0),
        "rise": Estimate(1.0), "most": 20.0, "flashes": 20, "burst": 4.2, "pace": 2.5, "steady": 5.3, "air": 25.0,
        "limit": 218.0, "warn": False, "unknown": (),
    }  # fmt: skip
    return Warming(**{**stated, **changed})


def test_what_is_not_known_is_said() -> None:
    said = told(warming(rise=None, most=None, burst=None, steady=None, unknown=("grammage", "specific_heat")))
    assert "How warm it gets is not known: its material does not state grammage and specific_heat." in said
    assert "What it bears is not known" in told(warming(limit=None))
    assert told(warming(circle=None)) == '"front" (copy paper) absorbs none of the light.'


def test_what_flashes_do_is_told_in_short_sentences() -> None:
    assert told(warming()) == (
        '"front" (copy paper) absorbs 5 % of the light. Where it gets warmest, one flash warms it by 1 degree, 20 '
        "flashes (one every 2.5 s) by 4.2 degrees, any number by no more than 5.3 degrees. Were it black, one flash "
        "would warm it by 20 degrees. At about 218 degrees C it scorches, softens or melts."
    )
    # What comes to the same is said once, and of a black sheet nothing is said about black.
    same = told(warming(steady=4.2, most=1.05))
    assert "1 degree, any number (one every 2.5 s) by no more than 4.2 degrees. At about 218" in same
    assert "Were it black" in told(warming(most=2.0))
    assert "one flash warms it by 0.5 degrees" in told(warming(rise=Estimate(0.5)))
    little = told(warming(steady=0.8, burst=0.6, most=0.9))
    assert "light. Any number of flashes (one every 2.5 s) warms it by less than 1 degree. At about 218" in little
    hot = told(warming(steady=110.0, burst=100.0, warn=True))
    assert "CAUTION: in air of 25 degrees C it may get to 135 degrees C; at about 218 it scorches" in hot
    assert max(map(len, (same, hot, told(warming())))) < 450


def test_a_material_of_the_rig_without_mass_is_told_and_not_passed_over() -> None:
    data = load(design_path("flat-paper")).data
    data = {**data, "material": {"mine": {"diffuse_transmittance": 0.4, "diffuse_reflectance": 0.5}}}
    rig = placed(load_data(with_value(data, "diffuser.paper.material", "mine")))
    scene = build(rig.parts, rig.heads)
    cloud = trace(scene, points=256, replicates=16, seed=3)
    (mine,) = warming_of(Light(rig, scene, cloud, 1, 0.01, cloud), power=1, pace=2.5)
    assert (mine.rise, mine.burst, mine.steady, mine.most, mine.limit, mine.hottest) == (None,) * 6
    assert mine.dose.value > 0
    assert not mine.warn
    assert mine.unknown == ("grammage", "specific_heat", "softens")
    assert "does not state grammage, specific_heat and softens. Feel it" in told(mine)


def test_the_warning_comes_half_of_the_way_to_the_limit() -> None:
    # By hand: packing foam, limit 100: half of the way from 25 is 62.5 degrees C, in air of 25 a rise of 37.5 K. A
    # series reaches rise / (1 - e^(-pace / cooling)), solved here for the pace.
    foam = library_materials()["packing foam"]
    cooling = foam.grammage / 1000 * foam.specific_heat / 20
    for air in (25.0, 40.0):
        light = light_of_design("flat-foam", points=256, shot__air=air)
        (first, *_) = warming_of(light, power=1, pace=2.5, flashes=1)
        assert first.rise is not None
        assert first.limit == 100
        enough = -cooling * math.log(1 - first.rise.value / (62.5 - air))
        (slow, *_), (fast, *_) = (warming_of(light, power=1, pace=share * enough) for share in (1.001, 0.999))
        assert (slow.warn, fast.warn) == (False, True)
        assert fast.hottest == pytest.approx(62.5, abs=0.1)
        assert fast.hottest == pytest.approx(air + fast.steady)


@pytest.mark.parametrize(
    "given, words",
    [
        ({"power": 0.0, "pace": 1.0}, "power: 0: .*Allowed: above 0, up to 1"),
        ({"power": 1.5, "pace": 1.0}, "power: 1.5: .*Try 1/16"),
        ({"power": 1.0, "pace": 0.0}, "pace: 0: .*more than 0 s.*Try the recycle time"),
        ({"power": 1.0, "pace": float("nan")}, "pace: nan"),
        ({"power": 1.0, "pace": 1.0, "flashes": 0}, "flashes: 0: .*Allowed: 1 or more"),
    ],
)
def test_what_no_flash_does_is_refused(given: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        warming_of(None, **given)  # type: ignore[arg-type]


# --- cautions


def test_the_cautions_cover_what_they_must() -> None:
    text = " ".join([FIRST, *(f"{each.about}: {each.text}" for each in CARE)])
    for words in (
        "No claim of photobiological safety is made", "Makers' instructions", "local codes", "IEC 62471",
        "licensed service", "eyes of people or animals", "epilepsy", "Never open a flash", "flashes a minute",
        "Nothing black or dark goes on the window", "off, let air pass", "Hold back",
        "chill, trap or move", "fell into water",
    ):  # fmt: skip
        assert words in text, words
    assert not re.search(r"\bis safe\b|\bharmless\b", text)
    assert len({each.about for each in CARE}) == len(CARE)
    # Short enough to be read (a choice of ours, no source).
    assert len(FIRST) <= 200
    assert max(len(each.text) for each in CARE) <= 150


def test_the_capacitor_can_hold_more_than_kills() -> None:
    # 1000 uF at 330 V: half C V^2 = 54.45 J; notes on strobe safety (D. L. Klipstein) have 10 J as enough to kill.
    assert pytest.approx(54.45, abs=5e-5) == 0.5 * 1000e-6 * 330**2
    (voltage,) = (each.text for each in CARE if each.about == "High voltage")
    assert "300 V" in voltage
    assert "enough energy to kill" in voltage


def test_cautions_load_nothing_heavy() -> None:
    import subprocess
    import sys

    code = "import sys, lightsim.shot.care; print([m for m in ('numpy', 'scipy', 'pydantic') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_mesh_without_area_is_no_place() -> None:
    flat = Mesh(np.zeros((3, 3)), np.array([[0, 1, 2]]))
    assert area_within(flat.vertices[flat.faces], np.zeros(3), radius=10) == 0
