"""Pages for tests: a rig whose words are full of markup, and a reader of HTML that asks for well-formed text."""

from html.parser import HTMLParser

import lightsim
from lightsim.page.page import Design
from lightsim.rig.library import design_path
from lightsim.rig.load import loads

ALARM = '<script>alert(1)</script> <b>Box & "co"</b>'
FOOTING = "±: half of the 95 % interval."
_VOID = {"meta", "link", "br", "hr", "img", "input"}
_EMPTY = {"path", "use", "image", "rect", "circle"}


def hostile():
    """The ready white box, with markup in its title, parts, materials, notes and words."""
    text = design_path("white-box").read_text(encoding="utf-8")
    for old, new in {
        'title = "White box"': f"title = '{ALARM}'",
        "A box of white card": "<img src=x onerror=alert(2)> & a box of white card",
        'name = "front"': "name = '<i>front</i> \"1\"'",
        'from = "front"': "from = '<i>front</i> \"1\"'",
        'source = "invented"': "source = '</details><a href=\"https://example.org\">invented</a>'",
        'material = "copy paper"': "material = '<u>own</u>'",
    }.items():
        assert old in text
        text = text.replace(old, new)
    return loads(
        text + "\n[material.'<u>own</u>']\nabout = '<style>*{display:none}</style>'\ndiffuse_transmittance = 0.2\n"
        "diffuse_reflectance = { value = 0.7, low = 0.6, high = 0.8, known = 'measured', source = '<b>mine</b>' }\n",
        file='<em>my&"box".toml',
    )


def designs_of(*rigs, magnifications=(0,), error=0.05, name=None):
    """Designs of loaded rigs or ready names, traced roughly."""
    found = []
    for rig in rigs:
        loaded = lightsim.load(rig) if isinstance(rig, str) else rig
        for index in magnifications:
            light = lightsim.trace(loaded, magnification=index, error=error)
            report = lightsim.report(light, check_backward=len(rigs) == 1)
            found.append(Design(loaded, report, light, name or loaded.rig.title))
    return found


class Read(HTMLParser):
    """What a page holds. Raises AssertionError where elements are not closed in order."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.elements, self.open, self.texts = [], [], {}
        self.feed(text)
        self.close()
        assert not self.open, self.open

    def handle_starttag(self, tag, attributes):
        names = [name for name, _ in attributes]
        assert len(set(names)) == len(names), f"{tag}: an attribute stands twice"
        self.elements.append((tag, dict(attributes)))
        if tag not in _VOID:
            self.open.append((tag, len(self.elements) - 1))

    def handle_startendtag(self, tag, attributes):
        self.handle_starttag(tag, attributes)
        if tag not in _VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        assert self.open, tag
        assert self.open[-1][0] == tag, f"</{tag}> closes <{self.open[-1][0]}>"
        self.open.pop()

    def handle_data(self, data):
        for _, number in self.open:
            self.texts[number] = self.texts.get(number, "") + data

    def all(self, tag):
        """Attributes and text of every element of a kind."""
        return [
            (attributes, self.texts.get(number, ""))
            for number, (kind, attributes) in enumerate(self.elements)
            if kind == tag
        ]
