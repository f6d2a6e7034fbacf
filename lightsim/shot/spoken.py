"""Numbers of a plan as people say them."""

from __future__ import annotations


def two_figures(value: float) -> str:
    """A number to two figures, never as a power of ten: "4600", "0.23"."""
    return f"{float(f'{value:.2g}'):.10g}"


def in_stops(stops: float) -> str:
    """How many stops, whichever way: "1.0 stops"."""
    return f"{abs(stops):.1f} stops"


def in_percent(share: float) -> str:
    """A share to two figures: "46 %"; what is less than a thousandth is said so."""
    if 0 < share < 0.001:
        return "less than 0.1 %"
    return "100 %" if share >= 0.995 else f"{two_figures(100 * share)} %"
