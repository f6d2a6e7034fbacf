"""Thin sheets: what they are (Sheet) and what they do to light (scatter)."""

from lightsim.sheet.sheet import Sheet

__all__ = ["Sheet"]
