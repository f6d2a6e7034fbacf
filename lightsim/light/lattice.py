"""Low-discrepancy points: a rank-1 lattice, shifted at random once a replicate.

Integer arithmetic modulo 2^32 makes the fractional part free. Replicates are independent; the points within
one are not, so errors come from the spread of replicates only (Cranley & Patterson 1976; L'Ecuyer & Lemieux 2000).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

# Found by tests/benchmarks/lattice_search.py: serves 2^8 to 2^16 points a replicate alike.
GENERATOR = (
    1, 14185, 5287, 28903, 61563, 49477, 49957, 12729, 18393, 59657, 39313, 28281, 54181, 22741, 31415,
    41167, 23327, 10651, 5507, 9105, 29391, 10153, 3257, 13777, 10455, 26723, 58865, 60861, 64417, 48467,
    6859, 41597, 57441, 35015, 38981, 25189, 6719, 48757, 39233, 36079, 17023, 825, 37943, 32543, 17621,
    10869, 44299, 43753,
)  # fmt: skip
LARGEST = 2**16


class Lattice:
    """Coordinates in [0, 1) of replicates x points, one dimension at a time.

    replicates: how many independent random shifts; points: a power of two, at most 2^16, per replicate.
    Dimensions past the lattice's own are independent random numbers.
    """

    def __init__(self, *, replicates: int, points: int, seed: int) -> None:
        if points & (points - 1) or not 1 <= points <= LARGEST:
            raise ValueError(f"points = {points}: allowed are powers of two from 1 to {LARGEST}")
        self.points = points
        self.paths = np.arange(replicates * points, dtype=np.uint32)  # all of them, replicate by replicate
        self._bits = points.bit_length() - 1
        self._scale = 2**32 // points
        self._rng = np.random.default_rng(seed)
        self._shift = self._rng.integers(0, 2**32, (len(GENERATOR), replicates), dtype=np.uint32)

    def coordinates(self, first: int, count: int, paths: NDArray[np.uint32]) -> tuple[NDArray[np.float32], ...]:
        """count dimensions from the first on of the numbered paths (see paths), each (n,) float32 in [0, 1)."""
        replicate = paths >> np.uint32(self._bits)
        found = []
        for dimension in range(first, first + count):
            if dimension >= len(GENERATOR):
                found.append(self._rng.random(len(paths), dtype=np.float32))
                continue
            # The replicate's bits above the index fall off in the multiplication modulo 2^32.
            turned = paths * np.uint32(GENERATOR[dimension] * self._scale % 2**32)
            turned += self._shift[dimension].take(replicate)
            # 24 bits survive in float32; more would round up to 1.
            found.append((turned >> np.uint32(8)).astype(np.float32) * np.float32(2**-24))
        return tuple(found)
