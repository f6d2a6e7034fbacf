"""A thin sheet as a plug-in of the reference renderer, for what its stock has no words for.

The laws of docs/theory.md, Sheets, written down a second time from the page: nothing of lightsim.sheet enters but the
numbers of a sheet. Facets are the renderer's own stock plug-ins; shares without a closed form come from quadratures of
this file. For its vectorised modes: one call of Python a path would take too long.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import accumulate
from math import log, pi, sqrt
from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from lightsim.sheet import Sheet

Column = NDArray[np.float64]
Law = Callable[[Any], Any]  # of the cosine of an angle, the renderer's numbers
_NODES, _FINER = 129, 8  # of quadratures, at cosines even in the square root, and of tables between two of them
_ROOT = np.linspace(0, 1, _NODES)
_COSINE = np.maximum(_ROOT**2, 1e-9)
_SINE = np.sqrt(1 - _COSINE**2)


def thin_sheet(sheet: Sheet) -> dict[str, Any]:
    """A sheet as the renderer takes it. Raises ValueError for lobes together that are not put into words here."""
    _SHEETS.append(sheet)
    return {"type": _registered(mi.variant()), "sheet": len(_SHEETS) - 1}


def conductor(sheet: Sheet, side: int) -> dict[str, Any]:
    """The renderer's stock rough metal: what one facet reflects."""
    index = index_of(sheet, side)
    return {
        "type": "roughconductor",
        "distribution": "ggx",
        "alpha": sheet.roughness,
        "eta": {"type": "uniform", "value": index.real},
        "k": {"type": "uniform", "value": index.imag},
    }


def index_of(sheet: Sheet, side: int) -> complex:
    """The index whose plane reflects the stated share squarely: n of a coat, 1 + i k of a metal."""
    gloss, metal = sheet.gloss_by_side[side], sheet.metal_by_side[side]
    if metal:
        return complex(1, 2 * sqrt(metal / (1 - metal)))
    return complex((1 + sqrt(gloss)) / (1 - sqrt(gloss)))


def fresnel(index: complex, cosine: Any) -> Column:
    """Reflectance of a plane of complex index for unpolarised light: Born & Wolf 1.5.2 and 14.2, from memory."""
    inside = np.sqrt(index**2 - 1 + cosine**2 + 0j)
    across = (cosine - inside) / (cosine + inside)
    within = (index**2 * cosine - inside) / (index**2 * cosine + inside)
    return np.asarray((np.abs(across) ** 2 + np.abs(within) ** 2) / 2)


def reflected_once(alpha: float, index: complex) -> Column:
    """What facets reflect at _COSINE: F G1 G1 (w.m) / (cos (m.n)) averaged over the GGX distribution of normals m.

    Derived here from Walter et al. (2007), separate Smith shadowing: tan^2 of m is alpha^2 u / (1 - u), u even.
    """
    node, weight = np.polynomial.legendre.leggauss(48)
    u, turn = (node[:, None] + 1) / 2, (np.arange(96) + 0.5) * pi / 96  # half a circle, the other is its image
    upright = 1 / np.sqrt(1 + alpha**2 * u / (1 - u))  # m.n
    lying = np.sqrt(1 - upright**2)

    def unshadowed(cosine: Any) -> Any:
        return 2 / (1 + np.sqrt(1 + alpha**2 * (1 - cosine**2) / cosine**2))

    share = []
    for sine, cosine in zip(_SINE, _COSINE, strict=True):
        at_facet = sine * lying * np.cos(turn) + cosine * upright  # w.m
        out = 2 * at_facet * upright - cosine
        seen = (at_facet > 0) & (out > 0)
        passed = unshadowed(cosine) * unshadowed(np.where(seen, out, 1.0))
        value = fresnel(index, np.clip(at_facet, 0, 1)) * passed * at_facet / (cosine * upright)
        share.append(weight / 2 @ np.where(seen, value, 0.0).mean(axis=1))
    return np.array(share)


def kept_ahead(q: float) -> Column:
    """Share of q / (pi (1 - e^-q)) exp(-q d^2) about a spot of the unit disc, at _SINE, that lies within the disc."""
    node, weight = np.polynomial.legendre.leggauss(120)
    share = []
    for sine in _SINE:
        # In circles of radius d about the spot: of each the part of its turn that lies inside.
        edge = np.unique(np.minimum([0, 1 - sine, 1 - sine + 4 / sqrt(q), 1 + sine], 1 + sine))
        d = edge[:-1, None] + np.diff(edge)[:, None] * (node + 1) / 2
        bend = (sine**2 + d**2 - 1) / np.maximum(2 * sine * d, 1e-12)
        turn = 2 * np.arccos(np.clip(bend, -1, 1))
        share.append((np.diff(edge)[:, None] / 2 * weight * turn * d * np.exp(-q * d**2)).sum())
    return np.array(share) * q / (pi * (1 - np.exp(-q)))


def straight_through(sheet: Sheet) -> Column:
    """T^(1 / cos) between the pores, two overlapping circles in them, at _COSINE."""
    pores, between = sheet.pores, sheet.straight / (1 - sheet.pores)
    apart = np.minimum(sheet.pore_depth * _SINE / _COSINE, 1)  # of the rims' middles, in diameters
    overlap = 2 / pi * (np.arccos(apart) - apart * np.sqrt(1 - apart**2))
    return pores * overlap + (1 - pores) * between ** (1 / _COSINE)


def _law(values: Column) -> tuple[Law, float]:
    """Values at _COSINE as a law of the renderer's numbers, and their mean over Lambertian light."""
    spline = CubicSpline(_ROOT, values)
    last = _FINER * (_NODES - 1)
    table = mi.Float(spline(np.linspace(0, 1, last + 1)))

    def read(cosine: Any) -> Any:
        place = dr.sqrt(dr.minimum(dr.abs(cosine), 1)) * last
        low = dr.minimum(mi.UInt32(place), last - 1)
        first, second = dr.gather(mi.Float, table, low), dr.gather(mi.Float, table, low + 1)
        return first + (second - first) * (place - low)

    node, weight = np.polynomial.legendre.leggauss(4)
    root = (np.arange(_NODES - 1)[:, None] + (node + 1) / 2) / (_NODES - 1)
    mean = (weight / 2 * 4 * root**3 * spline(root)).sum() / (_NODES - 1)  # 2 mu dmu = 4 root^3 droot
    return read, float(max(mean, 1e-9))


class Laws:
    """Shares of a sheet by angle, two where there are two sides."""

    def __init__(self, sheet: Sheet) -> None:
        shiny = [gloss + metal > 0 for gloss, metal in zip(sheet.gloss_by_side, sheet.metal_by_side, strict=True)]
        clear, forward = sheet.straight + sheet.pores > 0, sheet.forward_transmittance > 0
        if any(shiny) + clear + forward > 1:
            raise ValueError("gloss or metal, straight-through light and a forward lobe are put into words one by one")
        nothing = np.zeros(_NODES)
        straight = straight_through(sheet) if clear else nothing
        glossy, rest, seen = [nothing, nothing], [nothing, nothing], [nothing, nothing]
        for side in (0, 1):
            if shiny[side]:
                index = index_of(sheet, side)
                glossy[side] = reflected_once(sheet.roughness, index)
                if sheet.metal_by_side[side]:
                    # All in all metal reflects what its plane would: more than one facet sends the rest back evenly.
                    rest[side] = np.maximum(fresnel(index, _COSINE) - glossy[side], 0)
            # The chance of neither passing straight nor glancing off, 1 squarely.
            seen[side] = 1 - straight - glossy[side] - rest[side]
            seen[side] = seen[side] / seen[side][-1]
        self.straight, _ = _law(straight)
        self.glossy = [_law(each)[0] for each in glossy]
        self.rest = [_law(each) for each in rest]
        self.seen = [_law(each) for each in seen]
        self.through = _law(np.minimum(*seen))
        self.q, self.stray = 1.0, _law(nothing)
        if forward:
            half = np.radians(float(sheet.half_value_angle or 0))
            # cos exp(-q sin^2) = 1/2 at the half-value angle of intensity. What the hemisphere cannot hold goes evenly.
            self.q = float(log(2 * np.cos(half)) / np.sin(half) ** 2)
            self.stray = _law(np.maximum(1 - kept_ahead(self.q), 0))


_SHEETS: list[Sheet] = []  # a plug-in's properties take numbers and text only


@cache
def _registered(variant: str) -> str:
    """Registers the plug-in with a variant of the renderer; its name."""

    class ThinSheet(mi.BSDF):
        def __init__(self, properties: Any) -> None:
            super().__init__(properties)
            self.sheet = _SHEETS[int(properties["sheet"])]
            self.laws = Laws(self.sheet)
            self.facets = [_facets(self.sheet, side) for side in (0, 1)]
            self.mirrored = mi.BSDFContext()
            self.mirrored.type_mask = +mi.BSDFFlags.GlossyReflection
            self.m_flags = mi.BSDFFlags.GlossyReflection | mi.BSDFFlags.GlossyTransmission
            self.m_flags = self.m_flags | mi.BSDFFlags.FrontSide | mi.BSDFFlags.BackSide
            if self.sheet.straight + self.sheet.pores > 0:
                self.m_flags = self.m_flags | mi.BSDFFlags.Null
            self.m_components = [self.m_flags]

        def _by_side(self, cosine: Any, front: Any, back: Any) -> Any:
            return front if front is back else dr.select(cosine > 0, front, back)

        def _shares(self, cosine: Any) -> list[Any]:
            """Of straight-through light, facets, even reflection, forward lobe and even transmission."""
            sheet, laws = self.sheet, self.laws
            back = [
                sheet.reflectance_by_side[side] * laws.seen[side][0](cosine) + laws.rest[side][0](cosine)
                for side in (0, 1)
            ]
            stray = sheet.forward_transmittance * laws.stray[0](cosine)
            return [
                laws.straight(cosine),
                self._by_side(cosine, laws.glossy[0](cosine), laws.glossy[1](cosine)),
                self._by_side(cosine, *back),
                sheet.forward_transmittance - stray,
                sheet.diffuse_transmittance * laws.through[0](cosine) + stray,
            ]

        def _value_and_density(self, surface: Any, out: Any, shares: list[Any]) -> tuple[Any, Any]:
            """Scattering function times the cosine at which light leaves, and density of sampled directions."""
            sheet, laws, came = self.sheet, self.laws, surface.wi
            _, glossy, even, ahead, through = shares
            lambert = dr.abs(out.z) / pi

            def pair(law: tuple[Law, float]) -> Any:
                read, mean = law
                return read(came.z) * read(out.z) / mean * lambert

            back, mirrored, drawn = [], [], []
            for side in (0, 1):
                value, facets = sheet.reflectance_by_side[side] * pair(laws.seen[side]), self.facets[side]
                if facets is not None:
                    turned, leaving = _upright(surface, out)
                    value += pair(laws.rest[side])
                    mirrored.append(facets.eval(self.mirrored, turned, leaving)[0])
                    drawn.append(facets.pdf(self.mirrored, turned, leaving))
                else:
                    mirrored.append(mi.Float(0))
                    drawn.append(mi.Float(0))
                back.append(value + mirrored[side])
            there = sheet.diffuse_transmittance * pair(laws.through)
            apart = (came.x + out.x) ** 2 + (came.y + out.y) ** 2
            lobe = laws.q / pi * dr.exp(-laws.q * apart) * dr.abs(out.z)
            if sheet.forward_transmittance:
                there += sheet.forward_transmittance * (lobe / (1 - np.exp(-laws.q)) + pair(laws.stray))
            same = came.z * out.z > 0
            value = dr.select(same, self._by_side(came.z, *back), there)
            here = even * lambert + glossy * self._by_side(came.z, *drawn)
            # Steps of the forward lobe that leave the disc are lost, so it needs no other norm.
            density = dr.select(same, here, through * lambert + ahead * lobe) / sum(shares)
            return value, density

        def sample(self, context: Any, surface: Any, choice: Any, spot: Any, active: Any = True) -> Any:
            came, laws = surface.wi, self.laws
            shares = self._shares(came.z)
            edges = list(accumulate(shares))
            place, total = choice * edges[-1], edges[-1]
            null, mirrored = place < edges[0], (place >= edges[0]) & (place < edges[1])
            even, ahead = (place >= edges[1]) & (place < edges[2]), (place >= edges[2]) & (place < edges[3])
            sign = dr.select(came.z > 0, mi.Float(1), mi.Float(-1))
            lambertian = mi.warp.square_to_cosine_hemisphere(spot)
            out = mi.Vector3f(lambertian.x, lambertian.y, lambertian.z * dr.select(even, sign, -sign))
            for side in (0, 1):
                if self.facets[side] is not None:
                    turned, _ = _upright(surface, came)
                    again = (place - edges[0]) / dr.maximum(edges[1] - edges[0], 1e-9)
                    drawn, _ = self.facets[side].sample(self.mirrored, turned, again, spot)
                    own = mirrored & ((came.z > 0) == (side == 0))
                    out = dr.select(own, mi.Vector3f(drawn.wo.x, drawn.wo.y, drawn.wo.z * sign), out)
            if self.sheet.forward_transmittance:
                step = dr.sqrt(-dr.log(1 - dr.minimum(spot.x, 1 - 1e-7)) / laws.q)
                x, y = step * dr.cos(2 * pi * spot.y) - came.x, step * dr.sin(2 * pi * spot.y) - came.y
                height = dr.sqrt(dr.maximum(1 - x * x - y * y, 0))
                out = dr.select(ahead, mi.Vector3f(x, y, -sign * height), out)
            reflects = even | mirrored
            kept = null | ((dr.abs(out.z) > 1e-6) & ((out.z * sign > 0) == reflects))
            value, density = self._value_and_density(surface, out, shares)
            found = mi.BSDFSample3f()
            found.eta, found.sampled_component = 1, 0
            found.wo = dr.select(null, -came, out)
            found.pdf = dr.select(kept & active, dr.select(null, edges[0] / total, density), 0)
            kinds = (mi.BSDFFlags.Null, mi.BSDFFlags.GlossyReflection, mi.BSDFFlags.GlossyTransmission)
            straight, back, on = (mi.UInt32(+kind) for kind in kinds)
            found.sampled_type = dr.select(null, straight, dr.select(reflects, back, on))
            weight = dr.select(null, total, value / dr.maximum(density, 1e-20))
            return found, mi.Color3f(dr.select(found.pdf > 0, weight, 0))

        def eval(self, context: Any, surface: Any, out: Any, active: Any = True) -> Any:
            return self.eval_pdf(context, surface, out, active)[0]

        def pdf(self, context: Any, surface: Any, out: Any, active: Any = True) -> Any:
            return self.eval_pdf(context, surface, out, active)[1]

        def eval_pdf(self, context: Any, surface: Any, out: Any, active: Any = True) -> Any:
            value, density = self._value_and_density(surface, out, self._shares(surface.wi.z))
            return mi.Color3f(dr.select(active, value, 0)), dr.select(active, density, 0)

        def eval_null_transmission(self, surface: Any, active: Any = True) -> Any:
            return mi.Color3f(dr.select(active, self.laws.straight(surface.wi.z), 0))

    mi.register_bsdf("thin_sheet", ThinSheet)
    return "thin_sheet"


def _facets(sheet: Sheet, side: int) -> Any:
    if sheet.metal_by_side[side]:
        return mi.load_dict(conductor(sheet, side))
    if sheet.gloss_by_side[side]:
        # Only its reflection is asked for (mirrored): what goes into the coat is the other lobes' business.
        coat = {"type": "roughdielectric", "distribution": "ggx", "alpha": sheet.roughness}
        return mi.load_dict({**coat, "int_ior": index_of(sheet, side).real, "ext_ior": 1.0})
    return None


def _upright(surface: Any, out: Any) -> tuple[Any, Any]:
    """The same with the side on which light lands as the front: stock metal has no back."""
    turned = mi.SurfaceInteraction3f(surface)
    sign = dr.select(surface.wi.z > 0, mi.Float(1), mi.Float(-1))
    turned.wi = mi.Vector3f(surface.wi.x, surface.wi.y, surface.wi.z * sign)
    return turned, mi.Vector3f(out.x, out.y, out.z * sign)
