"""One number swept: the same as changing the file by hand, with the same random numbers."""

import pytest

import lightsim
from lightsim.light.estimate import Estimate
from lightsim.light.light import REPLICATES
from lightsim.rig.errors import RigError
from lightsim.rig.keys import with_value
from lightsim.rig.load import load_data, loads
from lightsim.search import vary as module
from lightsim.search.vary import VARIED_FIGURES, number_key, unit_of, vary

ROUGH = {"error": 0.05, "seed": 3}
BARE = """
title = "Bare head"
unit = "{unit}"
[camera]
sensor = [{sensor}]
pixels = [6000, 4000]
magnification = [1, 2]
body = [{body}]
shoe_up = {shoe}
shoe_back = 0
[lens]
working_distance = [{distance}]
diameter = {diameter}
length = {length}
[[head]]
from = "shoe"
up = {up}
aim = "subject"
window = [{window}]
beam = {{ cos_power = 4 }}
guide_number = 20
"""
MM = BARE.format(
    unit="mm", sensor="25.4, 25.4", body="127, 101.6, 50.8", shoe=50.8, distance="127, 76.2", diameter=50.8,
    length=101.6, up=76.2, window="50.8, 25.4",
)  # fmt: skip
INCH = BARE.format(
    unit="inch", sensor="1, 1", body="5, 4, 2", shoe=2, distance="5, 3", diameter=2, length=4, up=3, window="2, 1"
)


def values(report):
    return {figure.name: figure.value for figure in report.figures}


def test_a_sweep_is_what_changing_the_file_by_hand_gives():
    rig = lightsim.load("flat-foam")
    key = "lens.working_distance"
    found = vary(rig, key, [80.0, 100.0], magnification=1, **ROUGH)
    assert found.key == f"{key}[2]"
    for value, report in zip(found.values, found.reports, strict=True):
        by_hand = load_data(with_value(rig.data, f"{key}[2]", value), file=rig.file, folder=rig.folder)
        expected = lightsim.report(lightsim.trace(by_hand, magnification=1, **ROUGH))
        assert report.working_distance == value
        assert report.magnification == 2
        assert values(report) == values(expected)


# Common random numbers: what does not touch the light changes nothing, to the last digit.
def test_the_random_numbers_are_the_same_at_every_value():
    found = vary(loads(MM), "camera.pixels[1]", [3000, 6000], **ROUGH)
    first, last = map(values, found.reports)
    halved = first["highlight.width_pixels"] / last["highlight.width_pixels"]
    assert halved == pytest.approx(0.5, rel=1e-12)
    assert first["loss.total"] == last["loss.total"]


# Smooth curves need equal numbers of paths: the largest that the ends or the middle ask for.
def test_the_number_of_light_paths_is_the_same_at_every_value(monkeypatch):
    needed = iter([2048, 4096, 2048])
    monkeypatch.setattr(module, "points_needed", lambda rig, **asked: next(needed))
    found = vary(loads(MM), "head.flash.up", [40, 50, 60, 70], **ROUGH)
    assert [report.paths for report in found.reports] == [4096 * REPLICATES] * 4


# A list of one may be written as one number, and is varied all the same.
def test_one_number_in_place_of_a_list_is_varied():
    text = MM.replace("[1, 2]", "1").replace("[127, 76.2]", "127")
    assert number_key(loads(text), "lens.working_distance") == "lens.working_distance"
    assert number_key(loads(MM), "lens.working_distance", 1) == "lens.working_distance[2]"


# Guide number law (ISO 1230, from memory): the luminous exposure grows as its square, the stops lost do not change.
def test_twice_the_guide_number_gives_four_times_the_exposure():
    found = vary(loads(MM), "head.flash.guide_number", [20, 40], **ROUGH)
    first, last = map(values, found.reports)
    assert last["exposure.full_power"] / first["exposure.full_power"] == pytest.approx(4, rel=1e-12)
    assert last["loss.total"] == first["loss.total"]


# The inch is 25.4 mm, exact by definition: the same rig in both units gives the same figures.
def test_values_are_in_the_unit_of_the_file():
    inch, mm = loads(INCH), loads(MM)
    by_inch = vary(inch, "head.flash.up", [4], **ROUGH)
    by_mm = vary(mm, "head.flash.up", [101.6], **ROUGH)
    assert (by_inch.unit, by_mm.unit) == ("inch", "mm")
    for name in ("loss.total", "size.cone_angle", "exposure.full_power"):
        assert by_inch.reports[0][name].value == pytest.approx(by_mm.reports[0][name].value, rel=1e-6)


@pytest.mark.parametrize(
    ("key", "unit"),
    [
        ("lens.working_distance[2]", "mm"),
        ("head.flash.tilt", "deg"),
        ("camera.magnification[1]", ""),
        ("diffuser.front.width", "mm"),
        ("material.copy paper.diffuse_transmittance", ""),
        ("lens.extension", "mm"),
        ("head.flash.turn", "deg"),  # left out of the file
    ],
)
def test_units_are_those_of_the_models(key, unit):
    assert unit_of(lightsim.load("white-box"), key) == unit


def test_magnification_chooses_the_entry_of_its_lists():
    rig = lightsim.load("white-box")
    assert number_key(rig, "camera.magnification", 1) == "camera.magnification[2]"
    assert number_key(rig, "lens.working_distance[1]", 1) == "lens.working_distance[1]"
    assert number_key(rig, "diffuser.front.width", 1) == "diffuser.front.width"


def test_a_value_that_is_not_allowed_stops_the_sweep_before_any_light_is_traced(monkeypatch):
    def never(*args, **kwargs):
        raise AssertionError("traced")

    monkeypatch.setattr(module, "light_of", never)
    monkeypatch.setattr(module, "points_needed", never)
    with pytest.raises(RigError, match=r"with diffuser\.front\.width = -20: .*Allowed: .*Try"):
        vary(lightsim.load("white-box"), "diffuser.front.width", [100, 40, -20])


def test_a_fault_of_the_light_names_the_value_too(monkeypatch):
    def dark(*args, **kwargs):
        raise RigError("no light reaches the subject. Try another place")

    monkeypatch.setattr(module, "light_of", dark)
    with pytest.raises(RigError, match=r"with head\.flash\.up = 5: no light reaches the subject"):
        vary(loads(MM), "head.flash.up", [5.0])


@pytest.mark.parametrize(
    "key",
    [
        "title",
        "lens",
        "lens.working",
        "camera.sensor",
        "diffuser.front.material",
        "",
        "unit",
        "subject.hair",
        "nothing",
    ],
)
def test_keys_that_hold_no_number_are_refused_with_the_name_of_the_file(key):
    with pytest.raises(RigError, match=r"^white-box\.toml: .*Allowed.*Try "):
        number_key(lightsim.load("white-box"), key)


def test_figures_are_checked_and_kept():
    rig = loads(MM)
    assert vary(rig, "head.flash.up", [50], **ROUGH).figures == VARIED_FIGURES
    assert vary(rig, "head.flash.up", [50], figures=["loss.total"], **ROUGH).figures == ("loss.total",)
    with pytest.raises(RigError, match=r'"size\.cone".*Try "size\.cone_angle"'):
        vary(rig, "head.flash.up", [50], figures=["size.cone"], **ROUGH)


def test_the_second_estimator_runs_where_it_is_asked_for():
    found = vary(loads(MM), "head.flash.up", [50], check_backward=True, **ROUGH)
    assert found.reports[0].second is not None
    assert isinstance(found.reports[0].second.backward, Estimate)
