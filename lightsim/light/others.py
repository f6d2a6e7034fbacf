"""A rig's light under other materials: one small cloud, weighed anew for each end of each number's range.

The paths are drawn once. A path that met a material is worth the ratio of what the other sheet would have sent that
way to what this one did, and so are the connections; no new paths. Where a share is nothing and might be something, the
paths are drawn from a sheet between, so that no light is missed. Numbers that change the shape of a lobe (its width)
would give a few paths nearly all the worth, so for those the same random numbers draw new paths.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lightsim.light.cloud import Cloud
from lightsim.light.forward import trace
from lightsim.light.light import PILOT, Light
from lightsim.light.scene import Other, Scene, build
from lightsim.rig.place import Part, PlacedRig
from lightsim.sheet import Sheet
from lightsim.sheet.ends import Ends, ends_of, layers_of, moved
from lightsim.sheet.sheet import SHAPES, both
from lightsim.sheet.tables import sheets_of

_REPLICATES = 8
_ANEW = 4 * PILOT  # for new paths, which share less of their noise


@dataclass(frozen=True)
class Number:
    """A number of a material that is known to a range."""

    material: str  # its name
    sheet: Sheet
    ends: Ends

    @property
    def key(self) -> str:
        """Of the sheet: "diffuse_transmittance"."""
        return self.ends.key

    @property
    def name(self) -> tuple[str, str]:
        """Material and key, which name it in a rig."""
        return self.material, self.ends.key


@dataclass(frozen=True)
class Moved:
    """The light of a rig as its materials are said to be, and with one number at either end of its range."""

    number: Number
    as_said: Light
    low: Light
    high: Light


def numbers(placed: PlacedRig) -> tuple[Number, ...]:
    """The numbers with a range among the materials of a rig, in the order of its parts; of a stack, its layers'."""
    found: dict[tuple[str, str], Number] = {}
    for part in placed.parts:
        for material, sheet in layers_of(part.material, part.sheet):
            for ends in ends_of(sheet):
                found.setdefault((material, ends.key), Number(material, sheet, ends))
    return tuple(found.values())


def under_others(light: Light) -> tuple[Moved, ...]:
    """The light of a rig by a small cloud, for each number with a range: as said, with it low and with it high.

    Differences between these are known far better than each of them: they share every random number.
    """
    placed, known = light.placed, numbers(light.placed)
    shares = tuple(number for number in known if number.key not in SHAPES)
    found = {}
    if shares:
        scene = _scene(placed, shares)
        cloud = _small_cloud(scene, light)
        every = [_by(light, cloud, other=other) for other in range(2 * len(shares) + 1)]
        every = [replace(each, seen=every[0].seen) for each in every]
        for i, number in enumerate(shares):
            found[number.name] = Moved(number, every[0], every[1 + 2 * i], every[2 + 2 * i])
    anew = None
    for number in known:
        if number.key in SHAPES:
            anew = anew or _by(light, _small_cloud(build(placed.parts, placed.heads), light, points=_ANEW))
            low, high = (
                _by(light, _small_cloud(build(_with(placed, number, end), placed.heads), light, points=_ANEW))
                for end in (number.ends.low, number.ends.high)
            )
            found[number.name] = Moved(number, anew, low, high)
    return tuple(found[number.name] for number in known)


def _small_cloud(scene: Scene, light: Light, *, points: int = PILOT) -> Cloud:
    return trace(scene, points=points, replicates=_REPLICATES, seed=light.seed)


def _by(light: Light, cloud: Cloud, *, other: int | None = None) -> Light:
    return replace(light, scene=cloud.scene, cloud=cloud, side=cloud, other=other, seen={})


def _with(placed: PlacedRig, number: Number, end: Sheet) -> list[Part]:
    """The parts of a rig with another sheet where this material is, on its own or in a stack."""
    return [replace(part, sheet=_changed(part.material, part.sheet, number, end)) for part in placed.parts]


def _changed(material: str, sheet: Sheet, number: Number, end: Sheet) -> Sheet:
    if (material, sheet) == (number.material, number.sheet):
        return end
    layers = [(name, _changed(name, layer, number, end)) for name, layer in sheet.made_of]
    if all(new is old for (_, new), (_, old) in zip(layers, sheet.made_of, strict=True)):
        return sheet
    from lightsim.sheet.stack import stack

    # Without their ranges, which nobody asks for here.
    return stack([layer.model_copy(update={"origins": {}}) for _, layer in layers])


def _scene(placed: PlacedRig, known: tuple[Number, ...]) -> Scene:
    """The rig of sheets that paths are drawn from, with its own materials as the first of the others and then each
    number low and high."""
    parts = [replace(part, sheet=_between(part.sheet)) for part in placed.parts]
    scene = build(parts, placed.heads)
    windows = [head.window.sheet for head in placed.heads]

    def other(sheets: list[Sheet]) -> Other:
        differs = [sheet != drawn.sheet for sheet, drawn in zip([*windows, *sheets], scene.parts, strict=True)]
        return Other(sheets_of([*windows, *sheets]), np.array(differs))

    others = [other([part.sheet for part in placed.parts])]
    for number in known:
        for end in (number.ends.low, number.ends.high):
            others.append(other([part.sheet for part in _with(placed, number, end)]))
    # A vertex remembers where its light came from if any of the sheets asks for it. Connections reach every lobe here:
    # what a spike adds to one light it adds to its likeness too.
    shaped = np.any([scene.sheets.shaped, *(each.sheets.shaped for each in others)], axis=0)
    sheets = replace(scene.sheets, shaped=shaped)
    return replace(
        scene,
        sheets=sheets,
        blunt=sheets,
        sharp_parts=np.zeros(len(scene.parts), bool),
        others=tuple(others),
    )


def _sides(sheet: Sheet, key: str) -> tuple[float, float]:
    value = getattr(sheet, key)
    return both(0.0 if value is None else value)


def _between(sheet: Sheet) -> Sheet:
    """A sheet that has every lobe of the sheet and of its ends."""
    drawn = sheet
    for key, origin in sheet.origins.items():
        value = _sides(sheet, key)
        if key not in SHAPES and origin.high is not None and min(value) == 0:
            middle = [(low + high) / 2 for low, high in zip(value, origin.high, strict=True)]
            drawn = moved(drawn, key, (middle[0], middle[1]))
    return drawn
