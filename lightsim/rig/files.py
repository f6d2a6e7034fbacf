"""Writing files so that nothing is lost: whole or not at all, and over an old file only when asked."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

from lightsim.rig.errors import RigError
from lightsim.rig.wording import file_name, paragraph


def write_safely(path: Path | str, data: str | bytes, *, replace: bool = False) -> Path:
    """Write a file, text as UTF-8, and return its path.

    replace : whether an existing file may be replaced
    The data goes to a new file in the same folder, which takes the name only when it is whole: an interruption
    leaves an old file as it was.
    Raises RigError if the file exists and replace is false, or if it cannot be written.
    """
    path = Path(path)
    name = file_name(path)
    content = data.encode() if isinstance(data, str) else data
    try:
        target = Path(os.path.realpath(path))  # what a link points to is replaced, not the link
        if target.is_dir():
            raise RigError(
                paragraph(f"{name}: this is a folder, not a file. Allowed: the name of a file. Try a name after it.")
            )
        if not replace and os.path.lexists(target):
            raise _exists(name)
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
        raise _exists(name) from None
    except FileNotFoundError:
        raise RigError(
            paragraph(
                f"{name}: there is no folder {file_name(path.parent)}. Allowed: a file in a folder that exists. "
                "Try making the folder first, or another path."
            )
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _unwritable(name, reason) from None
    return path


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


def _exists(name: str) -> RigError:
    return RigError(
        paragraph(
            f"{name}: this file exists already and was left as it is. Allowed: a name that is not taken. "
            "Try another name, or ask for it to be replaced."
        )
    )


def _unwritable(name: str, reason: str) -> RigError:
    return RigError(
        paragraph(
            f"{name}: this file cannot be written ({reason}). Allowed: a folder in which you may write, on a disk with "
            "room. Try another folder."
        )
    )
