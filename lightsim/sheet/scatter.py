"""The scattering function of thin sheets: one set of formulae, evaluated, sampled and integrated.

Diffuse lobes are Lambertian times the chance s(cos) that light interacts at all, at both ends:
f = X s(in) s(out) / (pi s_mean), which keeps energy and reciprocity (docs/theory.md, Sheets). What a coat reflects and
what passes straight through is lost to the other lobes by the same s. Vectors are given by component, each (n,).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.sheet.lobes import facets, offset_of_lobe, peak, reflect_off_facets, shadowing, step_of
from lightsim.sheet.tables import NODES, Sheets, Tables, beside_pores, regular
from lightsim.sheet.vectors import Floats, Vector, dot, lambertian, scaled, taken, tangents

_ONE = np.float32(1)
Ints = NDArray[np.integer[Any]]
Place = tuple[Ints, Floats]  # in a table: node below, and how far beyond it


@dataclass(frozen=True)
class Shares:
    """What becomes of light that lands on n sheets, (n,) each; None where no sheet has such a lobe."""

    total: Floats  # of all lobes
    straight: Floats | None
    glossy: Floats | None
    back: Floats
    forward: Floats | None
    through: Floats

    @property
    def scattered(self) -> Floats:
        """All but what passes straight."""
        return self.total if self.straight is None else self.total - self.straight


def chosen_shares(share: Shares, chosen: Ints) -> Shares:
    """The shares of the chosen ones of n landings."""

    def those(column: Floats | None) -> Floats | None:
        return None if column is None else column[chosen]

    return Shares(
        share.total[chosen],
        those(share.straight),
        those(share.glossy),
        share.back[chosen],
        those(share.forward),
        share.through[chosen],
    )


def straight_through(sheets: Sheets, part: Ints, cosine: Floats) -> Floats:
    """Regular transmittance of the numbered parts at these cosines of incidence, (n,)."""
    value = regular(sheets.straight.take(part), cosine)
    if sheets.pores.any():
        value = beside_pores(value, sheets.pores.take(part), sheets.pore_depth.take(part), cosine)
    if sheets.tables is not None and (sheets.gloss.any() or sheets.direct.any()):
        place = _place(cosine)
        value = value * _read(sheets.tables.coat, part, place)
        value = value + sheets.direct.take(part) * _read(sheets.tables.seen_through, part, place)
    return np.asarray(value)


def interaction(sheets: Sheets, side: Ints, cosine: Floats) -> Floats:
    """Chance s of neither passing straight nor glancing off, relative to normal incidence, (n,); side: 2 p + side."""
    if sheets.tables is None:
        return np.ones_like(cosine)
    return _read(sheets.tables.seen, side, _place(cosine))


def mean_interaction(sheets: Sheets, side: Ints) -> Floats:
    """interaction averaged over Lambertian light, (n,)."""
    return np.ones(len(side), np.float32) if sheets.tables is None else sheets.tables.mean_seen.take(side)


def shares(sheets: Sheets, part: Ints, front: NDArray[np.bool_], cosine: Floats) -> Shares:
    """Shares of light that lands on the numbered parts' front or back at these cosines of incidence, (n,)."""
    side = part * 2 + ~front
    back, through = sheets.back.take(side), sheets.through.take(part)
    tables = sheets.tables
    if tables is None:
        return Shares(back + through, None, None, back, None, through)
    place = _place(cosine)
    through = through * _read(tables.seen_through, part, place)
    back = back * _read(tables.seen, side, place)
    total, straight, glossy, forward = back + through, None, None, None
    if sheets.clear.any():
        straight = straight_through(sheets, part, cosine)
        total = total + straight
    if sheets.gloss.any():
        glossy = sheets.gloss.take(side) * _read(tables.glossy, side, place)
        rest = sheets.rest.take(side) * _read(tables.rest, side, place)
        back = back + rest
        total = total + glossy + rest
    if sheets.forward.any():
        forward = sheets.forward.take(part) * _read(tables.seen_through, part, place)
        total = total + forward
    return Shares(total, straight, glossy, back, forward, through)


def evaluate(
    sheets: Sheets, part: Ints, front: NDArray[np.bool_], normal: Vector, towards: Vector, out: Vector
) -> Floats:
    """Scattering function times the cosine at which light leaves [1/sr], (n,), without straight-through light.

    normal: of the front; front: where the light landed; towards: unit, back to where it came from; out: unit, where
    it leaves.
    """
    tables = sheets.tables
    cos_in, cos_out = dot(normal, towards), dot(normal, out)
    same = (cos_out > 0) == front
    side = part * 2 + ~front
    lambert = np.abs(cos_out) * np.float32(1 / np.pi)
    if tables is None:
        return np.asarray(np.where(same, sheets.back.take(side), sheets.through.take(part)) * lambert)
    start, end = _place(cos_in), _place(cos_out)
    value = np.empty(len(part), np.result_type(cos_out, np.float32))
    here = np.flatnonzero(same)
    if len(here):
        at, a, b = side[here], _at(start, here), _at(end, here)
        lobe = sheets.back.take(at) * _pair(tables.seen, tables.mean_seen, at, a, b)
        if sheets.rest.any():
            lobe = lobe + sheets.rest.take(at) * _pair(tables.rest, tables.mean_rest, at, a, b)
        lobe = lobe * lambert[here]
        shiny = np.flatnonzero(sheets.gloss.take(at))
        if len(shiny):
            chosen, at = here[shiny], at[shiny]
            lit = np.where(front[chosen], _ONE, -_ONE)
            reflected, cosine = facets(
                sheets.roughness.take(part[chosen]),
                scaled(lit, taken(normal, chosen)),
                taken(towards, chosen),
                taken(out, chosen),
            )
            lobe[shiny] += reflected * _read(tables.facet, at, _place(cosine))
        value[here] = lobe
    there = np.flatnonzero(~same)
    if len(there):
        at, a, b = part[there], _at(start, there), _at(end, there)
        lobe = sheets.through.take(at) * _pair(tables.seen_through, tables.mean_seen_through, at, a, b)
        lobe = lobe * lambert[there]
        ahead = np.flatnonzero(sheets.forward.take(at))
        if len(ahead):
            chosen, at = there[ahead], at[ahead]
            # Both directions as light travels: towards points back, so the difference of cosines is a sum.
            apart = _square_apart(taken(normal, chosen), taken(towards, chosen), taken(out, chosen))
            q = sheets.narrow.take(at)
            lobe[ahead] += (
                sheets.forward.take(at)
                * _ahead(tables, at, peak(q) * np.exp(-q * apart), _at(start, chosen), _at(end, chosen))
                * np.abs(cos_out[chosen])
            )
        value[there] = lobe
    return value


def sample(
    sheets: Sheets,
    part: Ints,
    front: NDArray[np.bool_],
    normal: Vector,
    towards: Vector,
    share: Shares,
    choice: Floats,
    u: Floats,
    v: Floats,
) -> tuple[Vector, Floats, Floats, NDArray[np.bool_]]:
    """Direction in which light leaves, one lobe chosen in proportion to its share.

    choice: in [0, share.total), straight-through light below share.straight; u and v in [0, 1); all (n,).
    Returns the direction, the side of the sheet on which it leaves (1: the front, -1: the back), the factor of its
    weight (1 on average) and whether a lobe by where it came from was chosen: facets or the forward lobe.
    """
    lit = np.where(front, _ONE, -_ONE)
    if sheets.tables is None:
        side = np.where(choice < share.back, lit, -lit)
        return lambertian(scaled(side, normal), u, v), side, np.ones_like(choice), np.zeros(len(choice), bool)
    edge = np.zeros_like(choice) if share.straight is None else share.straight
    onward = glossy = choice < edge
    if share.glossy is not None:
        edge = edge + share.glossy
        glossy = choice < edge
    edge = edge + share.back
    side = np.where((choice < edge) & ~onward, lit, -lit)
    out = lambertian(scaled(side, normal), u, v)
    weight = np.ones_like(choice)
    shaped = glossy & ~onward
    _weigh(sheets, part, front, normal, towards, share, out, side == lit, weight)
    if share.glossy is not None:
        shiny = np.flatnonzero(shaped)
        if len(shiny):
            at = (part * 2 + ~front)[shiny]
            turned, passed, cosine = reflect_off_facets(
                sheets.roughness.take(part[shiny]),
                scaled(lit[shiny], taken(normal, shiny)),
                taken(towards, shiny),
                u[shiny],
                v[shiny],
            )
            _put(out, shiny, turned)
            reflected = passed * _read(sheets.tables.facet, at, _place(cosine))
            weight[shiny] = reflected / np.maximum(share.glossy[shiny], np.float32(1e-9))
    if share.forward is not None:
        into = (choice >= edge) & (choice < edge + share.forward)
        shaped = shaped | into
        ahead = np.flatnonzero(into)
        if len(ahead):
            turned, factor = _forward(
                sheets, part[ahead], lit[ahead], taken(normal, ahead), taken(towards, ahead), u[ahead], v[ahead]
            )
            _put(out, ahead, turned)
            weight[ahead] = factor
    if share.straight is not None:
        weight[onward] = 1
        for axis, back in zip(out, towards, strict=True):
            axis[onward] = -back[onward]
    return out, side, weight, shaped


def density(
    sheets: Sheets, part: Ints, front: NDArray[np.bool_], normal: Vector, towards: Vector, out: Vector
) -> Floats:
    """Density [1/sr] of the directions that sample draws of scattered light, at out, (n,); arguments as in evaluate."""
    cos_in, cos_out = dot(normal, towards), np.abs(dot(normal, out))
    same = (dot(normal, out) > 0) == front
    share = shares(sheets, part, front, cos_in)
    even = cos_out * np.float32(1 / np.pi)
    found = np.where(same, share.back, share.through) * even
    tables = sheets.tables
    if tables is not None and share.glossy is not None:
        shiny = np.flatnonzero(same & (share.glossy > 0))
        lit = np.where(front[shiny], _ONE, -_ONE)
        alpha = sheets.roughness.take(part[shiny])
        reflected, _ = facets(alpha, scaled(lit, taken(normal, shiny)), taken(towards, shiny), taken(out, shiny))
        # Visible facets: the shadowing of what leaves is a weight, not in the density.
        found[shiny] += share.glossy[shiny] * reflected / shadowing(alpha, cos_out[shiny])
    if tables is not None and share.forward is not None:
        ahead = np.flatnonzero(~same & (share.forward > 0))
        at = part[ahead]
        q, evenly = sheets.narrow.take(at), _read(tables.evenly, at, _place(cos_in[ahead]))
        apart = _square_apart(taken(normal, ahead), taken(towards, ahead), taken(out, ahead))
        lobe = np.where(apart < 1, peak(q) * np.exp(-q * apart), 0) * cos_out[ahead]
        found[ahead] += share.forward[ahead] * ((1 - evenly) * lobe + evenly * even[ahead])
    return np.asarray(found / np.maximum(share.scattered, np.float32(1e-12)))


def _weigh(
    sheets: Sheets,
    part: Ints,
    front: NDArray[np.bool_],
    normal: Vector,
    towards: Vector,
    share: Shares,
    out: Vector,
    same: NDArray[np.bool_],
    weight: Floats,
) -> None:
    """What the even lobes weigh at the angle at which they leave, put into weight."""
    tables = sheets.tables
    assert tables is not None
    side, end = part * 2 + ~front, _place(dot(normal, out))
    weight[:] = _read(tables.seen_through, part, end) / tables.mean_seen_through.take(part)
    if not sheets.gloss.any():
        # One s for both sides, so the other side's weight serves this one too.
        return
    here = np.flatnonzero(same)
    at, end = side[here], _at(end, here)
    start = _place(dot(taken(normal, here), taken(towards, here)))
    back = sheets.back.take(at) * _pair(tables.seen, tables.mean_seen, at, start, end)
    back = back + sheets.rest.take(at) * _pair(tables.rest, tables.mean_rest, at, start, end)
    weight[here] = back / np.maximum(share.back[here], np.float32(1e-9))


def _forward(
    sheets: Sheets, part: Ints, lit: Floats, normal: Vector, towards: Vector, u: Floats, v: Floats
) -> tuple[Vector, Floats]:
    """Directions sampled from the forward lobe, and their weights."""
    tables = sheets.tables
    assert tables is not None
    q = sheets.narrow.take(part)
    cos_in = dot(normal, towards)
    start = _place(cos_in)
    # Steps off the hemisphere are lost; in proportion to their share, directions are drawn evenly instead.
    evenly = _read(tables.evenly, part, start)
    even = u < evenly
    u = np.where(
        even, u / np.maximum(evenly, np.float32(1e-9)), (u - evenly) / np.maximum(1 - evenly, np.float32(1e-9))
    )
    right, up = tangents(normal)
    x, y = -dot(right, towards), -dot(up, towards)
    across, upward = offset_of_lobe(q, u, v)
    radius = np.sqrt(u)
    turn = np.float32(2 * np.pi) * v
    bx = np.where(even, radius * np.cos(turn), x + across)
    by = np.where(even, radius * np.sin(turn), y + upward)
    square = bx * bx + by * by
    inside = square < 1
    height = np.sqrt(np.maximum(1 - square, np.float32(1e-12)))
    out = tuple(bx * r + by * w - lit * height * n for r, w, n in zip(right, up, normal, strict=True))
    apart = (bx - x) ** 2 + (by - y) ** 2
    lobe = peak(q) * np.exp(-q * apart)
    drawn = (1 - evenly) * np.where(apart < 1, lobe, 0) + evenly * np.float32(1 / np.pi)
    share = np.maximum(_read(tables.seen_through, part, start), np.float32(1e-9))
    found = _ahead(tables, part, lobe, start, _place(height))
    weight = np.where(inside, found / np.maximum(drawn * share, np.float32(1e-12)), 0)
    return (out[0], out[1], out[2]), weight


def _ahead(tables: Tables, part: Ints, lobe: Floats, start: Place, end: Place) -> Floats:
    """The forward lobe of a whole share, both ends seen, and evenly what would leave the hemisphere."""
    factors = _read(tables.ends, part, start) * _read(tables.ends, part, end)
    even = _pair(tables.stray, tables.mean_stray, part, start, end) * np.float32(1 / np.pi)
    return np.asarray(lobe * factors + even)


def _place(cosine: Floats) -> Place:
    step = step_of(np.minimum(np.abs(cosine), 1)) * (NODES - 1)
    below = np.minimum(step.astype(np.int32), NODES - 2)
    return below, step - below


def _at(place: Place, chosen: Ints) -> Place:
    return place[0][chosen], place[1][chosen]


def _read(table: Floats, row: Ints, place: Place) -> Floats:
    """Values of a table (k, NODES) at places, straight lines between its nodes, (n,)."""
    below, beyond = place
    first = row * NODES + below
    low = table.take(first)
    return np.asarray(low + (table.take(first + 1) - low) * beyond.astype(np.float32))


def _pair(table: Floats, mean: Floats, row: Ints, start: Place, end: Place) -> Floats:
    """Both ends of an even lobe: in x out / mean."""
    return _read(table, row, start) * _read(table, row, end) / mean.take(row)


def _square_apart(normal: Vector, towards: Vector, out: Vector) -> Floats:
    """Square of the difference of direction cosines along the sheet, of light that comes and light that leaves."""
    both: Vector = (towards[0] + out[0], towards[1] + out[1], towards[2] + out[2])
    along = dot(normal, both)
    return np.maximum(dot(both, both) - along * along, 0)


def _put(vectors: Vector, chosen: Ints, values: Vector) -> None:
    for axis, value in zip(vectors, values, strict=True):
        axis[chosen] = value
