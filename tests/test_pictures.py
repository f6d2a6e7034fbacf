"""Which pictures there are for odd rigs, how they are drawn beside each other, and what is said of them.

Expected values derived here unless a source is named.
"""

import time
from dataclasses import replace

import numpy as np
import pytest

import lightsim
from lightsim.light.light import light_of
from lightsim.measure.exposure import lens_stops
from lightsim.measure.first_words import first_words
from lightsim.measure.hints import hints
from lightsim.measure.report import Verdict, report
from lightsim.measure.same_flash import stops_darker
from lightsim.measure.source_map import source_map
from lightsim.page.drawing import Section, drawn_sections, named
from lightsim.page.files import _short, write_pictures
from lightsim.page.pictures import SECTIONS, pictures_of
from lightsim.picture.source import source_picture
from lightsim.picture.style import alternative_text, canvas, describe
from lightsim.rig.load import loads, placed

RIG = """
title = "behind"
camera = {{ sensor = [24, 16], magnification = {magnification} }}
lens = {{ working_distance = {distance}, diameter = 60, length = 100 }}
[[head]]
from = "subject"
toward_lens = {toward_lens}
up = {up}
aim = "subject"
window = [{window}, {window}]
window_reflectance = 0
guide_number = 20
beam = {beam}
"""
NARROW, WIDE = "{ angle = [0, 10], intensity = [1, 0] }", "{ cos_power = 1 }"


def lit(*, magnification="1", distance="2000", toward_lens=150, up=0, window=2, beam=WIDE):
    text = RIG.format(
        magnification=magnification, distance=distance, toward_lens=toward_lens, up=up, window=window, beam=beam
    )
    return light_of(placed(loads(text), 0), error=0.05)


def sections_of(light):
    told = report(light)
    return {section.key: variants for section, variants in pictures_of([(light, told)])}


def test_a_rig_that_lights_only_the_back_has_pictures_but_no_portrait():
    drawn = sections_of(lit(toward_lens=-100, up=200, beam=NARROW))
    assert not drawn["portrait"]
    assert not drawn["highlight"]
    assert drawn["rig"]
    (picture,) = drawn["source"][0].pictures
    assert "too little light" in alternative_text(picture.figure)


def test_a_head_on_the_axis_where_the_background_is_does_not_stop_the_falloff_chart():
    # 150 mm behind the subject is one of the places of the chart: no inverse square from there.
    drawn = sections_of(lit(toward_lens=-150))
    assert "Inverse" not in alternative_text(drawn["falloff"][0].pictures[0].figure)


def test_the_same_flash_at_two_magnifications_differs_by_the_effective_aperture():
    # N (1 + m), textbooks, from memory: from 1x to 2x 2 log2(3 / 2) = 1.17 stops, where the light is the same.
    light = lit()
    one = report(light)
    two = replace(one, magnification=2.0, lens_stops=lens_stops(light.placed.rig.lens, working_f_number=24))
    assert one.lens_stops == pytest.approx(2.0)  # 2 log2 2, at 1x
    brightest, darker = stops_darker([one, two])
    assert brightest == 0
    assert darker == pytest.approx(-1.17, abs=0.005)
    dark = replace(one, figures=tuple(replace(each, value=None) for each in one.figures))
    assert stops_darker([dark, one]) == (None, 0.0)


def known(told, **values):
    found = {name.replace("__", "."): value for name, value in values.items()}
    return replace(
        told, figures=tuple(replace(each, **found[each.name]) if each.name in found else each for each in told.figures)
    )


def test_the_first_sentence_does_not_say_brighter_where_it_may_be_darker():
    told = report(lightsim.trace(lightsim.load("flat-film"), error=0.05))
    near = known(told, highlight__stops_above_white={"value": 0.3, "low": -0.5, "high": 1.6, "half_interval": 0.1})
    assert "about as bright as a white card (-0.5 to 1.6 by its materials)" in " ".join(first_words(near, ball=3.0))
    sure = known(told, highlight__stops_above_white={"value": 0.3, "low": 0.2, "high": 0.4, "half_interval": 0.1})
    assert "0.3 stops brighter than a white card" in " ".join(first_words(sure, ball=3.0))


def test_hints_do_not_take_back_one_another():
    light = lightsim.trace(lightsim.load("flat-foam"), error=0.05)
    told = report(light)
    small = Verdict("least_angle", 80.0, replace(told["size.cone_angle"], value=30.0, half_interval=0.1), False)
    near = Verdict("least_clearance", 200.0, told["clearance"], False)
    alone = " ".join(hint.text for hint in hints(replace(told, verdicts=(small,)), light.placed))
    both = " ".join(hint.text for hint in hints(replace(told, verdicts=(small, near)), light.placed))
    assert "bring it nearer to the subject" in alone
    assert "move it away" in both
    assert "nearer to the subject" not in both


def test_a_clear_sheet_is_not_said_to_grow_by_being_made_larger():
    light = lightsim.trace(lightsim.load("flat-film"), error=0.05)
    part = next(part for part in light.placed.parts if part.role == "diffuser")
    clear = replace(part, sheet=part.sheet.model_copy(update={"straight": 0.5}))
    parts = tuple(clear if each is part else each for each in light.placed.parts)
    told = known(report(light), size__cone_angle={"value": 16.0, "half_interval": 0.1})
    texts = " ".join(hint.text for hint in hints(told, replace(light.placed, parts=parts)))
    assert "the head shows through the sheet" in texts
    assert "make the diffuser larger" not in texts


def test_a_head_too_small_for_the_map_is_still_its_brightest_place():
    # 0.2 mm at 150 mm: 0.08 degrees, a sixth of a cell. L = 1 / (pi A) for cos^1, from anywhere.
    light = lit(window=0.2)
    found = source_map(light)
    assert found.brightest == pytest.approx(1 / (np.pi * 0.2 * 0.2), rel=1e-6)
    assert "above white" in alternative_text(source_picture(found, report(light)))


def test_texts_that_begin_with_a_bracket_are_told():
    figure, axes = canvas(None)
    describe(axes, "<b>Box: 64 degrees")
    assert alternative_text(figure) == "<b>Box: 64 degrees"


def test_files_of_designs_never_share_a_name():
    names = _short(["a", "A-3", "a", "a", "甲", "乙", ""])
    assert len(set(names)) == 7
    assert all(name and name == name.lower() for name in names)


def test_a_dark_design_among_others_does_not_take_their_names(tmp_path):
    behind, before = lit(toward_lens=-100, up=200, beam=NARROW), lit()
    designs = [named(light, report(light), name) for light, name in ((before, "a"), (behind, "b"), (before, "c"))]
    files = {path.name for path in write_pictures(designs, tmp_path)}
    assert {"highlight-ball-a.png", "highlight-ball-c.png", "source-b.png", "falloff.png"} <= files
    assert "highlight-ball-b.png" not in files


def test_what_was_rendered_once_serves_pictures_and_page():
    light = lit()
    designs = [named(light, report(light), name) for name in ("one", "two")]
    made = []
    heavy = Section(
        "slow", "Slow", "", "", lambda drawn: drawn.rendered("slow"), lambda drawn, n, tell: made.append(n) or n
    )
    renders = {}
    first, again = (dict(drawn_sections(designs, [heavy], renders=renders)) for _ in range(2))
    assert first[heavy] == again[heavy] == {0: 0, 1: 1}
    assert sorted(made) == [0, 1]


def test_who_breaks_off_does_not_wait_for_what_is_still_to_be_rendered():
    light = lit()
    design = named(light, report(light), "one")

    def slow(drawn, number, tell):
        for step in range(40):
            time.sleep(0.05)
            tell(step / 40)
        return number

    plain = next(section for section in SECTIONS if section.key == "budget")
    heavy = Section("slow", "Slow", "", "", lambda drawn: drawn.rendered("slow"), slow)
    start = time.perf_counter()
    sections = drawn_sections([design] * 8, [heavy, plain])
    first, _ = next(sections)
    assert first.key == "budget"  # drawn while the other is rendered
    sections.close()
    assert time.perf_counter() - start < 4.0  # all renders together would take 8 s or more on two processors
