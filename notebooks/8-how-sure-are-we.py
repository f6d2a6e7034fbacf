# %% [markdown]
# # 8. How sure are we?
#
# *Twelve minutes. You need no statistics; notebook 3 tells what paper does to light.*
#
# `lightsim` says that the design "flat-paper", a sheet of copy paper over the lens, costs 3.41 ± 0.01 stops of light.
# (A *stop* is a factor of two, so that is a bit more than nine tenths of it.)
#
# **The question: may you believe the ± 0.01?**
#
# It depends on what you mean by it. There are four doubts, and each has its own size:
#
# 1. **The dice.** The program throws light paths at random. Another throw gives another number.
# 2. **The program.** It might be wrong.
# 3. **The paper.** Yours is not the one in the file.
# 4. **The ruler.** You will not cut and place it as drawn.
#
# We measure all four in the same unit, stops, and see which one to worry about. No photograph was taken for this page,
# so a fifth doubt stays open at the end.

# %%
import numpy as np
from table import lamp_text, show  # the file table.py beside this one

import lightsim
from lightsim.light.light import light_of
from lightsim.measure.illuminance import illuminance
from lightsim.measure.report import report, second_opinion, with_ranges
from lightsim.picture.style import COLOURS, GREY, canvas, describe, frame, settings
from lightsim.rig.load import loads, placed
from lightsim.search.tolerances import tolerances

# %% [markdown]
# ## 1. The dice
#
# Ask the same question five times, with five different throws.

# %%
paper = lightsim.load("flat-paper")
for seed in (1, 2, 3, 4, 5):
    lost = report(lightsim.trace(paper, error=0.02, seed=seed))["loss.total"]
    print(f"throw {seed}: {lost.value:.3f} ± {lost.half_interval:.3f} stops")

# %% [markdown]
# They differ in the third digit. Each comes with an *error bar*, ±, which claims: "in 95 of 100 throws the true value
# lies between my ends". Such a claim can be tested, where the true value is known. So we need a light that one can work
# out on paper.
#
# A white disc glows evenly, 60 mm wide, 81.5 mm away. The flash behind it lights a circle that is a little wider,
# 66 mm, so that the rim is as bright as the middle. The disc passes on half of what falls on it. How much of that
# reaches each square millimetre of the subject? With the brightness L of the disc, its radius r, and the distance d,
# textbooks have
#
# > E = π L r² / (r² + d²)
#
# Now ask `lightsim` a hundred times, with few paths each time, so that the dice show.

# %%
RADIUS, LIT, DISTANCE, PASSED = 30.0, 33.0, 81.5, 0.5  # mm, mm, mm, share of the light
# E = pi L r^2 / (r^2 + d^2): disc seen from its axis, I. Martinez, Radiative view factors. What the disc sends out,
# pi L, is half of the light over the area that it falls on. Here for one lumen-second of flash.
TRUE = PASSED / (np.pi * LIT**2) * RADIUS**2 / (RADIUS**2 + DISTANCE**2)  # 1/mm^2
wide = lamp_text(width=2 * LIT, distance=DISTANCE)
disc = placed(loads(wide.replace(f"diameter = {2 * LIT}", f"diameter = {2 * RADIUS}")))


def throw(seed, points=256):
    """The light on a plane that faces the disc, by 16 replicates of so many paths [1/mm^2 per lumen-second]."""
    return illuminance(light_of(disc, points=points, seed=seed).at((0, 0, 0)), (0, 0, 1))


THROWS = 100
throws = [throw(seed) for seed in range(1, THROWS + 1)]
value = np.array([each.value for each in throws]) / TRUE
half = np.array([each.half_interval for each in throws]) / TRUE
held = np.abs(value - 1) <= half
print(f"{held.sum()} of {THROWS} error bars hold the true value")
print(f"the mean of all throws is off by {100 * (value.mean() - 1):+.3f} %")

# %%
with settings():
    bars, axes = canvas(None, size=(5.2, 4.0))
    number = np.arange(1, THROWS + 1)
    for kind, colour, name in ((held, COLOURS[0], "hold the truth"), (~held, COLOURS[1], "miss it")):
        axes.errorbar(
            number[kind],
            100 * (value[kind] - 1),
            yerr=100 * half[kind],
            fmt="o" if colour == COLOURS[0] else "s",
            markersize=3,
            linewidth=1,
            color=colour,
            label=f"{kind.sum()} {name}",
        )
    axes.axhline(0, color=GREY, linewidth=1.2)
    axes.set_xlabel("Throw of the dice")
    axes.set_ylabel("Off the true value (per cent)")
    axes.legend(loc="upper right", ncols=2)
    axes.set_ylim(-0.5, 0.6)
    frame(axes, title="Do the error bars keep their word?", below=["Line: worked out on paper. Bars: 95 %."])
    describe(
        axes,
        f"A hundred results with error bars about the true value: {held.sum()} bars hold it, {(~held).sum()} miss it.",
    )
show(bars)

# %%
# If each bar holds the truth with a chance of 95 %, then 88 to 99 of 100 do so, but for one time in a hundred or less
# (binomial distribution, any statistics textbook: fewer than 88, 0.15 %; all 100, 0.6 %).
assert 88 <= held.sum() <= 99
# And the mean of all throws, which is far better known than each one, must be the true value.
assert abs(value.mean() - 1) < 4 * value.std(ddof=1) / np.sqrt(THROWS)

# %% [markdown]
# They keep their word. Some miss, and they should: a bar that never misses is too long.
#
# More paths make the bars shorter. By how much? Plain dice would ask for four times the work to halve the error.
# `lightsim` throws in a pattern, evenly spread, with only a random shift (a *shifted lattice*), and does better.

# %%
POINTS = (128, 256, 512, 1024)  # paths, in each of 16 throws
spread = []
for points in POINTS:
    several = [throw(seed, points).standard_error for seed in range(1, 7)]
    spread.append(100 * np.sqrt(np.mean(np.square(several))) / TRUE)
    print(f"{16 * points:6d} paths: standard error {spread[-1]:.4f} %")
rate = np.log2(spread[0] / spread[-1]) / np.log2(POINTS[-1] / POINTS[0])
print(f"four times the work makes the error {4**rate:.1f} times smaller; plain dice: 2 times")
assert rate > 0.5  # plain random numbers: 1/sqrt(n), any statistics textbook; 1/n would be the best of a lattice

# %% [markdown]
# So the first doubt is the cheapest. Want a third digit? Wait a second longer.
#
# ## 2. The program
#
# Error bars tell of the dice, not of mistakes. A program that forgot a law of optics would be wrong with very short
# bars. Three things help.
#
# - **Answers known from elsewhere**, as above. The tests hold `lightsim` to many such answers.
# - **A second program.** The first follows light from the flash to the subject. A second one was written that goes the
#   other way, from the subject back to the flash, with other dice and other formulas. They share no more than the
#   scene and what a sheet does.
# - **A stranger.** A general-purpose renderer, made by others, was given twelve scenes (DEVELOPERS.md tells how to run
#   it).
#
# Let the second program check our paper:

# %%
light = lightsim.trace(paper)  # until the light is known to 0.5 %
both = second_opinion(light)
apart = float(np.log2(both.backward.value / both.forward.value))
for name, each in (("forward ", both.forward), ("backward", both.backward)):
    print(f"{name}: {1e6 * each.value:.3f} ± {1e6 * each.half_interval:.3f} lx s for each lm s of flash")
print(f"they differ by {abs(apart):.3f} stops: {abs(both.joint_errors):.1f} times what the dice explain on average")
# Two estimators of one number: four joint standard errors, one case in fifteen thousand (normal distribution).
assert abs(both.joint_errors) < 4

# %% [markdown]
# ## 3. The paper
#
# How much light does copy paper pass? Few have measured it in public. So the number in the file has a *range*, and a
# source. With the low end and with the high end of each such number, the light is weighed anew:

# %%
figures = with_ranges(report(light), light)
lost = figures["loss.total"]
print(f"light lost: {lost.value:.2f} ± {lost.half_interval:.2f} stops by the dice")
print(f"            {lost.low:.2f} to {lost.high:.2f} stops by the materials; most of it by the {lost.moved_by}")
by_paper = (lost.high - lost.low) / 2
# A sheet that alone stands between flash and subject: the light goes as what it passes, 13 % to 20 % (derived).
# The lens and the leaf send a little back and forth, and their own numbers have ranges too: 0.05 stop.
assert abs(2 * by_paper - np.log2(0.20 / 0.13)) < 0.05

# %% [markdown]
# ## 4. The ruler
#
# Paper sags, hands tremble. `lightsim tolerances` asks what each slip does: 1 mm in cutting, 2 degrees in bending, 3 mm
# in placing (common practice, no source). Here are the three that we found to matter most. Independent errors add as
# the sides of a right-angled triangle do: the square of the whole is the sum of the squares.

# %%
SLIPS = ("diffuser.paper.tilt", "head.flash.up", "head.flash.toward_subject")
slips = tolerances(paper, error=0.02, figures=["loss.total"], keys=SLIPS)
for slip in slips:
    effect = slip.effects["loss.total"]
    print(f"{slip.words:35s} {slip.step:g} {slip.unit}: {effect.value:+.3f} ± {effect.half_interval:.3f} stops")
by_ruler = float(np.sqrt(sum(slip.effects["loss.total"].value ** 2 for slip in slips)))

# %% [markdown]
# ## Side by side
#
# One doubt more joins them, which every photographer has: light meters do not agree on what is rightly exposed.

# %%
METERS = float(np.log2(330 / 250)) / 2  # incident light meters, C = 250 or 330 (ISO 2720, quoted second-hand)
doubts = {
    "second program": abs(apart),
    "the dice": lost.half_interval,
    "the ruler": by_ruler,
    "what meters call right": METERS,
    "the paper": by_paper,
}
with settings():
    sizes, axes = canvas(None, size=(5.2, 3.6))
    for row, (name, stops) in enumerate(doubts.items()):
        axes.barh(row, stops, color=COLOURS[1] if name == "the paper" else COLOURS[0], height=0.62)
        axes.annotate(f"{stops:.3f}", (stops, row), (5, 0), textcoords="offset points", va="center")
    axes.set_yticks(range(len(doubts)), list(doubts))
    axes.set_xlim(0, 0.4)
    axes.set_xlabel("± stops of light")
    frame(axes, title="Five doubts about one number", below=["Copy paper over the lens: 3.4 stops lost."])
    axes.grid(visible=False, axis="y")
    describe(axes, f"Doubts in stops: {', '.join(f'{name} {stops:.3f}' for name, stops in doubts.items())}.")
show(sizes)
assert by_paper > 5 * max(lost.half_interval, by_ruler)
print(f"The paper is {by_paper / lost.half_interval:.0f} times as uncertain as the dice.")

# %% [markdown]
# ## The answer
#
# Believe ± 0.01 for what it says: *this drawing, with this paper*, costs 3.41 stops, and another throw of the dice will
# say so again. For the thing in your hand, say **3.4 stops, give or take 0.3**. Nearly all of that is the paper. The
# program was right where one can know: the bars held the truth in 93 of 100 throws (95 are promised, give or take 4),
# and two programs agree to a few thousandths of a stop.
#
# So do not let the computer run longer. Measure *your* sheet: three readings with your own camera take ten minutes
# (docs/measure.md). Read off RAW files, they bring copy paper from ± 0.31 to ± 0.13 stop: invented readings of 2.64, 0
# and 0.12 stops, each good to 0.05, make 15 % to 18 % by `lightsim measure sheet`. Or take one test frame, which
# settles the paper, the meter and the guide number of your flash in one go.
#
# One doubt is left that no program can measure: what the model leaves out. Sheets here are thin, flashes are evenly
# bright windows, and the insect throws no shadow on itself (docs/theory.md, section 11). Only photographs can tell what
# that costs, and none was taken here.
#
# ## Try it
#
# 1. Five of a hundred bars miss. Is the program wrong in those five?
# 2. You compare two designs of the same paper: 3.4 ± 0.3 and 2.9 ± 0.3 stops by their materials. Which costs less?
# 3. Here 32,768 paths left ± 0.007 stop of dice. How many would plain dice take for a tenth of that? Is it worth it?
# 4. Somebody measures their paper: it passes 18 %, ± 1 %. What is left of the doubt?
#
# <details><summary>Answers</summary>
#
# 1. No. A 95 % bar is meant to miss about five times in a hundred. Worry when fifteen miss, or, in a long run, none.
# 2. The second, almost surely. If the paper passes less than we think, *both* lose as much: the doubt is shared. So
#    `lightsim compare` weighs only what differs between two designs.
# 3. A hundred times as many, three million (the error of plain dice falls as one over the root of the number). No: the
#    paper is some forty times as uncertain as the dice are now.
# 4. log2(19/18) = 0.08 stop either way: a quarter of what it was. Now the meter is the largest doubt.
#
# </details>
