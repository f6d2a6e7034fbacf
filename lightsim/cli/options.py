"""Options that several commands share, and what their texts mean."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Annotated

import typer

LEAST_ERROR, MOST_ERROR = 0.0005, 0.1
ERROR = "0.5%"  # asked for where none is named

Rig = Annotated[str, typer.Argument(metavar="RIG", help="A rig file, or the name of a ready design.")]
# Numbers come as texts: what is wrong with them is then told in the words of whole_number and number.
Magnification = Annotated[
    str | None, typer.Option(metavar="NUMBER", help="One of the rig's magnifications, such as 2 for 2x.")
]
Seed = Annotated[str, typer.Option(metavar="NUMBER", help="Of the random numbers; the same gives the same figures.")]
Error = Annotated[
    str,
    typer.Option(
        metavar="SHARE",
        help="Relative standard error asked of the illuminance, 0.05% to 10%, as 0.5% or 0.005. Smaller is slower.",
    ),
]
Backward = Annotated[
    bool, typer.Option("--backward", help="Run the second, independent estimator beside the first and print both.")
]
Json = Annotated[
    str | None, typer.Option("--json", metavar="FILE", help="Write every figure as JSON; - writes to the screen alone.")
]
Csv = Annotated[
    str | None, typer.Option("--csv", metavar="FILE", help="Write every figure as CSV; - writes to the screen alone.")
]
Html = Annotated[
    Path | None,
    typer.Option("--html", metavar="FILE", help="Write a page with pictures and every figure, in one file."),
]
Clean = Annotated[
    bool, typer.Option("--clean", help="With --html or --figures: portraits without grain, half a minute each.")
]
Pictures = Annotated[
    Path | None, typer.Option("--figures", metavar="DIR", help="Write every picture as a file into this folder.")
]
Charts = Annotated[Path | None, typer.Option("--figures", metavar="DIR", help="Write charts into this folder.")]
NewFile = Annotated[Path | None, typer.Option("--to", metavar="FILE", help="Write the result to this new file.")]
IntoRig = Annotated[
    Path | None, typer.Option("--into", metavar="RIG", help="Add the material at the end of this rig file.")
]
Replace = Annotated[bool, typer.Option("--replace", help="Replace files that exist already.")]


def number(name: str, text: str, *, allowed: str, remedy: str) -> float:
    """The number that a text means, "2x" being 2. Raises RigError for anything else."""
    from lightsim.rig.errors import fault, given

    try:
        value = float(text.strip().removesuffix("x"))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise fault(f"{name} {given(text)}", what="this is not a number", allowed=allowed, remedy=remedy)
    return value


def width(name: str, text: str, *, most: float) -> float:
    """The width that a text means, 0 or more. Raises RigError for anything else."""
    from lightsim.rig.errors import fault, given

    value = number(name, text, allowed=f"a width from 0 to {most:.3g}", remedy="10")
    if not 0 <= value <= most:
        what, allowed = "this cannot be used", f"a width from 0 to {most:.3g}, in the unit of the file"
        raise fault(f"{name} {given(text)}", what=what, allowed=allowed, remedy="0 for none")
    return value


def magnification(text: str | None) -> float | None:
    """The magnification that --magnification names, "2:1" being 2; None if it was left out.

    Raises RigError if it is no number.
    """
    if text is None:
        return None
    ratio = re.fullmatch(r"\s*(\d{1,6}(?:\.\d{1,6})?)\s*:\s*(\d{1,6}(?:\.\d{1,6})?)\s*", text)
    if ratio and float(ratio[2]):
        return float(ratio[1]) / float(ratio[2])
    return number("--magnification", text, allowed="one of the rig's magnifications", remedy="2 for 2x")


def whole_number(name: str, text: str, *, least: int, most: int, usual: int) -> int:
    """The whole number that a text means. Raises RigError for anything else, and for one out of range."""
    from lightsim.rig.errors import fault, given

    try:
        value = int(text[:20])
    except ValueError:
        value = least - 1
    if not least <= value <= most:
        what, allowed = "this cannot be used", f"a whole number from {least} to {most}"
        raise fault(f"{name} {given(text)}", what=what, allowed=allowed, remedy=f"{usual}")
    return value


def seed(text: str) -> int:
    """The seed that --seed names. Raises RigError if it cannot be one."""
    return whole_number("--seed", text, least=0, most=2**30, usual=1)


def relative_error(text: str) -> float:
    """The share that a text such as "0.5%" or "0.005" means. Raises RigError outside 0.0005 to 0.1."""
    from lightsim.rig.errors import fault, given

    digits = text.strip()
    percent = digits.endswith("%")
    try:
        value = float(digits.removesuffix("%")) / (100 if percent else 1)
    except ValueError:
        value = -1.0
    if not LEAST_ERROR * (1 - 1e-9) <= value <= MOST_ERROR * (1 + 1e-9):
        remedy = "0.5%" if percent or not 0.05 <= value <= 10 else f"{value:g}%"
        raise fault(
            f"--error {given(text)}",
            what="this is no error that can be asked for",
            allowed=f"from 0.05% to 10%, or as a share from {LEAST_ERROR} to {MOST_ERROR}",
            remedy=remedy,
        )
    return value
