# ---
# jupyter:
#   jupytext:
#     text_representation:
#       extension: .py
#       format_name: percent
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # 5. Where does the light go? Boxes, linings, baffles
#
# **The question.** A box round the flash costs light. Where does that light go? And what is a whiter lining worth, or
# a sheet hung inside, a *baffle*?
#
# You need: no optics, ten minutes. *Reflectance* is the share of the light that a surface sends back: 0.9 is nine
# tenths, about the best that white card and paint do; 0.18 is a grey card; 0.05 is black card (all from memory). What
# a surface keeps turns to heat.
#
# No photograph was taken for this page. All pictures are reckoned.

# %%
import numpy as np
from matplotlib.figure import Figure
from table import show

import lightsim
from lightsim.light.estimate import Estimate, mean_of
from lightsim.light.forward import trace
from lightsim.light.light import light_of
from lightsim.light.scene import build
from lightsim.measure.budget import budget_of
from lightsim.measure.falloff import FACING_LENS
from lightsim.measure.illuminance import plane_samples
from lightsim.measure.loss import stops_lost
from lightsim.measure.ratio import ratio_in_stops
from lightsim.measure.size import cone_angle, effective_solid_angle
from lightsim.measure.source import source_only
from lightsim.measure.source_map import RIM, source_map
from lightsim.picture.budget import budget_picture
from lightsim.picture.style import COLOURS, GREY, INK, canvas, describe, frame, listed, settings
from lightsim.rig.load import loads, placed

# %% [markdown]
# ## An open cube
#
# The plainest box: a cube, one side open. The side opposite is a lamp that shines evenly, and it is as white as the
# four other walls. Some of the light finds the opening at once. The rest lands on a wall. The wall keeps its share
# and sends on the rest, to the opening or to another wall, and so on.

# %%
CUBE = """
title = "Open cube of 100 mm"
[camera]
sensor = [23.5, 15.6]
magnification = 1
[lens]
working_distance = 9000      # out of the way
diameter = 60
length = 100
[[head]]
name = "lamp"
from = "subject"
toward_lens = 4100
window = [100, 100]
window_reflectance = {white}
beam = {{ cos_power = 1 }}     # shines evenly, as matt surfaces do
guide_number = 30
[[diffuser]]
name = "walls"
shape = "box"
front = [100, 100]
back = [100, 100]
depth = 100
open = ["front", "back"]     # the lamp closes the back
material = "lining"
from = "subject"
hold = "front"
toward_lens = 4000
[material.lining]
diffuse_reflectance = {white}
"""
RUNS = 16


def comes_out(white: float, *, points: int = 1024) -> Estimate:
    """Share of the lamp's light that leaves the cube, by 16 runs with random numbers of their own."""
    rig = placed(loads(CUBE.format(white=white)))
    scene = build(rig.parts, rig.heads)
    shares = [trace(scene, points=points, replicates=1, seed=seed).tally.escaped.sum() for seed in range(RUNS)]
    return mean_of(np.array(shares))


linings = (0.05, 0.18, 0.4, 0.6, 0.7, 0.8, 0.86, 0.9, 0.95)
found = {white: comes_out(white, points=4096 if white in (0.8, 0.9) else 1024) for white in linings}
for white, share in found.items():
    # Each landing keeps 1 - white of the light that lands: what was kept, over that, is how often light landed.
    landings = (1 - share.value) / (1 - white)
    print(
        f"lining {white:4.2f}: {100 * share.value:5.1f} ± {100 * share.half_interval:.1f} % comes out, "
        f"after {landings:.1f} landings on average"
    )

# %% [markdown]
# ## Can we know that it is right?
#
# **By zones.** Take the walls as one: whatever leaves a wall, one fifth of it finds the opening, the rest another
# wall. (Seen from the lamp the opening takes one fifth of the view: 0.2.) Then the light that comes out is 0.2
# straight from the lamp; of the other 0.8 each landing sends on the share ρ, and one fifth of that leaves. All
# landings added up:
#
# &nbsp;&nbsp;&nbsp;&nbsp;out = 0.2 + 0.8 · 0.2 ρ / (1 − 0.8 ρ).
#
# It is the same sum that gives the multiplier of an integrating sphere (D. G. Goebel, Applied Optics 6, 125, 1967).
# For a cube it is a little too high: deep in the corners light sees less of the opening than one fifth.
#
# **By patches.** Cut each wall into ever smaller patches and let them light each other until nothing changes. That
# gives 0.68426 for walls of 0.9 and 0.52131 for walls of 0.8 (radiosity, converged, derived; random walks agree).
# lightsim does neither: it follows single rays. It must come out at the same.

# %%
PATCHES = {0.9: 0.68426, 0.8: 0.52131}  # open cube, five walls of one reflectance: converged radiosity, derived, +-3e-5
for white, exact in PATCHES.items():
    assert abs(found[white].value - exact) < 4 * found[white].standard_error + 3e-5, white
    assert found[white].standard_error < 1e-3, white


def by_zones(white: np.ndarray) -> np.ndarray:
    """Share that comes out of the cube if all walls were one zone."""
    return 0.2 + 0.8 * 0.2 * white / (1 - 0.8 * white)


price = float(np.log2(found[0.9].value / found[0.8].value))
error = np.hypot(*(found[white].standard_error / found[white].value for white in PATCHES)) / np.log(2)
assert abs(price - np.log2(0.68426 / 0.52131)) < 4 * error + 2e-4
print(f"Walls of 0.8 in place of 0.9 cost {price:.2f} stops; by patches {np.log2(0.68426 / 0.52131):.2f}.")

# %%
with settings():
    figure, axes = canvas(None, names=["a", "b", "c"], size=(5.2, 4.0))
    white = np.linspace(0, 1, 201)
    (line,) = axes.plot(white, 100 * by_zones(white), color=GREY, linestyle="--")
    dots = axes.errorbar(
        list(found),
        [100 * share.value for share in found.values()],
        yerr=[100 * share.half_interval for share in found.values()],
        fmt="o",
        color=COLOURS[0],
        capsize=3,
    )
    exact = [100 * share for share in PATCHES.values()]
    (rings,) = axes.plot(list(PATCHES), exact, "D", markersize=12, fillstyle="none", color=COLOURS[1])
    for at, word, beside, side in (
        (0.05, "black card", (-6, -18), "left"),
        (0.18, "grey card", (-6, 12), "left"),
        (0.86, "white card", (-12, 6), "right"),
    ):
        axes.annotate(word, (at, 100 * found[at].value), beside, textcoords="offset points", ha=side)
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 100)
    axes.set_xlabel("Reflectance of the lining (1)")
    axes.set_ylabel("Light that comes out (%)")
    frame(axes, title="The lining of an open cube", below=[])
    entries = [(dots, "lightsim"), (rings, "by patches, converged"), (line, "by zones: a little too high")]
    listed(axes, entries)
    describe(
        axes,
        "Light out of an open cube against the reflectance of its walls: "
        + "; ".join(f"{white:.2f}, {100 * share.value:.0f} %" for white, share in found.items())
        + ". The curve gets steeper toward white.",
    )
show(figure)

# %% [markdown]
# The curve is flat on the left and steep on the right. From black to grey nothing much happens. **The last tenth,
# from 0.8 to 0.9, is worth 0.39 stops**, because the light lands on the walls not once but two or three times, and
# every landing takes its tenth. Whiter is worth more, the whiter you are already.
#
# ## Real boxes
#
# Four ready designs, the same but for the inside: grey card, white card, foil on card, and white card with a baffle
# of copy paper between flash and front. All have a front of copy paper. lightsim keeps a book of every lumen.

# %%
NAMES = ("grey-box", "white-box", "foil-box", "baffle-box")
boxes = {name: lightsim.trace(lightsim.load(name), error=0.02) for name in NAMES}
budgets = [budget_of(light, light.placed.rig.title) for light in boxes.values()]
for budget in budgets:
    assert abs(sum(piece.share for piece in budget.rows) - 1) < 1e-6  # no lumen is lost from the book
show(budget_picture(budgets))

# %%
for name, light in boxes.items():
    lost = stops_lost(light)
    print(f"{name:11} {lost.value:.2f} ± {lost.half_interval:.2f} stops lost on the subject")

# %% [markdown]
# *Absorbed by the diffuser* is the largest entry of every book. Grey walls keep nearly all of it: 93 of 100 lumens
# turn to heat in the box. White walls lose 1.5 stops less than grey ones. Foil sends back as much as white card, 0.86
# here. Foil mirrors and card scatters, and that makes little difference, 0.1 stop. Which of the two is better hangs
# on how good yours are: foil on card 0.76 to 0.90 (assumed), white card 0.80 to 0.91 (derived).
#
# *Back into the flash head* cannot be helped: the window takes in most of what comes back to it.
#
# *Missed everything, from the diffuser* holds the useful light, and even of that little is used. The front glows in
# all directions, and one lumen in a thousand falls on the picture. That is the price of a light that comes from all
# sides.
#
# ## Is a baffle worth it?
#
# The baffle box loses half a stop more than the white box. What for? A baffle is there to take away the bright spot
# that the flash makes on the front. The white box is deep and has hardly any. So try a short one, straight on the
# axis, 70 mm deep, with a front of packing foam. Then hang a baffle in it. Then take the baffle out and make the box
# 150 mm deep.

# %%
SHORT = """
title = "Box on the axis"
[camera]
sensor = [23.5, 15.6]
magnification = 1
[lens]
working_distance = 2000      # out of the way
diameter = 60
length = 100
[[head]]
name = "flash"
from = "subject"
toward_lens = {head}
window = [60, 40]
beam = {{ cos_power = 4 }}
guide_number = 30
[[diffuser]]
name = "front"
shape = "sheet"
width = 150
height = 90
material = "packing foam"
from = "subject"
toward_lens = 80
[[diffuser]]
name = "box"
shape = "box"
front = [150, 90]
back = [80, 60]
depth = {depth}
open = ["front"]
holes = [{{ wall = "back", kind = "rectangle", width = 64, height = 44 }}]
material = "white card"
from = "subject"
hold = "front"
toward_lens = 80
"""
BAFFLE = """
[[diffuser]]
name = "baffle"
shape = "sheet"
width = 60
height = 40
material = "copy paper"
from = "subject"
toward_lens = 112            # half-way between front and window
"""
rigs = {
    "short box": SHORT.format(depth=70, head=144),
    "short box and baffle": SHORT.format(depth=70, head=144) + BAFFLE,
    "long box": SHORT.format(depth=150, head=224),
}
three = {name: light_of(placed(loads(text)), points=4096) for name, text in rigs.items()}
bright = {name: plane_samples(light.at((0, 0, 0)), FACING_LENS) for name, light in three.items()}
sources = {name: source_only(light, light.at((0, 0, 0))) for name, light in three.items()}
wide = {name: cone_angle(effective_solid_angle(arrivals)) for name, arrivals in sources.items()}
paid = {name: ratio_in_stops(bright["short box"], samples) for name, samples in bright.items()}
for name in three:
    print(
        f"{name:21} {paid[name].value:.2f} ± {paid[name].half_interval:.2f} stops less than the short box, "
        f"looks {wide[name].value:.1f} ± {wide[name].half_interval:.1f}° wide"
    )

# %%
with settings():
    figure = Figure(figsize=(8.0, 3.3), layout="constrained", dpi=100)
    for axes, (name, light) in zip(figure.subplots(1, 3), three.items(), strict=True):
        seen = source_map(light)
        image = axes.imshow(
            seen.whole.luminance / seen.whole.luminance.max(),
            origin="lower",
            extent=(-RIM, RIM, -RIM, RIM),
            cmap="inferno",
            vmin=0,
            vmax=1,
        )
        axes.set_xlim(-0.78, 0.78)
        axes.set_ylim(-0.58, 0.58)
        axes.set_xticks([])
        axes.set_yticks([])
        axes.set_title(f"{name}\n{paid[name].value:.1f} stops, {wide[name].value:.0f}°", fontsize=11, color=INK)
        describe(axes, f"{name}: {paid[name].value:.1f} stops, looks {wide[name].value:.0f} degrees wide.")
    bar = figure.colorbar(image, ax=figure.axes, orientation="horizontal", fraction=0.08, pad=0.04, aspect=40)
    bar.set_label("Brightness, each against its own brightest place (1)")
show(figure)

# %% [markdown]
# Each picture is the front as the subject sees it. In the short box the middle is bright and the corners are dark, so
# the light looks smaller than the front is: 72 degrees. The baffle turns that round: now the middle is the darker
# part, and the light looks 76 degrees wide, for 0.7 stop. The long box is the most even of the three, looks about as
# wide, and costs much the same. (The fine mottling is noise of the reckoning.)
#
# ## The answer
#
# **The light goes into the walls, a little at each landing.** In an open cube with walls of 0.9 a lumen lands 3.2
# times on average and 68 % come out; with walls of 0.8 it is 52 %. That tenth of whiteness is worth 0.39 stops:
# lightsim and the patches agree to a thousandth of the light. So: white inside, as white as you can, no dark tape, no
# bare brown card.
#
# A baffle is no gift. It costs as much as a deeper box does. It is worth its light where the box must be short.
#
# How sure is that? The cube is exact. The real boxes are as good as the numbers of their card and paper: the white
# box may lose 1.5 to 2.4 stops (`lightsim report white-box`). The size of a baffle, and how far from the flash it
# hangs, are one choice of many here.
#
# **Caution.** What the walls keep turns to heat, and so does what goes back into the head. Nothing black or dark goes
# on the window, keep sheets 5 to 10 mm off it, let air through, pause after a run of full flashes, stop at any smell
# or browning. Foil conducts: keep it off contacts and battery doors. Never open a flash, its capacitor holds a
# dangerous charge for days. The maker's instructions and local codes come first, repairs are for licensed service.
#
# ## Try it
#
# Guess first.
#
# 1. What comes out of the cube with walls of 0.98, about the best white there is (from memory)? Add 0.98 to
#    `linings`.
# 2. A baffle of packing foam in place of copy paper: does it even the light as well, and what does it cost?
# 3. Line the short box with grey card. Does the light look larger or smaller?
#
# <details><summary>Answers</summary>
#
# 1. 92 % (the zones say 93 %, a little too high), after 4.2 landings.
# 2. It looks 76 degrees wide, as with paper, and costs 0.4 stops in place of 0.7. A baffle should spread light, not
#    stop it.
# 3. Smaller: 68 degrees in place of 72, for 0.5 stop. The walls no longer fill the corners, and the bright spot
#    stays.
#
# </details>
