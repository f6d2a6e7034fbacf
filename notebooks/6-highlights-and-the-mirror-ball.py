# %% [markdown]
# # 6. Highlights: the mirror ball as a measuring device
#
# **The question.** On the eye of a beetle sits a bright spot. Can that spot tell you how large your light looked, and
# where it stood?
#
# *Ten minutes. You need no optics.* A *stop* is a factor of two in light. An angle tells how large a thing
# looks: your fist at arm's length covers about 10 degrees (a rule of thumb, no source).
#
# A shiny eye is a small, round mirror. What you see in it as a bright spot, the *highlight*, is a tiny picture of your
# light. A ball bearing shows the same picture, brighter. So put a ball where the insect will sit, and photograph it.
# This notebook learns to read such a picture with a ruler, and then tests the ruler.
#
# No photograph was taken for it. All pictures here are reckoned by `lightsim`. The insects are those of an invented
# village group that counts beetles, leafhoppers and froghoppers along a hedge and a pond.
#
# *Care.* Never fire a flash close to the eyes of people or animals, and do not look into it. Keep ball bearings away
# from small children.

# %%
import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle
from table import lamp, show  # the file table.py beside this one

import lightsim
from lightsim.measure.mirror import mirror
from lightsim.measure.report import report
from lightsim.measure.view import view_of
from lightsim.picture.illumination import illumination_of
from lightsim.picture.shine import shine_of
from lightsim.picture.style import COLOURS, GREY, INK, canvas, describe, frame, settings
from lightsim.picture.tone import srgb
from lightsim.sheet.fresnel import fresnel

# %% [markdown]
# ## 1. Where on the ball does a light show?
#
# Look at a ball from far away. In its middle you see yourself: there the ball sends your look straight back. Farther
# out its surface leans away, and sends your look off to the side. A mirror that leans by 10 degrees turns it by 20
# degrees. So a light that stands so many degrees off the lens shows at the place where the ball leans by
# *half* of that:
#
# > distance from the middle of the ball / radius of the ball = sin(half the angle of the light)
#
# That is all the optics in this notebook (derived here, from "angle in = angle out"; it holds for lights and a camera
# that are many ball widths away). `lightsim` does not use this rule. It finds each mirroring point by a search, with
# true distances. So the two can be compared.

# %%
FAR = 1e9  # mm: a camera and lights that are as good as infinitely far
BALL = 1.5  # mm, radius: a large eye, or the crown of a wing case

angles = np.array([30.0, 60.0, 90.0, 120.0, 180.0])  # degrees off the lens
places = np.column_stack([np.sin(np.radians(angles)), np.zeros(len(angles)), np.cos(np.radians(angles))])
found = mirror(FAR * places, centre=(0, 0, 0), radius=BALL, camera=(0, 0, FAR)).right / BALL
by_rule = np.sin(np.radians(angles) / 2)
for angle, exact, rule in zip(angles, found, by_rule, strict=True):
    print(f"light {angle:3.0f} degrees off the lens: at {exact:.4f} of the radius, by the rule {rule:.4f}")

# Closed form: equal angles at the mirror, x/r = sin(angle / 2); any optics textbook, derived above. The camera is
# 10^9 mm away and not infinitely far, which leaves less than 1e-6.
assert np.allclose(found, by_rule, atol=1e-6)

# %% [markdown]
# The rule makes a protractor. Draw the rings on tracing paper or on the screen, lay them over the ball in your picture,
# and read how far off the lens each light stands.

# %%
RINGS = (30, 60, 90, 120)  # degrees off the lens


def rings(axes, radius=1.0, *, names=True, colour=GREY):
    """The protractor: rings for lights so many degrees off the lens."""
    for ring in RINGS:
        reach = radius * np.sin(np.radians(ring) / 2)
        axes.add_patch(Circle((0, 0), reach, fill=False, edgecolor=colour, linewidth=0.9, linestyle=(0, (2, 2))))
        if names:
            axes.text(0, -reach, f"{ring}°", ha="center", va="center", fontsize=10, color=INK, backgroundcolor="white")


with settings():
    protractor, axes = canvas(None, size=(5.2, 5.4))
    axes.add_patch(Circle((0, 0), 1, facecolor="#F4F4F4", edgecolor=INK, linewidth=1.4))
    rings(axes)
    axes.plot([0], [0], "o", color=COLOURS[0])
    axes.annotate("the lens", (0, 0), (0, 8), textcoords="offset points", ha="center", color=COLOURS[0])
    axes.text(0, 1.02, "rim: 180°, right behind the ball", ha="center", va="bottom", fontsize=10)
    axes.set(xlim=(-1.1, 1.1), ylim=(-1.06, 1.14), xticks=[], yticks=[], aspect="equal")
    axes.spines[:].set_visible(False)
    frame(
        axes,
        title="A protractor for shiny balls",
        below=["Rings: how many degrees off the lens a light stands that shows there."],
    )
    axes.grid(visible=False)
    axes.spines[["left", "bottom"]].set_visible(False)
    describe(
        axes,
        "A circle with rings. A light 30 degrees off the lens shows at 26 % of the radius, 60 degrees at half, 90 "
        "degrees at 71 %, 120 degrees at 87 %; the rim shows what stands right behind the ball.",
    )
show(protractor)

# %% [markdown]
# Half of the radius is already 60 degrees, and the ball shows even what stands *behind* it. Nothing about your light
# can hide from it.
#
# The second half of the trick: the ball is fair. Lights that look equally large cover equally large patches on it,
# wherever they stand. (Derived here: what fills the solid angle O fills O/4π of the ball's disc, so that 1 steradian, a
# round light 66 degrees wide, fills 8 % of it.) So the *area* of the spot tells the size of the light.
#
# ## 2. One light of known size
#
# A white disc, 60 mm wide, glows evenly. It faces the ball, 81.5 mm before its middle. From there it looks
# 40.4 degrees wide. How wide is its picture in a ball of 3 mm? Two answers: by the rule of the mirror, worked out for
# these very distances, and from a highlight that `lightsim` reads off some thirty thousand light paths. Those are
# thrown like dice, so that answer carries an error bar.

# %%
disc = report(lamp(width=60, distance=81.5, points=2048))
width = disc["highlight.width"]
# Closed form, derived here: r sin a + (h - r cos a) tan 2a = 30 mm, with r = 1.5 and h = 81.5 mm; the width is
# 2 r sin a. Our lens stands 4 m away and not infinitely far, which makes it 0.02 % less.
EXACT = 0.530834  # mm
print(f"highlight: {width.value:.3f} ± {width.half_interval:.3f} mm, by the rule {EXACT:.3f} mm")
assert abs(width.value - EXACT) < 4 * width.standard_error + 0.0002
assert width.standard_error < 0.01 * EXACT


def looks(share):
    """How large a round, even light looks [degrees], whose highlight takes so much of the ball's width."""
    return float(np.degrees(4 * np.arcsin(share)))


read = looks(width.value / (2 * BALL))
true = float(np.degrees(2 * np.arctan(30 / 81.5)))  # 2 atan(radius / distance)
print(f"so the light looks {read:.1f} degrees wide; by ruler and tangent it is {true:.1f} degrees")
assert abs(read - true) < 0.03 * true  # the ball is no point: its front is nearer to the disc than its middle

# %% [markdown]
# The ruler's rule is worth keeping, for a round, even light near the lens:
#
# | the highlight takes so much of the ball's width | the light looks so wide |
# | --- | --- |
# | 1/16 | 14° |
# | 1/8 | 29° |
# | 1/4 | 58° |
# | 1/2 | 120° |
#
# (4 × arcsin of the share, derived here.)
#
# ## 3. Lights of unknown size
#
# Now real rigs: ready designs of the tool, each on a flash above the lens. Here is the ball in three of them, as the
# camera would see it, a dark eye that a white card beside it would just not burn out.

# %%
NAMES = ("bare-flash", "flat-film", "card-funnel", "flat-paper", "white-box")
lights = {name: lightsim.trace(lightsim.load(name), error=0.02) for name in NAMES}
reports = {name: report(light) for name, light in lights.items()}
shines = {name: shine_of(light, illumination_of(light, view_of(light))) for name, light in lights.items()}

SHOWN = {"bare-flash": "Bare flash", "flat-paper": "Flat paper", "white-box": "White box"}
with settings():
    balls = Figure(figsize=(7.8, 3.1), dpi=100, layout="constrained")
    for axes, (name, title) in zip(balls.subplots(1, len(SHOWN)), SHOWN.items(), strict=True):
        reach = 1.12 * BALL  # mm: the frame of these pictures
        axes.imshow(srgb(shines[name].ball), extent=(-reach, reach, -reach, reach), interpolation="none")
        rings(axes, BALL, names=False, colour="#BBBBBB")
        axes.set_title(title, loc="left", fontweight="bold")
        axes.set_axis_off()
        share = reports[name]["highlight.diameter_share"].value
        axes.text(0, -reach - 0.05, f"{100 * share:.0f} % of the ball's width", ha="center", va="top", color=INK)
        describe(axes, f"{title}: the highlight takes {100 * share:.0f} % of the ball's width, above its middle.")
show(balls)

# %% [markdown]
# Rings as before: 30, 60, 90 and 120 degrees off the lens. The faint grey below is the leaf. The bare flash is a small
# white patch. The paper is large, with the round hole for the lens in it, and fades from a bright place at its top: the
# flash stands close behind that. The box shows an even patch with clear edges.
#
# ## 4. Read them, and test the reading
#
# Two ways to read such a picture.
#
# - **With a ruler:** the width and the height of the patch, where it has half of its highest brightness; the mean of
#   both over the width of the ball; then the table above. Quick, and good for even lights.
# - **With all pixels:** add up the brightness of all pixels; square the sum; divide by the sum of the squares. That
#   is the number of pixels that an *even* light of the same kind would cover. Turn that area into an angle. (The
#   picture must be linear: RAW values, never a JPEG. Here, the dark colour of the eye is taken away first, and that
#   a slanting mirror gives back more, Fresnel's law, is put right.)
#
# `lightsim` knows the answer without any ball: from all directions that light comes from, it works out the *apparent
# size*, the angle of an even, round light that is worth the same. The picture is drawn by another part of the program,
# with patches in place of light paths. If the ball is an honest device, both must agree.

# %%
DARK = 0.018  # how much light the body of the drawn eye sends back, beside its gloss (invented)


def cone(solid_angle):
    """Full angle [degrees] of a round light of a solid angle [sr]: 2 acos(1 - O / 2 pi), the definition (CIE S 017)."""
    return float(np.degrees(2 * np.arccos(1 - solid_angle / (2 * np.pi))))


def by_all_pixels(shine):
    """Apparent size [degrees] of the light, read off every pixel of the picture of a ball."""
    picture = shine.ball[:, :, 1]
    pixels = len(picture)
    middle = ((np.arange(pixels) + 0.5) / pixels * 2 - 1) * 1.12  # in radii of the ball
    off = np.hypot(*np.meshgrid(middle, middle))
    lean = np.sqrt(1 - np.minimum(off, 1) ** 2)  # cosine of how far the ball leans there
    bright = np.where(off < 0.97, picture - DARK, 0) / fresnel(refractive_index=1.56, cosine=lean)
    bright = np.maximum(bright, 0)
    worth = bright.sum() ** 2 / (bright**2).sum()  # pixels that an even light would cover
    return cone(worth * (2 * 1.12 / pixels) ** 2 * 4)  # equal areas are equal solid angles: O = 4 x area / radius^2


truth = np.array([reports[name]["size.cone_angle"].value for name in NAMES])
bars = np.array([reports[name]["size.cone_angle"].half_interval for name in NAMES])
pixels = np.array([by_all_pixels(shines[name]) for name in NAMES])
SIDES = ("highlight.width", "highlight.height")
ruler = np.array([looks(np.mean([reports[name][side].value for side in SIDES]) / (2 * BALL)) for name in NAMES])
for name, real, all_of_them, quick in zip(NAMES, truth, pixels, ruler, strict=True):
    print(f"{name:11s} apparent size {real:5.1f}°, from all pixels {all_of_them:5.1f}°, with the ruler {quick:5.1f}°")

# %%
with settings():
    test, axes = canvas(None, size=(5.2, 4.6))
    axes.plot([0, 90], [0, 90], color=GREY, linewidth=1, label="as it should be")
    axes.errorbar(truth, pixels, xerr=bars, fmt="o", color=COLOURS[0], label="all pixels")
    axes.plot(truth, ruler, "s", markerfacecolor="white", color=COLOURS[1], label="ruler")
    axes.set(xlim=(0, 90), ylim=(0, 90), aspect="equal")
    axes.set_xlabel("Apparent size, straight from the light (degrees)")
    axes.set_ylabel("Read off the ball (degrees)")
    axes.legend(loc="upper left")
    frame(axes, title="Is the ball honest?", below=["Five ready designs. Bars: 95 %, where they can be seen."])
    worst = float(np.abs(pixels / truth - 1).max())
    describe(
        axes,
        f"Angles read off the ball against those of the light, for five designs. All pixels agree within "
        f"{100 * worst:.0f} %; the ruler reads even lights a little short, and uneven ones by up to a half.",
    )
show(test)

# %%
# Two ways that share nothing but the light: pixels of a drawn ball, and directions of light paths. 5 % of an angle is
# what 260 pixels across the ball can tell of the smallest light, 16 pixels wide (one pixel of 16 is 6 %, half of one
# at either edge 3 %), and grain for the rest.
assert worst < 0.05
size, told = truth[NAMES.index("white-box")], pixels[NAMES.index("white-box")]
print(f"The ball says {told:.0f} degrees for the white box; the light itself says {size:.0f}.")

# %% [markdown]
# ## The answer
#
# Yes. A shiny ball is a map of all the light around it. *Where* on the ball a spot shows tells where the light stands
# (at half of the radius: **60 degrees** off the lens). *How much* of the ball it covers tells how large it looks (a
# quarter of the width: **58 degrees**). With a ruler that is right to about a tenth for even lights. With all pixels of
# a linear picture it was right to within **5 %** for five designs, from a bare flash of 13 degrees to flat paper of 66.
#
# Where ruler and pixels disagree, the light is uneven: a bright middle in a faint surround, as with flat paper, or with
# film, through which the flash still shines. The ruler then measures the bright middle, and that is what burns out on
# an eye.
#
# *Limits.* All this holds for a ball that is small against its distance from lens and light, and smooth. Real eyes are
# not quite round, and their facets blur the picture (from memory).
#
# ## Try it
#
# 1. Put a ball bearing, or the back of a clean spoon, in the light of a desk lamp, and photograph it. Where is the
#    lamp?
# 2. Move the lamp to half the distance. What happens to the spot? And if you move the *camera* nearer?
# 3. A ring of light around the lens: what does it look like on an eye?
# 4. A beetle twice as large sits in the same light. How large is its highlight, in mm, and in parts of its eye?
#
# <details><summary>Answers</summary>
#
# 1. Measure from the middle of the ball to the spot and divide by the radius: 0.26 is 30 degrees off the lens, 0.5 is
#    60, 0.71 is 90. A spoon is no ball: it shows that there is a lamp, and roughly where, but not how many degrees. Do
#    not look into the lamp, and let it cool before you touch it.
# 2. It looks twice as large from there, so the spot grows to about twice its width. The camera changes nothing: the
#    picture in the ball stays the same part of the ball, as long as the camera is many ball widths away.
# 3. A ring, with a dark middle: the lens. Its place on the protractor tells how far off the lens the ring stands.
# 4. Twice as many mm, and the same part of the eye: only the angle counts.
#
# </details>
