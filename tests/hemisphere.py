"""Sheets hard on the model, and quadrature of what they send into a hemisphere, with nothing of the package's own."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from lightsim.rig.library import library_materials
from lightsim.sheet import Sheet
from lightsim.sheet.scatter import evaluate, shares
from lightsim.sheet.stack import stack
from lightsim.sheet.tables import sheets_of

ANGLES = (0, 5, 15, 25, 35, 45, 55, 65, 75, 82, 88)  # degrees from the normal


def film(angle, straight=0.0, coat=0.0):
    """A film with a forward lobe that absorbs nothing head-on."""
    return Sheet(
        straight=straight,
        forward_transmittance=0.9 - straight - np.max(coat),
        half_value_angle=angle,
        diffuse_reflectance=0.1,
        glossy_reflectance=coat,
        roughness=0.1,
    )


HARD = {f"film of {angle} degrees": film(float(angle)) for angle in (2.1, 5, 20, 40, 59)}
HARD |= {f"film of {angle} degrees, half clear": film(float(angle), 0.45) for angle in (2.1, 5, 20, 40, 59)}
HARD |= {f"film of {angle} degrees, one side coated": film(float(angle), 0.1, (0.05, 0.0)) for angle in (5, 40)}
HARD |= {f"metal of {alpha}": Sheet(metallic_reflectance=(1.0, 0.6), roughness=alpha) for alpha in (0.05, 0.15, 0.5)}
HARD |= {
    "veil": Sheet(straight=0.95, diffuse_transmittance=0.02, diffuse_reflectance=0.03),
    "veil that spreads": Sheet(straight=0.95, forward_transmittance=0.05, half_value_angle=10.0),
    "cloth": Sheet(pores=0.2, straight=0.05, diffuse_transmittance=0.3, diffuse_reflectance=0.45),
    "two-faced card": Sheet(diffuse_transmittance=0.1, diffuse_reflectance=(0.9, 0.4)),
    "coat on the back": Sheet(
        diffuse_transmittance=0.2, diffuse_reflectance=(0.8, 0.77), glossy_reflectance=(0.0, 0.03), roughness=0.05
    ),
    "rough coat": Sheet(
        diffuse_transmittance=0.1, diffuse_reflectance=(0.6, 0.86), glossy_reflectance=(0.3, 0.04), roughness=0.5
    ),
    "clear plate": Sheet(straight=0.92, glossy_reflectance=0.08, roughness=0.05),
    "film on metal": Sheet(
        forward_transmittance=0.1,
        half_value_angle=8.0,
        diffuse_reflectance=(0.0, 0.5),
        metallic_reflectance=(0.9, 0.4),
        roughness=0.3,
    ),
    "all lobes": Sheet(
        pores=0.05,
        pore_depth=0.5,
        straight=0.1,
        forward_transmittance=0.2,
        half_value_angle=20.0,
        diffuse_transmittance=0.2,
        diffuse_reflectance=(0.4, 0.43),
        glossy_reflectance=(0.05, 0.02),
        roughness=0.08,
    ),
}


def library():
    """The sheets of the library, stacks added up."""
    known = library_materials()
    return {
        name: stack([known[layer] for layer in sheet.layers]) if sheet.layers else sheet
        for name, sheet in known.items()
    }


ALL = HARD | library()


@dataclass(frozen=True)
class Grid:
    """Points over half a hemisphere, in panels ever narrower towards the mirror direction, where narrow lobes lie.

    root, turn: edges of the panels, in the square root of the cosine and in the angle about the normal off the plane
    of incidence. cosine, azimuth, weight: (n,) points by root, then by turn; the weights sum to pi.
    """

    root: np.ndarray
    turn: np.ndarray
    order: int
    cosine: np.ndarray
    azimuth: np.ndarray
    weight: np.ndarray

    def by_panel(self, value):
        """Integrals of values at the points over each panel, (k, m)."""
        k, m, n = len(self.root) - 1, len(self.turn) - 1, self.order
        return (value * self.weight).reshape(k, n, m, n).sum(axis=(1, 3))


@cache
def grid(angle, order=7, ratio=2.0):
    """Grid about an angle [degrees]: Gauss points of this order, each panel so much wider than the last."""
    node, weight = np.polynomial.legendre.leggauss(order)

    def points(edges):
        width = np.diff(edges)[:, None]
        return (edges[:-1, None] + width * (node + 1) / 2).ravel(), (width * weight / 2).ravel()

    middle = np.sqrt(np.cos(np.radians(angle)))
    step = 1e-4 * ratio ** np.arange(np.ceil(np.log(1e4) / np.log(ratio)))
    # What passes pores turns fast near the normal, wherever light comes from.
    edges = np.concatenate([[0, 1, middle], middle - step, middle + step, 1 - 0.5 ** np.arange(8)])
    root = np.unique(np.clip(edges, 0, 1))
    turn = np.append(0, np.pi * ratio ** np.arange(np.floor(np.log(2e-3 / np.pi) / np.log(ratio)), 1))
    (r, of_root), (azimuth, of_turn) = points(root), points(turn)
    area = np.outer(2 * r * of_root, of_turn).ravel()  # cos = root^2, so dcos = 2 root droot
    return Grid(root, turn, order, np.repeat(r * r, len(azimuth)), np.tile(azimuth, len(r)), area)


def askew():
    """Rows: two directions along a sheet and its normal, none of them an axis of the world."""
    turned = np.linalg.qr(np.random.default_rng(3).standard_normal((3, 3)))[0]
    return turned * np.sign(np.linalg.det(turned))


FRAME = askew()


def ways(cosine, azimuth):
    """Unit vectors at these signed cosines to the normal of FRAME and angles about it, by component."""
    sine = np.sqrt(np.maximum(1 - cosine * cosine, 0))
    rows = np.stack([sine * np.cos(azimuth), sine * np.sin(azimuth), cosine], axis=1) @ FRAME
    return rows[:, 0], rows[:, 1], rows[:, 2]


class Landing:
    """Light that lands on the front or back of a sheet, at an angle [degrees]; it would be mirrored to azimuth 0."""

    def __init__(self, sheet, angle, *, front=True):
        self.sheets, self.angle, self.front = sheets_of([sheet]), angle, front
        self.lit = 1.0 if front else -1.0
        self.cosine = np.cos(np.radians(angle))

    def where(self, count):
        """part, front, normal and towards, as evaluate, sample and density want them."""
        towards = ways(np.full(count, self.lit * self.cosine), np.full(count, np.pi))
        normal = ways(np.ones(count), np.zeros(count))
        return np.zeros(count, np.int32), np.full(count, self.front), normal, towards

    def shares(self, count=1):
        """As of lightsim.sheet.scatter."""
        return shares(self.sheets, np.zeros(count, np.int32), np.full(count, self.front), np.full(count, self.cosine))

    def share(self, name):
        """One of the shares, 0 where the sheet has none such."""
        value = getattr(self.shares(), name)
        return 0.0 if value is None else float(value[0])

    def by_panel(self, of, *, back, points=None):
        """evaluate or density integrated over the panels of half the hemisphere that the light came from (back), or of
        the other; the other half is the same."""
        points = points or grid(self.angle)
        out = ways((self.lit if back else -self.lit) * points.cosine, points.azimuth)
        return points.by_panel(of(self.sheets, *self.where(len(points.cosine)), out))

    def sent(self, *, back, points=None):
        """Share that evaluate sends into a hemisphere."""
        return 2 * float(self.by_panel(evaluate, back=back, points=points).sum())
