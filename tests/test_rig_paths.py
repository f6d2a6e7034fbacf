"""Light paths start at the heads that light what they end at. Expected values derived here."""

from rigs import bare_text, lit

from lightsim.light.light import light_of
from lightsim.light.paths import MISSED, SWALLOWED, paths_of
from lightsim.picture.rig import MOST_STOPS, side_picture
from lightsim.picture.style import alternative_text
from lightsim.rig.load import load, placed


def test_no_path_starts_at_a_head_that_shines_elsewhere():
    # Two heads alike, their beams within some 20 degrees: one at the panel, which lies 67 degrees off the other.
    more = """
[[head]]
name = "aside"
from = "subject"
toward_lens = 300
right = 150
turn = 30
window = [20, 20]
window_reflectance = 0
guide_number = 20
beam = { cos_power = 60 }
[[diffuser]]
name = "panel"
shape = "disc"
diameter = 200
material = "copy paper"
from = "subject"
toward_lens = 100
"""
    light = lit(bare_text(distance=300, window=20, power=60, more=more), error=0.05)
    found = paths_of(light, reaching=100, others=0)
    assert len(found) == 100
    assert [path.names[0] for path in found].count("aside") <= 2


def test_words_and_the_scale_of_a_drawing_tell_its_paths():
    light = light_of(placed(load("dome")), points=512)
    found = paths_of(light, reaching=5, others=16)
    made = side_picture(light.placed, found)
    said = alternative_text(made)
    ends = [path.end for path in found if not path.reaches]
    assert "5 light paths reach the subject" in said
    assert f"{ends.count(MISSED)} miss everything" in said
    assert f"{ends.count(SWALLOWED)} swallowed" in said
    black = {path.names[-1] for path in found if path.end == SWALLOWED}
    assert black
    assert MISSED in ends
    assert all(name in said.partition("swallowed")[2] for name in black)
    (scale,) = made.axes[0].child_axes
    assert scale.get_xlabel().endswith("(stops)")
    assert scale.get_xlim() == (0, MOST_STOPS)
    assert scale.get_xticks().tolist() == list(range(int(MOST_STOPS) + 1))
    drawn = {str(patch.get_gid()).partition("-")[0]: patch.get_linewidth() for patch in made.axes[0].patches}
    assert drawn["reaching"] > drawn["others"]
    assert any("Thick lines: light that gets" in text.get_text() for text in made.axes[0].texts)


def test_of_many_paths_those_drawn_come_from_all_sides():
    # Paths come in the order of their places around the axis: of too many an even choice is drawn.
    light = light_of(placed(load("white-box")), points=512)
    found = paths_of(light, reaching=90, others=0)
    ends = [
        tuple(leg[:2].round(4))
        for patch in side_picture(light.placed, found).axes[0].patches
        if "last" in str(patch.get_gid())
        for leg in patch.get_path().vertices.reshape(-1, 4)
    ]
    places = [[tuple(path.points[-2][[2, 1]].round(4)) for path in part] for part in (found[:30], found[-30:])]
    assert len(ends) < 60
    assert all(set(ends) & set(each) for each in places)
