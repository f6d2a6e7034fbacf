"""What to buy, what it weighs on the flash and how large it is in the bag.

Lengths in mm, areas in mm^2, weights in g, money in whatever the prices are in.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.pattern.pack import CutSheet
from lightsim.pattern.piece import Pattern, Piece, area, sides
from lightsim.pattern.sizes import sizes_told
from lightsim.rig.mesh import Mesh, areas, corners
from lightsim.rig.models import PartSpec
from lightsim.rig.place import PlacedRig
from lightsim.rig.shells import Box, Cone, Dome, Funnel, shell_extent
from lightsim.rig.units import INCH

GRAVITY = 9.80665  # m/s^2, the standard acceleration of gravity (3rd General Conference on Weights and Measures, 1901)


@dataclass(frozen=True)
class PieceLine:
    """One kind of piece."""

    part: str
    name: str
    copies: int
    material: str
    width: float  # of its bounding box as drawn
    height: float
    area: float  # of one copy, tabs included
    weight: float | None  # of one copy; None where the material states no grammage


@dataclass(frozen=True)
class MaterialLine:
    """The sheets of one material and size."""

    material: str
    width: float  # of a sheet
    height: float
    sheets: int
    share: float  # of their area that ends up in pieces
    weight: float | None  # of those pieces; None where the material states no grammage
    cost: float | None  # None without a price


@dataclass(frozen=True)
class Load:
    """What hangs before the hot shoe. complete: whether every piece has a weight and every part has pieces."""

    weight: float | None  # None where no piece has a weight
    ahead: float | None  # how far the middle of that weight lies before the shoe; negative behind it
    moment: float | None  # N mm that turn the head forward about the shoe
    complete: bool


@dataclass(frozen=True)
class Bag:
    """Room in the bag: pieces laid flat on each other, and the largest part that stays hollow once glued."""

    long: float  # the longest long side of a piece's box
    short: float  # the longest short side
    thickness: float | None  # of all pieces; None where that of one is not known
    built: str | None  # name of the largest hollow part
    built_size: tuple[float, float, float] | None  # its inside, left to right, bottom to top, front to back


@dataclass(frozen=True)
class CuttingList:
    """Everything about the pieces of a pattern that can be told in numbers."""

    unit: str  # "mm" or "inch", in which lengths are told
    pieces: tuple[PieceLine, ...]
    materials: tuple[MaterialLine, ...]
    load: Load
    bag: Bag
    cost: float | None  # of all sheets; None unless every material has a price


def cutting_list(
    pattern: Pattern, sheets: Sequence[CutSheet], *, placed: PlacedRig, prices: Mapping[str, float]
) -> CuttingList:
    """The cutting list of a pattern whose pieces lie on these sheets.

    placed : the rig that the pattern is of; prices : of a sheet, by material
    Raises KeyError for a piece of a part that the rig has not.
    """
    pieces = tuple(_piece_line(piece) for piece in pattern.pieces)
    materials = tuple(_material_lines(sheets, prices))
    costs = [line.cost for line in materials if line.cost is not None]
    return CuttingList(
        unit=pattern.unit,
        pieces=pieces,
        materials=materials,
        load=load_of(pattern, placed=placed),
        bag=_bag(pattern, placed),
        cost=sum(costs) if costs and len(costs) == len(materials) else None,
    )


def load_of(pattern: Pattern, *, placed: PlacedRig) -> Load:
    """Weight of all pieces and the moment with which it turns the flash's head forward.

    The weight of each part hangs at its centre of area, the camera is held level (y up), and the hinge is taken to run
    from left to right right above the hot shoe: only the distance along the lens axis counts. Pieces without weight
    and parts without pieces are left out, and complete says so. Of a flash on a bracket it tells nothing useful.
    """
    parts = {part.name: part.mesh for part in placed.parts}
    weights, levers = [], []
    for piece in pattern.pieces:
        middle = float(centre_of_area(parts[piece.part])[2])
        weight = _weight(piece)
        if weight is not None:
            weights.append(weight * piece.copies)
            levers.append(_shoe(placed) - middle)
    complete = bool(weights) and len(weights) == len(pattern.pieces) and not pattern.refused
    if not weights:
        return Load(None, None, None, complete)
    total = sum(weights)
    turning = float(np.dot(weights, levers))  # g mm
    return Load(total, turning / total, GRAVITY * turning / 1000, complete)


def centre_of_area(mesh: Mesh) -> NDArray[np.float64]:
    """Centre of the area of all triangles, (3,) mm. A sheet of even thickness has its centre of gravity there."""
    return np.asarray(np.average(corners(mesh).mean(axis=1), axis=0, weights=areas(mesh)))


def _shoe(placed: PlacedRig) -> float:
    """How far the hot shoe lies toward the camera from the subject."""
    rig = placed.rig
    return placed.working_distance + rig.lens.length + rig.lens.extension + rig.camera.shoe_back


def _weight(piece: Piece) -> float | None:
    return None if piece.grammage is None else piece.grammage * area(piece) / 1e6


def _piece_line(piece: Piece) -> PieceLine:
    width, height = sides(piece)
    return PieceLine(
        part=piece.part,
        name=piece.name,
        copies=piece.copies,
        material=piece.material,
        width=width,
        height=height,
        area=area(piece),
        weight=_weight(piece),
    )


def _material_lines(sheets: Sequence[CutSheet], prices: Mapping[str, float]) -> Iterable[MaterialLine]:
    for material, width, height in dict.fromkeys((sheet.material, sheet.width, sheet.height) for sheet in sheets):
        own = [sheet for sheet in sheets if (sheet.material, sheet.width, sheet.height) == (material, width, height)]
        pieces = [place.piece for sheet in own for place in sheet.places]
        weights = [weight for weight in map(_weight, pieces) if weight is not None]
        yield MaterialLine(
            material=material,
            width=width,
            height=height,
            sheets=len(own),
            share=sum(map(area, pieces)) / (len(own) * width * height),
            weight=sum(weights) if len(weights) == len(pieces) else None,
            cost=len(own) * prices[material] if material in prices else None,
        )


def _bag(pattern: Pattern, placed: PlacedRig) -> Bag:
    boxes = [sorted(sides(piece)) for piece in pattern.pieces]
    known = all(piece.thickness > 0 for piece in pattern.pieces)
    cut = {piece.part for piece in pattern.pieces}
    sizes = {}
    for spec in placed.rig.heads_and_parts:
        if isinstance(spec, PartSpec) and spec.name in cut and (shape := _hollow(spec)) is not None:
            across, up, along = np.ptp(shell_extent(shape), axis=0).tolist()
            sizes[spec.name] = (across, up, along)
    largest = max(sizes, key=lambda name: np.prod(sizes[name]), default=None)
    return Bag(
        long=max((longer for _, longer in boxes), default=0.0),
        short=max((shorter for shorter, _ in boxes), default=0.0),
        thickness=sum(piece.thickness * piece.copies for piece in pattern.pieces) if known else None,
        built=largest,
        built_size=sizes[largest] if largest is not None else None,
    )


def _hollow(spec: PartSpec) -> Cone | Dome | Box | Funnel | None:
    """The shape of a part that cannot be laid flat once it is glued; a cone that does not go all the way round can."""
    shape = spec.shape
    if isinstance(shape, Cone):
        return shape if shape.sweep >= 360 else None
    return shape if isinstance(shape, Dome | Box | Funnel) else None


def summary(listed: CuttingList) -> tuple[str, ...]:
    """The list as sentences, lengths in its unit, for a terminal and for the first page of a pattern."""
    lines = [_piece_words(line, listed.unit) for line in listed.pieces]
    lines += [_material_words(line, listed.unit) for line in listed.materials]
    return (*lines, *rest_of(listed))


def rest_of(listed: CuttingList) -> tuple[str, ...]:
    """What the list says beside its pieces and sheets: cost of all, weight on the flash, size in the bag."""
    several = listed.cost is not None and len(listed.materials) > 1
    cost = (f"Cost of all sheets: {listed.cost:.2f}",) if several else ()
    return (*cost, *_load_words(listed), *_bag_words(listed.bag, listed.unit))


def _piece_words(line: PieceLine, unit: str) -> str:
    size = sizes_told((line.width, line.height), unit)
    surface = f"{line.area / INCH**2:.1f} sq in" if unit == "inch" else f"{line.area / 100:.1f} cm2"
    each = " each" if line.copies > 1 else ""
    weight = "weight not known" if line.weight is None else f"{_grams(line.weight)}{each}"
    return f"{line.name}: {line.copies} of {line.material}, {size}, {surface}{each}, {weight}"


def _material_words(line: MaterialLine, unit: str) -> str:
    sheets = f"{line.sheets} sheet{'s' if line.sheets > 1 else ''}"
    size = sizes_told((line.width, line.height), unit)
    used = "less than 1 %" if line.share < 0.01 else f"{100 * line.share:.0f} %"
    cost = "" if line.cost is None else f", cost {line.cost:.2f}"
    return f"{line.material}: {sheets} of {size}, {used} of {'them' if line.sheets > 1 else 'it'} used{cost}"


def _load_words(listed: CuttingList) -> tuple[str, ...]:
    load = listed.load
    if not listed.pieces:
        return ()
    if load.weight is None or load.ahead is None or load.moment is None:
        return ("Weight of all pieces: not known, as no material states its grammage",)
    least = "" if load.complete else "at least "
    rest = "" if load.complete else ", as some parts have no weight"
    side = "before" if load.ahead >= 0 else "behind"
    way = "forward" if load.moment >= 0 else "backward"
    return (
        f"Weight of all pieces: {least}{_grams(load.weight)}{rest}",
        f"If the flash carries them all, they turn its head {way} with {_moment(abs(load.moment))}: their middle hangs "
        f"{sizes_told((abs(load.ahead),), listed.unit)} {side} the hot shoe (camera level, hinge right above the shoe)",
    )


def _bag_words(bag: Bag, unit: str) -> tuple[str, ...]:
    if not bag.long:
        return ()
    thick = "thickness not known" if bag.thickness is None else f"{sizes_told((bag.thickness,), unit)} thick"
    lines = [f"In the bag, not glued: {sizes_told((bag.long, bag.short), unit)}, {thick}"]
    if bag.built is not None and bag.built_size is not None:
        lines.append(
            f"Once glued, {bag.built} stays hollow: {sizes_told(bag.built_size, unit)} inside, the largest such part"
        )
    return tuple(lines)


def _moment(moment: float) -> str:
    return f"{moment:.3g} N mm" if moment < 100 else f"{moment:.0f} N mm"


def _grams(weight: float) -> str:
    return f"{weight:.2f} g" if weight < 10 else f"{weight:.1f} g"
