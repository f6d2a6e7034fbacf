# %% [markdown]
# # 1. Why does a bigger source look softer?
#
# *Ten minutes. You need no optics.*
#
# A village natural-history group surveys the beetles, leafhoppers and froghoppers of a hedge and a pond (the group is
# invented). Their flash pictures look hard: ink-black shadows, burnt-out dots on every wing case. Someone holds a
# sheet of paper in front of the flash, and the pictures turn soft.
#
# **The question: what did the paper do? Is it the paper, or is it the size?**
#
# No photograph was taken for this page. Every picture is computed.

# %%
from itertools import pairwise

import numpy as np
import table  # the file table.py beside this one: a lamp, a place to show pictures, a slider
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from lightsim.light.light import Light
from lightsim.measure.highlight import highlight, luminance_map
from lightsim.measure.illuminance import plane_samples
from lightsim.measure.profiles import edge_shadows
from lightsim.measure.shadow import edge_profile, edge_width
from lightsim.measure.view import view_of
from lightsim.picture.illumination import illumination_of
from lightsim.picture.portrait import portrait_of
from lightsim.picture.shadow import edge_chart
from lightsim.picture.style import COLOURS, GREY, INK, PALE, bare_canvas, describe, settings
from lightsim.picture.tone import srgb

# %% [markdown]
# ## An empty table, and one lamp
#
# Put a leaf on a table. Hang one lamp over it, 100 mm away: a white disc, lit evenly from behind. Nothing else
# shines. That lamp is simpler than any real diffuser. It has one property that we can change: its width.
#
# In lightsim a lamp is a text that says what stands where. This is ours, 40 mm wide:

# %%
print(table.lamp_text(width=40, distance=100))

# %% [markdown]
# lightsim sends light from the flash through the disc and keeps what arrives at the leaf: *from where*, and *how
# much*. A few thousand such arrivals are a small **light cloud**. It takes a fraction of a second.

# %%
DISTANCE = 100.0  # mm, from leaf to lamp
HEIGHT = 1.0  # mm, from leaf to the edge of a card that we shall hold over it
WIDTHS = (10.0, 20.0, 40.0, 80.0)  # mm, each twice as wide as the one before
lamps = [table.lamp(width=width, distance=DISTANCE, height=HEIGHT) for width in WIDTHS]
arrivals = [lamp.at((0, 0, 0)) for lamp in lamps]
for width, seen in zip(WIDTHS, arrivals, strict=True):
    angle = table.angle(width=width, distance=DISTANCE)
    print(f"a lamp {width:2.0f} mm wide looks {angle:4.1f} degrees wide from the leaf: {len(seen.weight)} arrivals")

# %% [markdown]
# The **angle** is how wide the lamp looks from the leaf, as you would measure it with a protractor held to your eye.
# A fist at the end of your arm is about ten degrees wide (common practice, no source).
#
# ## The shadow has an edge, and the edge has a width
#
# Now hold a card over the leaf, 1 mm up. Where is it dark? Look up from the leaf, as an ant would:
#
# - far under the card the ant sees no lamp: full shadow;
# - far outside it sees the whole lamp: full light;
# - in between it sees *part* of the lamp. That is the soft edge of the shadow.
#
# The drawing shows it from the side, not to scale. A small lamp leaves little room for "in between".


# %%
def edge_drawing() -> Figure:
    """A lamp, a card and the ground from the side, for a small and for a large lamp."""
    lamp_at, card_at, size = 10.0, 3.0, (1.0, 5.0)
    figure, first = bare_canvas((5.2, 3.1), layout="constrained")
    first.remove()
    pair = figure.subplots(1, 2)
    with settings():
        for axes, wide, name in zip(pair, size, ("small lamp", "large lamp"), strict=True):
            reach = wide / 2 * card_at / (lamp_at - card_at)  # where the last ray past the card's end lands
            axes.plot([-wide / 2, wide / 2], [lamp_at, lamp_at], color=COLOURS[5], linewidth=6, solid_capstyle="butt")
            axes.plot([-4, 0], [card_at, card_at], color=INK, linewidth=4, solid_capstyle="butt")
            for end in (-1, 1):
                axes.plot([end * wide / 2, -end * reach], [lamp_at, 0], color=COLOURS[5], linewidth=1.0)
            for left, right, colour in ((-4, -reach, INK), (-reach, reach, GREY), (reach, 4, PALE)):
                axes.plot([left, right], [-0.3, -0.3], color=colour, linewidth=7, solid_capstyle="butt")
            axes.annotate(
                "part of the lamp",
                (0, -0.5),
                (0, -2.0),
                ha="center",
                fontsize=9.5,
                color=INK,
                arrowprops={"arrowstyle": "-", "color": INK, "linewidth": 0.8},
            )
            axes.text(-4, card_at + 0.5, "card", fontsize=9.5, color=INK)
            axes.text(0, lamp_at + 0.6, name, fontsize=11, color=INK, ha="center")
            axes.set(xlim=(-4.2, 4.2), ylim=(-2.6, 11.6))
            axes.set_axis_off()
        describe(pair[0], "A card over the ground, lit by a small and by a large lamp, from the side, not to scale.")
        describe(
            pair[1], "Where the ground sees only part of the lamp the edge of the shadow is soft; wide for the large."
        )
    return figure


table.show(edge_drawing())

# %% [markdown]
# Two triangles of one shape meet at the edge of the card. So the soft strip grows with two things only: how wide the
# lamp looks, and how high the card is. For a card near the leaf **strip = 2 × height × tan(angle / 2)** (derived here
# from the two triangles). Twice the angle, twice the strip.
#
# Where a soft edge begins is hard to see. So one measures from 10 % to 90 % of the light (common practice, no
# source). For a round lamp that is 0.687 of the strip.

# %%
widths = [edge_width(seen, height=HEIGHT) for seen in arrivals]
for width, found in zip(WIDTHS, widths, strict=True):
    print(f"lamp {width:2.0f} mm: edge {found.value:.3f} mm wide, ±{found.half_interval:.4f} (95 %)")
table.show(edge_chart(edge_shadows(lamps)))

# %% [markdown]
# Is the computer right? For a small even disc the answer is known without one. We hold the 10 mm lamp against it.

# %%
# Even disc of small angle: 10 to 90 % is 0.68704883 of 2 h tan(a / 2), root of 1/2 + (x sqrt(1 - x^2) + asin x) / pi at
# 0.9 (derived; any optics textbook has the profile). With a card h up, the lamp is only d - h above the card's edge.
strip = 2 * HEIGHT * (WIDTHS[0] / 2) / (DISTANCE - HEIGHT)
exact = 0.68704883 * strip
# 1 %: the flash behind the disc is 0.1 mm wide and blurs the rim of the 10 mm disc by that much.
assert abs(widths[0].value - exact) < 4 * widths[0].standard_error + 0.01 * exact
print(f"known: {exact:.4f} mm; computed: {widths[0].value:.4f} mm, ±{widths[0].half_interval:.4f}")
ratios = [after.value / before.value for before, after in pairwise(widths)]
print("each lamp against the one half as wide:", ", ".join(f"{ratio:.2f} times" for ratio in ratios))
assert abs(ratios[0] - 2) < 0.03  # tan(2 x) is nearly 2 tan(x) for small x

# %% [markdown]
# ## The highlight is a mirror image
#
# A beetle's wing case is a small, curved, dark mirror. Its highlight is a picture of the lamp. Bigger lamp, bigger
# picture: that much is plain. But there is a second effect.
#
# All four lamps put the *same* light on the leaf, once you set the exposure. The big lamp spreads it over more area,
# so each bit of the lamp is dimmer. A mirror shows how bright each *bit* is. So the highlight of the big lamp is
# **large and grey**, that of the small lamp **small and white**: a burnt-out dot with no colour left in it.


# %%
def shine(light: Light):
    """The highlight on a glossy ball of 3 mm, seen from straight above, through the lamp as if it had a hole there."""
    seen = light.at((0, 0, 0))
    return highlight(
        seen,
        centre=(0, 0, 0),
        radius=1.5,
        refractive_index=1.56,
        camera=(0, 0, table.LENS),
        pixel=0.004,
        illuminance=plane_samples(seen, (0, 0, 1)),
    )


shines = [shine(lamp) for lamp in lamps]
for width, found in zip(WIDTHS, shines, strict=True):
    stops = found.stops_above_white
    words = "brighter" if stops.value > 0 else "darker"
    print(
        f"lamp {width:2.0f} mm: highlight {found.width.value:.2f} mm wide, "
        f"{abs(stops.value):.2f} stops {words} than white paper, ±{stops.half_interval:.2f}"
    )
# A cone of half-angle a about the normal: log2(F / sin^2 a) over ideal white, F = ((n - 1) / (n + 1))^2 (Fresnel at
# normal incidence, any optics textbook; white sees pi sin^2 a). On a ball F hardly rises as far out as this.
mirrored = ((1.56 - 1) / (1.56 + 1)) ** 2
for width, found in zip(WIDTHS, shines, strict=True):
    sine = width / 2 / np.hypot(width / 2, DISTANCE)
    known = np.log2(mirrored / sine**2)
    assert abs(found.stops_above_white.value - known) < 4 * found.stops_above_white.standard_error + 0.05

# %% [markdown]
# Twice as wide is four times the area, so each bit is a quarter as bright: **two stops** less each time. (A *stop* is
# a factor of two.)
#
# Where is the border? Such a ball mirrors 4.8 % of the light that meets it squarely (Fresnel's equations, any optics
# textbook, for a refractive index of 1.56; insects' skin has about that, from memory). The highlight is as bright as
# white paper where the lamp looks **25 degrees** wide (derived here: sin²(angle / 2) = 0.048). A larger lamp burns
# nothing out.
#
# Here is the same invented beetle under two lamps, 10 mm and 100 mm wide. The light comes from the camera's side,
# where shadows hide behind the beetle; look at the highlights.

# %%
SHOWN = (10.0, 100.0)  # mm
with settings():
    beetles = Figure(figsize=(7.6, 3.1), dpi=100, layout="constrained")
    for axes, width in zip(beetles.subplots(1, 2), SHOWN, strict=True):
        lit = table.lamp(width=width, distance=DISTANCE)
        angle = table.angle(width=width, distance=DISTANCE)
        axes.imshow(srgb(portrait_of(illumination_of(lit, view_of(lit)), lit.placed).linear))
        axes.set_title(f"{width:g} mm wide: {angle:.0f} degrees", loc="left", fontsize=12)
        axes.set_axis_off()
        describe(axes, f"A red beetle under a lamp {angle:.0f} degrees wide.")
table.show(beetles)

# %% [markdown]
# ## Only the angle counts
#
# So is it the size? Take three lamps: 30 mm wide at 50 mm, 60 mm at 100 mm, 120 mm at 200 mm. They are of very
# different size, but from the leaf they look equally wide.

# %%
ALIKE = ((30.0, 50.0), (60.0, 100.0), (120.0, 200.0))  # mm: width, distance
alike = [table.lamp(width=width, distance=distance) for width, distance in ALIKE]
edges = [edge_width(lamp.at((0, 0, 0)), height=HEIGHT) for lamp in alike]
spots = [shine(lamp) for lamp in alike]
for (width, distance), edge, spot in zip(ALIKE, edges, spots, strict=True):
    angle = table.angle(width=width, distance=distance)
    print(
        f"{width:3.0f} mm at {distance:3.0f} mm looks {angle:.1f} degrees wide: "
        f"shadow edge {edge.value:.3f} mm, highlight {spot.width.value:.3f} mm"
    )
spread = max(edge.value for edge in edges) / min(edge.value for edge in edges) - 1
print(f"the edges differ by {100 * spread:.1f} %")
# Same angle, same strip, but for the height h of the card: the strip goes as d / (d - h), 50/49 against 200/199, 1.5 %
# (derived here). The error bars come on top.
allowed = (50 / (50 - HEIGHT)) / (200 / (200 - HEIGHT)) - 1
assert abs(spread - allowed) < 4 * np.hypot(edges[0].standard_error, edges[-1].standard_error) / edges[-1].value + 0.005

# %% [markdown]
# A lamp of 30 mm does what one of 120 mm does. The small rest, one or two parts in a hundred, is the card: it is 1 mm
# nearer to the lamp than the leaf is, and that matters more for a lamp that is near.
#
# ## Move it yourself
#
# The slider changes how wide the lamp looks. Left is the shadow of the card on a grey leaf, right the highlight on a
# black ball of 3 mm. All pictures are exposed alike: a white card just reaches white. The pictures are made
# beforehand, so that the slider keeps up with your hand. Where there is no slider, the same pictures stand side by
# side.

# %%
ACROSS = 2.2  # mm of leaf that the strip shows
PLACES = np.linspace(-ACROSS / 2, ACROSS / 2, 400)
BODY = 0.018  # reflectance of the ball under its gloss, invented: a dark eye


def draw(shadow, ball, light: Light) -> None:
    """The shadow of the card, and the highlight on the ball, as a camera shows them."""
    seen = light.at((0, 0, 0))
    share = edge_profile(seen, places=PLACES, height=HEIGHT)
    strip = np.repeat(srgb(0.5 * share)[None, :, None], 3, axis=2)  # a grey leaf: half as bright as white paper
    shadow.imshow(strip, extent=(-ACROSS / 2, ACROSS / 2, 0, 1.6), interpolation="none")
    shadow.set(xlim=(-ACROSS / 2, ACROSS / 2), ylim=(0, 1.6))
    ball.add_patch(Circle((0, 0), 1.5, facecolor=(float(srgb(BODY)),) * 3))
    mirror = luminance_map(seen, centre=(0, 0, 0), radius=1.5, refractive_index=1.56, camera=(0, 0, table.LENS))
    white = plane_samples(seen, (0, 0, 1)).mean() / np.pi
    ball.imshow(
        np.repeat(srgb(BODY + mirror.luminance / white)[..., None], 3, axis=2),
        extent=(mirror.left, mirror.right, mirror.bottom, mirror.top),
        origin="lower",
        zorder=2,  # before the ball
    )
    ball.set(xlim=(-1.6, 1.6), ylim=(-1.6, 1.6))
    for axes in (shadow, ball):
        axes.set_axis_off()


def frame_of(degrees: float) -> Figure:
    """One picture of the slider."""
    light = table.lamp(width=2 * DISTANCE * np.tan(np.radians(degrees / 2)), distance=DISTANCE)
    with settings():
        figure = Figure(figsize=(5.2, 2.3), dpi=100)
        shadow, ball = figure.add_axes((0.02, 0.04, 0.5, 0.8)), figure.add_axes((0.58, 0.04, 0.4, 0.8))
        draw(shadow, ball, light)
        edge = edge_width(light.at((0, 0, 0)), height=HEIGHT)
        figure.text(0.02, 0.9, f"lamp {degrees:.0f} degrees wide: edge {edge.value:.2f} mm", fontsize=12, color=INK)
        describe(shadow, f"A lamp {degrees:.0f} degrees wide: the shadow's edge is {edge.value:.2f} mm wide.")
    return figure


STEPS = np.unique(np.rint(np.geomspace(4, 90, 24)))
names = [f"{step:.0f}" for step in STEPS]
rate = table.slider(label="lamp, degrees wide", choices=names, draw=lambda place: frame_of(STEPS[place]))
if rate is not None:
    print(f"{rate:.0f} pictures a second here, the drawing of the browser not counted")
    assert rate >= 15

# %%
FEW = (6.0, 12.0, 25.0, 50.0, 90.0)
with settings():
    multiples = Figure(figsize=(7.6, 3.7), dpi=100)
    for number, degrees in enumerate(FEW):
        light = table.lamp(width=2 * DISTANCE * np.tan(np.radians(degrees / 2)), distance=DISTANCE)
        left, wide = 0.01 + number / len(FEW), 0.97 / len(FEW)
        strip, ball = multiples.add_axes((left, 0.56, wide, 0.34)), multiples.add_axes((left, 0.09, wide, 0.45))
        draw(strip, ball, light)
        multiples.text(left + wide / 2, 0.93, f"{degrees:.0f} degrees", ha="center", fontsize=11, color=INK)
        describe(strip, f"A lamp {degrees:.0f} degrees wide: shadow edge above, highlight on a ball below.")
    words = "Above the shadow of the card, 2.2 mm of leaf; below the highlight on a ball of 3 mm. Lamp 100 mm away."
    multiples.text(0.015, 0.02, words, fontsize=9.5, color=GREY)
table.show(multiples)

# %% [markdown]
# ## The answer
#
# **A bigger source looks softer because more places see only a part of it.** At one distance, twice the width makes
# the edge of a shadow twice as wide: 0.07 mm under a lamp of 10 mm, 0.54 mm under one of 80 mm, both 100 mm away and
# with a card 1 mm up. The highlight grows with it and gets about **two stops** darker with each doubling; from **25
# degrees** on it no longer burns out. What counts is the angle alone: 30 mm at 50 mm does the same as 120 mm at 200
# mm, within 2 %.
#
# So what did the paper do? Nothing by being paper. It caught the light on a larger patch, and that patch became the
# lamp.
#
# ## Try it
#
# **1.** A bare flash window is 60 mm wide and stands 300 mm from a beetle. How wide does it look? Is its highlight
# burnt out?
#
# <details><summary>Answer</summary>
#
# `table.angle(width=60, distance=300)` says 11.4 degrees. That is below 25 degrees: the highlight is a white dot.
#
# </details>
#
# **2.** The sun is half a degree wide. How soft is the edge of a shadow of a leaf 1 m up?
#
# <details><summary>Answer</summary>
#
# 0.687 × 2 × 1000 mm × tan(0.25°) = 6 mm. A leaf 1 mm up: 0.006 mm. Sunlight is hard for small things, and soft for
# tall trees. Never look into the sun to measure it.
#
# </details>
#
# **3.** Change `HEIGHT` to 5 and run the page again. What happens to the edges, and to the 2 %?
#
# <details><summary>Answer</summary>
#
# The edges grow fivefold, and a little more. The 2 % become 8 %: the card is now 5 mm nearer to the lamp than the
# leaf is.
#
# </details>
#
# **At home.** A sheet of paper before a desk lamp shows all of this. Lamps get hot: keep paper a hand's width off,
# and do not look into them. Never fire a flash close to eyes, your own or an animal's. The makers' instructions go
# first.
