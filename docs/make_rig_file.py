"""Write docs/rig-file.md, the reference of rig files: words from here, keys, ranges and defaults from the models.

    python docs/make_rig_file.py

Lines of WORDS that begin with @ stand for tables: "@keys Camera" for the keys of a model (several models share one
table), "@rows Origin" for the same without its head, "@beams", "@zooms" and "@materials" for what the functions
of that name make; @MOST_CUTS and the like for numbers.
Examples begin with "```toml rig" if they are whole, with "```toml fragment" if they lack what the smallest rig says.
"""

from __future__ import annotations

import math
import re
import sys
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, BeforeValidator
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from lightsim.rig import beam, camera, fractions, head, models, shapes, shot
from lightsim.rig.known import is_length, words_of
from lightsim.rig.library import library_materials
from lightsim.rig.meshes import MOST_TRIANGLES
from lightsim.rig.place import FARTHEST
from lightsim.rig.reading import LONGEST_SOURCE, MOST_CUTS
from lightsim.sheet import Sheet
from lightsim.sheet.sheet import Origin, both

PAGE = Path(__file__).with_name("rig-file.md")

# What a key is, where the description of its field says only what is allowed.
WHAT = {
    "Rig.title": "a line that names the rig in tables and charts",
    "Rig.about": "what it is, in a few sentences",
    "Rig.unit": "the unit of all lengths in the file",
    "Rig.camera": "sensor, magnifications, hot shoe",
    "Rig.lens": "working distance and barrel",
    "Rig.head": "flash heads",
    "Rig.diffuser": "parts of the diffuser, in the order in which the report tells what each costs",
    "Rig.surroundings": "leaf, ground, fill card",
    "Rig.subject": "what is photographed",
    "Rig.shot": "settings of the shot, the light of the day, the hand and the wind",
    "Rig.limits": "your own limits for the verdict",
    "Rig.material": "sheets of your own",
    "Camera.pixels": "[across, down]",
    "Camera.magnification": "one number or a list; the report covers each of them",
    "Lens.working_distance": "from the lens front to the subject: one for each magnification, in the same order",
    "Camera.sync": "shortest shutter time that shows the flash on the whole frame",
    "Camera.curtain": "time that a curtain of the shutter takes across the frame; without it nobody checks whether a "
    "long flash is cut off",
    "Camera.blur_circle": "diameter of the blur on the sensor that still counts as sharp",
    "Camera.base_iso": "the lowest ISO speed that it has",
    "Lens.f_number": "as marked on the lens",
    "Lens.f_number_range": "[widest, smallest], between which f_number lies; left out, any f-number is taken",
    "Lens.reversed": "whether it is mounted the other way round, its front to the camera",
    "Lens.transmittance": "share of the light that its glass lets through",
    "Lens.close_up": "focal length of a close-up lens screwed to its front, 1000 over the dioptres",
    "Lens.pupil_depth": "how far behind the lens front the entrance pupil (the aperture seen from the subject) appears",
    "Lens.pupil_ratio": "diameter of the exit pupil (the aperture seen from the camera) over that of the entrance "
    "pupil",
    "Lens.focus_ring": "[from, to], where the focus ring begins and ends behind the lens front; without it nobody "
    "checks whether it stays free",
    "HeadSpec.name": "what other parts and the report call it",
    "HeadSpec.guide_number": "its guide number, in the unit of the next key",
    "HeadSpec.beam": "how the light falls off with the angle, see [beams](#heads-and-beams)",
    "HeadSpec.guide_number_unit": "whether the guide number is in metres or feet",
    "HeadSpec.guide_number_beam": "the beam at the zoom setting for which the guide number was stated, if that is not "
    "the one in use",
    "HeadSpec.kelvin": "colour temperature of its light",
    "HeadSpec.power_least": "its lowest power setting",
    "HeadSpec.power_step": "from one power setting to the next, in stops",
    "HeadSpec.duration": "how long it shines, see [power and pulses](#power-and-pulses)",
    "HeadSpec.recycle": "time until it is ready again after a flash at full power",
    "HeadSpec.flashes": "flashes at full power of one battery charge",
    "HeadSpec.energy": "energy of a flash at full power (watt-seconds are joules)",
    "Durations.power": "powers, in any order",
    "Durations.time": "how long it shines at each",
    "Durations.kind": "what how long means: brighter than half of the peak, or than a tenth",
    "Subject.reflectance": "how bright it is: the share of light that it sends back, as a matt surface would",
    "Shot.iso": "ISO speed that the camera is set to",
    "Shot.shutter": "shutter time, not shorter than `camera.sync`",
    "Shot.power": "power setting of the flash, of all heads alike",
    "Shot.shake": "how fast the camera moves across the subject",
    "Shot.wind": "how fast the subject moves across the frame",
    "Shot.sway": "how far the camera sways to and fro about the focus, as a standard deviation",
    "Shot.placement": "stops by which the subject shall come out brighter (negative: darker) than mid-grey",
    "Shot.ambient": "daylight or lamplight on the subject, without the flash",
    "Shot.ambient_kelvin": "its colour temperature",
    "Shot.sway_time": "time after which it has swayed elsewhere",
    "HeadSpec.body": "[width, height, length] of the case, with the window in the middle of its front; if left out as "
    "wide and high as the window and @USUAL_CASE_LENGTH long",
    "HeadSpec.zoom": "zoom setting that the guide number belongs to; changes no figure",
    "Beam.cos_power": "m, where the intensity falls as cos^m of the angle from the axis; two numbers for a beam that "
    "is no circle: along the width of the window, and along its height",
    "Beam.half_value_angle": "degrees from the axis at which the intensity is half of that on the axis",
    "Beam.angle": "degrees from the axis, for a table",
    "Beam.file": "a photometric file by ANSI/IES LM-63 (.ies), type C; its path begins at the folder of the rig file",
    "Placement.from": "the anchor: what you measure from",
    "Placement.right": "how far right of the anchor, as the camera sees it",
    "Placement.up": "how far above the anchor",
    "Placement.toward_lens": "how far from the anchor along the lens axis, toward the camera",
    "Placement.toward_subject": "the same the other way; give one of the two",
    "Placement.tilt": "positive: the front looks down",
    "Placement.turn": "positive: the front looks to the right as the camera sees it",
    "Placement.roll": "positive: clockwise as the camera sees it",
    "Placement.aim": '"subject" turns the front to look at the subject, instead of tilt and turn',
    "Placement.hold": "the point of the part that is put there",
    "PartSpec.name": "what other parts and the report call it",
    "PartSpec.shape": "one of the [shapes](#shapes); its keys follow in the same table",
    "PartSpec.material": "what it is made of: the name of a [material](#materials) of this file or a ready one",
    "Subject.ball": "a glossy ball that stands for an eye or a wing case",
    "Subject.hair": "a hair that casts a shadow",
    "Subject.background": "how far behind the subject the background lies, one distance or a list",
    "Ball.right": "how far its middle lies right of the subject",
    "Ball.up": "how far its middle lies above the subject",
    "Ball.toward_lens": "how far its middle lies nearer to the lens",
    "Ball.radius": "half of its width, such as that of an eye",
    "Ball.refractive_index": "how strongly its gloss bends light, and so how much it mirrors; chitin has about 1.56, "
    "from memory",
    "Hair.diameter": "how thick it is",
    "Limits.most_stops": "light lost, `loss.total`",
    "Limits.least_angle": "apparent size as a full angle, `size.cone_angle`",
    "Limits.most_hot_spot": "how far the brightest spot outshines the source, `size.hot_spot`",
    "Limits.most_highlight": "highlight against white, `highlight.stops_above_white`",
    "Limits.least_clearance": "from the subject to the diffuser, `clearance`",
    "Sheet.straight": "share that passes straight through, square to the sheet; slanted light passes less",
    "Sheet.pores": "share of the area that is open, as between the threads of woven cloth",
    "Sheet.pore_depth": "how deep such a pore is over how wide it is: slanted light passes less",
    "Sheet.forward_transmittance": "share that leaves the other side about its old direction, as through frosted film: "
    "a lamp behind it is a blurred spot",
    "Sheet.half_value_angle": "how wide that share spreads: the angle at which its intensity is half; 60 is as even as "
    "diffuse_transmittance; needed with forward_transmittance",
    "Sheet.diffuse_transmittance": "share that leaves the other side evenly scattered, the same both ways",
    "Sheet.diffuse_reflectance": "share sent back evenly scattered, as matt paper does",
    "Sheet.glossy_reflectance": "share that a shiny clear coat sends back when lit squarely, about 0.04 for plastics "
    "and coated paper; more at a slant",
    "Sheet.metallic_reflectance": "share sent back as a mirror does, more or less blurred; not together with straight, "
    "pores or, on the same side, glossy_reflectance",
    "Sheet.roughness": "how much coat or metal blur what they mirror (GGX alpha)",
    "Sheet.thickness": "how thick it is, for cutting and folding; the light does not ask for it",
    "Sheet.grammage": "mass of a square metre of it, for what the flash has to carry and how warm it gets",
    "Sheet.specific_heat": "heat that warms 1 kg of it by one degree, for how warm it gets",
    "Sheet.softens": "temperature at which it scorches, softens or melts",
    "Sheet.layers": "[sheets in contact](#sheets-in-contact), instead of all numbers",
    "Origin.low": "the least that the number may be",
    "Origin.high": "the most that it may be",
    "Origin.against": "where this number only divides a known sum with another: the other, which loses what this one "
    "gains within its range",
    "Slit.start": "one end, [right, up] from the middle of the flat piece",
    "Slit.end": "the other end",
    "RoundHole.kind": "a round hole, or a rectangular one with upright sides",
    "RoundHole.diameter": "of a round hole",
    "SquareHole.width": "of a rectangular hole",
    "SquareHole.height": "of a rectangular hole",
    "RoundHole.right": "how far right of the middle of the flat piece",
    "RoundHole.up": "how far above the middle of the flat piece",
    "RoundWallHole.wall": "for boxes only: the wall that is cut",
    "Box.open": "walls left out",
    **{f"{model}.holes": "[holes](#holes-and-slits) cut out" for model in ("FlatSheet", "Disc", "CurvedSheet", "Box")},
    **{f"{model}.slits": "[slits](#holes-and-slits) cut out" for model in ("FlatSheet", "Disc", "CurvedSheet")},
}
BEAM_SPANS = {"cos_power": "0 to 500", "half_value_angle": f"{beam.NARROWEST:g} to {beam.WIDEST:g}"}
# What is allowed, where the description of the field does not end in it.
ALLOWED = {
    "Origin.against": "the key of another share of the material",
    "Durations.power": "at most 40, each from 1/4096 to full",
    "Durations.kind": '"t0.5" or "t0.1"',
    "HeadSpec.duration": "a time, or a table with power, time and kind; left out: t0.5 of 1/500 s at full power",
    "HeadSpec.flashes": "a whole number from 1 to 100000",
    **{f"Shot.{key}": "from 0 to 10 m a second" for key in ("shake", "wind")},
    **{f"Beam.{key}": f"{span}, or two such numbers, [across, up]" for key, span in BEAM_SPANS.items()},
}
# Units that no description tells by a word of its own.
UNITS = {
    **{f"Camera.{key}": "s" for key in ("sync", "curtain")},
    **{f"Shot.{key}": "s" for key in ("shutter", "sway_time", "frame_time")},
    **{f"Shot.{key}": "mm/s" for key in ("shake", "wind")},
    **{key: "K" for key in ("HeadSpec.kelvin", "Shot.ambient_kelvin")},
    **{key: "share" for key in ("HeadSpec.power_least", "Shot.power", "Durations.power", "Lens.transmittance")},
    "HeadSpec.recycle": "s",
    "HeadSpec.energy": "J",
    "Durations.time": "s",
    "Shot.ambient": "lx",
    "Shot.air": "°C",
    "Sheet.specific_heat": "J/(kg K)",
    "Sheet.softens": "°C",
    "Sheet.grammage": "g/m2",
    "HeadSpec.guide_number": "m or ft",
    "HeadSpec.duration": "s",
    "HeadSpec.flashes": "count",
    "Camera.magnification": "ratio",
    "Beam.cos_power": "number",
    "Beam.intensity": "any",
    "Sheet.pore_depth": "ratio",
    "Sheet.roughness": "number",
    "Lens.pupil_ratio": "ratio",
    "Ball.refractive_index": "number",
    "Origin.low": "as the key",
    "Origin.high": "as the key",
    **{key: "ISO" for key in ("Camera.base_iso", "HeadSpec.iso", "Shot.iso")},
    **{f"Lens.{key}": "f/" for key in ("f_number", "f_number_range")},
    **{f"Subject.{key}": "direction" for key in ("eye", "back", "flank")},
}
# Where what is allowed begins in the description of a field.
_ALLOWED = re.compile(
    r'(?:^|[,:] |(?<=\w) )((?:each |rising |whole numbers )?(?:in degrees )?(?:from (?=-?\d)|within |at most |three |")'
    r"|0 (?:or|for) |(?<=title of )(?=\d)|a (?:table|distance|name|list|title) |an angle |tables |one to )"
)
_LEFT_OUT = re.compile(r", (?:\[[^\]]*\]|[^,;]+) if left out")  # has a column of its own


def keys(*tables: type[BaseModel]) -> str:
    """A table of the keys of models, each key once."""
    rows: dict[str, str] = {}
    for model in tables:
        for name, field in model.model_fields.items():
            key = field.alias or name
            if key != "place" and not field.exclude and key not in rows:
                what, allowed = _words(f"{model.__name__}.{key}", field)
                rows[key] = (
                    f"| `{key}` | {what} | {allowed} | {_default(field)} | {_unit(f'{model.__name__}.{key}', field)} |"
                )
    return "\n".join([_head("key", "what", "allowed", "if left out", "unit"), *rows.values()])


def _head(*names: str) -> str:
    return f"| {' | '.join(names)} |\n{'| --- ' * len(names)}|"


def _words(name: str, field: FieldInfo) -> tuple[str, str]:
    """What a key is, and what is allowed."""
    text = _LEFT_OUT.sub("", (field.description or "").partition("; try")[0])
    found = _ALLOWED.search(text)
    what, allowed = (text[: found.start()], text[found.start(1) :]) if found else (text, "")
    if name in ALLOWED:
        allowed = ALLOWED[name]
    elif name == "PartSpec.shape":
        allowed = ", ".join(f'"{word}"' for word in words_of(field))
    elif name.endswith(".shape"):
        allowed = f'"{field.default}"'
    elif field.annotation is bool:
        allowed = "true or false"
    return WHAT.get(name, what), allowed or "a text"


def _telling(field: FieldInfo) -> bool:
    """Whether the key tells which table is meant, and so must be there."""
    return get_origin(field.annotation) is Literal and len(get_args(field.annotation)) == 1


def _default(field: FieldInfo) -> str:
    value = field.default
    if value is PydanticUndefined or _telling(field):
        return "**needed**"
    if isinstance(value, BaseModel):
        return "see its table"
    if isinstance(value, float) and (words := _fraction_words(value, field)):
        return f'`"{words}"`'
    return "–" if value is None or value in ("", (), {}) else f"`{_toml(value)}`"


def _fraction_words(value: float, field: FieldInfo) -> str:
    """A power, a time or a step as people write it; empty where a plain number does as well."""
    readers = {mark.func for mark in field.metadata if isinstance(mark, BeforeValidator)}
    if fractions.power in readers:
        return fractions.power_words(value)
    if fractions.fraction not in readers or math.isclose(value, round(value, 1)):
        return ""
    thirds = round(3 * value)
    return f"{thirds}/3" if math.isclose(3 * value, thirds) else fractions.seconds_words(value).removesuffix(" s")


def _toml(value: Any) -> str:
    if isinstance(value, tuple):
        return "[" + ", ".join(_toml(part) for part in value) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"


def _unit(name: str, field: FieldInfo) -> str:
    if name in UNITS:
        return UNITS[name]
    if is_length(field):
        return "mm"
    if isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel):
        return ""  # what its description says is about the keys of that table
    if field.annotation is str:
        return ""
    said = set(re.findall(r"\w+", field.description or ""))
    return next((unit for unit in ("degrees", "stops", "pixels", "share") if unit in said), "")


def beams() -> str:
    """Angles at which a beam of cos^m has fallen to half, and where that is on a wall 1 m away. Derived here."""
    rows = [_head("cos_power", "half intensity at", "half as bright on a flat wall at", "on a wall 1 m away")]
    for power in (1, 2, 3, 4, 5, 7, 10, 20, 50):
        half = math.degrees(math.acos(0.5 ** (1 / power)))
        # The wall gets I cos / r^2 with r = d / cos: the power m + 3.
        wall = math.acos(0.5 ** (1 / (power + 3)))
        rows.append(
            f"| {power} | {half:.1f}° | {math.degrees(wall):.1f}° | {100 * math.tan(wall):.0f} cm from the middle |"
        )
    return "\n".join(rows)


def zooms() -> str:
    """The field of lenses on 36 x 24 mm, and half of it. Derived here: 2 atan(side / 2 f)."""
    rows = [_head("zoom setting", "field of that lens", "half_value_angle")]
    for focal_length in (20, 24, 28, 35, 50):
        across, up = (math.degrees(math.atan(side / 2 / focal_length)) for side in (36, 24))
        rows.append(f"| {focal_length} mm | {2 * across:.0f}° x {2 * up:.0f}° | `[{across:.0f}, {up:.0f}]` |")
    return "\n".join(rows)


def materials() -> str:
    """The ready materials."""
    rows = [_head("name", "what", "straight or through pores", "diffuse through", "forward", "back", "shine")]
    for name, sheet in library_materials().items():
        straight = _ranged(sheet, "pores" if sheet.pores else "straight")
        forward = _ranged(sheet, "forward_transmittance")
        if sheet.forward_transmittance:
            forward += f", half at {_ranged(sheet, 'half_value_angle')} degrees"
        shine = "metallic_reflectance" if max(sheet.metal_by_side) else "glossy_reflectance"
        diffuse, back = _ranged(sheet, "diffuse_transmittance"), _ranged(sheet, "diffuse_reflectance")
        shone = f"{_ranged(sheet, shine)}{' metal' if max(sheet.metal_by_side) else ''}"
        rows.append(f"| `{name}` | {sheet.about} | {straight} | {diffuse} | {forward} | {back} | {shone} |")
    return "\n".join(rows)


def _ranged(sheet: Sheet, key: str) -> str:
    """A number with its range; of one that differs by side, that of the side that has any."""
    sides, origin = both(getattr(sheet, key) or 0.0), sheet.origins.get(key, Origin())
    side = 0 if sides[0] else 1
    if not sides[side]:
        return "–"
    against = f" against {origin.against.partition('_')[0]}" if origin.against else ""
    span = f" ({origin.low[side]:g} to {origin.high[side]:g}{against})" if origin.low and origin.high else ""
    which = "" if sides[0] == sides[1] else (" front", " back")[side]
    return f"{sides[side]:g}{span}{which}"


MADE = {"@beams": beams, "@zooms": zooms, "@materials": materials}


def page() -> str:
    """The whole page."""
    known: dict[str, Any] = {}
    for module in (beam, camera, head, models, shapes, shot):
        known |= vars(module)
    known |= {"Sheet": Sheet, "Origin": Origin}
    lines = []
    for line in WORDS.strip().split("\n"):
        command, _, names = line.partition(" ")
        if command == "@keys":
            line = keys(*(known[name] for name in names.split()))
        elif command == "@rows":
            line = "\n".join(keys(*(known[name] for name in names.split())).split("\n")[2:])
        elif command in MADE:
            line = MADE[command]()
        lines.append(line)
    numbers = {
        "@USUAL_CASE_LENGTH": f"{head.USUAL_CASE_LENGTH:g} mm",
        "@MOST_TRIANGLES": f"{MOST_TRIANGLES:,}".replace(",", " "),
        "@MOST_CUTS": f"{MOST_CUTS}",
        "@FARTHEST": f"{FARTHEST / 1000:g} m",
        "@LONGEST_SOURCE": f"{LONGEST_SOURCE}",
    }
    text = "\n".join(lines) + "\n"
    for name, value in numbers.items():
        text = text.replace(name, value)
    return text


def main() -> None:
    """Write the page."""
    PAGE.write_text(page(), encoding="utf-8")
    print(f"{PAGE} is written.", file=sys.stderr)


WORDS = r"""
<!-- Made by docs/make_rig_file.py: change that file or the models, and run it again. -->

# Rig files

A rig file is a plain text in [TOML](https://toml.io): lines such as `width = 150`, under headings such as `[lens]`. It
says what a ruler says about one set-up: camera, lens, flash heads, diffuser, subject and what lies around it.

Begin with a ready one: `lightsim new white-box --to my-box.toml` writes a commented file, `lightsim check my-box.toml`
says what it holds or which line to mend. This page lists every key.

- [The smallest rig that works](#the-smallest-rig-that-works)
- [Placing](#placing)
- [The whole file](#the-whole-file), [camera and lens](#camera-and-lens), [heads and beams](#heads-and-beams),
  [power and pulses](#power-and-pulses)
- [Parts](#parts), their [shapes](#shapes) and [materials](#materials)
- [Subject](#subject), [surroundings](#surroundings), [the shot](#the-shot), [limits](#limits)
- [Sources](#sources), [inches](#inches), [mesh files](#mesh), [how large a rig may be](#how-large-a-rig-may-be)

How to read the tables: what must be given is **needed**; a dash means that nothing stands in for what you leave out.
Lengths are in mm, or in inches if the file says so; the limits are the same either way. A ratio, a count, a share (0.5
is a half) and a number have no unit; where the last column is empty, there is no number to give. Unknown keys are
refused, so a misspelt one does not pass unseen.

## The smallest rig that works

A bare flash. Of these keys only `up`, `toward_subject` and `aim` could still go, and then the window would sit in the
hot shoe.

```toml rig
title = "My bare flash"

[camera]
sensor = [23.5, 15.6]     # width and height
magnification = 1

[lens]
working_distance = 95     # from the lens front to the subject
diameter = 65             # of the barrel
length = 120              # from the lens front to the mount

[[head]]                  # double brackets: there may be several
from = "shoe"             # the middle of the window lies ...
up = 80                   # ... 80 mm above the hot shoe
toward_subject = 30       # ... and 30 mm nearer to the subject
aim = "subject"           # and the flash points at the subject
window = [60, 40]
beam = { cos_power = 4 }
guide_number = 30
```

## Placing

Everything is placed from an anchor (`from`) by distances that you measure with a ruler along the camera's own
directions: right and up as the camera sees them, and along the lens axis toward the lens or toward the subject. The
directions stay the same whatever the anchor itself is turned to.

```text drawing
from the side                                     as the camera sees it

                     \  window of                            up
                   .  \ a head                                ^
                 .     \                                      |
               v               o shoe                 left <--+--> right
    tilt: the front        .---+----.                         |
    looks down      _______|        |                         v
    *              | lens  | camera |                       down
 subject           |_______|        |
                 front     '--------'       turn = 30: the front looks 30 degrees to the right
                                            roll = 30: turned clockwise by 30 degrees
   <-- toward_subject     toward_lens -->
```

| from | is |
| --- | --- |
| `"subject"` | the middle of the sharp plane |
| `"lens"` | the middle of the lens front |
| `"shoe"` | the middle of the hot shoe, see [camera](#camera-and-lens) |
| the name of a head | the middle of its window |
| the name of a part | its reference point, named under its [shape](#shapes) |

A part that is not turned faces the subject squarely. `roll` is done first, then `tilt`, then `turn`. With `aim =
"subject"` the front looks from where the part is held to the subject; leave `tilt` and `turn` out then. What is placed
from the lens, the shoe or a head moves with the camera when the working distance changes; what is placed from the
subject stays.

`hold` says which point of the part is put there:

| hold | is |
| --- | --- |
| `"reference"` | the reference point of the shape |
| `"centre"` | the middle of a sheet or disc; of other shapes, of the upright box that just holds them |
| `"left"`, `"right"`, `"top"`, `"bottom"` | the middle of that edge of a sheet or disc; else of that side of the box |
| `"back"`, `"front"` | the middle of the end toward the lens or the subject; not for sheets, discs and heads |

Sides and ends are those of the part before it is turned. An example, a sheet that stands on the lens and leans forward,
and a wing beside it:

```toml fragment
[[diffuser]]
name = "front"
shape = "sheet"
width = 150
height = 90
material = "copy paper"
from = "lens"
hold = "bottom"            # the middle of the lower edge lies ...
up = 34                    # ... 34 mm above the middle of the lens front
toward_subject = 10        # ... and 10 mm before it
tilt = 36

[[diffuser]]
name = "right wing"
shape = "sheet"
width = 60
height = 90
material = "copy paper"
from = "front"             # from the middle of that sheet
right = 95
toward_subject = 25
turn = -50                 # looks to the left, inward
```

The keys of a place stand in the table of the head or part itself:

@keys Placement

## The whole file

@keys Rig

## Camera and lens

`[camera]`

@keys Camera

`[lens]`

@keys Lens

By `f_number`, `pupil_depth`, `pupil_ratio` and `focus_ring`, `lightsim check` tells whether something stands in the
picture or on the ring. To find the pupil, look into the lens from where the subject will be and judge how deep behind
the front the aperture seems to lie; half of the lens's length is a fair guess.

How much light reaches the sensor is told by the effective f-number N (1 + m/P), with `f_number` N, magnification m and
`pupil_ratio` P: f/8 at 1x is f/16. Tubes are in it, since they change m. A lens mounted the wrong way round
(`reversed`) has N (1 + m P)/P; give the pupil ratio as the lens is built, its front toward you. A close-up lens
(`close_up`, 1000 over its dioptres) leaves the f-number alone and takes over part of the magnification, so more light
is left: say the magnification that both make together. `close_up`, `extension` and `reversed` hold for all
magnifications of a file: a lens used bare at 1x and with a close-up lens at 1.5x needs two files. `transmittance`
changes the exposure against a lens of 0.9, which the constants of meters and sensors have in them (ISO 12232, from
memory). None of this changes the light on the subject.

`sync` is the shortest shutter time at which the whole frame is open at once: the flash time of the camera. What counts
as sharp (`blur_circle`) is the sensor's diagonal over 1500 unless you say otherwise (common practice, no source);
0.03 mm on a sensor of 36 x 24 mm is the same within a twentieth.

State `base_iso`, the camera's lowest ISO speed, and `f_number_range`, the widest and the smallest opening of the lens
as marked, so that no setting is asked of them that they do not have.

A lens mounted in reverse, and a lens behind a close-up lens of +5 dioptres, which is 1000/5 = 200 mm:

```toml fragment
[camera]
base_iso = 64

[lens]
f_number = 5.6
f_number_range = [2.8, 22]
reversed = true
pupil_ratio = 1.1
```

```toml fragment
[camera]
magnification = [1.5, 2]

[lens]
working_distance = [95, 70]
close_up = 200
```

The hot shoe lies `shoe_up` above the axis and `shoe_back` behind the mount, which is `length` + `extension` behind the
lens front. Barrel, lens front and body stand in the light as black parts. Several magnifications need a working
distance each:

```toml fragment
[camera]
magnification = [1, 2]

[lens]
working_distance = [95, 55]
```

## Heads and beams

`[[head]]`, once for each flash head; together with the keys of a [place](#placing).

@keys HeadSpec

A head is an evenly bright window that throws its light forward. Several heads fire together, each as strong as its
guide number says; each needs a name of its own. Its case, `body`, does not stand in the light; by it `lightsim check`
tells whether the head fits the hole of a box.

`[head.beam]`, or `beam = { ... }` in the head: `cos_power`, `half_value_angle`, a table of `angle` and `intensity`, or
a `file`; one of them.

@keys Beam

The intensity is that of the head from afar, at an angle from its axis. `half_value_angle` is half of the full angle
that a data sheet states: a head said to cover 60° x 46° has `half_value_angle = [30, 23]`, if that is where it gives
half of its light (common practice, no source; some makers mean less). Of a zoom setting you know at least which lens
it is made for, on a sensor of 36 x 24 mm. The field of a wide one, halved, is a fair first guess (derived here from the
sensor and the focal length; most heads spread a little wider, and zoomed to a long lens far wider than its field, so
measure those):

@zooms

With `cos_power = m` the intensity falls as cos^m, and is half of that on the axis at acos 2^(−1/m) (derived here), so
that either may be given; a beam that is no circle falls as cos^m with an m that goes from one to the other around the
axis ([theory](theory.md)).

To find your m, fire the head squarely at a plain wall from a metre or two away, photograph the wall from farther off
with a stopped-down lens, so that the lens itself darkens no corners, and see where it is one stop darker than in the
middle. A wall darkens faster than the beam, as cos^(m + 3), because its edges are farther away and lit at a slant
(derived here):

@beams

A table says it point by point, in any unit, with straight lines between; the angles begin at 0, and beyond the last one
there is no light:

```toml fragment
[[head]]
name = "left head"
from = "lens"
right = -90
up = 20
toward_subject = 20
aim = "subject"
window = [50, 35]
beam = { angle = [0, 20, 40, 60, 80], intensity = [100, 85, 45, 12, 0] }
guide_number = 65
guide_number_unit = "ft"
iso = 100
```

`beam = { file = "my-head.ies" }` reads a photometric file as laboratories and lighting programs write it: LM-63 of
any year, type C, without tilt. Its vertical angle 0 is the axis of the head; its horizontal angle 0 lies to the right
and 90 up, as seen from behind the head. Only the shape counts: how strong the head is, the guide number says.

A guide number belongs to one zoom setting, and the largest of a data sheet to the longest. Take the one that it states
for the setting that you use. If it states none, give the beam of the setting that it speaks of as
`guide_number_beam`, and the one that you use as `beam`: the same light is then taken to spread wider. That is only as
good as both beams are; without it the guide number is that of `beam`.

## Power and pulses

What the flash can be set to, how long it shines, and how soon it is ready again: keys of `[[head]]` for
`lightsim shot`. They change no other figure, and all may be left out.

| a data sheet says | write |
| --- | --- |
| guide number 30 (ISO 100, m, 35 mm) | `guide_number = 30`, `iso = 100`, `guide_number_unit = "m"`, `zoom = "35 mm"` |
| power 1/1 to 1/128 in 1/3 EV steps | `power_least = "1/128"`, `power_step = "1/3"` |
| flash duration 1/500 s | `duration = "1/500"` |
| flash duration t0.1 of 1/180 s | `duration = { power = ["full"], time = ["1/180"], kind = "t0.1" }` |
| recycling time 2.5 s | `recycle = 2.5` |
| 180 flashes a charge | `flashes = 180` |
| 75 Ws | `energy = 75` |
| colour temperature 5600 K | `kelvin = 5600` |
| coverage 60° x 46° | `beam = { half_value_angle = [30, 23] }`, see [beams](#heads-and-beams) |

Several heads fire at one power setting, in steps that all of them have.

`[head.duration]`, or `duration = { ... }` in the head; one time alone is t0.5 at full power.

@keys Durations

t0.5 is the time for which the light is brighter than half of its peak, t0.1 that for which it is brighter than a tenth;
motion is told by t0.1, in which nine tenths of a full flash come. A data sheet that says neither means t0.5, as a
rule (common practice, no source). Between two powers that you state, the time follows a straight line if both are
counted in stops; beyond them, and where you state none, a model of a small flash that cuts its pulse short
([theory](theory.md)). A unit that lowers its power by charging its capacitor less shines as long at low power, or
longer: for such a one state the same time at each power.

```toml fragment
[[head]]
name = "left head"
from = "lens"
right = -90
up = 20
toward_subject = 20
aim = "subject"
window = [50, 35]
beam = { cos_power = 3 }
guide_number = 40
guide_number_beam = { cos_power = 20 }   # stated for a narrow zoom setting; in use is a wide one
power_least = "1/64"
power_step = "1/2"
recycle = 3
flashes = 150
duration = { power = ["full", "1/2", "1/8"], time = ["1/300", "1/700", "1/3000"] }
```

## Parts

`[[diffuser]]` for what you build, `[[surroundings]]` for what is there anyway; each with the keys of a
[place](#placing) and of its shape.

@keys PartSpec

## Shapes

Every part has a front and a back, which matters where its material differs by side, and for where it looks when it is
turned. Of flat parts the front is the side toward the subject, of hollow ones the inside, where a lining would be.

### Sheet

A flat rectangle. Front: the side toward the subject. Reference point: its middle.

```toml fragment
[[diffuser]]
name = "paper"
shape = "sheet"
width = 210
height = 148
corner_radius = 5
holes = [{ kind = "round", diameter = 66, up = -30 }]   # for the lens, 30 mm below the middle
material = "copy paper"
from = "lens"
up = 30
toward_lens = 4            # the barrel pokes through
```

@keys FlatSheet

### Disc

A flat disc. Front: the side toward the subject. Reference point: its middle.

```toml fragment
[[diffuser]]
name = "ring"
shape = "disc"
diameter = 180
holes = [{ kind = "round", diameter = 66 }]
material = "opal acrylic"
from = "lens"
toward_lens = 2
```

@keys Disc

### Curved sheet

A rectangle bent to part of a cylinder, its ends curling toward the subject. Front: the hollow side. Reference point:
its middle. Give `radius` or `angle`. With `bend = "left-right"` the left and right ends come forward, with `"up-down"`
the upper and lower ones.

```toml fragment
[[diffuser]]
name = "arc"
shape = "curved sheet"
length = 220               # from the left to the right end, measured flat
width = 100                # from the lower to the upper edge
angle = 130
bend = "left-right"
material = "packing foam"
from = "lens"
hold = "bottom"
up = 34
tilt = 36
```

@keys CurvedSheet

### Cone

The wall of a cone or tube around the lens axis, or a part of it, open at both ends. Front: the inside. Reference point:
the middle of the end toward the lens.

```toml fragment
[[diffuser]]
name = "collar"
shape = "cone"
near_diameter = 66
far_diameter = 150
depth = 40
start = -90                # begins at the left and goes over the top: the upper half
sweep = 180
material = "tracing paper"
from = "lens"
```

@keys Cone

### Dome

Part of a sphere, open at its rim. Front: the inside. Reference point: the middle of the rim.

```toml fragment
[[diffuser]]
name = "bowl"
shape = "dome"
diameter = 150
depth = 50
crown_hole = 66            # sits on the barrel
material = "opal acrylic"
from = "lens"
hold = "back"              # the crown, since it points to the lens
toward_lens = 8
```

@keys Dome

### Box

Six flat walls, straight or tapered. Front: the inside of every wall. Reference point: the middle of the wall toward the
lens, `back`. Holes are measured from the middle of their wall: in the left and right walls, `right` means toward the
lens; in the top and bottom walls, `up` does.

```toml fragment
[[diffuser]]
name = "box"
shape = "box"
back = [80, 60]
front = [150, 90]
depth = 120
front_up = 15              # the front lies so much higher than the back
open = ["front"]
holes = [{ wall = "back", kind = "rectangle", width = 64, height = 44 }]   # for the head
material = "white card"
from = "flash"             # the back wall round the window
aim = "subject"
```

@keys Box

### Funnel

Four flat walls from a rectangle to a rectangle, both ends open. Front: the inside of every wall. Reference point: the
middle of the end toward the lens.

```toml fragment
[[diffuser]]
name = "funnel"
shape = "funnel"
near = [66, 46]
far = [120, 80]
depth = 60
material = "foil-lined card"
from = "flash"
aim = "subject"
```

@keys Funnel

### Mesh

Triangles from a file: anything printed, scanned or drawn. Its numbers mean right, up and toward the lens (x, y, z), in
the unit that you state, since most files do not say. Front: the side from which the corners of a triangle run
anticlockwise; most programs put the outside there. Reference point: the origin of the file. What was repaired, or why a
file is refused, is told. Pictures and materials inside the file are left alone.

```toml fragment
[[diffuser]]
name = "hood"
shape = "mesh"
file = "mesh-hood.stl"     # beside the rig file
unit = "mm"
material = "opal acrylic"
from = "lens"
toward_lens = 2
```

@keys MeshFile

### Holes and slits

`holes = [{ ... }, { ... }]` and `slits = [{ ... }]` stand in the table of a sheet, disc or curved sheet, holes also in
that of a box. In a curved sheet they are cut while it is flat. They may overlap, and reach over the edge.

@keys RoundHole SquareHole RoundWallHole SquareWallHole

A slit is cut out as a strip with square ends:

@keys Slit

```toml fragment
[[diffuser]]
name = "slit paper"
shape = "sheet"
width = 148
height = 105
holes = [{ kind = "rectangle", width = 40, height = 20, up = 25 }]
slits = [{ start = [0, 0], end = [0, -60], gap = 2 }]   # from the middle down, beyond the edge
material = "tracing paper"
from = "lens"
up = 90
toward_subject = 10
```

## Materials

A material is a thin sheet: shares of the light that falls on it. Their sum is at most 1 on either side, and the rest is
absorbed. The ready ones, each number with the range in which it may lie; one that stands
[against](#how-sure-a-number-is) another takes from it what it gains:

@materials

`lightsim materials` lists them, each in a line; `lightsim materials copy paper` tells every number of one, how it is
known and where it comes from. All of it stands in [materials.toml](../shapes/materials.toml). Few of these sheets have
ever been measured in public, so the ranges are wide.

A table of your own goes before a ready one of the same name. [measure.md](measure.md) makes one from three readings
with your camera and flash, [materials.md](materials.md) from what is printed on the pack.

```toml fragment
[material."bakery paper"]
about = "brown baking paper, two layers"
diffuse_transmittance = { value = 0.4, low = 0.35, high = 0.45, known = "measured", source = "camera readings" }
diffuse_reflectance = [0.45, 0.35]    # front, back

[[diffuser]]
name = "front"
shape = "sheet"
width = 150
height = 90
material = "bakery paper"
from = "lens"
up = 74
toward_subject = 24
tilt = 36
```

`[material."name"]`

@keys Sheet

### How sure a number is

Each number of a material may be a table that says how sure it is, in one line as above or under a heading of its own:

```toml fragment
[material."market bag"]
about = "white carrier bag, cut flat"

[material."market bag".forward_transmittance]
value = 0.5
low = 0.4
high = 0.6
known = "measured"
against = "diffuse_transmittance"   # what this one gains, that one loses
source = "camera readings: how sharp the spot is"

[material."market bag".diffuse_transmittance]
value = 0.15
low = 0.1                           # 0.6 to 0.7 passes in all
high = 0.2
known = "measured"
source = "camera readings: 0.6 stops less through the lit window"

[material."market bag".half_value_angle]
value = 20
low = 12
high = 30
known = "assumed"
source = "guessed by eye: a lamp behind it is a wide, blurred spot"

[material."market bag".diffuse_reflectance]
value = [0.30, 0.25]       # front, back
low = [0.25, 0.20]
high = [0.35, 0.30]
known = "assumed"
source = "a little printed on the back"
```

| key | what | allowed | if left out | unit |
| --- | --- | --- | --- | --- |
| `value` | the number itself | as for the key | **needed** | as the key |
@rows Origin

A plain number is taken as exact. `lightsim vary` calls a number by the same key either way, such as
`material.market bag.forward_transmittance`, and takes each value that it tries as exact too.

`against` is for a sum that is known better than how it divides. The bag above passes 0.6 to 0.7 of the light in all:
that is the range of `diffuse_transmittance`, with `forward_transmittance` at its value. How much of it makes the
blurred spot is less sure, 0.4 to 0.6 of the light, and what the spot gains the even part loses.

### Sheets in contact

`layers` stands for sheets that lie on each other without air between, front first, in place of all numbers. Their
names are looked up in this file and then among the ready ones; a stack may hold stacks. Sheets with air between them
are parts of their own.

```toml fragment
[material."lined tracing paper"]
about = "copy paper with tracing paper taped on its back"
layers = ["copy paper", "tracing paper"]

[[diffuser]]
name = "front"
shape = "sheet"
width = 150
height = 90
material = "lined tracing paper"
from = "lens"
up = 74
toward_subject = 24
tilt = 36
```

## Subject

`[subject]`: all of it may be left out. `ball` decides the highlight figures, `hair` and `edge_height` the shadows,
`depth`, `field` and `background` the places at which falloff is told, and `eye`, `back` and `flank` the ways in which
`illuminance.eye`, `illuminance.back` and `illuminance.flank` face. `reflectance` says how much light the shot needs: a
grey card has 0.18, white paper 0.8, a black beetle 0.04, a green leaf 0.1 (from memory).

@keys Subject

`ball = { ... }`

@keys Ball

`hair = { ... }`

@keys Hair

```toml fragment
[subject]
eye = [0.4, 0.3, 1]        # a little to the right, a little up, mostly at the camera
depth = 6
background = [50, 150]
ball = { radius = 1.2, toward_lens = 1 }
hair = { diameter = 0.03, height = 0.4 }
```

## Surroundings

[Parts](#parts) like those of the diffuser: a leaf, the ground, a fill card. Light that last left them is told apart, as
`modelling.fill_share`, and does not count as the source when its size is measured.

```toml fragment
[[surroundings]]
name = "bramble leaf"
shape = "sheet"
width = 70
height = 50
corner_radius = 20
material = "leaf"
from = "subject"
up = -4                    # 4 mm under the subject
toward_lens = -8           # and reaching back behind it
tilt = 85                  # all but level: the front looks down
```

## The shot

`[shot]`: all of it may be left out. From it, and from the light, `lightsim shot` makes the plan: which power, what is
left of it, what is frozen and what is sharp. Only `exposure.headroom` of the other figures asks for it.

@keys Shot

Times may be written as cameras show them, `"1/200"`, or as `"2 ms"`, and powers as flashes do, `"full"`, `"1/16"`,
`"1/16 + 1/3"` for a third of a stop more, or `"50%"`. Fractions stand in quotes; 200 alone would be 200 seconds.

| what | lx, about (from memory) |
| --- | --- |
| full sun at noon | 100 000 |
| open shade under a blue sky | 10 000 |
| overcast sky | 5000 to 20 000 |
| under a hedge, deep shade | 500 to 2000 |
| a bright room | 500 |

To measure `ambient`, set the camera to manual, photograph a grey card in the subject's place without flash, and vary
the shutter time until it comes out mid-grey: the light is about 250 N²/(S t) lx, with the effective f-number N, ISO S
and time t (C = 250, see [theory](theory.md)).

`shake`, `wind` and `sway` stand for your hands and your garden, and the numbers here are invented. To find `sway`, take
fifty frames of a flat ruler lying at a slant with the camera held as in the field, and read where it is sharp in each:
the spread of the places along the lens axis is the sway.

```toml fragment
[shot]
iso = 400
shutter = "1/160"
placement = 0.7            # a pale bug on a pale flower shall come out pale
ambient = 8000
ambient_kelvin = 7000
sway = 1                   # a monopod

[camera]
sync = "1/160"

[subject]
reflectance = 0.4
```

## Limits

`[limits]`: the report says of each whether it is kept, broken, or too close to call.

@keys Limits

```toml fragment
[limits]
most_stops = 2.5
least_angle = 50
least_clearance = 30
```

## Sources

Any number, text or list may carry a note on where it comes from, which the report repeats. Write a table with `value`
and `source` (at most @LONGEST_SOURCE letters) in its place; numbers of materials may also carry
[their range](#how-sure-a-number-is):

```toml fragment
[lens]
working_distance = { value = 95, source = "measured with a ruler" }
diameter = { value = 65, source = "data sheet of the lens" }
```

## Inches

`unit = "inch"` makes every length in the file inches, that of sensor and subject too; 1 inch is 25.4 mm. What is left
out keeps its value in mm from the tables. Guide numbers have their own unit, and so have mesh files.

```toml rig
title = "My bare flash, in inches"
unit = "inch"

[camera]
sensor = [0.925, 0.614]
magnification = 1

[lens]
working_distance = 3.75
diameter = 2.5
length = 4.75

[[head]]
from = "shoe"
up = 3.25
toward_subject = 1.25
aim = "subject"
window = [2.4, 1.6]
beam = { cos_power = 4 }
guide_number = 98
guide_number_unit = "ft"
```

## How large a rig may be

A rig file has at most 1 MB and @MOST_CUTS holes and slits in all. All parts together have at most
@MOST_TRIANGLES triangles, and nothing reaches farther than @FARTHEST from the subject.
"""

if __name__ == "__main__":
    main()
