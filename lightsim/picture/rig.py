"""The rig drawn to scale with true light paths: from the side, and from the subject towards the lens."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise, product

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, PathPatch, Rectangle
from matplotlib.path import Path
from matplotlib.transforms import ScaledTranslation
from numpy.typing import NDArray

from lightsim.light.paths import FADED, LEAST_LEFT, MISSED, SWALLOWED, LightPath
from lightsim.picture.callouts import Callout, place_callouts
from lightsim.picture.fit import FAMILY, fitted
from lightsim.picture.outline import Outline, outline
from lightsim.picture.style import COLOURS, GREY, INK, bare_canvas, describe, figure_of, frame, settings
from lightsim.rig.mesh import bounds
from lightsim.rig.place import Part, PlacedRig

# From orange to blue, which colour-blind eyes tell apart; darker in grey, too. Each stands out from white and from
# a dark page at 3 : 1 or better.
PATH_COLOURS = (
    "#DB7C00", "#DB752C", "#D86C44", "#D46358", "#CF596B", "#C4557D", "#B05690", "#9957A3", "#7C58B6", "#5159C9",
)  # fmt: skip
MOST_STOPS = 5.0  # lost, where the colours end
_FILLS = {"head": INK, "diffuser": COLOURS[4], "surroundings": COLOURS[2], "camera": GREY}
_EDGES = {"head": INK, "diffuser": INK, "surroundings": COLOURS[2], "camera": GREY}
_FRONT = "lens front"
_BEHIND_LENS = 45.0  # mm of the barrel that the picture shows at least
_MARGIN = 0.09  # around what is shown
_GROWS = 0.4  # share by which surroundings may enlarge the picture
_NARROW, _WIDE = 0.62, 1.35  # height over width, limits
# Inches: width of the picture, of what is at the left of the axes, of the axes; heights of a line of text, of the title
# and the margin above it, from the axes to the scale, of the scale with its label, of the margin at the bottom.
_WIDTH, _LEFT, _AXES = 5.2, 0.8, 4.28
_ROW, _TITLE, _BELOW, _SCALE, _EDGE = 0.21, 0.48, 0.56, 0.56, 0.1
_THICK = 0.04  # of the scale, as a share of the height of the axes
_MOST_NAMES, _LONGEST = 9, 40  # in the picture; more or longer names get numbers
_NAME, _LISTED = 1.3, 4.4  # inches, of a line of a name in the picture and in the list
_MOST_LEGS, _LEAST = 70, 7  # of paths drawn of either kind, and so many paths at any rate


@dataclass(frozen=True)
class _View:
    """A direction of drawing: which world axes lie in the paper, and what is said about it."""

    across: int
    upward: int
    title: str
    about: str
    label: str
    subject: str  # what its mark is called

    def flat(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """World points (..., 3) in the paper, (..., 2)."""
        return points[..., [self.across, self.upward]]


_SIDE = _View(
    2,
    1,
    "The rig from its right side",
    "The camera looks to the right; lines over a part pass beside it.",
    "Distance from the subject towards the lens (mm)",
    "subject",
)
_HEAD_ON = _View(
    0,
    1,
    "The rig seen from the subject",
    "Left and right as in the photograph.",
    "To the right in the photograph (mm)",
    "field in focus",
)


def side_picture(placed: PlacedRig, paths: Sequence[LightPath], *, axes: Axes | None = None) -> Figure:
    """The rig to scale, seen from its right side: the camera at the left looks to the right.

    Horizontally the distance from the plane of focus to the lens, vertically the height over the axis, both in mm.
    Light paths (lightsim.light.paths) are coloured by the stops that they have lost.
    """
    return _picture(placed, paths, _SIDE, axes)


def front_picture(placed: PlacedRig, paths: Sequence[LightPath], *, axes: Axes | None = None) -> Figure:
    """The rig to scale, seen from the subject towards the lens, but with right where it is in the photograph.

    Light paths (lightsim.light.paths) are coloured by the stops that they have lost.
    """
    return _picture(placed, paths, _HEAD_ON, axes)


def _picture(placed: PlacedRig, paths: Sequence[LightPath], view: _View, axes: Axes | None) -> Figure:
    parts = (*(head.window for head in placed.heads), *placed.parts)
    drawings = [outline(part.mesh, view.across, view.upward) for part in parts]
    low, high = _extent(placed, view)
    names = [_drawable(part.name) for part in parts]
    shown = [
        number
        for number, (part, drawing) in enumerate(zip(parts, drawings, strict=True))
        if part.name != _FRONT or part.role != "camera"
        if _seen(drawing, low, high)
    ]
    many = len(shown) >= _MOST_NAMES or max(len(names[number]) for number in shown) > _LONGEST
    marks = {number: str(place + 1) if many else fitted(names[number], _NAME) for place, number in enumerate(shown)}
    listing = [fitted(f"{marks[number]}  {names[number]}", _LISTED, indent="    ") for number in shown] if many else []
    paths = [*_few([path for path in paths if path.reaches]), *_few([path for path in paths if not path.reaches])]
    size = f"{placed.magnification:g}x"
    called = placed.rig.title if placed.rig.title.endswith(size) else f"{placed.rig.title}, {size}"
    about = f"{called}. {view.about}"
    below = [fitted(_drawable(line), _AXES) for line in (about, *_told(placed, paths))]
    tall = _AXES * (high[1] - low[1]) / (high[0] - low[0])
    rows = [sum(text.count("\n") + 1 for text in texts) for texts in (below, listing)]
    room = _BELOW + (_SCALE + _THICK * tall) * bool(paths)  # from the axes down to the list
    with settings():
        if axes is None:
            # Laid out here, as matplotlib would look for a layout in which a true scale has no place.
            bottom, top = room + _ROW * rows[1] + _EDGE, _TITLE + _ROW * rows[0]
            figure, axes = bare_canvas((_WIDTH, bottom + tall + top))
            height = figure.get_figheight()
            axes.set_position((_LEFT / _WIDTH, bottom / height, _AXES / _WIDTH, tall / height))
        figure = figure_of(axes)
        axes.set_xlim(*((high[0], low[0]) if view.across == 2 else (low[0], high[0])))
        axes.set_ylim(low[1], high[1])
        axes.set_aspect("equal", anchor="NW")
        for number, (part, drawing) in enumerate(zip(parts, drawings, strict=True)):
            _draw_part(axes, number, part, drawing)
        _draw_subject(axes, placed, view)
        drawn = _draw_paths(axes, paths, view)
        axes.set_xlabel(view.label)
        axes.set_ylabel("Height above the lens axis (mm)")
        frame(axes, title=view.title, below=below)
        if paths:
            _bar(axes)
        if many:
            _list(axes, listing, room)
        callouts = [Callout(marks[number], _spots(drawings[number])) for number in shown]
        subject = Callout(view.subject, view.flat(np.zeros((1, 3))))
        lines = [line for number in shown for line in (*drawings[number].lines, *drawings[number].area)]
        place_callouts(axes, [*callouts, subject], [*lines, *drawn])
        describe(axes, _described(placed, view, paths, [parts[number].name for number in shown]))
    return figure


def _extent(placed: PlacedRig, view: _View) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lower left and upper right corner of what is shown: heads, diffuser, subject, field and the front of the lens in
    full, surroundings as far as they do not make these small."""
    radius, distance = placed.rig.lens.diameter / 2, placed.working_distance
    barrel = min(_BEHIND_LENS, placed.rig.lens.length + placed.rig.lens.extension)
    width, height = placed.field
    core = [np.array([[-radius, -radius, distance], [radius, radius, distance + barrel]])]
    core += [np.array([[-width, -height, 0], [width, height, 0]]) / 2]
    core += [bounds(head.window.mesh) for head in placed.heads]
    core += [bounds(part.mesh) for part in placed.parts if part.role == "diffuser"]
    flat = view.flat(np.concatenate(core))
    low, high = flat.min(axis=0), flat.max(axis=0)
    reach = _GROWS * (high - low)
    around = [view.flat(bounds(part.mesh)) for part in placed.parts if part.role == "surroundings"]
    if around:
        beside = np.concatenate(around)
        low = np.minimum(low, np.maximum(beside.min(axis=0), low - reach))
        high = np.maximum(high, np.minimum(beside.max(axis=0), high + reach))
    size = (high - low) * (1 + 2 * _MARGIN)
    size = np.maximum(size, [size[1] / _WIDE, size[0] * _NARROW])
    middle = (low + high) / 2
    return middle - size / 2, middle + size / 2


def _seen(drawing: Outline, low: NDArray[np.float64], high: NDArray[np.float64]) -> bool:
    points = _spots(drawing)
    return bool(((points > low) & (points < high)).all(axis=1).any())


def _spots(drawing: Outline) -> NDArray[np.float64]:
    """Places on the lines of a drawing, close enough for a line to lead to."""
    found = [np.zeros((0, 2))]
    for line in drawing.lines or drawing.area:
        for start, end in pairwise(line):
            steps = min(int(np.linalg.norm(end - start) / 4.0), 100) + 2
            found.append(np.linspace(start, end, 2 * steps + 1)[1:-1])
    return np.concatenate(found)


def _draw_part(axes: Axes, number: int, part: Part, drawing: Outline) -> None:
    if drawing.area:
        area = PathPatch(
            _joined(drawing.area, closed=True),
            facecolor=_FILLS[part.role],
            edgecolor="none",
            alpha=0.22,
            zorder=2.0,
            gid=f"area-{number}",
            label=part.name,
        )
        axes.add_patch(area)
    if drawing.lines:
        lines = PathPatch(
            _joined(drawing.lines),
            fill=False,
            edgecolor=_EDGES[part.role],
            linewidth=3.0 if part.role == "head" else 1.3,
            capstyle="butt" if part.role == "head" else "round",
            joinstyle="round",
            zorder=5.0 if part.role == "head" else 3.0,
            gid=f"lines-{number}",
            label=part.name,
        )
        axes.add_patch(lines)


def _joined(lines: Sequence[NDArray[np.float64]], *, closed: bool = False) -> Path:
    """Lines (n, 2) as one path, which keeps a drawing small."""
    codes = []
    for line in lines:
        own = np.full(len(line), Path.LINETO)
        own[0] = Path.MOVETO
        if closed:
            own[-1] = Path.CLOSEPOLY
        codes.append(own)
    return Path(np.concatenate(list(lines)), np.concatenate(codes))


def _draw_subject(axes: Axes, placed: PlacedRig, view: _View) -> None:
    axes.axhline(0, color=GREY, linewidth=0.7, linestyle=(0, (8, 3, 1, 3)), zorder=1.5, gid="axis")
    width, height = placed.field
    if view is _SIDE:
        axes.plot([0, 0], [-height / 2, height / 2], color=INK, linewidth=1.8, zorder=5, gid="field")
    else:
        axes.axvline(0, color=GREY, linewidth=0.7, linestyle=(0, (8, 3, 1, 3)), zorder=1.5)
        corner = (-width / 2, -height / 2)
        axes.add_patch(Rectangle(corner, width, height, fill=False, edgecolor=INK, zorder=5, gid="field"))
    ball = placed.rig.subject.ball
    middle = view.flat(np.array([ball.right, ball.up, ball.toward_lens]))
    axes.add_patch(
        Circle((float(middle[0]), float(middle[1])), ball.radius, facecolor=INK, edgecolor=INK, zorder=6, gid="ball")
    )


def _few(paths: Sequence[LightPath]) -> list[LightPath]:
    """So many of the paths, evenly chosen, that their legs can still be told apart."""
    legs = sum(len(path.left) for path in paths)
    count = len(paths) if legs <= _MOST_LEGS else max(int(len(paths) * _MOST_LEGS / legs), min(_LEAST, len(paths)))
    return [paths[number * len(paths) // count] for number in range(count)]


def _draw_paths(axes: Axes, paths: Sequence[LightPath], view: _View) -> list[NDArray[np.float64]]:
    """Legs by the stops lost, those of paths that reach the subject above the others and stronger."""
    drawn = []
    for reaches in (False, True):
        own = [path for path in paths if path.reaches == reaches]
        if not own:
            continue
        step = np.concatenate([_step(path.left) for path in own])
        last = np.concatenate([np.arange(len(path.left)) == len(path.left) - 1 for path in own]) & reaches
        legs = np.concatenate([np.stack([view.flat(path.points[:-1]), view.flat(path.points[1:])], 1) for path in own])
        drawn += [*legs]
        for number, ends in product(np.unique(step), (False, True)):
            chosen = (step == number) & (last == ends)
            if chosen.any():
                name = f"{'reaching' if reaches else 'others'}{'-last' * ends}-{number}"
                axes.add_patch(
                    PathPatch(
                        _joined(list(legs[chosen])),
                        fill=False,
                        edgecolor=PATH_COLOURS[number],
                        linewidth=1.5 if ends else 0.9 if reaches else 0.5,
                        zorder=4.0 + 0.2 * reaches + 0.2 * ends,
                        gid=name,
                    )
                )
    black = [view.flat(path.points[-1]) for path in paths if path.end == SWALLOWED]
    if black:
        x, y = np.array(black).T
        axes.plot(
            x, y, linestyle="none", marker="X", markersize=7, markeredgecolor="white", markeredgewidth=0.8, color=INK,
            zorder=6, gid="swallowed",
        )  # fmt: skip
    return drawn


def _step(left: NDArray[np.float64]) -> NDArray[np.intp]:
    """Number of the colour for each share left, (n,)."""
    stops = -np.log2(np.maximum(left, 1e-9))
    return np.asarray(np.clip(stops / MOST_STOPS * len(PATH_COLOURS), 0, len(PATH_COLOURS) - 1).astype(np.intp))


def _list(axes: Axes, names: Sequence[str], room: float) -> None:
    """The names of numbered parts, so many inches below the axes."""
    below = axes.transAxes + ScaledTranslation(0, -room, figure_of(axes).dpi_scale_trans)
    handles = [Line2D([], [], linestyle="none") for _ in names]
    axes.legend(
        handles,
        names,
        loc="upper left",
        bbox_to_anchor=(0, 0),
        bbox_transform=below,
        handlelength=0,
        handletextpad=0,
        borderaxespad=0,
        borderpad=0,
        labelspacing=0.22,
    )


def _bar(axes: Axes) -> None:
    """The scale of the colours of paths, below the label of the axis."""
    edges = np.linspace(0, MOST_STOPS, len(PATH_COLOURS) + 1)
    colours = ScalarMappable(BoundaryNorm(edges, len(PATH_COLOURS)), ListedColormap(PATH_COLOURS))
    figure = figure_of(axes)
    below = axes.transAxes + ScaledTranslation(0, -_BELOW, figure.dpi_scale_trans)
    place = axes.inset_axes((0, -_THICK, 1, _THICK), transform=below)
    bar = figure.colorbar(colours, cax=place, orientation="horizontal", ticks=np.arange(MOST_STOPS + 1))
    bar.set_label("Light absorbed on the way so far (stops)")
    bar.outline.set_edgecolor(GREY)


def _told(placed: PlacedRig, paths: Sequence[LightPath]) -> list[str]:
    """What the lines mean, and what became of the light that is shown as the heads send it."""
    lines = []
    if any(path.reaches for path in paths):
        lines.append("Thick lines: light that gets to the subject.")
    others = [path for path in paths if not path.reaches]
    if others:
        lines.append(f"Thin: {len(others)} paths as {_senders(placed)} them; {_ends(others)}.")
    return [" ".join(lines)] if lines else []


def _senders(placed: PlacedRig) -> str:
    return "the flash sends" if len(placed.heads) == 1 else "the heads send"


def _ends(paths: Sequence[LightPath]) -> str:
    """What became of paths that do not reach the subject."""
    ends = Counter(path.end for path in paths)
    black = Counter(path.names[-1] for path in paths if path.end == SWALLOWED)
    found = [f"{ends[MISSED]} miss everything"] * (ends[MISSED] > 0)
    found += [f"{ends[FADED]} fade below 1/{1 / LEAST_LEFT:.0f}"] * (ends[FADED] > 0)
    named = ": " + ", ".join(f"{count} by {name}" for name, count in black.most_common(3))
    found += [f"{black.total()} swallowed ✖" + (named if len(black) > 1 else f" by {name}") for name in [*black][:1]]
    return ", ".join(found)


def _described(placed: PlacedRig, view: _View, paths: Sequence[LightPath], names: Sequence[str]) -> str:
    reaching = sum(path.reaches for path in paths)
    others = [path for path in paths if not path.reaches]
    text = (
        f"{placed.rig.title}, {placed.magnification:g}x: {view.title[0].lower()}{view.title[1:]}, to scale, "
        f"with {', '.join(names)}; the lens front is {placed.working_distance:g} mm from the subject."
    )
    if reaching:
        text += f" {reaching} light paths reach the subject."
    return text + (f" Of {len(others)} paths as {_senders(placed)} them {_ends(others)}." if others else "")


def _drawable(text: str) -> str:
    """A text on one line, with an empty box for each letter that the font lacks."""
    known = _letters()
    return "".join(letter if ord(letter) in known else "□" for letter in " ".join(text.split()))


@lru_cache(maxsize=1)
def _letters() -> frozenset[int]:
    from matplotlib.font_manager import FontProperties, findfont, get_font

    return frozenset(get_font(findfont(FontProperties(family=FAMILY))).get_charmap())
