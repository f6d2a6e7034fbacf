"""Writing files so that nothing is lost: whole or not at all, and over an old file only when asked."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

from lightsim.rig.errors import RigError, fault, file_name


def write_safely(path: Path | str, data: str | bytes, *, replace: bool = False) -> Path:
    """Write a file, text as UTF-8, and return its path.

    replace : whether an existing file may be replaced
    The data goes to a new file in the same folder, which takes the name only when it is whole: an interruption
    leaves an old file as it was.
    Raises RigError if the file exists and replace is false, or if it cannot be written.
    """
    path = Path(path)
    content = data.encode() if isinstance(data, str) else data
    try:
        target = Path(os.path.realpath(path))  # what a link points to is replaced, not the link
        if target.is_dir():
            raise fault(
                path, what="this is a folder, not a file", allowed="the name of a file", remedy="a name after it"
            )
        require_free(path, replace=replace)
        new = target.with_name(f".{secrets.token_hex(8)}.part")
        try:
            with new.open("xb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            _take_name(new, target, replace=replace)
        finally:
            new.unlink(missing_ok=True)
    except RigError:
        raise
    except FileExistsError:
        raise _taken(path) from None
    except FileNotFoundError:
        raise fault(
            path,
            what=f"there is no folder {file_name(path.parent)}",
            allowed="a file in a folder that exists",
            remedy="making the folder first, or another path",
        ) from None
    except (OSError, ValueError) as error:
        raise fault(
            path,
            what=f"this file cannot be written ({getattr(error, 'strerror', None) or error})",
            allowed="a folder in which you may write, on a disk with room",
            remedy="another folder",
        ) from None
    return path


def require_free(path: Path | str, *, replace: bool) -> None:
    """Raise RigError if something has this name already and may not be replaced."""
    if not replace and os.path.lexists(os.path.realpath(path)):
        raise _taken(path)


def make_folder(folder: Path) -> None:
    """Make a folder, and those that it lies in, where there is none. Raises RigError if it cannot be made."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise fault(
            folder,
            what=f"this folder cannot be made ({getattr(error, 'strerror', None) or error})",
            allowed="a folder in which you may write",
            remedy="another one",
        ) from None


def _take_name(new: Path, target: Path, *, replace: bool) -> None:
    if not replace:
        # A link fails if the name has been taken meanwhile; where there are no links, the check before must do.
        try:
            os.link(new, target)
            return
        except FileExistsError:
            raise
        except (OSError, NotImplementedError, AttributeError):
            pass
    elif target.exists():
        with contextlib.suppress(OSError):
            new.chmod(target.stat().st_mode)
    os.replace(new, target)


def _taken(path: Path | str) -> RigError:
    return fault(
        path,
        what="this file exists already and was left as it is",
        allowed="a name that is not taken",
        remedy="another name, or --replace",
    )
