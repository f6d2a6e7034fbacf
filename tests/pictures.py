"""What tests of pictures share: long names, and a look whether all of a picture lies within its edges."""

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text

from lightsim.picture.style import figure_of

# Titles of a rig hold 120 letters at most.
LONG = (
    "Dome around the lens, of tracing paper, as cut by the village natural-history group for froghoppers at the pond",
    "FLAT FOAM SHEET ON THE LENS FRONT, LEANING OVER THE SUBJECT AS FAR AS THE HOT SHOE ALLOWS IT TO LEAN OVER IT",
    "W" * 120,
)


def assert_nothing_is_cut_off(made: Figure) -> None:
    """Every piece of text, and the whole of what is drawn, lies within the picture."""
    made.draw_without_rendering()
    renderer = made.canvas.get_renderer()
    drawn = made.get_tightbbox(renderer)  # inches
    boxes = {"all": (drawn.x0, drawn.y0, drawn.x1, drawn.y1)}
    ticks = {label for axes in made.axes for label in (*axes.get_xticklabels(), *axes.get_yticklabels())}
    for text in made.findobj(Text):
        if text.get_text() and text not in ticks:  # also those that the layout does not count
            boxes[text.get_text()] = text.get_window_extent(renderer).extents / made.dpi
    for what, (left, bottom, right, top) in boxes.items():
        assert min(left, bottom) >= 0, what
        assert right <= made.get_figwidth(), what
        assert top <= made.get_figheight(), what


def list_of(axes: Axes) -> list[str]:
    """The names in the list below the axes, one line each."""
    legends = [*figure_of(axes).legends, axes.get_legend()]
    return [" ".join(text.get_text().split()) for each in legends if each is not None for text in each.get_texts()]
