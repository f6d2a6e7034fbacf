"""The shot on the page: settings on the first screen, tables, what to change, heat and care; pictures beside it.

Expected values derived here: they are those of the plans put in.
"""

import re
from dataclasses import replace
from math import log2

import pytest
from pages import ALARM, FOOTING, Read, designs_of, hostile

from lightsim.measure.exposure import CALIBRATIONS
from lightsim.measure.rounding import length
from lightsim.page.page import page_of
from lightsim.page.pictures import SECTIONS
from lightsim.page.shot import first_words, shot_of, start_words
from lightsim.rig.fractions import power_words, seconds_words
from lightsim.shot.care import CARE, FIRST
from lightsim.shot.changes import TROUBLES, changes
from lightsim.shot.plan import Fits, plan_of
from lightsim.shot.words import frame_steps, settings


def squeezed(text):
    return " ".join(text.split())


@pytest.fixture(scope="module")
def pair():
    return designs_of("bare-flash", "foam-arc")


@pytest.fixture(scope="module")
def plans(pair):
    return [plan_of(each.light, each.report) for each in pair]


@pytest.fixture(scope="module")
def one_page():
    designs = designs_of(hostile())
    return page_of(designs, footing=FOOTING, pictures=()), plan_of(designs[0].light, designs[0].report)


@pytest.fixture(scope="module")
def pair_page(pair):
    pictures = [section for section in SECTIONS if section.key in ("budget", "power", "frames")]
    return page_of(pair, footing=FOOTING, pictures=pictures)


def section_of(text, key):
    """The words of a section of a page."""
    (words,) = [words for attributes, words in Read(text).all("section") if attributes.get("id") == key]
    return squeezed(words)


def cells(table):
    return {row.label: row.cells for row in table.rows}


def test_the_first_screen_ends_in_settings(one_page):
    text, plan = one_page
    first = section_of(text, "answer")
    assert f"To start: {squeezed(start_words(plan))}" in first
    assert settings(plan) in first
    whole = section_of(text, "shot")
    assert squeezed(first_words(plan)) in whole
    for step in frame_steps(plan):
        assert squeezed(step) in whole


def test_what_people_wrote_stays_text_in_the_shot(one_page):
    text, plan = one_page
    assert not {tag for tag, _ in Read(text).elements} & {"script", "b", "i", "u", "em", "img"}
    assert plan.warming
    assert plan.warming[0].part in section_of(text, "shot")
    assert plan.title == ALARM


def test_settings_are_those_of_the_plans(plans):
    shot = shot_of(plans, ["A", "B"])
    assert shot.settings.heads == shot.limits.heads == ("A", "B")
    found = cells(shot.settings)
    for column, plan in enumerate(plans):
        told = {label: row[column].value for label, row in found.items()}
        assert told["ISO"] == f"{plan.iso:g}"
        assert told["Aperture"] == f"f/{plan.f_number:g}"
        assert told["Shutter"] == seconds_words(plan.shutter)
        assert told["Power of the flash"] == power_words(plan.start.power)
        assert told["Power left above it"] == f"{log2(1 / plan.start.power):.1f} stops"


def test_limits_are_those_of_the_plans(plans):
    found = cells(shot_of(plans, ["A", "B"]).limits)
    for column, plan in enumerate(plans):
        told = {label: row[column].value for label, row in found.items()}
        assert told["The flash lasts, t0.1"] == seconds_words(plan.start.tenth)
        assert told["Frames for one that is sharp"] == str(plan.focus.frames_most)
        day = log2(plan.day / plan.flash)
        assert told["Light of the day against the flash"] == f"{day:+.1f} stops".replace("-", "−")
        for background in plan.backgrounds:
            label = f"{background.distance:g} mm behind the subject"
            assert told[label] == f"{background.all:+.1f} stops".replace("-", "−")
        # The three calibrations each with its setting: at C = 330 never less than at C = 250.
        rungs = [power_words(rung.power) for rung in plan.rungs]
        asked = [rungs.index(told[f"By {calibration.name}"]) for calibration in CALIBRATIONS]
        assert asked == sorted(asked, reverse=True)
    assert found["Warmest part, flash after flash"][0].value == "no diffuser"
    assert found["Warmest part, flash after flash"][1].value.endswith("°C")


def test_what_to_change_comes_with_its_price(plans):
    shot = shot_of(plans, ["A", "B"])
    for plan, each in zip(plans, shot.each, strict=True):
        assert [trouble.heading.lower() for trouble in each.troubles] == list(TROUBLES)
        remedies = [remedy for trouble in each.troubles for remedy in trouble.remedies]
        for change, remedy in zip(changes(plan), remedies, strict=True):
            assert remedy.do.lower() == change.do.lower()
            assert remedy.price == change.price
        brighter = next(remedy for remedy in remedies if remedy.do.startswith("Power"))
        assert brighter.stops == f"1 stop brighter, {plan.left - 1:.1f} stops of power left".replace(
            ".0 stops", " stops"
        )


def test_every_power_setting_stands_in_a_table(plans):
    shot = shot_of(plans[:1], ["A"])
    ladder = shot.each[0].ladder
    rungs = plans[0].rungs
    assert [row.label.removesuffix(" (start)") for row in ladder.rows] == [power_words(rung.power) for rung in rungs]
    assert [row.label for row in ladder.rows if row.label.endswith("(start)")] == [
        f"{power_words(plans[0].start.power)} (start)"
    ]
    assert [row.cells[1].value for row in ladder.rows] == [seconds_words(rung.tenth) for rung in rungs]
    known = replace(plans[0], rungs=tuple(replace(rung, recycle=2.0, energy=None, flashes=1234) for rung in rungs))
    ladder = shot_of([known], ["A"]).each[0].ladder
    assert ladder.heads == ("t0.5", "t0.1", "ready again after", "flashes of a charge")
    assert [cell.value for cell in ladder.rows[0].cells[2:]] == ["2 s", "about 1200"]


def test_what_is_too_weak_too_warm_or_unknown_is_told(plans):
    plan = plans[1]
    levels = tuple(replace(each, power=4.0) for each in plan.levels)
    full = replace(plan.full, value=plan.needed / 4 / plan.reaching[0])
    weak = replace(plan, fits=Fits.TOO_WEAK, off=-2.0, wanted=4.0, levels=levels, full=full)
    shot = shot_of([weak], ["A"])
    assert "even at full power the picture is" in shot.start[0][1]
    assert cells(shot.limits)[f"By {CALIBRATIONS[0].name}"][0].value == "full, 2 stops short"
    warm = replace(plan, warming=tuple(replace(each, warn=True) for each in plan.warming))
    told = shot_of([warm], ["A"])
    assert "CAUTION" in told.warnings[0][1]
    assert cells(told.limits)["Warmest part, flash after flash"][0].sign == "!"
    assert shot_of([plan], ["A"]).warnings == ()
    unknown = replace(
        plan,
        warming=tuple(
            replace(each, rise=None, burst=None, steady=None, unknown=("grammage",)) for each in plan.warming
        ),
    )
    assert cells(shot_of([unknown], ["A"]).limits)["Warmest part, flash after flash"][0].value == "not known"
    assumed = replace(plan, assumed=("flash",))
    assert any("assumed" in text for text in shot_of([assumed], ["A"]).notes)


def test_the_card_of_meters_is_told_from_the_subject(plans):
    notes = " ".join(shot_of([replace(plans[0], reflectance=0.05, placement=-1.0)], ["A"]).notes)
    assert "A card of 18 % is what meters call mid-grey" in notes
    assert "a subject that sends back 5 % of the light and comes out 1 stop below mid-grey." in notes
    notes = " ".join(shot_of([replace(plans[0], reflectance=0.18, placement=0.0)], ["A"]).notes)
    assert "a subject that sends back 18 % of the light and comes out as mid-grey." in notes


def test_what_is_in_focus_is_told_apart_from_what_diffraction_hides(plans):
    found = cells(shot_of(plans, ["A", "B"]).limits)
    for column, plan in enumerate(plans):
        assert found["Deep in focus"][column].value == f"{length(plan.focus.depth)} mm"
        assert found["Diffraction hides a wrong focus over"][column].value == f"{length(plan.focus.wave_depth)} mm"


def test_plans_that_say_the_same_say_it_once(plans):
    twice = shot_of([plans[0], plans[0]], ["A", "B"])
    assert all(name == "" for said in twice.said for name, _ in said.texts)
    once = shot_of([plans[0], replace(plans[0], backgrounds=plans[1].backgrounds)], ["A", "B"])
    (background,) = [said for said in once.said if said.about == "Background"]
    assert [name for name, _ in background.texts] == ["A", "B"]


def test_the_shot_stands_before_its_pictures_and_behind_the_others(pair_page):
    order = re.findall(r'<section id="([a-z]+)"', pair_page)
    assert order[:5] == ["answer", "budget", "shot", "power", "frames"]
    linked = re.findall(r'<li><a href="#([a-z]+)"', pair_page)
    assert linked == order[1:]


def test_care_for_people_and_animals_is_on_the_page(pair_page):
    whole = section_of(pair_page, "shot")
    assert squeezed(FIRST) in whole
    for care in CARE:
        assert squeezed(f"{care.about}: {care.text}") in whole


def test_designs_without_light_from_before_are_left_out(pair):
    bare, arc = pair
    figures = [replace(each, value=None) if each.name == "exposure.full_power" else each for each in arc.report.figures]
    dark = replace(arc, report=replace(arc.report, figures=tuple(figures)))
    pictures = [section for section in SECTIONS if section.key in ("power", "frames")]
    both = page_of([bare, dark], footing=FOOTING, pictures=pictures)
    assert arc.name not in section_of(both, "shot")
    assert settings(plan_of(bare.light, bare.report)) in section_of(both, "shot")
    alone = page_of([dark], footing=FOOTING, pictures=pictures)
    assert not {"shot", "power", "frames"} & {attributes.get("id") for attributes, _ in Read(alone).all("section")}
    assert 'href="#shot"' not in alone
