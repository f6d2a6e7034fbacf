"""Sheets in contact as one sheet: two layers of paper, film on card, cloth over foam.

Direct light and diffuse light are added apart. The beam loses a share to each layer and goes on (straight-through,
through pores, or in a forward lobe); what a layer scatters out of it is diffuse light, which goes to and fro between
the layers until it leaves or is absorbed: T = T1 T2 / (1 - R1 R2) and so on (docs/theory.md, Sheets). What is taken
for granted:
- A forward lobe is near enough to normal incidence to lose what the beam loses; one of 60 degrees is diffuse light.
- Two lobes in sequence make one whose sigma^2 in direction cosines is the sum; light that met different lobes has
  the mean of their sigma^2, weighted by its share. Exact for narrow lobes; derived here.
- Layers lie so close that light crosses between them where it stands. Pores of two cloths do not line up, so the open
  shares multiply; their depths add. A beam through a pore of one layer and straight through another is straight.
- Gloss and metal count as diffuse reflectance at the faces inside, with their shares at normal incidence; on the outer
  faces they stay. A stack has one roughness: that of the outer face that reflects more in this way.
- A beam on the front and one on the back of unlike layers do not pass quite alike, and a Sheet has one transmittance:
  the mean, with both within its range. Reflectance makes up for it, so that no light is made or lost.

Sources: Stokes, Proc. R. Soc. 11, 545 (1862); Kubelka, JOSA 44, 330 (1954; unlike sides), both from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache, reduce
from typing import Any

import numpy as np

from lightsim.sheet.body import together
from lightsim.sheet.ends import ends_of
from lightsim.sheet.given import within_energy
from lightsim.sheet.haze import half_value_angle_of, variance_of
from lightsim.sheet.sheet import Origin, Sheet, both
from lightsim.sheet.tables import beside_pores, regular

Sides = tuple[float, float]  # front, back
_Pairs = Sequence[tuple[dict[str, Any], dict[str, Any]]]  # a stack's numbers, two ways
_MOST_LAYERS = 20
_DEEPEST = 20.0  # pore_depth of a Sheet
_ROUNDING = 1e-12


@dataclass(frozen=True)
class _Layers:
    """One layer or several, for a beam at normal incidence on either side (front, back) and for Lambertian light."""

    beam: float  # passes straight, through pores or in a forward lobe
    scattered: Sides  # passes as diffuse light, of a beam
    returned: Sides  # comes back as diffuse light, of a beam
    through: float  # passes, of Lambertian light
    back: Sides  # comes back, of Lambertian light


def stack(sheets: Sequence[Sheet]) -> Sheet:
    """Sheets in contact, front first, as one Sheet, with the range that follows from theirs.

    Equal sheets are layers of one material and share its error: each number of each distinct material goes to its low
    and its high end through the whole stack while all others stay (as far as the layer keeps within its light), and
    what that does to a number of the stack is combined in quadrature, upwards and downwards apart. Thickness and
    grammage are sums, where every sheet states them.
    Raises ValueError for no sheets, more than 20, or a sheet that is a stack of names itself.
    """
    if not 1 <= len(sheets) <= _MOST_LAYERS:
        raise ValueError(
            f"{len(sheets)} sheets in contact. Allowed: 1 to {_MOST_LAYERS}. "
            "Try one material measured as the whole pile"
        )
    if any(sheet.layers for sheet in sheets):
        raise ValueError(
            "a sheet with layers = ... cannot be a layer: it names materials and has no numbers. "
            "Allowed: sheets with numbers of their own. Try naming its layers one by one"
        )
    if len(sheets) == 1:
        return sheets[0]
    value = _stacked(sheets)
    variants = [*_varied(sheets), (value.front, value.rear)]
    numbers = {key: each for key, each in value.numbers.items() if each is not None}
    # A forward lobe that only the range knows has its width from there.
    for pair in variants:
        for each in pair:
            if each.get("half_value_angle") is not None:
                numbers.setdefault("half_value_angle", each["half_value_angle"])
    source = f"{len(sheets)} sheets in contact, by the adding formula"
    origins = {}
    for key, middle in [*numbers.items()]:
        low, high = _ends(key, middle, variants)
        if max(high) == 0:
            del numbers[key]  # nothing of the kind
            continue
        spread = {"low": low, "high": high} if low != high else {}
        origins[key] = Origin(**spread, known="derived", source=source)
    about = f"{len(sheets)} sheets in contact"
    return Sheet(**numbers, **together(sheets), origins=origins, about=about, source=source)


@dataclass(frozen=True)
class _Stacked:
    """The numbers of a stack, and those of what a beam on the front and one on the back meet."""

    numbers: dict[str, Any]
    front: dict[str, Any]
    rear: dict[str, Any]


def _stacked(sheets: Sequence[Sheet]) -> _Stacked:
    """The numbers of sheets in contact."""
    last = len(sheets) - 1
    whole = reduce(_added, [_layer(sheet, outer=(i == 0, i == last)) for i, sheet in enumerate(sheets)])
    first, final = sheets[0], sheets[-1]
    pores = math.prod(sheet.pores for sheet in sheets)
    direct = math.prod(sheet.straight + sheet.pores for sheet in sheets)
    # Rounding alone takes these differences below zero.
    forward = max(whole.beam - direct, 0.0)
    found: dict[str, Any] = {
        "straight": max(direct - pores, 0.0),
        "pores": pores,
        "pore_depth": min(sum(sheet.pore_depth for sheet in sheets), _DEEPEST) if pores > 0 else None,
        "forward_transmittance": forward,
        "half_value_angle": half_value_angle_of(variance=_variance(sheets, forward)) if forward > 0 else None,
    }
    for key in ("glossy_reflectance", "metallic_reflectance"):
        found[key] = (both(getattr(first, key))[0], both(getattr(final, key))[1])
    shiny = [first.gloss_by_side[0] + first.metal_by_side[0], final.gloss_by_side[1] + final.metal_by_side[1]]
    if max(shiny) > 0:
        found["roughness"] = first.roughness if shiny[0] >= shiny[1] else final.roughness
    kept = [passed + sent for passed, sent in zip(whole.scattered, whole.returned, strict=True)]
    through = min(sum(whole.scattered) / 2, *kept)
    back = (kept[0] - through, kept[1] - through)
    found |= {"diffuse_transmittance": through, "diffuse_reflectance": back}
    one_way, other_way = (
        {"diffuse_transmittance": whole.scattered[side], "diffuse_reflectance": whole.returned} for side in (0, 1)
    )
    return _Stacked(dict(within_energy(found)), one_way, other_way)


def _layer(sheet: Sheet, *, outer: tuple[bool, bool]) -> _Layers:
    """One sheet as a layer; outer: whether its (front, back) is a face of the stack, where its shine is apart."""
    lobe = sheet.forward_transmittance
    lambertian = lobe > 0 and variance_of(_angle(sheet)) == math.inf
    diffuse = sheet.diffuse_transmittance + (lobe if lambertian else 0.0)
    shine = [gloss + metal for gloss, metal in zip(sheet.gloss_by_side, sheet.metal_by_side, strict=True)]
    sent = [each + more for each, more in zip(sheet.reflectance_by_side, shine, strict=True)]
    straight = sheet.straight + sheet.pores
    passed = _lambertian_straight(sheet.straight, sheet.pores, sheet.pore_depth)
    # What straight light loses at an angle goes to the other shares in proportion, as in a Sheet.
    more = (1 - passed) / (1 - straight) if straight < 1 - 1e-12 else 1.0
    return _Layers(
        beam=straight + (0.0 if lambertian else lobe),
        scattered=(diffuse, diffuse),
        returned=(
            sheet.reflectance_by_side[0] if outer[0] else sent[0],
            sheet.reflectance_by_side[1] if outer[1] else sent[1],
        ),
        through=passed + more * (sheet.diffuse_transmittance + lobe),
        back=(more * sent[0], more * sent[1]),
    )


def _added(first: _Layers, second: _Layers) -> _Layers:
    """Two layers in contact, first in front."""
    bounces = 1 - first.back[1] * second.back[0]
    # Two perfect mirrors face to face: nothing gets between them.
    again = 1 / bounces if bounces > 1e-15 else 1.0
    # Diffuse light between them that goes backward (down) and forward (up), of a beam on the front and on the back.
    down = (first.scattered[0] + first.beam * second.returned[0] * first.back[1]) * again
    up = first.beam * second.returned[0] + down * second.back[0]
    up_behind = (second.scattered[1] + second.beam * first.returned[1] * second.back[0]) * again
    down_behind = second.beam * first.returned[1] + up_behind * first.back[1]
    return _Layers(
        beam=first.beam * second.beam,
        scattered=(
            first.beam * second.scattered[0] + down * second.through,
            second.beam * first.scattered[1] + up_behind * first.through,
        ),
        returned=(
            first.returned[0] + up * first.through,
            second.returned[1] + down_behind * second.through,
        ),
        through=first.through * second.through * again,
        back=(
            first.back[0] + first.through**2 * second.back[0] * again,
            second.back[1] + second.through**2 * first.back[1] * again,
        ),
    )


@lru_cache(maxsize=256)
def _lambertian_straight(straight: float, pores: float, depth: float) -> float:
    """Share of Lambertian light that passes straight or through pores."""
    if straight + pores == 0:
        return 0.0
    node, weight = np.polynomial.legendre.leggauss(64)
    root = (node + 1) / 2  # cos = root^2 tames the kink of exp(-tau / cos) at grazing
    cosine = root * root
    between = min(straight / max(1 - pores, 1e-12), 1.0)
    passed = beside_pores(regular(np.array(between), cosine), np.array(pores), np.array(depth), cosine)
    return float((passed * 2 * root**3 * weight).sum())


def _variance(sheets: Sequence[Sheet], forward: float) -> float:
    """Mean sigma^2 of the light that met a forward lobe, by its share (forward in all)."""
    lobes = [
        0.0
        if sheet.forward_transmittance == 0 or variance_of(_angle(sheet)) == math.inf
        else sheet.forward_transmittance
        for sheet in sheets
    ]
    passed = [sheet.straight + sheet.pores + lobe for sheet, lobe in zip(sheets, lobes, strict=True)]
    total = 0.0
    for i, lobe in enumerate(lobes):
        if lobe > 0:
            others = math.prod(passed[:i]) * math.prod(passed[i + 1 :])
            total += variance_of(_angle(sheets[i])) * lobe * others
    return total / forward


def _angle(sheet: Sheet) -> float:
    return 60.0 if sheet.half_value_angle is None else sheet.half_value_angle


def _varied(sheets: Sequence[Sheet]) -> Iterator[tuple[dict[str, Any], dict[str, Any]]]:
    """The stack's numbers with one number of one material low and high, for each that has a range."""
    materials: list[Sheet] = []
    for sheet in sheets:
        if sheet not in materials:
            materials.append(sheet)
    for material in materials:
        for ends in ends_of(material):
            low, high = (
                _stacked([end if each == material else each for each in sheets]).numbers
                for end in (ends.low, ends.high)
            )
            yield low, high


def _ends(key: str, middle: float | Sides, variants: _Pairs) -> tuple[Sides, Sides]:
    """Low and high of a number by side: the greatest step of each pair of variants, in quadrature."""
    least, most = _BOUNDS.get(key, (0.0, 1.0))
    ends = []
    for side, value in enumerate(both(middle)):
        steps = []
        for pair in variants:
            given = [middle if each.get(key) is None else each[key] for each in pair]
            steps.append([both(each)[side] - value for each in given])
        # Steps of rounding are none.
        up = math.sqrt(sum(max(*step, 0.0) ** 2 for step in steps if max(step) > _ROUNDING))
        down = math.sqrt(sum(min(*step, 0.0) ** 2 for step in steps if min(step) < -_ROUNDING))
        ends.append((min(max(value - down, least), value), max(min(value + up, most), value)))
    (low_front, high_front), (low_rear, high_rear) = ends
    return (low_front, low_rear), (high_front, high_rear)


_BOUNDS = {
    "pore_depth": (0.0, _DEEPEST),
    "half_value_angle": (0.0, 60.0),
    "glossy_reflectance": (0.0, 0.3),
    "roughness": (0.05, 0.5),
}
