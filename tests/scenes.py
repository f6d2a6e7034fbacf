"""Small scenes of known answer, made from triangles without the rig files."""

import numpy as np

from lightsim.rig.beam import Beam
from lightsim.rig.mesh import Mesh
from lightsim.rig.place import Head, Part, rotation
from lightsim.sheet import Sheet

PAIR = np.array([[0, 1, 2], [0, 2, 3]])


def sheet_part(z, width, height, sheet, *, name="sheet", role="diffuser"):
    """A flat sheet square to the axis at z, front toward the subject (-z)."""
    x, y = width / 2, height / 2
    corners = np.array([[-x, -y, z], [-x, y, z], [x, y, z], [x, -y, z]], float)
    return Part(name, role, Mesh(corners, PAIR), sheet)


def disc(*, distance, radius, sheet, name="disc", role="diffuser", sides=720):
    """A disc square to the axis at z = distance, of the true area, front toward the subject (-z)."""
    turn = 2 * np.pi / sides
    rim = radius * np.sqrt(turn / np.sin(turn))
    angle = np.arange(sides) * turn
    vertices = np.column_stack([rim * np.cos(angle), rim * np.sin(angle), np.zeros(sides)])
    vertices = np.vstack([vertices, np.zeros(3)]) + np.array([0, 0, distance])
    step = np.arange(sides)
    return Part(name, role, Mesh(vertices, np.column_stack([step, np.full(sides, sides), (step + 1) % sides])), sheet)


def hollow_box(width, height, near, far, sheet, *, front=False, back=True, name="walls"):
    """Walls between z = near and z = far, front side inside; front closes the end at near, back the one at far."""
    x, y = width / 2, height / 2
    corners = np.array([[sx * x, sy * y, z] for z in (near, far) for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))])
    quads = [(0, 4, 5, 1), (1, 5, 6, 2), (2, 6, 7, 3), (3, 7, 4, 0)]
    quads += [(0, 1, 2, 3)] * front + [(4, 7, 6, 5)] * back
    faces = np.array([face for a, b, c, d in quads for face in ((a, b, c), (a, c, d))])
    triangle = corners[faces]
    normal = np.cross(triangle[:, 1] - triangle[:, 0], triangle[:, 2] - triangle[:, 0])
    outward = (normal * (triangle.mean(axis=1) - [0, 0, (near + far) / 2])).sum(axis=1) > 0
    faces[outward] = faces[outward][:, ::-1]
    return Part(name, "diffuser", Mesh(corners, faces), sheet)


def sphere(radius, sheet, *, name="sphere"):
    """A closed sphere about the origin, front side inside (an icosphere of trimesh)."""
    import trimesh

    ball = trimesh.creation.icosphere(subdivisions=4, radius=radius)
    return Part(name, "diffuser", Mesh(np.array(ball.vertices), np.array(ball.faces)[:, ::-1].copy()), sheet)


def window_head(*, name, centre, turned, width, height, beam, share, glass):
    """A head whose window has its middle at centre and is turned by a rotation (3, 3); glass: the window's sheet."""
    corners = np.array([[-1, -1, 0], [-1, 1, 0], [1, 1, 0], [1, -1, 0]]) * [width / 2, height / 2, 0]
    return Head(
        name=name,
        centre=centre,
        right=turned[:, 0],
        up=turned[:, 1],
        forward=-turned[:, 2],
        width=width,
        height=height,
        beam=beam,
        share=share,
        axial_intensity=1000.0,
        window=Part(name, "head", Mesh(corners @ turned.T + centre, PAIR), glass),
    )


def lamp(*, distance, width=60.0, height=40.0, power=5.0, reflectance=0.3, beam=None, right=0.0, up=0.0, tilt=0.0):
    """A head on or beside the axis, looking at -z (tilt: down, degrees)."""
    return window_head(
        name="flash",
        centre=np.array([right, up, distance], float),
        turned=rotation(tilt=tilt, turn=0, roll=0),
        width=width,
        height=height,
        beam=beam or Beam(cos_power=power),
        share=1.0,
        glass=Sheet(diffuse_reflectance=reflectance),
    )
