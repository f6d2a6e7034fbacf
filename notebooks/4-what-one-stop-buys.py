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
# # 4. What one stop buys: size against light
#
# **The question.** A larger light is a softer light, and softness costs light. How much? If you are ready to give
# away one stop, half of your light, how large can the light get?
#
# You need: no optics, ten minutes. We measure the size of a light as the subject sees it, by the angle of the cone
# that it fills: the sun is half a degree wide, a flash window of 60 mm at 300 mm 11 degrees, the whole sky 180.
#
# No photograph was taken for this page. All pictures are reckoned. The lamp is invented.

# %%
import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Wedge
from table import show

import lightsim
from lightsim.light.estimate import Estimate, jackknife, mean_of
from lightsim.light.light import Light, light_of
from lightsim.measure.falloff import FACING_LENS
from lightsim.measure.illuminance import plane_samples
from lightsim.measure.size import cone_angle, effective_solid_angle
from lightsim.picture.style import COLOURS, GREY, INK, PALE, bare_canvas, canvas, describe, frame, listed, settings
from lightsim.rig.load import loads, placed

# %% [markdown]
# ## The fairest lamp
#
# To see what *size* costs, nothing else may cost anything. So we make a lamp that does not exist: a flat white disc
# that gets all the light of a flash, lets all of it through, and glows evenly. It hangs 500 mm above the subject. We
# make it wider and wider. The light of the flash stays the same.

# %%
DISTANCE, BEHIND = 500.0, 5000.0  # mm: subject to disc, disc to flash
LAMP = """
title = "Even disc, {width:g} mm wide"
[camera]
sensor = [23.5, 15.6]
magnification = 1
[lens]
working_distance = 9000      # out of the way
diameter = 60
length = 100
[[head]]
name = "flash"
from = "subject"
toward_lens = 5500
window = [0.1, 0.1]          # a point
window_reflectance = 0
guide_number = 30
beam = {{ angle = {angle}, intensity = {intensity} }}
[[diffuser]]
name = "disc"
shape = "disc"
diameter = {width}
material = "perfect white"
from = "subject"
toward_lens = 500
[material."perfect white"]
diffuse_transmittance = 1
"""


def lamp(width: float) -> Light:
    """An evenly lit disc, width mm across. The beam just fills it.

    A flat disc gets cos^3 of the light at its rim that it gets in its middle (inverse square and cosine laws), so the
    beam is made brighter by 1 / cos^3 toward its edge.
    """
    angle = np.linspace(0, np.arctan(width / 2 / BEHIND), 20)
    text = LAMP.format(width=width, angle=np.degrees(angle).tolist(), intensity=(np.cos(angle) ** -3).tolist())
    return light_of(placed(loads(text)), points=1024)


def stops(light: Light) -> Estimate:
    """Stops less than from a tiny lamp of the same light: that one gives 1 / (pi d^2), d its distance."""
    tiny = 1 / (np.pi * DISTANCE**2)
    samples = plane_samples(light.at((0, 0, 0)), FACING_LENS)
    return jackknife(lambda mean: float(np.log2(tiny / mean[0])), samples[:, None])


widths = (125.0, 250.0, 500.0, 1000.0, 1732.0, 2646.0)
lamps = [lamp(width) for width in widths]
cones = [cone_angle(effective_solid_angle(light.at((0, 0, 0)))) for light in lamps]
costs = [stops(light) for light in lamps]
for width, cone, cost in zip(widths, cones, costs, strict=True):
    print(
        f"{width:5.0f} mm wide: looks {cone.value:6.2f} ± {cone.half_interval:.2f}° wide, "
        f"costs {cost.value:.4f} ± {cost.half_interval:.4f} stops"
    )

# %% [markdown]
# ## The law behind it
#
# Two sentences of any optics textbook are enough. An even matt disc of radius *r* gives a point on its axis, *d*
# away, the light *E = π L r² / (r² + d²)*, where *L* is its brightness. Light *Q* spread evenly over the disc makes
# it as bright as *L = Q / (π · π r²)*. Put together:
#
# &nbsp;&nbsp;&nbsp;&nbsp;*E = Q / (π (r² + d²))*.
#
# The area has dropped out. Only the longest way counts, from the rim of the disc to the subject. While the disc is
# small against its distance, *r²* hardly matters: **size is free**. When *r = d*, the cone is 90 degrees wide and the
# light is halved: one stop. After that each stop halves cos² of half of the cone again.

# %%
# E = Q / (pi (r^2 + d^2)); r = d halves it: the share r^2 / (r^2 + d^2) of a disc seen from its own radius is 0.5
# (I. Martinez, Radiative view factors, disc on its axis). Each lamp is held to the law by its own error bar.
for width, cost in zip(widths, costs, strict=True):
    law = np.log2(1 + (width / 2 / DISTANCE) ** 2)
    assert abs(cost.value - law) < 4 * cost.standard_error + 0.001, width  # 0.001: what the flash's 0.1 mm blur
    assert cost.standard_error < 0.005, width
for width, cone in zip(widths, cones, strict=True):
    exact = 2 * np.degrees(np.arctan(width / 2 / DISTANCE))
    assert abs(cone.value - exact) < 4 * cone.standard_error + 0.2, width
first = costs[widths.index(1000.0)]
assert abs(first.value - 1) < 4 * first.standard_error + 0.001
print(f"A disc of 1000 mm at 500 mm, a cone of 90 degrees: {first.value:.4f} ± {first.half_interval:.4f} stops")


def bought(given: float) -> float:
    """Full angle of the cone [degrees] that so many stops buy: cos^2 of half of it is 2^-stops (derived here)."""
    return float(2 * np.degrees(np.arccos(2 ** (-given / 2))))


# %%
with settings():
    figure, axes = canvas(None, names=["a", "b"], size=(5.2, 4.0))
    angles = np.linspace(0, 142, 200)
    (line,) = axes.plot(-2 * np.log2(np.cos(np.radians(angles / 2))), angles, color=COLOURS[0])
    dots = axes.errorbar(
        [cost.value for cost in costs],
        [cone.value for cone in cones],
        xerr=[cost.half_interval for cost in costs],
        yerr=[cone.half_interval for cone in cones],
        fmt="s",
        color=COLOURS[1],
        capsize=3,
    )
    for given in (1, 2, 3):
        axes.plot([given, given, 0], [0, bought(given), bought(given)], color=GREY, linewidth=0.9, linestyle=":")
        axes.text(given + 0.04, bought(given) - 4, f"{bought(given):.0f}°", va="top", color=INK)
    axes.set_xlim(0, 3.4)
    axes.set_ylim(0, 150)
    axes.set_yticks(range(0, 151, 30))
    axes.set_xlabel("Light given away (stops)")
    axes.set_ylabel("Size of the light: full angle (degrees)")
    frame(axes, title="What each stop buys", below=["An even disc that gets and passes all of the light."])
    listed(axes, [(line, "the law: cos² of half of the angle"), (dots, "lightsim, discs of 125 to 2646 mm")])
    describe(
        axes,
        "Size of an even light against the stops that it costs: the curve is steep at first; one stop buys 90 degrees, "
        f"two stops {bought(2):.0f}, three {bought(3):.0f}.",
    )
show(figure)

# %% [markdown]
# The same as cones, the subject at the tip:

# %%
with settings():
    figure = Figure(figsize=(7.6, 1.5), layout="constrained", dpi=100)
    before = 0.0
    for axes, given in zip(figure.subplots(1, 5), (0.1, 0.5, 1, 2, 3), strict=True):
        half = bought(given) / 2
        axes.add_patch(Wedge((0, 0), 1, 90 - half, 90 + half, facecolor=COLOURS[5], edgecolor=INK, linewidth=1))
        axes.plot(0, 0, "o", color=INK, markersize=6)
        axes.set_xlim(-1.05, 1.05)
        axes.set_ylim(-0.1, 1.04)
        axes.set_aspect("equal")
        axes.set_axis_off()
        words = {0.1: "a tenth of a stop", 0.5: "half a stop", 1: "one stop", 2: "two stops", 3: "three stops"}[given]
        axes.set_title(f"{words}\n{2 * half:.0f}°", fontsize=11)
        describe(axes, f"{words}: a cone of {2 * half:.0f} degrees.")
show(figure)

# %% [markdown]
# **The first stop buys 90 degrees. The second buys 30 more, the third 19.** A tenth of a stop already buys 30
# degrees. So a light that is small against its distance is a bargain thrown away, and a light beyond 90 degrees is a
# luxury.
#
# ## Then why does my diffuser cost two stops and more?
#
# Because it is not the fairest lamp. Take a real one, straight on the axis: a flash 160 mm from the subject, a round
# sheet of packing foam of 160 mm half-way, 80 mm from the subject. By the law its size, 90 degrees, costs one stop.
# The whole bill has more lines. We change the flash into the diffuser step by step and read off each step in
# lightsim.

# %%
NEAR, FLASH, ACROSS, BEAM = 80.0, 160.0, 160.0, 4.0  # mm: subject to foam, subject to flash, foam's width; power of cos
STEP = """
title = "On the axis"
[camera]
sensor = [23.5, 15.6]
magnification = 1
[lens]
working_distance = 9000
diameter = 60
length = 100
[[head]]
name = "flash"
from = "subject"
toward_lens = {flash}
window = [1, 1]
window_reflectance = 0
guide_number = 30
beam = {{ cos_power = {power} }}
"""
FOAM = """
[[diffuser]]
name = "foam"
shape = "disc"
diameter = {width}
material = "foam"
from = "subject"
toward_lens = 80
[material.foam]
diffuse_transmittance = {through}
diffuse_reflectance = {back}
"""


def traced(text: str) -> Light:
    """The light of a rig file's text."""
    return light_of(placed(loads(text)), points=2048)


def on_subject(light: Light) -> Estimate:
    """Illuminance of the subject, per lumen-second of the flash [1/mm^2]."""
    return mean_of(plane_samples(light.at((0, 0, 0)), FACING_LENS))


bare = on_subject(traced(STEP.format(flash=FLASH, power=BEAM)))
even = on_subject(traced(STEP.format(flash=FLASH, power=1)))
near = on_subject(traced(STEP.format(flash=NEAR, power=1)))
white = on_subject(traced(STEP.format(flash=FLASH, power=BEAM) + FOAM.format(width=ACROSS, through=1, back=0)))
foam_light = traced(STEP.format(flash=FLASH, power=BEAM) + FOAM.format(width=ACROSS, through=0.55, back=0.38))
foam = on_subject(foam_light)

# By hand. A beam cos^m sends (m + 1) / 2 times as much straight ahead as an even matt window. Half of the distance:
# four times the light. Of the beam the share 1 - cos^(m + 1) meets the disc (integrals of cos^m, derived).
size = np.log2(1 + (ACROSS / 2 / NEAR) ** 2)
caught = 1 - np.cos(np.arctan(ACROSS / 2 / (FLASH - NEAR))) ** (BEAM + 1)
bill = {
    "the beam is spread": np.log2(bare.value / even.value),
    "the light comes nearer": np.log2(even.value / near.value),
    "the light is large": size,
    "some goes past the sheet": -np.log2(caught),
    "the middle is brighter": np.log2(near.value / white.value) - size + np.log2(caught),
    "the foam keeps some back": np.log2(white.value / foam.value),
}
for line, paid in bill.items():
    print(f"{line:26} {paid:+.2f} stops")
print(f"{'in all':26} {sum(bill.values()):+.2f} stops")
cone = cone_angle(effective_solid_angle(foam_light.at((0, 0, 0))))
print(f"The disc fills a cone of 90°. Its light looks as large as an even {cone.value:.0f}°.")
assert abs(bill["the beam is spread"] - np.log2((BEAM + 1) / 2)) < 0.001
assert abs(bill["the light comes nearer"] + 2 * np.log2(FLASH / NEAR)) < 0.001
assert abs(bill["the foam keeps some back"] + np.log2(0.55)) < 0.01  # the transmittance of the foam, alone in the way


# %%
def signed(number: float) -> str:
    """A number of stops with its sign."""
    return f"{number:+.2f}".replace("-", "\u2212")


with settings():
    figure, axes = bare_canvas((6.6, 3.7), layout="constrained")
    at = 0.0
    for row, paid in enumerate(bill.values()):
        colour = COLOURS[1] if paid > 0 else COLOURS[0]
        axes.barh(row, paid, left=at, height=0.62, color=colour, hatch="" if paid > 0 else "//", edgecolor="white")
        edge = max(at, at + paid)
        axes.text(edge + 0.04, row, signed(paid), va="center", color=INK)
        axes.plot([at + paid] * 2, [row - 0.3, row + 1.3], color=GREY, linewidth=0.9)
        at += paid
    axes.barh(len(bill), at, height=0.62, color=INK)
    axes.text(at + 0.04, len(bill), signed(at), va="center", color=INK)
    axes.set_yticks(range(len(bill) + 1), [*bill, "in all"])
    axes.set_xlim(min(0.0, *np.cumsum(list(bill.values()))) - 0.15, max(np.cumsum(list(bill.values()))) + 0.6)
    axes.invert_yaxis()
    axes.axvline(0, color=GREY, linewidth=0.9)
    axes.set_xlabel("Light lost against the bare flash (stops)\nhatched: light won")
    axes.set_title("The bill of a disc of foam", loc="left", fontweight="bold")
    axes.grid(axis="x", color=PALE)
    axes.spines[["top", "right"]].set_visible(False)
    told = "; ".join(f"{line} {paid:+.2f}" for line, paid in bill.items())
    describe(axes, f"The bill of a disc of foam, in stops: {told}; in all {at:+.2f}.")
show(figure)

# %% [markdown]
# Size is one line of six. The beam that no longer points costs more than that. The nearness of the sheet pays most of
# both back. The flash lights the middle of the sheet better than its rim. That gives a third of a stop back, and
# takes size: the light looks 75 degrees wide, not 90. The foam takes its share last; with copy paper that line would
# be 2.6 stops.
#
# ## And the ready designs?

# %%
print(f"{'design':38}{'looks wide':>11}{'its size':>10}{'all of it':>11}   by the materials")
for name in ("bare-flash", "flat-paper", "flat-foam", "foam-arc", "white-box"):
    report = lightsim.report(lightsim.trace(lightsim.load(name), error=0.02))
    cone, lost = report["size.cone_angle"], report["loss.total"]
    own = -2 * np.log2(np.cos(np.radians(cone.value / 2)))
    numbers = f"{cone.value:9.0f}° {own:6.1f} stops{abs(lost.value):6.1f} stops"
    print(f"{report.title:38}{numbers}" + (f"   {lost.low:.1f} to {lost.high:.1f}" if lost.value > 0.1 else ""))

# %% [markdown]
# *Its size* is what the law asks for a light of that angle. All of these designs lie on the steep part of the curve.
# None pays as much as a stop for its size. What parts paper from foam is what the sheet keeps.
#
# ## The answer
#
# **One stop buys 90 degrees**, if no light is wasted: lightsim finds 1.000 stops, to within 0.001, where the textbook
# has exactly one. Two stops buy 120 degrees, three 139. Up to 90 degrees size is cheap. What costs is waste: light
# that goes past the sheet, light that the sheet keeps. So do not save on the size. Save on the sheet.
#
# How sure is that? The law is exact for an even disc on the axis, straight in front. A light beside the lens that
# falls in aslant, or one that is brighter in the middle, is not quite such a disc. The foam's 0.55 is from memory
# (0.45 to 0.70), the paper's 0.16 derived (0.13 to 0.20): measure yours, `lightsim measure sheet`.
#
# **Caution.** The first thing people try is a flash closer to the subject. Never fire one close to the eyes of people
# or animals. Keep sheets 5 to 10 mm off the window, it gets hot. The maker's instructions and local codes come first.
#
# ## Try it
#
# Guess first.
#
# 1. The disc hangs at 500 mm. Hang it at 250 mm and keep its width of 1000 mm. How wide does it look, how many stops
#    does it cost against a tiny lamp at 250 mm, and is the subject brighter or darker than before?
# 2. In the bill, make the foam twice as wide (`ACROSS = 320.0`). Does the whole bill grow?
# 3. You want 60 degrees. What does the size alone cost?
#
# <details><summary>Answers</summary>
#
# 1. 127 degrees; 2.3 stops. And yet brighter: *r² + d²* went from 500 000 to 312 500 mm², so there is 0.7 stop more
#    light.
# 2. It shrinks a little, from 1.10 to 1.03 stops. The line "is large" grows to 2.3 stops, but the flash hardly lights
#    the new rim: "the middle is brighter" gives 1.5 back, and less light goes past. And what does it buy? The light
#    looks 80 degrees wide in place of 75. It looks no larger than the patch that the flash lights.
# 3. cos² of 30 degrees is 3/4: 0.4 stops.
#
# </details>
