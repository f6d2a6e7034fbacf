"""Photometric files by ANSI/IES LM-63 (.ies), read as beams of heads.

Type C: the vertical angle 0 is the axis of the beam, the horizontal angle 0 lies to the right, along the width of the
window, and 90 up, along its height, as seen from behind the head. Only the shape counts: how strong the head is, its
guide number says. Candela values are read by the library photompy; what it takes for granted is asked for here.
"""

from __future__ import annotations

import hashlib
import re
import warnings
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lightsim.rig.beam import MOST_INTENSITY, Beam, Table
from lightsim.rig.errors import RigError, alternatives, closest, fault, file_name, quoted

MOST_BYTES = 5_000_000
MOST_ANGLES = 721  # each way; photometric laboratories give every half degree at most
UNEVEN = 0.1  # of the mean on the axis, by which values there may differ from direction to direction
MOST_BEHIND = 0.01  # of the light
LEAST_STEP = 0.01  # degrees between angles
_HEADER = 13  # numbers before the angles
_TILT = re.compile(r"^\s*TILT\s*=\s*(.*?)\s*$", re.IGNORECASE | re.MULTILINE)
_EXPORT = "exporting it once more as LM-63, type C"

Floats = NDArray[np.float64]


def with_file(beam: Beam, *, folder: Path | None = None) -> Beam:
    """A beam with the content of its photometric file; one without a file as it is.

    folder : where the path of the file begins, by default the current one
    Raises RigError for a file that is missing, unreadable, of photometric type A or B, with tilt data, malformed, dark
    on its axis, or with light behind the window.
    """
    if beam.file is None:
        return beam
    path = ((folder or Path()) / beam.file).absolute()
    return beam.with_table(_read(path, beam.file, _state(path)))


def _state(path: Path) -> tuple[int, int] | None:
    try:
        state = path.stat()
    except (OSError, ValueError):
        return None
    return state.st_mtime_ns, state.st_size


@lru_cache(maxsize=16)
def _read(path: Path, name: str, state: tuple[int, int] | None) -> Table:
    """A file in a certain state: changed on disk, it is read again."""
    data = _bytes(path, name)
    numbers = _numbers(data.decode("utf-8-sig", errors="replace"), name)
    angle, around, candela = _values(numbers, name)
    _check(angle, around, candela, name)
    around, candela = _all_round(around, candela)
    angle, candela = _ahead(angle, around, candela, name)
    return Table(hashlib.sha256(data).hexdigest(), angle, around, _per_axis(around, candela, name))


def _wrong(name: str, what: str, allowed: str, remedy: str) -> RigError:
    return fault(f"file = {quoted(name)}", what=what, allowed=allowed, remedy=remedy)


def _bytes(path: Path, name: str) -> bytes:
    try:
        if not path.is_file():
            folder = path.parent
            there = sorted(each.name for each in folder.glob("*.[iI][eE][sS]")) if folder.is_dir() else []
            near = closest(path.name, there, cutoff=0.6)
            raise _wrong(
                name,
                f"there is no such file in {file_name(folder)}; paths begin at the folder of the rig file",
                alternatives(there, 8) or "a photometric file by LM-63 (.ies)",
                quoted(near) if near else "the name as the folder shows it, with its ending",
            )
        if path.stat().st_size > MOST_BYTES:
            size = f"{path.stat().st_size / 1e6:.3g} MB"
            raise _wrong(name, f"the file has {size}", f"{MOST_BYTES / 1e6:g} MB", "a file with fewer angles")
        return path.read_bytes()
    except OSError as error:
        what = f"the file cannot be opened ({error.strerror})"
        raise _wrong(name, what, "a file that may be read", "another name or folder") from None


def _numbers(text: str, name: str) -> list[str]:
    """What stands behind the line TILT=NONE, and is as many numbers as it says itself."""
    tilt = _TILT.search(text)
    if tilt is None:
        what = "this is no photometric file by LM-63: the line TILT=NONE is missing"
        raise _wrong(name, what, "a file by ANSI/IES LM-63 (.ies)", _EXPORT)
    if tilt[1].upper() != "NONE":
        what = "its light changes with how the lamp is tilted, which the light of a flash does not"
        raise _wrong(name, what, "files with TILT=NONE", _EXPORT)
    words = text[tilt.end() :].replace(",", " ").split()
    try:
        numbers = [float(word) for word in words]
    except ValueError:
        odd = next(word for word in words if not _is_number(word))
        what = f"{quoted(odd)} stands where a number should"
        raise _wrong(name, what, "numbers only after the line TILT=NONE", _EXPORT) from None
    if not np.isfinite(numbers).all():
        what = "some numbers are no finite ones"
        raise _wrong(name, what, "numbers that one could measure", _EXPORT)
    _check_type(numbers, name)
    vertical, horizontal = numbers[3], numbers[4]
    if not (vertical in range(2, MOST_ANGLES + 1) and horizontal in range(1, MOST_ANGLES + 1)):
        what = f"it says that it has {vertical:g} vertical and {horizontal:g} horizontal angles"
        allowed = f"whole numbers, 2 to {MOST_ANGLES} vertical and 1 to {MOST_ANGLES} horizontal ones"
        raise _wrong(name, what, allowed, _EXPORT)
    announced = int(_HEADER + vertical + horizontal + vertical * horizontal)
    if len(words) != announced:
        what = f"after the line TILT=NONE it has {len(words)} numbers and says itself that there are {announced}"
        raise _wrong(name, what, "as many as its angles ask for", _EXPORT)
    return words


def _is_number(word: str) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True


def _check_type(numbers: list[float], name: str) -> None:
    if len(numbers) < _HEADER:
        what = f"after the line TILT=NONE there are {len(numbers)} numbers, too few to say what they are"
        raise _wrong(name, what, f"at least {_HEADER}", _EXPORT)
    kind = {1: "C", 2: "B", 3: "A"}.get(int(numbers[5]) if abs(numbers[5]) < 10 else 0)
    if kind != "C":
        what = f"it is of photometric type {kind}" if kind else f"its photometric type is {numbers[5]:g}"
        raise _wrong(name, what, "type C, which is 1: angles from the axis and around it", _EXPORT)


def _values(words: list[str], name: str) -> tuple[Floats, Floats, Floats]:
    """Angles from the axis (k,), around it (n,) as the file has them [degrees], and candela (n, k)."""
    from photompy import IESFile

    # What is read stands in the same place in all editions, but the library wants to hear of a later one.
    text = "\n".join(("IESNA:LM-63-2002", "TILT=NONE", " ".join(words)))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            read = IESFile.read(text.encode()).photometry
    except Exception as error:  # readers raise whatever a broken file makes them raise
        what = f"this is not a readable LM-63 file ({str(error)[:120] or type(error).__name__})"
        allowed = "horizontal angles from 0, as type C has them"
        raise _wrong(name, what, allowed, _EXPORT) from None
    return np.array(read.thetas, float), np.array(read.phis, float), np.array(read.values, float)


def _check(angle: Floats, around: Floats, candela: Floats, name: str) -> None:
    for what, values in (("vertical", angle), ("horizontal", around)):
        if any(after - before < LEAST_STEP - 1e-9 for before, after in pairwise(values)):
            raise _wrong(
                name, f"its {what} angles do not rise", f"angles that rise by at least {LEAST_STEP} degrees", _EXPORT
            )
    if abs(angle[0]) > 1e-6 or not 0 < angle[-1] <= 180:
        what = f"its vertical angles go from {angle[0]:g} to {angle[-1]:g} degrees"
        raise _wrong(name, what, "from 0, which is the axis of the beam, to at most 180", _EXPORT)
    last, closed = around[-1], any(abs(around[-1] - end) < 1e-6 for end in (0, 90, 180, 360))
    if abs(around[0]) > 1e-6 or not (closed or (270 <= last < 360 and len(around) > 3)):
        what = f"its horizontal angles go from {around[0]:g} to {last:g} degrees"
        raise _wrong(name, what, "0 alone, or from 0 to 90, 180 or 360", _EXPORT)
    if candela.min() < 0:
        raise _wrong(name, f"one intensity is {candela.min():g} cd", "0 and more", _EXPORT)


def _all_round(around: Floats, candela: Floats) -> tuple[Floats, Floats]:
    """Angles around the axis from 0 to 360, and what belongs to them: quarters and halves mirrored as LM-63 says."""
    # photompy mirrors as if the angles were evenly spaced.
    if len(around) == 1:
        return np.array([0.0, 360.0]), np.repeat(candela, 2, axis=0)
    for end in (90.0, 180.0):
        if abs(around[-1] - end) < 1e-6:
            around = np.concatenate([around, 2 * end - around[-2::-1]])
            candela = np.concatenate([candela, candela[-2::-1]])
    if around[-1] < 360 - 1e-6:
        around, candela = np.append(around, 360.0), np.concatenate([candela, candela[:1]])
    around[0], around[-1] = 0.0, 360.0
    return around, candela


def _ahead(angle: Floats, around: Floats, candela: Floats, name: str) -> tuple[Floats, Floats]:
    """The half in front of the window."""
    if angle[-1] <= 90:
        return angle, candela
    mean = np.trapezoid(candela, around, axis=0) / 360
    fine = np.radians(np.linspace(0, angle[-1], 3601))
    light = np.interp(fine, np.radians(angle), mean) * np.sin(fine)
    behind = float(light[fine > np.pi / 2].sum() / max(light.sum(), 1e-300))
    if behind > MOST_BEHIND:
        what = f"{100 * behind:.3g} % of its light goes backward"
        allowed = f"at most {100 * MOST_BEHIND:g} %, for a head throws its light out of its window"
        raise _wrong(name, what, allowed, "the bare head's file, with what stands in front of it as parts")
    at_window = np.array([np.interp(90.0, angle, row) for row in candela])[:, None]
    front = angle < 90 - 1e-6
    return np.append(angle[front], 90.0), np.concatenate([candela[:, front], at_window], axis=1)


def _per_axis(around: Floats, candela: Floats, name: str) -> Floats:
    """Intensities over that on the axis, where all directions are one."""
    axis = float(np.trapezoid(candela[:, 0], around) / 360)
    if not 0 < candela.max() <= MOST_INTENSITY * axis:
        what = f"the intensity is {axis:g} cd on the axis and {candela.max():g} cd at most"
        allowed = "above 0 on the axis, where the guide number is measured, and nowhere more than a million times that"
        raise _wrong(name, what, allowed, "a file whose vertical angle 0 is the axis of the beam")
    spread = float(np.abs(candela[:, 0] - axis).max()) / axis
    if spread > UNEVEN:
        what = f"on the axis its intensities differ by {100 * spread:.3g} % from one direction to the other"
        raise _wrong(name, what, f"at most {100 * UNEVEN:g} %, since there all directions are one", _EXPORT)
    relative = candela / axis
    relative[:, 0] = 1.0
    return relative
