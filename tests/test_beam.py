"""Beams of heads: powers of the cosine, half-value angles, tables, photometric files; guide number to lx s."""

import numpy as np
import pytest
from rigs import bare_text
from scenes import sheet_part, window_head
from scipy import stats
from scipy.interpolate import RegularGridInterpolator

from lightsim.light import backward
from lightsim.light.beam import directions, intensity, off_axis, sample
from lightsim.light.estimate import mean_of
from lightsim.light.forward import trace
from lightsim.light.light import SUBJECT, light_of
from lightsim.light.near import arrivals
from lightsim.light.paths import paths_of
from lightsim.light.scene import build
from lightsim.measure.exposure import luminous_energy
from lightsim.measure.illuminance import plane_samples
from lightsim.measure.loss import reference_illuminance
from lightsim.measure.view import luminance, view_of
from lightsim.rig.beam import Beam, beam_solid_angle, half_value_angle
from lightsim.rig.errors import RigError
from lightsim.rig.load import loads, placed
from lightsim.rig.photometric import with_file
from lightsim.rig.place import rotation
from lightsim.sheet import Sheet

FACING = (0.0, 0.0, 1.0)
OBLONG = Beam(cos_power=(2.0, 9.0))

# A hammer-shaped beam, brighter to the right (0) than to the left (180), brighter up (90) than down (270).
VERTICAL = (0, 10, 25, 40, 60, 90)
HORIZONTAL = (0, 45, 90, 180, 270, 360)
CANDELA = (
    (800, 760, 600, 300, 80, 0),
    (800, 700, 500, 260, 40, 0),
    (800, 600, 350, 100, 10, 0),
    (800, 720, 420, 150, 30, 0),
    (800, 500, 200, 20, 0, 0),
    (800, 760, 600, 300, 80, 0),
)
# Bright to the right and up, next to nothing to the left and down.
LOPSIDED = ((0, 8, 60), (0, 90, 180, 270), ((800, 1600, 0), (800, 1600, 0), (800, 0, 0), (800, 0, 0)))


def lm63(vertical=VERTICAL, horizontal=HORIZONTAL, candela=CANDELA, *, kind=1, tilt="NONE", head=None, multiplier=1):
    """A photometric file by LM-63-2002: clause by clause, ten numbers, three, then angles and candela values."""
    lines = [
        head if head is not None else "IESNA:LM-63-2002\n[TEST] invented\n[MANUFAC] nobody",
        f"TILT={tilt}",
        f"1 -1 {multiplier} {len(vertical)} {len(horizontal)} {kind} 2 0.06 0.04 0",
        "1 1 0",
        " ".join(map(str, vertical)),
        " ".join(map(str, horizontal)),
        *(" ".join(map(str, row)) for row in candela),
    ]
    return "\n".join(lines) + "\n"


def file_beam(folder, text=None, name="beam.ies"):
    (folder / name).write_text(lm63() if text is None else text)
    return with_file(Beam(file=name), folder=folder)


def rig(beam, *, guide_number="20", unit="m", iso=100, more="", folder=None, **place):
    """A bare flash 1 m from the subject, with a window of 2 mm, so that all distances are alike."""
    text = bare_text(guide_number=guide_number, **place).replace(
        "[head.beam]\ncos_power = 5.0", f'guide_number_unit = "{unit}"\niso = {iso}\n{more}\n[head.beam]\n{beam}'
    )
    return placed(loads(text, file="test.toml", folder=folder))


def exposure(world, point):
    """Luminous exposure at a point on a plane square to the axis by the traced light [lx s]."""
    cloud = trace(build(world.parts, world.heads), points=256, replicates=4, seed=5)
    per_lumen = mean_of(plane_samples(arrivals(cloud, np.array(point, float)), FACING))
    return per_lumen.value * 1e6 * luminous_energy(world)


def profile(beam, angle, around):
    """Intensity per lumen at angles [degrees] from the axis and around it, for a head that looks at -z."""
    head = lamp(beam)
    angle, around = np.radians(np.atleast_1d(angle)), np.radians(np.atleast_1d(around))
    way = np.stack([np.sin(angle) * np.cos(around), np.sin(angle) * np.sin(around), -np.cos(angle)], axis=1)
    return intensity(beam, np.cos(angle), off_axis(head, way))


def lamp(beam, *, centre=(0, 0, 1000), width=60.0, height=40.0, tilt=0, turn=0, roll=0, share=1.0):
    return window_head(
        name="flash",
        centre=np.array(centre, float),
        turned=rotation(tilt=tilt, turn=turn, roll=roll),
        width=width,
        height=height,
        beam=beam,
        share=share,
        glass=Sheet(diffuse_reflectance=(0.3, 0.0)),
    )


# Guide number to lx s by hand. H = C GN^2 / (S d^2) on the axis with C = 250 (ISO 2720 as quoted by Conrad); at an
# angle a beside it, on a plane square to the axis, times I(a) / I(0), cos a for the slant, cos^2 a for the longer way.
# A: GN 20 m, ISO 100: 1000 lx s at 1 m. B: GN 100 ft = 30.48 m, ISO 100: 2.5 x 929.0304 = 2322.576 lx s.
# C: GN 34 m, ISO 200: 1.25 x 1156 = 1445 lx s.
FLASHES = {"A": ("20", "m", 100, 1000.0), "B": ("100", "ft", 100, 2322.576), "C": ("34", "m", 200, 1445.0)}
# cos^5 at 40 degrees: cos^8 40 = 0.7660444^8 = 0.1185855. Table at 50 degrees: 0.25 cos^3 50 = 0.25 x 0.2655844.
PROFILES = {
    "cosine": ("cos_power = 5", 40.0, 0.1185855),
    "table": ("angle = [0, 20, 40, 60]\nintensity = [1, 1, 0.5, 0]", 50.0, 0.25 * 0.2655844),
}


@pytest.mark.parametrize("beam", PROFILES)
@pytest.mark.parametrize("flash", FLASHES)
def test_guide_number_to_lux_seconds_on_the_axis_and_well_off_it(flash, beam):
    guide_number, unit, iso, on_axis = FLASHES[flash]
    text, angle, share = PROFILES[beam]
    world = rig(text, guide_number=guide_number, unit=unit, iso=iso)
    assert exposure(world, (0, 0, 0)) == pytest.approx(on_axis, rel=2e-5)
    beside = 1000 * np.tan(np.radians(angle))
    assert exposure(world, (beside, 0, 0)) == pytest.approx(on_axis * share, rel=2e-5)
    assert exposure(world, (0, -beside, 0)) == pytest.approx(on_axis * share, rel=2e-5)


# The same with a beam of half-value angles 39 across and 30 up, at the angle where the intensity is half: half of
# 1000 cos^3 39 = 469.367 is 234.684 lx s to the right, half of 1000 cos^3 30 = 649.519 is 324.760 above.
def test_half_value_angles_say_where_a_flash_is_half_as_bright():
    world = rig("half_value_angle = [39, 30]")
    assert exposure(world, (0, 0, 0)) == pytest.approx(1000, rel=2e-5)
    assert exposure(world, (1000 * np.tan(np.radians(39)), 0, 0)) == pytest.approx(234.684, rel=2e-5)
    assert exposure(world, (0, 1000 * np.tan(np.radians(30)), 0)) == pytest.approx(324.760, rel=2e-5)
    # Full angles of 78 and 60 degrees: m = ln 0.5 / ln cos, by hand 0.693147 / 0.252127 and / 0.143841.
    assert world.heads[0].beam.powers == pytest.approx((2.74920, 4.81884), abs=5e-6)


# Turned by 90 degrees about its axis (roll), the flash throws its wide side up.
def test_an_oblong_beam_turns_with_its_head():
    upright, rolled = rig("cos_power = [2, 9]"), rig("cos_power = [2, 9]", more="roll = 90")
    aside, above = (400.0, 0, 0), (0, 400.0, 0)
    assert exposure(upright, aside) == pytest.approx(exposure(rolled, above), rel=1e-5)
    assert exposure(upright, above) == pytest.approx(exposure(rolled, aside), rel=1e-5)
    # (d / sqrt(d^2 + 400^2))^(m + 3), d = 1 m: cos = 0.9284767.
    assert exposure(upright, aside) == pytest.approx(1000 * 0.9284767**5, rel=2e-5)
    assert exposure(upright, above) == pytest.approx(1000 * 0.9284767**12, rel=2e-5)


# A guide number of the narrowest zoom, used at the widest: the same lumen-seconds in another solid angle. GN 34 m at
# ISO 100 with half the intensity at 12 degrees (m = 31.3722): 2890 cd s x 2 pi / 32.3722 = 560.924 lm s; spread by
# cos^2 (2 pi / 3 sr) that is 267.82 cd s on the axis, so many lx s at 1 m. Derived here.
def test_guide_number_of_another_zoom_setting():
    world = rig("cos_power = 2", guide_number="34", more="guide_number_beam = { half_value_angle = 12 }")
    assert luminous_energy(world) == pytest.approx(560.924, abs=0.05)
    assert exposure(world, (0, 0, 0)) == pytest.approx(267.82, abs=0.03)


def test_guide_number_of_another_zoom_setting_by_file(tmp_path):
    # An even cone of 10 degrees within a hair: 2 pi (1 - cos 10) sr, against 2 pi / 3 of cos^2. Derived here.
    (tmp_path / "tele.ies").write_text(lm63((0, 10, 10.01, 90), (0,), ((50, 50, 0, 0),)))
    world = rig("cos_power = 2", more='guide_number_beam = { file = "tele.ies" }', folder=tmp_path)
    narrow = 2 * np.pi * (1 - np.cos(np.radians(10.005)))
    assert luminous_energy(world) == pytest.approx(1000 * narrow, rel=1e-5)
    assert exposure(world, (0, 0, 0)) == pytest.approx(1000 * narrow / (2 * np.pi / 3), rel=2e-5)


# Lumen-seconds are the axial intensity times the integral of the profile: by Gauss-Legendre between the table's angles.
@pytest.mark.parametrize("name", ["oblong", "half", "file"])
def test_solid_angle_is_the_integral_of_the_profile(name, tmp_path):
    beam = {"oblong": OBLONG, "half": Beam(half_value_angle=(39.0, 30.0)), "file": file_beam(tmp_path)}[name]
    on_axis = profile(beam, 0.0, 0.0)[0]
    assert on_axis == pytest.approx(1 / beam_solid_angle(beam), rel=1e-9)
    angle, of_angle = gauss(VERTICAL)
    around, of_around = gauss(HORIZONTAL)
    angle, around = (each.ravel() for each in np.meshgrid(angle, around, indexing="ij"))
    light = profile(beam, angle, around) * np.sin(np.radians(angle)) * np.outer(of_angle, of_around).ravel()
    assert light.sum() * np.radians(1) ** 2 == pytest.approx(1.0, rel=1e-6), "one lumen in all"


def gauss(edges, count=24):
    """Nodes between edges and their weights."""
    node, weight = np.polynomial.legendre.leggauss(count)
    edges = np.asarray(edges, float)
    middle, half = (edges[1:] + edges[:-1]) / 2, np.diff(edges) / 2
    return (middle[:, None] + half[:, None] * node).ravel(), (half[:, None] * weight).ravel()


# 2 pi / sqrt((m + 1)(n + 1)): the integral of cos^m over cos-theta is 1 / (m + 1), and that of 1 / (a cos^2 + b sin^2)
# once around is 2 pi / sqrt(a b) (Gradshteyn & Ryzhik 2.562, from memory): 2 pi / sqrt(3 x 10) = 1.147147.
def test_solid_angle_of_an_oblong_beam_by_hand():
    assert beam_solid_angle(OBLONG) == pytest.approx(1.147147, abs=5e-7)
    assert half_value_angle(OBLONG) == pytest.approx(45.0, abs=1e-9)  # cos^2
    assert half_value_angle(OBLONG, around=90) == pytest.approx(np.degrees(np.arccos(0.5 ** (1 / 9))), abs=1e-9)
    assert half_value_angle(Beam(half_value_angle=(39.0, 30.0)), around=90) == pytest.approx(30.0, abs=1e-9)


def cells(beam, *, slices=12, rings=10):
    """Light in each cell of a grid around the axis and from it, by Gauss-Legendre; the edges [rad, cosine]."""
    around, cosine = np.linspace(0, 2 * np.pi, slices + 1), np.linspace(0, 1, rings + 1)
    (turn, of_turn), (height, of_height) = gauss(around), gauss(cosine)
    turn, height = np.meshgrid(turn, height, indexing="ij")
    light = profile(beam, np.degrees(np.arccos(height.ravel())), np.degrees(turn.ravel())).reshape(turn.shape)
    light = light * np.outer(of_turn, of_height)
    return light.reshape(slices, 24, rings, 24).sum(axis=(1, 3)), around, cosine


def drawn(beam, around, cosine, count=200_000, seed=11):
    """Mean weight in each cell of sampled directions, and its standard error."""
    rng = np.random.default_rng(seed)
    ahead, turn, weight = directions(beam, rng.random(count), rng.random(count))
    row = np.searchsorted(around, np.mod(turn, 2 * np.pi), side="right") - 1
    place = row * (len(cosine) - 1) + np.clip(np.searchsorted(cosine, ahead, side="right") - 1, 0, len(cosine) - 2)
    size = (len(around) - 1) * (len(cosine) - 1)
    mean, square = (np.bincount(place, weight**power, size) / count for power in (1, 2))
    return mean, np.sqrt((square - mean**2) / count), np.bincount(place, minlength=size)


# Pearson's chi-square against the integrals of the profile over the cells.
@pytest.mark.parametrize("powers", [(2.0, 9.0), (30.0, 4.0), (0.0, 1.0)])
def test_oblong_beams_are_sampled_as_they_are_evaluated(powers):
    beam = Beam(cos_power=powers)
    light, around, cosine = cells(beam)
    count = 200_000
    _, _, found = drawn(beam, around, cosine, count)
    assert light.sum() == pytest.approx(1, rel=1e-5)
    expected = light.ravel() * count
    many = expected > 10
    few = expected[~many].sum(), found[~many].sum()
    observed, wanted = np.append(found[many], few[1]), np.append(expected[many], max(few[0], 1e-9))
    if few[0] < 10:
        observed, wanted = found[many], expected[many] * found[many].sum() / expected[many].sum()
    assert stats.chisquare(observed, wanted * observed.sum() / wanted.sum()).pvalue > 0.001


# The weights make up for the sampling grid: the sum of z^2 over the cells is a chi-square (derived here).
def test_photometric_files_are_sampled_as_they_are_evaluated(tmp_path):
    beam = file_beam(tmp_path)
    light, around, cosine = cells(beam, slices=8, rings=9)
    mean, error, found = drawn(beam, around, cosine)
    lit = found > 50
    assert lit.sum() > 40
    # Gauss over a cell with kinks at the table's angles is good to 1e-3 of it.
    assert mean.sum() == pytest.approx(1, abs=1e-3)
    z = (mean - light.ravel())[lit] / np.hypot(error, 1e-3 * light.ravel())[lit]
    assert stats.chi2.sf((z**2).sum(), lit.sum()) > 0.001
    _, _, weight = directions(beam, np.random.default_rng(3).random(4096), np.random.default_rng(4).random(4096))
    assert np.ptp(weight) < 0.6, "the grid follows the table closely"


# A dark quarter, and a bright one beside it: no direction may be drawn where there is no light.
def test_dark_parts_of_a_file_get_no_light(tmp_path):
    candela = ((9, 9, 0), (9, 0, 0), (9, 0, 0), (9, 0, 0), (9, 9, 0))
    beam = file_beam(tmp_path, lm63((0, 40, 60), (0, 90, 180, 270, 360), candela))
    ahead, turn, weight = directions(beam, np.linspace(0, 1, 5000, endpoint=False), np.tile(np.arange(50) / 50, 100))
    assert np.isfinite(weight).all()
    assert weight.mean() == pytest.approx(1, abs=0.01)
    assert ahead.min() >= 0.5 - 1e-12
    behind = np.cos(turn) < -0.1
    assert ahead[behind].min() > np.cos(np.radians(40)) - 1e-9


SHEETS = {
    "paper": Sheet(diffuse_transmittance=0.5, diffuse_reflectance=0.4),
    "film": Sheet(straight=0.1, forward_transmittance=0.7, half_value_angle=3, diffuse_reflectance=0.1),
    "card": Sheet(diffuse_reflectance=0.3, glossy_reflectance=0.2, roughness=0.1),
}
PLACES = {"paper": 40, "film": 40, "leaf": 2, "card": -30}  # mm; the leaf is so near that rays ask the heads for it


# Two unbiased estimators of one number agree (derived here): the forward cloud, and paths from the point.
# Behind paper and film and beside a shiny card, so that links, rays, lobes and bare heads all ask for the beam.
@pytest.mark.parametrize("name", ["oblong", "lopsided"])
@pytest.mark.parametrize("scene", ["bare", *PLACES])
def test_forward_and_backward_agree_about_beams_that_are_not_round(scene, name, tmp_path):
    beam = OBLONG if name == "oblong" else file_beam(tmp_path, lm63(*LOPSIDED))
    head = lamp(beam, centre=(40, 60, 120), width=50, height=30, tilt=35, turn=-30, roll=30)
    parts = []
    if scene != "bare":
        parts = [sheet_part(PLACES[scene], 120, 90, SHEETS["paper" if scene == "leaf" else scene])]
    made = build(parts, [head])
    normal = np.array([0.0, 0.0, -1.0] if scene == "card" else [0.0, 0.0, 1.0])
    cloud = trace(made, points=4096, replicates=16, seed=2)
    forward = mean_of(plane_samples(arrivals(cloud, np.zeros(3)), tuple(normal)))
    other = backward.illuminance(made, np.zeros(3), normal, paths=4096, replicates=16, seed=3)
    assert forward.value > 0
    apart = abs(forward.value - other.value) / np.hypot(forward.standard_error, other.standard_error)
    assert apart < 3.5, (forward, other)
    assert max(forward.standard_error, other.standard_error) < 0.05 * forward.value


# A head's window is as bright from the point as the light that comes straight from it says; paths for the eye set out
# only where the beam sends light. Derived here.
def test_what_the_pictures_take_from_a_lopsided_beam(tmp_path):
    (tmp_path / "lopsided.ies").write_text(lm63(*LOPSIDED))
    text = bare_text(distance=120, right=-15, window=40, tilt=8).replace("cos_power = 5.0", 'file = "lopsided.ies"')
    bare = light_of(placed(loads(text, folder=tmp_path)), seed=1, error=0.02)
    seen = bare.at(SUBJECT)
    assert np.ptp(seen.luminance) > 0.2 * seen.luminance.max(), "not evenly bright"
    found = luminance(view_of(bare), np.zeros_like(seen.direction), seen.direction)
    assert found == pytest.approx(seen.luminance, rel=1e-3)
    paper = """
[[diffuser]]
name = "front"
shape = "sheet"
from = "subject"
toward_lens = 40
width = 200
height = 200
material = "copy paper"
"""
    behind = light_of(placed(loads(text + paper, folder=tmp_path)), seed=1, error=0.02)
    head = behind.placed.heads[0]
    for path in paths_of(behind, reaching=24, others=24):
        way = path.points[1] - path.points[0]
        way = (way / np.linalg.norm(way))[None, :]
        assert intensity(head.beam, way @ head.forward, off_axis(head, way))[0] > 0
        # By hand: from 8 degrees on only the upper right quarter and what fades beside it are lit.
        if way[0] @ head.forward < np.cos(np.radians(8.1)):
            assert max(way[0] @ head.right, way[0] @ head.up) > 0


# The same powers by two numbers, and by half-value angles, are the round beam: cos 60 = 1/2, so 60 degrees are cos^1.
def test_equal_numbers_both_ways_are_the_round_beam():
    u, turn = np.random.default_rng(1).random((2, 1000))
    for alike in (Beam(cos_power=(5.0, 5.0)), Beam(cos_power=5.0)):
        cosine, around, weight = directions(alike, u, turn)
        assert (cosine == sample(Beam(cos_power=5.0), u)[0]).all()
        assert (around == 2 * np.pi * turn).all()
        assert (weight == 1).all()
        assert intensity(alike, np.array([1.0, 0.5])) == pytest.approx([6 / (2 * np.pi), 6 / (2 * np.pi) / 32])
    assert Beam(half_value_angle=60.0).round_power == pytest.approx(1, abs=1e-12)
    with pytest.raises(ValueError, match="not round"):
        intensity(OBLONG, np.ones(1))


# The reference of the light lost: a small head aimed at the subject. I(0) / d^2 per lumen, facing the lens, cosine of
# the slant; I(0) = sqrt((m + 1)(n + 1)) / (2 pi). Derived here.
def test_reference_of_an_oblong_beam():
    head = lamp(OBLONG, centre=(0, 300, 400), width=1, height=1, tilt=10, turn=50, roll=70)
    assert reference_illuminance((head,)) == pytest.approx(np.sqrt(30) / (2 * np.pi) / 500**2 * 0.8, rel=1e-5)
    # A wide window asks for the beam beside its axis: the same sum over spots of the window, each by hand.
    wide = lamp(OBLONG, centre=(0, 0, 100), width=80, height=40)
    node, weight = np.polynomial.legendre.leggauss(40)
    x, y = np.meshgrid(40 * node, 20 * node, indexing="ij")
    far = np.sqrt(x**2 + y**2 + 100**2)
    share = np.outer(weight, weight) / 4
    power = (2 * x**2 + 9 * y**2) / (x**2 + y**2)
    exact = float((share * np.sqrt(30) / (2 * np.pi) * (100 / far) ** (power + 1) / far**2).sum())
    assert reference_illuminance((wide,)) == pytest.approx(exact, rel=1e-5)


# LM-63, type C: vertical angle 0 on the axis, horizontal 0 to the right, 90 up, as one sees it from behind the head,
# which looks the way the camera looks. Candela values of the file, times cos^3 for a wall.
@pytest.mark.parametrize(("around", "candela"), [(0, 600), (45, 500), (90, 350), (180, 420), (270, 200), (135, 385)])
def test_horizontal_angles_go_from_right_to_up(around, candela, tmp_path):
    (tmp_path / "hammer.ies").write_text(lm63())
    world = rig('file = "hammer.ies"', folder=tmp_path)
    beside, cosine = 1000 * np.tan(np.radians(25)), np.cos(np.radians(25))
    point = (beside * np.cos(np.radians(around)), beside * np.sin(np.radians(around)), 0)
    # The window of 2 mm sees the point from a twentieth of a degree either way, across the kinks of the table.
    assert exposure(world, point) == pytest.approx(1000 * candela / 800 * cosine**3, rel=2e-3)
    assert exposure(world, (0, 0, 0)) == pytest.approx(1000, rel=1e-3)


# Bilinear interpolation by scipy.
def test_a_file_is_straight_between_its_angles(tmp_path):
    beam = file_beam(tmp_path)
    rng = np.random.default_rng(8)
    angle, around = rng.uniform(0, 90, 400), rng.uniform(0, 360, 400)
    exact = RegularGridInterpolator((HORIZONTAL, VERTICAL), np.array(CANDELA) / 800)(np.stack([around, angle], axis=1))
    found = profile(beam, angle, around) * beam_solid_angle(beam)
    assert found == pytest.approx(exact, abs=1e-9)
    assert half_value_angle(beam) == pytest.approx(35, abs=1e-9)  # between 600 at 25 and 300 at 40 degrees
    assert half_value_angle(beam, around=270) == pytest.approx(15, abs=1e-9)  # between 500 and 200 cd


# LM-63: files of one, two or four equal quarters leave out what is a mirror image; 0 alone is a round beam.
def test_quarters_and_halves_are_mirrored(tmp_path):
    rows = ((100, 80, 0), (100, 60, 0), (100, 30, 0), (100, 10, 0))
    quarter = file_beam(tmp_path, lm63((0, 20, 70), (0, 20, 60, 90), rows))
    half = file_beam(tmp_path, lm63((0, 20, 70), (0, 30, 90, 180), rows))
    for around, value in ((0, 80), (20, 60), (160, 60), (200, 60), (340, 60), (60, 30), (120, 30), (270, 10), (40, 45)):
        assert quarter.table.at(np.array([20.0]), np.array([around]))[0] == pytest.approx(value / 100, abs=1e-12)
    for around, value in ((0, 80), (30, 60), (330, 60), (270, 30), (90, 30), (180, 10), (225, 20)):
        assert half.table.at(np.array([20.0]), np.array([around]))[0] == pytest.approx(value / 100, abs=1e-12)
    around = file_beam(tmp_path, lm63((0, 20, 70), (0,), rows[:1]))
    assert around.table.at(np.array([20.0, 45.0]), np.array([123.0, 350.0])) == pytest.approx([0.8, 0.4], abs=1e-12)
    # What a round table of the same numbers integrates to.
    assert beam_solid_angle(around) == pytest.approx(beam_solid_angle(Beam(angle=(0, 20, 70), intensity=rows[0])))
    ring = file_beam(tmp_path, lm63((0, 20, 70), (0, 90, 180, 270), rows))  # 360 left out, as many files do
    assert ring.table.at(np.array([20.0]), np.array([315.0]))[0] == pytest.approx(0.45, abs=1e-12)


# What programs write: commas, long lines cut, CR LF, a multiplier, the headers of 1986, 1991 and 2019, a mark in front.
@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace(" ", ","),
        lambda text: text.replace(" ", "\n").replace("[TEST]\ninvented", "[TEST] invented"),
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace("1 -1 1 6", "1 -1 2.5 6"),
        lambda text: text.replace("IESNA:LM-63-2002", "IESNA91"),
        lambda text: text.replace("IESNA:LM-63-2002", "IES:LM-63-2019"),
        lambda text: text.replace("IESNA:LM-63-2002\n[TEST] invented", "An old flash"),
        lambda text: "\ufeff" + text.replace("invented", "é]["),
    ],
    ids=["commas", "short lines", "CR LF", "multiplier", "1991", "2019", "1986", "mark"],
)
def test_files_as_programs_write_them(change, tmp_path):
    plain = file_beam(tmp_path)
    (tmp_path / "odd.ies").write_bytes(change(lm63()).encode())
    odd = with_file(Beam(file="odd.ies"), folder=tmp_path)
    assert (odd.table.intensity == plain.table.intensity).all()
    assert (odd.table.angle == VERTICAL).all()


def test_light_behind_the_window_is_cut_where_it_is_next_to_nothing(tmp_path):
    beam = file_beam(tmp_path, lm63((0, 60, 80, 100, 180), (0,), ((100, 50, 1, 0.5, 0),)))
    assert beam.table.angle.tolist() == [0, 60, 80, 90]
    assert beam.table.intensity[0].tolist() == [1, 0.5, 0.01, 0.0075]
    with pytest.raises(RigError, match=r"% of its light goes backward. Allowed: at most 1 %"):
        file_beam(tmp_path, lm63((0, 90, 180), (0,), ((1, 1, 1),)))


def test_files_are_read_again_when_they_change(tmp_path):
    first = file_beam(tmp_path)
    second = file_beam(tmp_path, lm63((0, 90), (0,), ((5, 0),)))
    assert first != second
    assert beam_solid_angle(first) != beam_solid_angle(second)
    assert intensity(second, np.ones(1), lambda: (np.zeros(1), np.zeros(1)))[0] == 1 / beam_solid_angle(second)
    with pytest.raises(ValueError, match="was not read"):
        beam_solid_angle(Beam(file="beam.ies"))


BROKEN = {
    "tilt in the file": (lm63(tilt="INCLUDE"), "changes with how the lamp is tilted.*TILT=NONE"),
    "tilt elsewhere": (lm63(tilt="lamp.tlt"), "changes with how the lamp is tilted"),
    "type B": (lm63(kind=2), "of photometric type B. Allowed: type C"),
    "type A": (lm63(kind=3), "of photometric type A. Allowed: type C"),
    "no type": (lm63(kind=7), "photometric type is 7. Allowed: type C"),
    "no such file kind": ("solid flash\nfacet", "line TILT=NONE is missing"),
    "nothing": ("", "line TILT=NONE is missing"),
    "no numbers": (lm63().split("1 -1")[0], "there are 0 numbers, too few"),
    "a value lost": (lm63().rsplit(" ", 1)[0], r"has 60 numbers and says itself that there are 61"),
    "a value more": (lm63() + "3", r"has 62 numbers and says itself that there are 61"),
    "a word": (lm63().replace("760", "abc", 1), '"abc" stands where a number should'),
    "not finite": (lm63().replace("760", "nan", 1), "no finite ones"),
    "no angles": (lm63((), (0,), ((),)), "0 vertical and 1 horizontal angles"),
    "huge": (lm63().replace(" 6 6 1 2", " 6e9 6 1 2"), "6e\\+09 vertical"),
    "falling": (lm63((0, 30, 20), (0,), ((3, 2, 1),)), "vertical angles do not rise"),
    "from above": (lm63((90, 180), (0,), ((3, 2),)), "go from 90 to 180 degrees. Allowed: from 0, which is the axis"),
    "odd symmetry": (lm63((0, 90), (0, 60), ((3, 2), (3, 2))), "horizontal angles go from 0 to 60"),
    "not from 0": (lm63((0, 90), (90, 270), ((3, 2), (3, 2))), "horizontal angles"),
    "below 0": (lm63((0, 50, 90), (0,), ((3, -2, 0),)), "one intensity is -2 cd. Allowed: 0 and more"),
    "dark on the axis": (lm63((0, 50, 90), (0,), ((0, 2, 0),)), "0 cd on the axis and 2 cd at most. Allowed: above 0"),
    "all dark": (lm63((0, 90), (0,), ((0, 0),)), "0 cd on the axis and 0 cd at most"),
    "two axes": (lm63((0, 90), (0, 90), ((3, 0), (1, 0))), "on the axis its intensities differ by 50 %"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_files_that_cannot_be_used_are_refused_with_the_reason(name, tmp_path):
    text, message = BROKEN[name]
    with pytest.raises(RigError, match=message) as raised:
        file_beam(tmp_path, text)
    words = str(raised.value)
    assert words.startswith('file = "beam.ies": ')
    assert "Allowed: " in words
    assert "Try " in words


def test_missing_files_are_told_with_head_and_folder(tmp_path):
    (tmp_path / "zoom24.ies").write_text(lm63())
    with pytest.raises(RigError) as raised:
        rig('file = "zoom42.ies"', folder=tmp_path)
    words = str(raised.value)
    assert words.startswith('test.toml: head "flash": beam: file = "zoom42.ies": there is no such file in ')
    assert words.endswith('Allowed: "zoom24.ies". Try "zoom24.ies".')
    with pytest.raises(RigError, match="guide_number_beam: file"):
        rig("cos_power = 2", more='guide_number_beam = { file = "no.ies" }', folder=tmp_path)


@pytest.mark.parametrize(
    ("beam", "message"),
    [
        ("cos_power = 501", r'head "flash": beam.cos_power = 501: this is too large. Allowed: .*Try 500\.'),
        ("cos_power = -1", r"beam.cos_power = -1: this is too small. .*Try 0\."),
        ('cos_power = "5"', r'beam.cos_power = "5": this must be a number. .*Try 5 without quotes'),
        ("cos_power = nan", "beam.cos_power = nan: this is not a number that one could measure. Allowed: .*Try"),
        ("cos_power = [5]", r"beam.cos_power = \[5\]: this holds 1 numbers. .*Try one number, or two: \[across, up\]"),
        ("cos_power = [5, 6, 7]", "this holds 3 numbers"),
        ("cos_power = [5, true]", "this must be a number"),
        ("half_value_angle = 3", r"this is too small. Allowed: degrees from the axis .*Try 3\.1"),
        ("half_value_angle = [90, 30]", r"this is too large. .*Try 89\."),
        ("cos_power = 5\nhalf_value_angle = 30", "a beam needs one description. Allowed: one of cos_power, half_value"),
        ('cos_power = 5\nfile = "a.ies"', "a beam needs one description"),
        ("intensity = [1, 0]", "a beam needs one description"),
        ("file = 3", "beam.file = 3: this must be a text"),
        ("table = 3", 'the key "table" is not known. Allowed: cos_power, half_value_angle, angle, intensity, file'),
        ("_table = 3", 'the key "_table" is not known'),
        ("half_angle = 30", 'the key "half_angle" is not known.*Try "half_value_angle"'),
    ],
)
def test_beams_that_cannot_be_are_refused_in_words(beam, message):
    with pytest.raises(RigError, match=message):
        rig(beam)


def test_a_beam_that_is_darker_on_its_axis_is_measured_there():
    # Straight from 1 on the axis to 1000 at 60 degrees, by hand: 2 pi int (1 + 999 x / b) sin x dx from 0 to b = pi / 3
    # is 2 pi (1 - cos b + 999 / b (sin b - b cos b)).
    end = np.pi / 3
    by_hand = 2 * np.pi * (1 - np.cos(end) + 999 / end * (np.sin(end) - end * np.cos(end)))
    assert beam_solid_angle(Beam(angle=(0, 60), intensity=(2, 2000))) == pytest.approx(by_hand, rel=1e-9)


def test_an_even_half_space_is_nowhere_half():
    assert half_value_angle(Beam(cos_power=0)) == 90


def test_a_file_is_relative_to_its_axis_and_dark_beyond_its_last_angle(tmp_path):
    # The same profile as a table and as a file, brighter beside the axis; by LM-63 nothing is said beyond 60 degrees.
    file = file_beam(tmp_path, lm63((0, 30, 60), (0,), ((400, 1000, 100),)))
    table = Beam(angle=(0, 30, 60), intensity=(400, 1000, 100))
    assert beam_solid_angle(file) == pytest.approx(beam_solid_angle(table), rel=1e-9)
    assert file.table.at(np.array([0.0, 30.0, 60.0, 60.1]), np.zeros(4)) == pytest.approx([1, 2.5, 0.25, 0])


def test_half_value_angle_between_the_angles_of_a_table():
    # By hand, straight from 1 to 0.45 over 20 degrees: half after 0.5 / 0.55 of them.
    assert half_value_angle(Beam(angle=(0, 20, 40), intensity=(1, 0.45, 0.2))) == pytest.approx(20 * 0.5 / 0.55)


def test_a_file_with_every_half_degree_is_read(tmp_path):
    # cos^4 in steps of half a degree, as photometric laboratories give it at most: 2 pi / 5.
    vertical = np.arange(0, 90.5, 0.5)
    row = np.round(1000 * np.cos(np.radians(vertical)) ** 4, 6)
    beam = file_beam(tmp_path, lm63(vertical, (0,), [row]))
    assert beam_solid_angle(beam) == pytest.approx(2 * np.pi / 5, rel=1e-4)


def test_a_streak_narrower_than_a_slice_gets_its_light(tmp_path):
    # A spot of 10 degrees, and half a degree wide upward a streak to 60: the weights of samples have the mean 1 by the
    # definition of importance sampling, unless some light has no samples.
    rows = [(800, 0, 0)] * 6
    rows[2] = (800, 1600, 0)
    beam = file_beam(tmp_path, lm63((0, 10, 60), (0, 91, 91.5, 92, 180, 270), rows))
    random = np.random.default_rng(7)
    cosine, _, weight = directions(beam, *random.random((2, 100_000)))
    assert weight.mean() == pytest.approx(1, abs=0.01)
    assert weight[cosine < np.cos(np.radians(10))].sum() > 0.05 * weight.sum()
