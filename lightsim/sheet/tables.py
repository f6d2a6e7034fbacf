"""The materials of a scene as arrays, and how their shares turn with the angle.

float32, which is what the ray caster counts in and twice as fast.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from lightsim.sheet.fresnel import extinction_of_metal, fresnel, index_of_coat, metal_fresnel
from lightsim.sheet.lobes import Column, cosine_at, facet_albedo, kept, narrowness, outside, peak
from lightsim.sheet.sheet import Sheet
from lightsim.sheet.vectors import Floats

NODES = 193  # of every table: fine where shares turn fast, near grazing and, for pores, near the normal
STRAIGHT_BELOW = 2.0  # degrees; forward lobes narrower than that count as straight-through light
SHARP_LOBE = 8.0  # degrees; forward lobes narrower than that, and
SHARP_FACETS = 0.18  # reflecting lobes smoother than that are followed back from the point
Sides = tuple[float, float]


@dataclass(frozen=True)
class Tables:
    """How shares turn with the angle of incidence: rows of NODES values, of m parts or 2 m sides (2 p + side)."""

    seen: Floats  # (2 m, NODES) chance of neither passing straight nor glancing off, 1 at normal incidence
    seen_through: Floats  # (m, NODES) the same for what leaves the other side: the lesser of both sides
    coat: Floats  # (m, NODES) what coats let in, 1 at normal incidence
    facet: Floats  # (2 m, NODES) Fresnel reflectance of a facet
    glossy: Floats  # (2 m, NODES) share that facets reflect once
    rest: Floats  # (2 m, NODES) share that metal reflects by more than one facet, sent back evenly
    ends: Floats  # (m, NODES) factors of the forward lobe at both ends
    stray: Floats  # (m, NODES) share of the forward light that its lobe cannot hold, sent on evenly
    evenly: Floats  # (m, NODES) share of the forward light whose directions are drawn evenly
    mean_seen: Floats  # (2 m,) averaged over Lambertian light
    mean_seen_through: Floats  # (m,)
    mean_rest: Floats  # (2 m,)
    mean_stray: Floats  # (m,)


@dataclass(frozen=True)
class Sheets:
    """The materials of m parts as arrays; where there are two sides, entry 2 p is part p's front, 2 p + 1 its back."""

    straight: Floats  # (m,) regular transmittance at normal incidence between the pores
    pores: Floats  # (m,)
    pore_depth: Floats  # (m,)
    direct: Floats  # (m,) forward lobes too narrow to tell from straight-through light
    forward: Floats  # (m,) forward lobes
    narrow: Floats  # (m,) their q = 1 / (2 sigma^2)
    through: Floats  # (m,) diffuse transmittance
    back: Floats  # (2 m,) diffuse reflectance
    gloss: Floats  # (2 m,) 1 where facets of a coat or metal reflect, else 0
    rest: Floats  # (2 m,) 1 where metal reflects by more than one facet, else 0
    roughness: Floats  # (m,) GGX alpha
    clear: NDArray[np.bool_]  # (m,) passes some light straight through
    shaped: NDArray[np.bool_]  # (m,) scatters by where light comes from
    tables: Tables | None  # None where all sheets are opaque and Lambertian

    def __post_init__(self) -> None:
        _freeze(self)
        if self.tables is not None:
            _freeze(self.tables)


def sheets_of(sheets: Sequence[Sheet]) -> Sheets:
    """Sheets as arrays, in the given order. Raises ValueError for a stack that nobody resolved."""
    rows = [_row(_numbers(sheet)) for sheet in sheets]

    def parts(name: str) -> Floats:
        return np.array([getattr(row, name) for row in rows], np.float32)

    def sides(name: str) -> Floats:
        return np.array([side for row in rows for side in getattr(row, name)], np.float32)

    by_part = {name: parts(name) for name in ("straight", "pores", "pore_depth", "direct", "forward", "narrow")}
    by_part |= {name: parts(name) for name in ("through", "roughness")}
    by_side = {name: sides(name) for name in ("back", "gloss", "rest")}
    return Sheets(
        **by_part,
        **by_side,
        clear=by_part["straight"] + by_part["pores"] + by_part["direct"] > 0,
        shaped=(by_side["gloss"].reshape(-1, 2).max(axis=1) > 0) | (by_part["forward"] > 0),
        tables=None if all(row.plain for row in rows) else _tables([row.curves for row in rows]),
    )


def sharp(sheets: Sheets) -> Sheets:
    """Only the lobes that connections would meet too seldom; straight-through light stays."""
    lobe, facets = _sharp_lobes(sheets)
    return replace(
        sheets,
        forward=np.where(lobe, sheets.forward, np.float32(0)),
        gloss=np.where(facets, sheets.gloss, np.float32(0)),
        through=np.zeros_like(sheets.through),
        back=np.zeros_like(sheets.back),
        rest=np.zeros_like(sheets.rest),
    )


def blunt(sheets: Sheets) -> Sheets:
    """All but the sharp lobes."""
    lobe, facets = _sharp_lobes(sheets)
    return replace(
        sheets,
        forward=np.where(lobe, np.float32(0), sheets.forward),
        gloss=np.where(facets, np.float32(0), sheets.gloss),
    )


def sharp_parts(sheets: Sheets) -> NDArray[np.bool_]:
    """Which parts have a sharp lobe, (m,)."""
    lobe, facets = _sharp_lobes(sheets)
    return np.asarray(lobe | facets.reshape(-1, 2).any(axis=1))


def _sharp_lobes(sheets: Sheets) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Parts with a sharp forward lobe (m,), sides with sharp facets (2 m,)."""
    lobe = (sheets.forward > 0) & (sheets.narrow > narrowness(SHARP_LOBE))
    smooth = np.repeat(sheets.roughness < SHARP_FACETS, 2)
    return lobe, (sheets.gloss > 0) & smooth


@dataclass(frozen=True)
class _Numbers:
    """The numbers of a sheet, by side where there are two."""

    straight: float
    pores: float
    pore_depth: float
    forward: float
    half_value_angle: float
    through: float
    back: Sides
    gloss: Sides
    metal: Sides
    roughness: float


@dataclass(frozen=True)
class _Curves:
    """One part's rows of Tables; two rows where there are two sides."""

    seen: Column
    seen_through: Column
    coat: Column
    facet: Column
    glossy: Column
    rest: Column
    ends: Column
    stray: Column
    evenly: Column


@dataclass(frozen=True)
class _Row:
    """One part's entries of Sheets."""

    straight: float
    pores: float
    pore_depth: float
    direct: float
    forward: float
    narrow: float
    through: float
    back: Sides
    gloss: Sides
    rest: Sides
    roughness: float
    plain: bool
    curves: _Curves


def _numbers(sheet: Sheet) -> _Numbers:
    if sheet.layers:
        raise ValueError("a sheet of layers has no numbers of its own before lightsim.sheet.stack has added them up")
    angle = 60.0 if sheet.half_value_angle is None else sheet.half_value_angle
    # At 0 degrees a forward lobe is straight-through light, at 60 Lambertian, pure and simple.
    forward = sheet.forward_transmittance
    straight = sheet.straight + (forward if angle == 0 else 0)
    through = sheet.diffuse_transmittance + (forward if angle == 60 else 0)
    return _Numbers(
        min(straight, 1.0),
        sheet.pores,
        sheet.pore_depth,
        forward if 0 < angle < 60 else 0.0,
        angle,
        min(through, 1.0),
        sheet.reflectance_by_side,
        sheet.gloss_by_side,
        sheet.metal_by_side,
        sheet.roughness,
    )


@lru_cache(maxsize=256)
def _row(of: _Numbers) -> _Row:
    direct = of.forward if of.half_value_angle < STRAIGHT_BELOW else 0.0
    forward = of.forward - direct
    narrow = narrowness(of.half_value_angle) if forward else 0.0
    return _Row(
        straight=_between_pores(of),
        pores=of.pores,
        pore_depth=of.pore_depth,
        direct=direct,
        forward=forward,
        narrow=narrow,
        through=of.through,
        back=of.back,
        gloss=(float(of.gloss[0] + of.metal[0] > 0), float(of.gloss[1] + of.metal[1] > 0)),
        rest=(float(of.metal[0] > 0), float(of.metal[1] > 0)),
        roughness=of.roughness,
        plain=of.straight + of.pores + of.forward + sum(of.gloss) + sum(of.metal) == 0,
        curves=_curves(of, forward, narrow),
    )


def _curves(of: _Numbers, forward: float, narrow: float) -> _Curves:
    cosine = cosine_at(np.linspace(0, 1, NODES))
    facet, glossy, rest = (np.zeros((2, NODES)) for _ in range(3))
    for side in (0, 1):
        metal, gloss = of.metal[side], of.gloss[side]
        if side and (metal, gloss) == (of.metal[0], of.gloss[0]):
            facet[1], glossy[1], rest[1] = facet[0], glossy[0], rest[0]
            continue
        if metal:
            facet[side] = metal_fresnel(refractive_index=1, extinction=extinction_of_metal(metal), cosine=cosine)
        elif gloss:
            facet[side] = fresnel(refractive_index=index_of_coat(gloss), cosine=cosine)
        if metal or gloss:
            glossy[side] = facet_albedo(roughness=of.roughness, reflectance=facet[side])
        if metal:
            # All in all metal reflects what Fresnel's equations say of its plane; one facet alone loses some.
            rest[side] = np.maximum(facet[side] - glossy[side], 0)
    sent_back = glossy + rest
    let_in = np.ones((2, NODES))
    for side in (0, 1):
        if of.gloss[side]:
            let_in[side] = (1 - sent_back[side]) / (1 - sent_back[side, -1])
    coat = let_in.min(axis=0)
    straight = coat * beside_pores(
        regular(np.array(_between_pores(of)), cosine), np.array(of.pores), np.array(of.pore_depth), cosine
    )
    remains = 1 - straight - sent_back
    whole = remains[:, -1:]
    seen = np.where(whole > 1e-9, remains / np.maximum(whole, 1e-9), 1.0)
    through = seen.min(axis=0)
    stray = np.zeros(NODES)
    evenly, ends = np.zeros(NODES), np.zeros(NODES)
    if forward:
        # A wide lobe stands on an even floor of this share.
        floor = np.pi * float(peak(np.array(narrow))) * np.exp(-narrow)
        # Both ends of the lobe are seen, half each where it is narrow (both are one angle then) and whole where it is
        # even, as far as no angle passes on more than its due; the rest goes on evenly.
        ends = np.where(through < 1, through, np.maximum(through, 0) ** (0.5 + 0.5 * floor))
        stays = kept(narrow=narrow, let_out=ends)
        ends = ends * np.sqrt(min(float((through / np.maximum(ends * stays, 1e-12)).min()), 1.0))
        stray = np.maximum(through - ends * kept(narrow=narrow, let_out=ends), 0)
        evenly = np.maximum(outside(narrow=narrow, count=NODES), stray / np.maximum(through, 1e-9)).clip(floor, 1)
    return _Curves(
        seen=seen,
        seen_through=through,
        coat=coat,
        facet=facet,
        glossy=glossy,
        rest=rest,
        ends=ends,
        stray=stray,
        evenly=evenly,
    )


def regular(straight: Floats, cosine: Floats) -> Floats:
    """Regular transmittance at an angle, T^(1/cos): exp(-tau / cos) with tau = -ln T (Bouguer's law). All (n,)."""
    return np.asarray(np.power(straight, 1.0 / np.maximum(np.abs(cosine), 1e-6)))


def beside_pores(straight: Floats, pores: Floats, depth: Floats, cosine: Floats) -> Floats:
    """Regular transmittance of cloth whose stuff passes straight (at this angle) and whose pores stay open, (n,)."""
    return np.asarray(pores * open_pores(depth, cosine) + (1 - pores) * straight)


def _between_pores(of: _Numbers) -> float:
    """Regular transmittance at normal incidence of what is no pore."""
    return min(of.straight / max(1 - of.pores, 1e-9), 1.0)


def open_pores(depth: Floats, cosine: Floats) -> Floats:
    """What of a round hole, depth times as deep as wide, stays open at an angle, (n,): where the two rims overlap.

    Derived here: two circles of diameter 1, depth tan(angle) apart.
    """
    c2 = np.maximum(cosine * cosine, 1e-12)
    apart = np.minimum(depth * np.sqrt(np.maximum(1 - c2, 0) / c2), 1.0)
    return np.asarray((2 / np.pi) * (np.arccos(apart) - apart * np.sqrt(np.maximum(1 - apart * apart, 0))))


def _tables(curves: Sequence[_Curves]) -> Tables:
    def parts(name: str) -> Column:
        return np.array([getattr(each, name) for each in curves])

    def sides(name: str) -> Column:
        return np.concatenate([getattr(each, name) for each in curves])

    found = {name: sides(name) for name in ("seen", "facet", "glossy", "rest")}
    found |= {name: parts(name) for name in ("seen_through", "coat", "ends", "stray", "evenly")}
    means = {f"mean_{name}": np.maximum(_mean(found[name]), 1e-9) for name in ("seen", "seen_through", "rest", "stray")}
    return Tables(**{name: table.astype(np.float32) for name, table in (found | means).items()})


def _mean(rows: Column) -> Column:
    """Rows (k, NODES) averaged over Lambertian light, as they are read: straight lines between nodes, (k,)."""
    node, weight = (np.array(each) for each in ((0.11270166537926, 0.5, 0.88729833462074), (5 / 18, 8 / 18, 5 / 18)))
    step = (np.arange(NODES - 1)[:, None] + node[None, :]) / (NODES - 1)
    root = 1 - (1 - step) ** 2  # cos = root^2, so 2 cos dcos = 4 root^3 droot
    value = rows[:, :-1, None] + (rows[:, 1:, None] - rows[:, :-1, None]) * node
    return np.asarray((value * (8 * root**3 * (1 - step) * weight / (NODES - 1))).sum(axis=(1, 2)))


def _freeze(of: Sheets | Tables) -> None:
    for field in fields(of):
        value = getattr(of, field.name)
        if isinstance(value, np.ndarray):
            value.flags.writeable = False
