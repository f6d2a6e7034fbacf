"""A matplotlib figure as SVG that stands in a page: small, with ids of its own, in colours that the page sets."""

from __future__ import annotations

import base64
import re
from collections.abc import Mapping
from html import escape
from io import BytesIO, StringIO

import numpy as np
from matplotlib.figure import Figure

from lightsim.picture.style import COLOURS, GREY, INK, PALE, alternative_text, settings

_METADATA: dict[str, str | None] = {"Date": None, "Creator": None, "Format": None, "Type": None}
_VARIABLES: Mapping[str, str] = {
    INK.lower(): "var(--ink)",
    GREY.lower(): "var(--grey)",
    PALE.lower(): "var(--pale)",
    "#ffffff": "var(--paper)",
    **{colour.lower(): f"var(--series-{number})" for number, colour in enumerate(COLOURS)},
}  # what the page gives another colour where it is dark, or where a line needs more contrast
_COLOUR = re.compile(r"#[0-9a-fA-F]{6}\b")
_STYLE = re.compile(r'style="([^"]*)"')
_PATH = re.compile(r'(?<=\sd=")[^"]*(?=")')
_LONG_NUMBER = re.compile(r"-?\d+\.\d{2,}")
_ID = re.compile(r'\sid="([^"]*)"')
_REFERENCE = re.compile(r'(?:url\(#|href="#)([^)"]+)')
_GLYPH = re.compile(r'<path id="([^"]+)" d="([^"]*)" transform="([^"]*)"\s*/>')
_PICTURE = re.compile(r'href="data:image/png;base64,([^"]*)"')
_LETTER = "l-"
_IS_LETTER = re.compile(_LETTER + r"\d+")
_SET = re.compile(r'(<use href="#l-\d+") transform="translate\((-?[\d.]+)[ ,]+(-?[\d.]+)\)"\s*/>')
_DECIMALS = 2  # of a point, in paths
_LARGE = 20_000  # letters of an embedded image, from which it pays to pack it once more
_QUALITY = 90
_THUMBNAIL = (256, 192)  # pixels


class Letters:
    """The shapes of letters of all pictures of a page, each once: texts in pictures are outlines."""

    def __init__(self) -> None:
        self._ids: dict[tuple[str, str], str] = {}  # by outline and scale

    def taken(self, drawing: str) -> str:
        """The drawing without the outlines that it defines, which it then finds in the page under other ids."""
        here: dict[str, str] = {}

        def keep(match: re.Match[str]) -> str:
            name, *shape = match.groups()
            here[name] = self._ids.setdefault((shape[0], shape[1]), f"{_LETTER}{len(self._ids)}")
            return ""

        rest = _GLYPH.sub(keep, drawing).replace("<defs></defs>", "")
        rest = re.sub(r'(?<=href="#)[^"]+', lambda match: here.get(match[0], match[0]), rest)
        return _SET.sub(_placed, rest)

    def drawn(self) -> str:
        """All outlines, to stand in the page once."""
        shapes = [f'<path id="{name}" d="{line}" transform="{scale}"/>' for (line, scale), name in self._ids.items()]
        return f'<svg class="letters" aria-hidden="true" focusable="false"><defs>{"".join(shapes)}</defs></svg>'


def _placed(match: re.Match[str]) -> str:
    """A letter put along its line: in units of its font, of which a tenth is a hundredth of a point or so."""
    across, up = (f"{float(each or 0):.1f}".removesuffix(".0") for each in match.groups()[1:])
    places = [f' {name}="{value}"' for name, value in (("x", across), ("y", up)) if value not in ("0", "-0")]
    return f"{match[1]}{''.join(places)}/>"


def drawing(figure: Figure, *, number: int, letters: Letters, name: str) -> str:
    """A figure as an <svg> element that fills the width it is given.

    number : of the picture on the page, which makes its ids its own; name : what it is called where the figure holds
    no alternative text
    """
    stream = StringIO()
    with settings():
        figure.savefig(stream, format="svg", metadata=_METADATA)
    text = stream.getvalue()
    head = re.search(r'<svg [^>]*viewBox="([^"]*)"[^>]*>', text, re.DOTALL)
    if head is None:  # pragma: no cover - matplotlib always writes one
        raise ValueError("a drawing without a viewBox")
    box, body = head[1], text[head.end() : text.rindex("</svg>")]
    body = re.sub(r"<metadata>.*?</metadata>|<!--.*?-->|<style[^>]*>.*?</style>", "", body, flags=re.DOTALL)
    body = re.sub(r">\s+<", "><", body.strip()).replace("xlink:href=", "href=")
    body = re.sub(r"image-rendering: ?[a-z-]+;?", "", body)  # enlarged pixels shall not show
    body = _PICTURE.sub(lambda match: f'href="{_packed(match[1])}"', body)
    body = _PATH.sub(lambda match: _LONG_NUMBER.sub(_shorter, match[0]), body)
    body = _STYLE.sub(lambda match: f'style="{_COLOUR.sub(_themed, match[1])}"', body)
    body = _own_ids(letters.taken(body), number)
    told = escape(alternative_text(figure) or name, quote=True)
    return f'<svg viewBox="{box}" role="img" aria-label="{told}">{body}</svg>'


def thumbnail(figure: Figure, gid: str) -> str:
    """The image of this gid in a figure, small, as a data URI."""
    from PIL import Image

    image = next(each for axes in figure.axes for each in axes.images if each.get_gid() == gid)
    pixels = np.asarray(image.get_array())
    packed = BytesIO()
    small = Image.fromarray((255 * np.clip(pixels, 0, 1) + 0.5).astype(np.uint8))
    small.resize(_THUMBNAIL, Image.Resampling.LANCZOS).save(packed, "WEBP", quality=_QUALITY, method=4)
    return f"data:image/webp;base64,{base64.b64encode(packed.getvalue()).decode('ascii')}"


def _own_ids(body: str, number: int) -> str:
    """Ids that no other picture of the page has; those that nothing refers to go."""
    wanted = dict.fromkeys(name for name in _REFERENCE.findall(body) if not _IS_LETTER.fullmatch(name))
    new = {name: f"picture-{number}-{place}" for place, name in enumerate(wanted)}
    body = _ID.sub(lambda match: f' id="{new[match[1]]}"' if match[1] in new else "", body)

    def renamed(match: re.Match[str]) -> str:
        name = match[1]
        return match[0][: -len(name)] + new.get(name, name)

    return _REFERENCE.sub(renamed, body)


def _themed(match: re.Match[str]) -> str:
    return _VARIABLES.get(match[0].lower(), match[0])


def _shorter(match: re.Match[str]) -> str:
    return f"{float(match[0]):.{_DECIMALS}f}".rstrip("0").rstrip(".")


def _packed(data: str) -> str:
    """An embedded image as a data URI, large ones packed as WebP where that is smaller."""
    data = "".join(data.split())
    if len(data) > _LARGE:
        from PIL import Image

        packed = BytesIO()
        with Image.open(BytesIO(base64.b64decode(data))) as image:
            image.save(packed, "WEBP", quality=_QUALITY, method=4)
        small = base64.b64encode(packed.getvalue()).decode("ascii")
        if len(small) < len(data):
            return f"data:image/webp;base64,{small}"
    return f"data:image/png;base64,{data}"
