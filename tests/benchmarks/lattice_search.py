"""How the generating vector in lightsim/light/lattice.py was found; prints it anew (about half a minute).

Component-by-component search (Sloan & Reztsov 2002) for a rank-1 lattice that serves 2^8 to 2^16 points alike
(embedded, Cools, Kuo & Nuyens 2006): each component is the odd number, of 1,024 tried, with the least sum over
the sizes of log P2, product weights 1/j^2. Weights that fall more slowly, or count the two coordinates of a direction
once more as a pair, gave up to 40 % larger errors of E in the ready boxes, up to 10 % smaller ones behind flat paper.
"""

import numpy as np

SIZES = [2**k for k in range(8, 17)]


def kernel(step: np.ndarray, size: int, weight: float) -> np.ndarray:
    """1 + weight 2 pi^2 B2({i step / size}) for all i, (len(step), size)."""
    x = (np.arange(size) * step[:, None] % size) / size
    return 1 + weight * 2 * np.pi**2 * (x * x - x + 1 / 6)


def search(dimensions: int, tried: int = 1024, seed: int = 1) -> list[int]:
    """Generating vector of so many dimensions."""
    rng = np.random.default_rng(seed)
    product = {size: np.ones(size) for size in SIZES}
    found: list[int] = []
    for dimension in range(1, dimensions + 1):
        weight = 1 / dimension**2
        candidates = np.unique(2 * rng.integers(0, SIZES[-1] // 2, tried) + 1) if found else np.array([1])
        score = np.zeros(len(candidates))
        for size in SIZES:
            blocks = max(1, len(candidates) * size // 4_000_000)
            for block in np.array_split(np.arange(len(candidates)), blocks):
                merit = kernel(candidates[block], size, weight) @ product[size] / size - 1
                score[block] += np.log(np.maximum(merit, 1e-300))
        best = int(candidates[score.argmin()])
        found.append(best)
        for size in SIZES:
            product[size] = product[size] * kernel(np.array([best]), size, weight)[0]
    return found


if __name__ == "__main__":
    print(search(48))
