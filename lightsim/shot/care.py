"""Cautions that go with every plan: flash and eyes, animals, heat, high voltage, bursts.

No claim of photobiological safety is made anywhere in lightsim: the exposure limits of IEC 62471 / CIE S 009 are for
those who can measure the radiation. Makers' instructions, local codes and licensed service come first.
"""

from __future__ import annotations

from typing import NamedTuple


class Care(NamedTuple):
    """One caution."""

    about: str  # a few words
    text: str  # one or two sentences


FIRST = (
    "Makers' instructions and local codes go before anything here. No claim of photobiological safety is made: light "
    "hazards to the eye (IEC 62471) take measurements that this program does not make."
)
# Common practice, no source; the capacitor: notes on strobe safety, D. L. Klipstein.
CARE = (
    Care(
        "Eyes",
        "Never fire a flash close to the eyes of people or animals, nor look into it; the bare head is the worst. Say "
        "so before you fire.",
    ),
    Care(
        "Light-sensitive epilepsy",
        "Runs of flashes can bring on a seizure in people who have it. Ask and warn those who stand by.",
    ),
    Care(
        "Animals",
        "Hold back: a few frames of one, then a pause; stop when it shrinks, freezes or flees. Do not chill, trap or "
        "move it, nor break its cover.",
    ),
    Care(
        "Animals to pass by",
        "Never flash those that nest, rest or have just moulted, nor those that are on their way at night.",
    ),
    Care(
        "Heat",
        "Nothing black or dark goes on the window: it warms about twenty times as much as white paper. Keep sheets 5 "
        "to 10 mm off, let air pass.",
    ),
    Care(
        "Bursts",
        "Follow the maker's limit of flashes a minute; pause until head and diffuser are cool. Stop at any smell, "
        "smoke or browning.",
    ),
    Care(
        "High voltage",
        "Never open a flash, even without batteries: some 300 V stay in it for days, with enough energy to kill. "
        "Repairs are for licensed service.",
    ),
    Care(
        "Rain and pond",
        "Keep flash, cable and batteries dry. What fell into water stays off and goes to licensed service.",
    ),
)
