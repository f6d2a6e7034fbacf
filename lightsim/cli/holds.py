"""What a rig file holds, told back in words, and how near its parts come to the subject. Nothing is traced."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import isclose

from lightsim.cli.fits import Fit, fit_of, will_it_fit
from lightsim.cli.layout import Cell, Line, Row, sentence, table
from lightsim.cli.notes import told
from lightsim.light.scene import build
from lightsim.measure.clearance import clearance
from lightsim.measure.exposure import luminous_energy
from lightsim.measure.rounding import length
from lightsim.measure.warnings import behind_subject
from lightsim.rig.beam import EVEN, Beam, EachWay
from lightsim.rig.errors import given
from lightsim.rig.head import C, HeadSpec
from lightsim.rig.load import LoadedRig, material
from lightsim.rig.mesh import area, bounds
from lightsim.rig.models import PartSpec
from lightsim.rig.place import Head, PlacedRig
from lightsim.rig.placement import NAMED_ANCHORS, Placement
from lightsim.rig.shapes import triangulate
from lightsim.rig.units import INCH
from lightsim.sheet import Sheet
from lightsim.sheet.body import odd_body
from lightsim.sheet.ends import moved
from lightsim.sheet.sheet import SHARES, both
from lightsim.sheet.stated import NOT_STATED, Number, numbers

_SHAPED = {  # numbers that say how light is spread, and the shares whose light that is
    "half_value_angle": ("forward_transmittance",),
    "pore_depth": ("pores",),
    "roughness": ("glossy_reflectance", "metallic_reflectance"),
}
_ROUNDING = 1e-9  # of sums of shares
_LITTLE = 0.02  # of the light: a share that stops short or gives way by less is not worth a note
_SQUARE_CM = 100.0  # mm^2
_FOOT = 12 * INCH / 1000  # m
_SAME = 0.005  # of a guide number: what differs by less is told once
_EFFICACY = (15.0, 60.0)  # lm s per joule of stored energy: half and nearly twice of what xenon flashes make; a choice
_TOO_MUCH = (
    "The guide number may be that of a zoom setting with a narrower beam (then add guide_number_beam), in feet, or at "
    "another ISO speed; or the energy that of a lower power"
)
_TOO_LITTLE = (
    "The guide number may be at another ISO speed or in another unit, or the beam to which it belongs wider than "
    "stated, as at a long zoom setting, where the light spreads beyond the coverage; or the energy may be of several "
    "heads"
)


def contents(loaded: LoadedRig, fit: Fit | None = None) -> list[Line]:
    """Whether it fits, camera, lens, heads, parts, materials with sources, limits, clearance at each magnification.

    fit: what fit_of found of the rig, if it is known already
    Raises RigError if the rig cannot be placed.
    """
    rig = loaded.rig
    fit = fit or fit_of(loaded)
    worlds = fit.worlds
    lines = [Line(f"{rig.title}: {loaded.file} is a rig that can be used.", bold=True)]
    lines.extend(unit_of_lengths(loaded))
    if rig.about:
        lines.extend(sentence(" ".join(rig.about.split())))
    several = len(worlds) > 1
    notes = told(
        [(*behind_subject(world), *world.notes) for world in worlds],
        [f"{world.magnification:g}x" if several else "" for world in worlds],
    )
    for head, lamp in zip(rig.head, worlds[0].heads, strict=True):
        for text in odd_head(head, replace(worlds[0], heads=(lamp,))):
            notes.extend(sentence(f'Note: head "{head.name}": {text}.', indent="  ", bold=True))
    for name, sheet in rig.material.items():
        for text in [*oddities(sheet), *odd_body(sheet, inches=loaded.data.get("unit") == "inch")]:
            notes.extend(sentence(f'Note: material "{name}": {text}.', indent="  ", bold=True))
    lines.extend(
        [
            *([Line(""), *notes] if notes else []),
            Line(""),
            *will_it_fit(fit),
            Line(""),
            *_camera(worlds),
            Line(""),
            Line("Heads", bold=True),
        ]
    )
    for head, lamp in zip(rig.head, worlds[0].heads, strict=True):
        lines.extend(sentence(_head(head, lamp), indent="  "))
    for title, parts in (("Diffuser", rig.diffuser), ("Surroundings", rig.surroundings)):
        lines.extend([Line(""), Line(title, bold=True)])
        lines.extend([] if parts else [Line("none")])
        for part in parts:
            lines.extend(sentence(_part(part, worlds[0], loaded), indent="  "))
    lines.extend([Line(""), *_materials(loaded), *_limits(loaded), *sources(loaded)])
    return lines


def unit_of_lengths(loaded: LoadedRig) -> list[Line]:
    """That lengths are told in mm, for a file in inches."""
    return [Line("Lengths in mm; the file is in inches.")] if loaded.rig.unit == "inch" else []


def _camera(worlds: Sequence[PlacedRig]) -> list[Line]:
    rig = worlds[0].rig
    lens, camera = rig.lens, rig.camera
    tubes = f", {length(lens.extension)} mm of extension tubes" if lens.extension else ""
    text = (
        f"Camera: sensor {_by(camera.sensor)} mm, {_by(camera.pixels)} pixels. "
        f"Lens: {length(lens.diameter)} mm across, {length(lens.length)} mm long, f/{lens.f_number:g}{tubes}."
    )
    rows = [
        Row(
            f"{world.magnification:g}x",
            (
                Cell(length(world.working_distance)),
                Cell(_by(world.field)),
                Cell(f"{1000 * world.pixel:.2f}"),
                Cell(_clearance(world)),
            ),
        )
        for world in worlds
    ]
    heads = ("lens to subject, mm", "width and height seen, mm", "a pixel, thousandths of a mm", "clearance, mm")
    return [*sentence(text), *table("magnification", heads, rows)]


def _clearance(world: PlacedRig) -> str:
    """Least distance from the subject point to the diffuser, as the report has it."""
    found = clearance(build(world.parts, world.heads))
    return "no diffuser" if found is None else f"{found.value:.1f}"


def _head(head: HeadSpec, lamp: Head) -> str:
    zoom = f" at {head.zoom}" if head.zoom else ""
    unit = head.guide_number_unit
    # C N^2 d^2 / S with N d the guide number: what the light on the axis of the beam in use makes of it.
    in_use = (lamp.axial_intensity * head.iso / C) ** 0.5 / (_FOOT if unit == "ft" else 1.0)
    same = isclose(in_use, head.guide_number, rel_tol=_SAME)
    which = "" if same else f", which is {in_use:.3g} {unit} with the beam in use"
    return (
        f"{head.name}: window {_by(head.window)} mm, {_beam(head.beam)}, guide number {head.guide_number:g} "
        f"{unit} at ISO {head.iso:g}{zoom}{which}, {where(head.place)}"
    )


def odd_head(spec: HeadSpec, alone: PlacedRig) -> list[str]:
    """What may be a mistake in the numbers of a head: no error, as it can be meant.

    alone : the rig, placed, with this head and no other
    """
    found = []
    for key in ("beam", "guide_number_beam"):
        beam = getattr(spec, key)
        angle = beam.half_value_angle if beam is not None else None
        angles = angle if isinstance(angle, tuple) else () if angle is None else (angle,)
        if any(each > EVEN for each in angles):
            halves = ", ".join(f"{each / 2:.4g}" for each in angles)
            found.append(
                f"{key}.half_value_angle = {given(angle)} is wider than an even glow, {EVEN:g} degrees. Is that the "
                f"full angle? Half of it would be {f'[{halves}]' if len(angles) > 1 else halves}"
            )
    if spec.energy is not None:
        light = luminous_energy(alone)
        low, high = _EFFICACY
        if not low <= light / spec.energy <= high:
            found.append(
                f"by its guide number and its beam it makes {_plain(light)} lm s of light, "
                f"{_plain(light / spec.energy)} for each of its {spec.energy:g} J; xenon flashes make about 30 to 40 "
                f"(from memory). "
                f"{_TOO_MUCH if light > high * spec.energy else _TOO_LITTLE}"
            )
    return found


def _plain(value: float) -> str:
    """Three digits, however large the number is."""
    return f"{float(f'{value:.3g}'):.10g}"


def _beam(beam: Beam) -> str:
    if beam.file is not None:
        return f"beam by the file {beam.file}"
    if beam.angle:
        return f"beam by a table of {len(beam.angle)} angles"
    power = beam.round_power
    if beam.half_value_angle is not None:
        return f"beam half as bright {_each_way(beam.half_value_angle, '{:g} degrees')} off its axis"
    return f"beam as {_each_way(beam.cos_power if power is None else power, 'cos^{:g}')}"


def _each_way(value: EachWay | None, pattern: str) -> str:
    if isinstance(value, tuple):
        return f"{pattern.format(value[0])} across and {pattern.format(value[1])} up"
    return pattern.format(value)


def _part(part: PartSpec, world: PlacedRig, loaded: LoadedRig) -> str:
    mesh = triangulate(part.shape, folder=loaded.folder)
    low, high = bounds(mesh)
    sides = [side for side in high - low if side > 0.05]  # a flat sheet has two
    return (
        f"{part.name}: {part.shape.shape}, {_by(sides, 1)} mm over all, {area(mesh) / _SQUARE_CM:.0f} cm2 of "
        f"{part.material}, {where(part.place)}"
    )


def where(place: Placement) -> str:
    """A placement in words, lengths in mm."""
    toward_lens = place.toward_lens if place.toward_lens is not None else -(place.toward_subject or 0.0)
    steps = [
        (place.right, "to the right", "to the left"),
        (place.up, "up", "down"),
        (toward_lens, "toward the lens", "toward the subject"),
    ]
    words = [f"{length(abs(value))} mm {forth if value > 0 else back}" for value, forth, back in steps if value]
    behind = place.anchor == "subject" and toward_lens < 0
    if behind:
        words[-1] = f"{length(-toward_lens)} mm behind the subject"
    turns = [
        (place.tilt, "looking down", "looking up"),
        (place.turn, "turned to the right", "turned to the left"),
        (place.roll, "rolled clockwise", "rolled anticlockwise"),
    ]
    turned = [f"{forth if value > 0 else back} by {abs(value):g} degrees" for value, forth, back in turns if value]
    if place.aim == "subject":
        turned.append("aimed at the subject")
    anchor = f"the {place.anchor}" if place.anchor in NAMED_ANCHORS else f'"{place.anchor}"'
    start = "" if place.hold == "reference" else f"its {place.hold} "
    at = f"{' and '.join(words)}{'' if behind else f' from {anchor}'}" if words else f"at {anchor}"
    return ", ".join([start + at, *turned])


def _materials(loaded: LoadedRig) -> list[Line]:
    used = dict.fromkeys(part.material for part in (*loaded.rig.diffuser, *loaded.rig.surroundings))
    if not used:
        return []
    lines = [Line("Materials, in shares of the light that falls on them", bold=True)]
    for name in used:
        own = loaded.rig.material.get(name)
        words = ", ".join(_number(number) for number in numbers(material(loaded, name))) or "black"
        layers = f" {' on '.join(own.layers)}, in contact:" if own and own.layers else ""
        whose = "this file" if own else "library"
        lines.extend(sentence(f"{name} ({whose}):{layers} {words}.{_source(own)}", indent="  "))
    if any(name not in loaded.rig.material for name in used):
        lines.extend(sentence("Where the numbers of the library come from: lightsim materials NAME.", indent="  "))
    return [*lines, Line("")]


def oddities(sheet: Sheet) -> list[str]:
    """What may be a mistake in a sheet with numbers, or surprise whoever wrote it: no error, as it can be meant."""
    if sheet.layers:
        return []
    used = {key for key in SHARES if max(both(getattr(sheet, key))) > 0}
    may_be = {key for key, origin in sheet.origins.items() if origin.high is not None and max(origin.high) > 0}
    found = [] if used else ["no share of the light is above 0, so it is black and lets nothing through"]
    for key, shares in _SHAPED.items():
        if key in sheet.model_fields_set and not (used | may_be) & set(shares):
            found.append(f"{key} changes nothing, as {' and '.join(shares)} {'is' if len(shares) == 1 else 'are'} 0")
    ends = [
        f"of {key}, {words}"
        for key, origin in sheet.origins.items()
        if key in SHARES and origin.high is not None and (words := _giving_way(sheet, key, origin.high))
    ]
    if ends:
        found.append(f"its shares would add up to more than all the light at the high end {'; and '.join(ends)}")
    return found


def _giving_way(sheet: Sheet, key: str, high: tuple[float, float]) -> str:
    """What the report makes of the high end of a range that would make more than all the light; empty if it fits."""
    at_end = moved(sheet, key, high)
    reached, back = both(getattr(at_end, key)), at_end.reflectance_by_side
    for side in (0, 1):
        if reached[side] <= high[side] - _LITTLE + _ROUNDING:
            return f"which goes no farther than {reached[side]:.3g}"
        if key != "diffuse_reflectance" and back[side] <= sheet.reflectance_by_side[side] - _LITTLE + _ROUNDING:
            return f"where diffuse_reflectance gives way, down to {back[side]:.3g}"
    return ""


def _number(number: Number) -> str:
    against = f" against {number.against}" if number.against else ""
    span = [f"{number.low:g} to {number.high:g}{against}"] if number.low < number.high else []
    words = ", ".join([*span, *([number.known] if number.known != NOT_STATED else [])])
    return f"{number.label} {number.value:g}{f' ({words})' if words else ''}"


def _source(own: Sheet | None) -> str:
    """What a file says about its own material as a whole; sources of single numbers are told elsewhere."""
    if own is None or own.layers or any(origin.source for origin in own.origins.values()):
        return f" Source: {own.source.rstrip('. ')}." if own and own.source else ""
    return f" Source: {own.source.rstrip('. ')}." if own.source else " Without a source."


def _limits(loaded: LoadedRig) -> list[Line]:
    limits = {name: value for name, value in loaded.rig.limits.model_dump().items() if value is not None}
    words = ", ".join(f"{name} {length(value)}" for name, value in limits.items())
    return [*sentence(f"Your limits: {words or 'none'}."), Line("")]


def sources(loaded: LoadedRig) -> list[Line]:
    """The source notes of a rig file under a heading; nothing if it has none."""
    if not loaded.sources:
        return []
    lines = [Line("Where your numbers come from", bold=True)]
    for key, source in loaded.sources.items():
        lines.extend(sentence(f"{key}: {source}", indent="  "))
    return lines


def _by(sizes: Sequence[float], decimals: int = 2) -> str:
    return " x ".join(f"{round(float(size), decimals):g}" for size in sizes)
