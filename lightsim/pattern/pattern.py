"""Patterns of a rig: the pieces of every part that lies flat, and why the others do not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from lightsim.pattern.cone import cone
from lightsim.pattern.developed import Developed, Stock
from lightsim.pattern.gores import gores as gores_of
from lightsim.pattern.joints import Member, joined
from lightsim.pattern.net import net
from lightsim.pattern.openings import with_openings
from lightsim.pattern.panels import panel
from lightsim.pattern.piece import Pattern, Piece, Refused
from lightsim.rig.errors import RigError, alternatives, closest, fault, naming, quoted
from lightsim.rig.load import LoadedRig, placed
from lightsim.rig.meshes import MeshFile
from lightsim.rig.models import PartSpec
from lightsim.rig.place import PlacedRig
from lightsim.rig.shapes import Shape
from lightsim.rig.shells import Box, Cone, Dome, Funnel

TAB = 10.0  # mm
GRAINED = ("paper", "card", "board", "parchment", "tissue")  # in the names of materials that have a grain
THICKEST_TAB = 1.0  # mm: a thicker sheet is joined edge to edge
USUAL_SHEET = (500.0, 700.0)  # mm, a size in which card is sold (common practice, no source)


class NotFlat(ValueError):
    """A shape that no flat pattern makes; its text says why."""


def pieces_of(
    shape: Shape,
    *,
    part: str = "part",
    material: str = "card",
    thickness: float = 0.0,
    grammage: float | None = None,
    tab: float = TAB,
    gores: int | None = None,
    sheet: tuple[float, float] = (2000.0, 2000.0),
) -> tuple[Piece, ...]:
    """Flat pieces of one shape, seen from its back.

    thickness, tab (0 for none), sheet (width and height of what it is cut from) : mm; grammage : g/m^2
    gores : of a dome; left out, as many as keep it within 2 mm of the sphere
    Raises NotFlat for a mesh, ValueError for a thickness or tab below 0 and fewer than 3 gores.
    """
    stock = Stock(part, material, thickness, grammage, tab, sheet, _grained(material))
    return tuple(each.piece for each in developed(shape, stock, gores=gores))


def _grained(material: str) -> bool:
    return any(word in material.casefold() for word in GRAINED)


def developed(shape: Shape, stock: Stock, *, gores: int | None = None) -> list[Developed]:
    """Pieces of one shape with their free edges and openings. Raises NotFlat for a mesh."""
    if isinstance(shape, Dome):
        return gores_of(shape, stock, count=gores)
    if isinstance(shape, MeshFile):
        raise NotFlat(
            "a mesh says where its surface is, not how it was rolled or folded. Draw its pattern in the program that "
            "made it, or describe the part by sheets, boxes, funnels or cones"
        )
    if isinstance(shape, Cone):
        return cone(shape, stock)
    if isinstance(shape, Box | Funnel):
        return net(shape, stock)
    return panel(shape, stock)


def pattern_of(
    loaded: LoadedRig,
    *,
    parts: Sequence[str] = (),
    tab: float | None = None,
    gores: int | None = None,
    sheets: Mapping[str, tuple[float, float]] | None = None,
    usual: tuple[float, float] = USUAL_SHEET,
) -> Pattern:
    """The pattern of a rig's diffuser as it stands in its file, see pattern_of_placed.

    Raises RigError with the name of the file, as pattern_of_placed and placed do.
    """
    with naming(loaded.file):
        return pattern_of_placed(placed(loaded), parts=parts, tab=tab, gores=gores, sheets=sheets, usual=usual)


def pattern_of_placed(
    rig: PlacedRig,
    *,
    parts: Sequence[str] = (),
    tab: float | None = None,
    gores: int | None = None,
    sheets: Mapping[str, tuple[float, float]] | None = None,
    usual: tuple[float, float] = USUAL_SHEET,
) -> Pattern:
    """The pattern of a rig's diffuser, or of the parts named (surroundings may be named too).

    tab : width of glue tabs [mm], 0 for none; left out, TAB for sheets up to THICKEST_TAB thick and none for others
    gores : how many for each dome; left out, as many as keep it within 2 mm of the sphere
    sheets, usual : width and height [mm] of what each material is sold in, and of the others
    Raises RigError for a rig without a diffuser and for a name that is no part.
    """
    frames = {part.name: part for part in rig.parts}
    members, refused = [], []
    wanted = _chosen(rig, parts)
    # Also those not asked for: what joins a part to its neighbours belongs to it.
    for spec in dict.fromkeys((*rig.rig.diffuser, *wanted)):
        part = frames[spec.name]
        thickness = part.sheet.thickness or 0.0
        width = (TAB if thickness <= THICKEST_TAB else 0.0) if tab is None else tab
        size = (sheets or {}).get(spec.material, usual)
        grained = _grained(spec.material)
        stock = Stock(spec.name, spec.material, thickness, part.sheet.grammage, width, size, grained)
        try:
            found = developed(spec.shape, stock, gores=gores)
        except NotFlat as error:
            refused += [Refused(spec.name, str(error))] if spec in wanted else []
            continue
        members.append(Member(spec.name, spec.shape, thickness, width, part.origin, part.turned, tuple(found)))
    names = {spec.name for spec in wanted}
    pieces = [
        with_openings(each, rig, member.origin, member.turned).piece
        for member, found in zip(members, joined(members, unit=rig.rig.unit), strict=True)
        for each in found
        if member.name in names
    ]
    return Pattern(rig.rig.title, rig.rig.unit, tuple(pieces), tuple(refused))


def _chosen(rig: PlacedRig, names: Sequence[str]) -> list[PartSpec]:
    """The parts of the diffuser, or those named."""
    known = {spec.name: spec for spec in (*rig.rig.diffuser, *rig.rig.surroundings)}
    for name in names:
        if name not in known:
            raise fault(
                f"--part {quoted(name)}",
                what="the rig has no part of this name",
                allowed=alternatives(known, 12) or "parts of the diffuser, of which this rig has none",
                remedy=quoted(closest(name, known) or next(iter(known))) if known else "another rig",
            )
    if not names and not rig.rig.diffuser:
        raise RigError(
            "this rig has no diffuser, so there is nothing to cut. Allowed: a rig with parts in [[diffuser]]. Try "
            "lightsim designs, which lists others"
        )
    return [known[name] for name in dict.fromkeys(names)] if names else list(rig.rig.diffuser)
