"""Mesh files: STL, OBJ, PLY and GLB read, put into mm, checked, and repaired or refused with a reason."""

from __future__ import annotations

import logging
import warnings
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field

from lightsim.rig.errors import RigError, alternatives, closest, file_name, quoted
from lightsim.rig.mesh import Faces, Mesh, Points, without_unused
from lightsim.rig.units import INCH, LARGEST, SMALLEST

MILLIMETRES = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": INCH}
FORMATS = (".stl", ".obj", ".ply", ".glb")
MOST_TRIANGLES = 2_000_000
MOST_BYTES = 500_000_000
JOIN = 1e-4  # mm: points nearer than this are one; float32 files of half a metre are no finer
THINNEST = 1e-6  # mm: height below which a triangle has no area that anything could hit


class MeshFile(BaseModel, frozen=True, extra="forbid"):
    """Triangles from a file; the front is the side from which they are listed anticlockwise."""

    shape: Literal["mesh"] = Field("mesh", description="the kind of shape")
    file: str = Field(
        min_length=1,
        max_length=500,
        pattern=r"^[^\x00-\x1f]+$",
        description="an STL, OBJ, PLY or GLB file, its path as seen from the folder of the rig file",
    )
    unit: Literal["mm", "cm", "m", "inch"] = Field(
        description='the unit the file was drawn in: "mm", "cm", "m" or "inch"; STL files are mostly in "mm"'
    )
    repair: bool = Field(
        True,
        strict=True,
        description="true to drop useless triangles and join loose points, false to refuse such a file",
    )


def read_mesh(shape: MeshFile, *, folder: Path | None = None) -> tuple[Mesh, str | None]:
    """Triangles of a mesh file, mm, and a sentence on what was repaired (None if nothing).

    folder : where the path of the file begins, by default the current one. Nothing but this file is read: materials,
    pictures and other files that it names are left alone.
    Raises RigError for a file that is missing, unreadable, empty, too large, too small, or faulty with repair = false.
    """
    path = ((folder or Path()) / shape.file).absolute()
    try:
        state = path.stat()
    except (OSError, ValueError):
        return _read(shape, path, None)  # which says why
    return _read(shape, path, (state.st_mtime_ns, state.st_size))


@lru_cache(maxsize=8)
def _read(shape: MeshFile, path: Path, state: tuple[int, int] | None) -> tuple[Mesh, str | None]:
    """A mesh file in a certain state: changed on disk, it is read again."""
    vertices, faces = _triangles(_bytes(path, shape.file), path.suffix.lower(), shape.file)
    vertices = vertices * MILLIMETRES[shape.unit]
    _check(vertices, faces, shape)
    return _tidy(vertices, faces, shape)


def _bytes(path: Path, name: str) -> bytes:
    if path.suffix.lower() not in FORMATS:
        raise RigError(
            f'{name}: files of kind "{path.suffix}" cannot be read. Allowed: STL, OBJ, PLY and GLB. '
            "Try exporting it as STL"
        )
    try:
        if not path.is_file():
            raise _missing(path, name)
        if path.stat().st_size > MOST_BYTES:
            raise RigError(
                f"{name}: the file has {path.stat().st_size / 1e6:.0f} MB. Allowed: {MOST_BYTES / 1e6:.0f} MB. "
                "Try a coarser mesh"
            )
        return path.read_bytes()
    except OSError as error:
        raise RigError(f"{name}: the file cannot be opened ({error.strerror}). Try another name or folder") from None


def _missing(path: Path, name: str) -> RigError:
    folder = path.parent
    there = [each.name for each in folder.iterdir() if each.suffix.lower() in FORMATS] if folder.is_dir() else []
    near = closest(path.name, there, cutoff=0.6)
    what = f"there is no such file in the folder {file_name(folder)}"
    if not folder.is_dir():
        what = f"there is no such file, nor a folder {file_name(folder)}; paths begin at the folder of the rig file"
    return RigError(
        f'file = "{name}": {what}. Allowed: '
        f"{alternatives(sorted(there), 8) or 'STL, OBJ, PLY and GLB files'}. "
        f"Try {quoted(near) if near else 'the name as the folder shows it, with its ending'}"
    )


def _triangles(data: bytes, kind: str, name: str) -> tuple[Points, Faces]:
    """Vertices in the file's own unit and faces of all meshes of a file, in one frame."""
    import trimesh

    level = logging.getLogger("trimesh").level
    logging.getLogger("trimesh").setLevel(logging.CRITICAL)
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            if kind == ".obj" or (kind == ".stl" and not _binary_stl(data)):
                # Text of old programs; a comment in an unknown alphabet must not spoil the numbers.
                data = data.decode("utf-8", errors="replace").encode()
            # A stream without a name gives trimesh no folder in which to look for further files.
            scene = trimesh.load_scene(BytesIO(data), file_type=kind[1:], process=False, skip_materials=True)
            return _in_one_frame(scene, name)
    except RigError:
        raise
    except Exception as error:  # readers raise whatever a broken file makes them raise
        raise RigError(
            f"{name}: this is not a readable {kind[1:].upper()} file ({_first_line(error)}). Allowed: files that hold "
            "everything themselves. Try exporting it once more, as binary STL"
        ) from None
    finally:
        logging.getLogger("trimesh").setLevel(level)


def _binary_stl(data: bytes) -> bool:
    # 80 letters of any kind, the number of triangles, 50 bytes for each; "solid" in front proves nothing.
    return len(data) >= 84 and len(data) == 84 + 50 * int.from_bytes(data[80:84], "little")


def _in_one_frame(scene: Any, name: str) -> tuple[Points, Faces]:
    placed = []
    total = 0
    for node in scene.graph.nodes_geometry:
        matrix, key = scene.graph[node]
        faces = getattr(scene.geometry[key], "faces", ())  # points and lines have none
        total += len(faces)
        if total > MOST_TRIANGLES:
            raise RigError(
                f"{name}: the file has more than {MOST_TRIANGLES:,} triangles. Allowed: that many. Try a coarser mesh"
            )
        if len(faces):
            placed.append((scene.geometry[key].vertices, faces, matrix))
    if not placed:
        raise RigError(f"{name}: there are no triangles in the file. Try exporting the surface, not points or lines")
    vertices, index, used = [], [], 0
    for points, faces, matrix in placed:
        points, faces = np.array(points, np.float64), np.array(faces, np.int64)
        if faces.min() < 0 or faces.max() >= len(points):
            raise RigError(f"{name}: a triangle names a point that is not there. Try exporting the file once more")
        vertices.append(points @ matrix[:3, :3].T + matrix[:3, 3])
        # A mirror image would turn front to back.
        index.append((faces[:, ::-1] if np.linalg.det(matrix[:3, :3]) < 0 else faces) + used)
        used += len(points)
    return np.concatenate(vertices), np.concatenate(index)


def _first_line(error: Exception) -> str:
    if isinstance(error, ImportError):  # what trimesh would like to have for damaged text
        return "damaged text"
    lines = str(error).strip().splitlines()
    return lines[0][:120] if lines else type(error).__name__


def _check(vertices: Points, faces: Faces, shape: MeshFile) -> None:
    used = vertices[faces.ravel()]
    if not np.isfinite(used).all():
        raise RigError(
            f"{shape.file}: some points have coordinates that are no finite numbers. Try exporting the file once more"
        )
    size = float(np.ptp(used, axis=0).max())
    if not SMALLEST <= size <= LARGEST:
        raise RigError(
            f'{shape.file}: the mesh would be {size:.3g} mm large with unit = "{shape.unit}". Allowed: from '
            f"{SMALLEST} mm to 10 m. Is the unit right? Try another unit, or scale the mesh"
        )
    reach = float(np.abs(used).max())
    if reach > LARGEST:
        raise RigError(
            f'{shape.file}: the mesh lies {reach / 1000:.3g} m from the origin of its file with unit = "{shape.unit}". '
            "Allowed: within 10 m. Is the unit right? Try moving the mesh to the origin"
        )


def _tidy(vertices: Points, faces: Faces, shape: MeshFile) -> tuple[Mesh, str | None]:
    """Join what belongs together and drop what has no area or stands twice; say so, or refuse."""
    vertices, faces = without_unused(vertices, faces)
    vertices, faces = _joined(vertices, faces, vertices.view(np.int64))  # equal to the last bit: how STL repeats points
    faults = []
    if shape.repair:
        before = len(vertices)
        vertices, faces = _joined(vertices, faces, np.rint(vertices / JOIN).astype(np.int64))
        if before > len(vertices):
            faults.append(f"joined {before - len(vertices)} points that all but coincided with others")
    flat = _without_area(vertices, faces)
    faces = faces[~flat]
    if flat.any():
        faults.append(f"dropped {_count(int(flat.sum()), 'triangle')} without area")
    twice = _repeated(faces)
    faces = faces[~twice]
    if twice.any():
        faults.append(f"dropped {_count(int(twice.sum()), 'triangle')} that stood twice")
    if faults and not shape.repair:
        dropped = " and ".join(fault.removeprefix("dropped ") for fault in faults)
        raise RigError(f"{shape.file}: the mesh has {dropped}, and repair = false. Try repair = true to drop them")
    if not len(faces):
        raise RigError(f"{shape.file}: no triangle of the file has any area. Try exporting it once more")
    mixed = _mixed_edges(faces)
    if mixed:
        faults.append(
            f"found {_count(mixed, 'edge')} across which front and back change places, which matters where the two "
            "sides of the sheet differ"
        )
    note = f"{shape.file}: {', '.join(faults)}." if faults else None
    return Mesh(*without_unused(vertices, faces)), note


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _joined(vertices: Points, faces: Faces, key: NDArray[np.int64]) -> tuple[Points, Faces]:
    """Vertices with equal keys (n, 3) become one, the first of them."""
    order = np.lexsort(key.T)
    new = np.ones(len(key), bool)
    new[1:] = (np.diff(key[order], axis=0) != 0).any(axis=1)
    group = np.empty(len(key), np.int64)
    group[order] = np.cumsum(new) - 1
    return vertices[order[new]], group[faces]


def _without_area(vertices: Points, faces: Faces) -> NDArray[np.bool_]:
    """Triangles lower than THINNEST over their longest side. A thin sliver stays: without it there would be a crack."""
    a, b, c = vertices[faces].transpose(1, 0, 2)
    double = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    longest = np.sqrt(np.max([((p - q) ** 2).sum(axis=1) for p, q in ((a, b), (b, c), (c, a))], axis=0))
    return np.asarray(double <= THINNEST * longest)


def _repeated(faces: Faces) -> NDArray[np.bool_]:
    """Faces with the same three corners as an earlier one, whichever way round."""
    corner = np.sort(faces, axis=1)
    order = np.lexsort(corner.T)
    same = np.zeros(len(faces), bool)
    same[order[1:]] = (np.diff(corner[order], axis=0) == 0).all(axis=1)
    return same


def _mixed_edges(faces: Faces) -> int:
    """Edges that two triangles pass in the same direction: one shows its front where the other shows its back."""
    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    key = np.sort(start * (int(faces.max(initial=0)) + 1) + end)
    return int(np.unique(key[1:][np.diff(key) == 0]).size)
