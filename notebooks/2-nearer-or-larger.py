# %% [markdown]
# # 2. Nearer, or larger?
#
# *Ten minutes. It goes on where [notebook 1](1-bigger-looks-softer.py) ends, but can be read alone.*
#
# Only the **angle** decides how soft a light is: how wide it looks from the subject. There are two ways to make a
# lamp look twice as wide. Bring it to half the distance. Or make it twice the size.
#
# The natural-history group (invented, as before) has both: a small disc on a bendy arm, and a large one.
#
# **The question: if both are equally soft, does it matter which one they take?**
#
# No photograph was taken for this page. Every picture is computed.

# %%
import numpy as np
import table  # the file table.py beside this one: a lamp, a place to show pictures, a slider
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from lightsim.light.light import Light
from lightsim.measure.falloff import along_axis, stops_at
from lightsim.measure.illuminance import plane_samples
from lightsim.measure.ratio import ratio_in_stops
from lightsim.measure.shadow import edge_width
from lightsim.picture.style import COLOURS, GREY, INK, canvas, describe, frame, listed, look, settings
from lightsim.picture.tone import srgb

# %% [markdown]
# ## Three lamps
#
# Each is a white disc, lit evenly from behind by the same flash, whose beam just fills the disc. Each faces the
# beetle.

# %%
LAMPS = {"to begin with": (50.0, 100.0), "nearer": (50.0, 50.0), "larger": (100.0, 100.0)}  # mm: width, distance
lights = {name: table.lamp(width=width, distance=distance) for name, (width, distance) in LAMPS.items()}
for name, (width, distance) in LAMPS.items():
    angle = table.angle(width=width, distance=distance)
    edge = edge_width(lights[name].at((0, 0, 0)), height=1.0)
    print(
        f"{name:13}: {width:3.0f} mm wide, {distance:3.0f} mm away: looks {angle:.0f} degrees wide; "
        f"shadow edge of a card 1 mm up: {edge.value:.3f} mm, ±{edge.half_interval:.3f}"
    )

# %% [markdown]
# "Nearer" and "larger" are equally soft. Now look at what else they do.
#
# ## The light on the subject
#
# Same flash, same power. How bright is the beetle? In *stops*: one stop more is twice the light.

# %%
start, nearer, larger = (plane_samples(light.at((0, 0, 0)), (0, 0, 1)) for light in lights.values())
gained = ratio_in_stops(nearer, start)
lost = ratio_in_stops(larger, start)
between = ratio_in_stops(nearer, larger)
print(f"nearer: {gained.value:+.3f} stops, ±{gained.half_interval:.3f}")
print(f"larger: {lost.value:+.3f} stops, ±{lost.half_interval:.3f}")
print(f"between the two: {between.value:.3f} stops, ±{between.half_interval:.3f}")

# E = pi L r^2 / (r^2 + d^2), disc, any optics textbook. The same light through a disc four times as large makes L a
# quarter: L goes as 1 / r^2, so E as 1 / (r^2 + d^2) (derived here). At one angle r goes with d: half of d is 2 stops.
known = np.log2((50**2 + 100**2) / (25**2 + 50**2))
# 0.01: the flash behind the disc is 0.1 mm wide, so that some of its light misses the rim.
assert abs(between.value - known) < 4 * between.standard_error + 0.01

# %% [markdown]
# The larger disc spreads the same light over four times its area. It is softer, and a little darker. The nearer one
# is softer *and* brighter. Between the two lie **two stops**: a flash at quarter power does with the near disc what
# takes full power with the large one.
#
# If nothing else mattered, one would always go nearer.
#
# ## The light behind the subject
#
# A beetle is not flat. Its far legs may stand 10 mm behind its eye, and the leaf behind it 100 mm. What is farther
# from the lamp gets less light. How much less?

# %%
DEPTH = np.linspace(0, 100, 11)  # mm behind the subject


def behind(light: Light) -> np.ndarray:
    """Light on planes that face the lamp, against that at the subject [stops], at each of DEPTH."""
    return np.array([found.value for found in along_axis(light, [-float(depth) for depth in DEPTH])])


def known_behind(depth, *, width: float, distance: float) -> np.ndarray:
    """The same for an even disc, known exactly [stops]: from E = pi L r^2 / (r^2 + d^2), any optics textbook."""
    radius = width / 2
    return np.log2((radius**2 + distance**2) / (radius**2 + (distance + depth) ** 2))


def falloff_picture() -> Figure:
    """Light against depth: dots are computed, lines are known; the thin line is a tiny lamp at 100 mm."""
    names = [f"{name}: {width:g} mm wide, {distance:g} mm away" for name, (width, distance) in LAMPS.items()]
    tiny = "a tiny lamp, 100 mm away (inverse square)"
    with settings():
        figure, axes = canvas(None, names=[*names, tiny])
        fine, handles = np.linspace(0, 100, 201), []
        for number, (name, (width, distance)) in enumerate(LAMPS.items()):
            style = look(number)
            line = {"color": style.colour, "linestyle": style.line}
            axes.plot(fine, known_behind(fine, width=width, distance=distance), **line)
            (dots,) = axes.plot(DEPTH, behind(lights[name]), color=style.colour, marker=style.marker, linestyle="none")
            handles.append(dots)
        (thin,) = axes.plot(fine, -2 * np.log2(1 + fine / 100), color=GREY, linewidth=0.9)
        axes.set_xlabel("Behind the subject (mm)")
        axes.set_ylabel("Light against the subject (stops)")
        frame(axes, title="What is farther off gets less", below=["Dots: computed. Lines: known formula."])
        listed(axes, list(zip([*handles, thin], [*names, tiny], strict=True)))
        describe(axes, "Light falls fastest behind the near lamp, slowest behind the large one, 100 mm away.")
    return figure


table.show(falloff_picture())

# %%
for name, (width, distance) in LAMPS.items():
    found = along_axis(lights[name], [-10.0, -100.0])
    print(f"{name:13}: 10 mm behind {found[0].value:+.2f} stops, 100 mm behind {found[1].value:+.2f} stops")
    for estimate, depth in zip(found, (10.0, 100.0), strict=True):
        exact = known_behind(depth, width=width, distance=distance)
        assert abs(estimate.value - exact) < 4 * estimate.standard_error + 0.005

# A disc of radius 50 mm, from 80 to 100 mm: 0.490051 stops, log2((d2^2 + r^2) / (d1^2 + r^2)), disc on its axis.
check = stops_at(table.lamp(width=100, distance=80), (0, 0, -20))
assert abs(-check.value - 0.490051) < 4 * check.standard_error + 0.005

# %% [markdown]
# Over the first 10 mm the near lamp loses 0.4 stops, the large one 0.2: **twice as much**. A leaf 100 mm behind comes
# out one stop darker with the near lamp.
#
# There is one simple reason. At one angle, the small set-up is a scale model of the large one. What happens 10 mm
# behind the subject in the one happens 20 mm behind it in the other.
#
# Neither lamp is a tiny one. "Twice as far is a quarter of the light" holds for tiny lamps only. For a wide disc the
# light falls more slowly.
#
# ## The light beside the subject
#
# The same goes for the edges of the picture. At life size a frame 24 mm wide ends 12 mm beside the middle.

# %%
for name in ("nearer", "larger"):
    found = stops_at(lights[name], (12.0, 0.0, 0.0))
    width, distance = LAMPS[name]
    radius = width / 2
    # Foote (1915), from memory, a beside the axis:
    # F = (1 - (h^2 + a^2 - r^2) / sqrt((h^2 + a^2 + r^2)^2 - 4 r^2 a^2)) / 2.
    whole = distance**2 + 12**2
    share = 0.5 * (1 - (whole - radius**2) / np.sqrt((whole + radius**2) ** 2 - 4 * radius**2 * 12**2))
    exact = np.log2(share * (radius**2 + distance**2) / radius**2)
    assert abs(found.value - exact) < 4 * found.standard_error + 0.005
    print(f"{name}: 12 mm beside the middle {found.value:+.3f} stops, ±{found.half_interval:.4f}")

# %% [markdown]
# Both are small: a tenth of a stop is hardly seen. The near lamp loses about four times as much. (Beside the middle
# the loss goes with the *square* of the scale.)
#
# ## Move it yourself
#
# The slider keeps the angle at 53 degrees: the farther the lamp, the larger it is. So the softness stays. Watch the
# band behind the subject: it shows how bright things look there, if the subject is exposed alike. Where there is no
# slider, the same pictures stand below each other.

# %%
ANGLE = table.angle(width=1, distance=1)  # degrees: as wide as it is far
CAPTION = "Bar: lamp. Dot: subject, its stops against the lamp at 100 mm. Band: how bright it looks behind."


def draw(axes: Axes, distance: float) -> None:
    """Lamp, subject and what lies behind, from the side and to scale; the band is as bright as it would look."""
    light = table.lamp(width=distance, distance=distance)
    stops = behind(light)
    fine = np.linspace(0, DEPTH[-1], 200)
    band = srgb(0.5 * 2.0 ** np.interp(fine, DEPTH, stops))  # at the subject half as bright as white paper
    axes.imshow(np.repeat(band[None, :, None], 3, axis=2), extent=(0, DEPTH[-1], -16, 16), interpolation="none")
    for end in (-1, 1):
        axes.plot([-distance, 0], [end * distance / 2, 0], color=COLOURS[5], linewidth=0.8)
    axes.plot([-distance] * 2, [-distance / 2, distance / 2], color=COLOURS[5], linewidth=5, solid_capstyle="butt")
    axes.plot([0], [0], marker="o", color=COLOURS[1], markersize=5)
    given = ratio_in_stops(plane_samples(light.at((0, 0, 0)), (0, 0, 1)), larger)
    size = f"{distance:.0f} mm wide, {distance:.0f} mm away"
    words = f"subject {told(given.value)} stops"
    axes.text(-200, 112, f"{size}\n{words}", fontsize=11, color=INK, va="center")
    near, far = told(float(np.interp(10, DEPTH, stops))), told(stops[-1])
    axes.text(
        126, -22, f"10 mm behind {near} stops\n100 mm behind {far} stops", fontsize=9.5, color=INK, ha="right", va="top"
    )
    axes.set(xlim=(-208, 128), ylim=(-104, 136), aspect="equal")
    axes.set_axis_off()
    describe(axes, f"A lamp {size}: {words}, 100 mm behind it {far} stops.")


def told(stops: float) -> str:
    """Stops with their sign."""
    return f"{stops:+.2f}".replace("-", "−")


def frame_of(distance: float) -> Figure:
    """One picture of the slider."""
    with settings():
        figure = Figure(figsize=(5.2, 4.0), dpi=100)
        draw(figure.add_axes((0.0, 0.07, 1.0, 0.93)), distance)
        figure.text(0.02, 0.02, CAPTION, fontsize=9.5, color=GREY)
    return figure


STEPS = np.unique(np.rint(np.geomspace(25, 200, 20)))
names = [f"{step:.0f}" for step in STEPS]
rate = table.slider(label="distance and width, mm", choices=names, draw=lambda place: frame_of(STEPS[place]))
if rate is not None:
    print(f"{rate:.0f} pictures a second here, the drawing of the browser not counted")
    assert rate >= 15

# %%
with settings():
    multiples = Figure(figsize=(7.6, 5.8), dpi=100)
    for number, distance in enumerate((25.0, 50.0, 100.0, 200.0)):
        row, column = divmod(number, 2)
        draw(multiples.add_axes((0.5 * column, 0.05 + 0.475 * (1 - row), 0.5, 0.475)), distance)
    multiples.text(0.02, 0.015, CAPTION, fontsize=9.5, color=GREY)
table.show(multiples)

# %% [markdown]
# ## The answer
#
# **Nearer and larger are equally soft, but not the same.** At one angle, half the distance gives **two stops** more
# light and falls off twice as fast: 0.44 against 0.22 stops over the first 10 mm, for discs of 50 mm at 50 mm and of
# 100 mm at 100 mm.
#
# - Go **nearer** when the flash is weak, or when the background shall fall dark.
# - Go **larger** when legs, leaf and background shall all be lit alike, or when the animal would flee.
#
# Nearer has an end. The lens needs its room, and a living animal needs more. Larger has one too: it must fit the bag.
#
# ## Try it
#
# **1.** The disc of 100 mm is moved from 100 mm to 200 mm. Is the light on the beetle a quarter?
#
# <details><summary>Answer</summary>
#
# No. If its brightness stays, the light goes as 1/(r² + d²): (50² + 100²)/(50² + 200²) = 0.29, that is 1.8 stops
# less, not 2.
#
# </details>
#
# **2.** You want the leaf 100 mm behind at most one stop darker than the beetle, with 53 degrees. How far must the
# disc be?
#
# <details><summary>Answer</summary>
#
# At one angle only depth over distance counts: log2((0.25 + (1 + x)²)/1.25) = 1 gives x = 0.5. So 200 mm away, and
# 200 mm wide.
#
# </details>
#
# **3.** And if it may be as small as you like?
#
# <details><summary>Answer</summary>
#
# A tiny lamp loses one stop where the way grows by 41 %. So it must be 241 mm away. It would be hard, as in notebook
# 1.
#
# </details>
#
# **At home.** A desk lamp, a sheet of paper before it, and a row of sugar cubes at 5, 10 and 20 cm show the falloff.
# Lamps get hot: keep paper a hand's width off, and do not look into them. Never fire a flash close to eyes, your own
# or an animal's. Step back when an animal shrinks, freezes or flees. The makers' instructions go first.
