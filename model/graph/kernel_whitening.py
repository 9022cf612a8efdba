"""Standard normals in units of what the pulls leave open, given the scales; with derivatives.

Many pulls pin down the sum of base, anchor, seabed and day, none of its parts, and how far each
part may go depends on its scale. A sampler that moves along standard normals themselves crawls in
such a bent valley. So what is sampled is ``z`` with ``u = U^-1 z``, where ``U' U = I + D G D``: the
prior's precision and a rough information ``G`` of the pulls, put through the scales ``D``. Where
the pulls say much this is a parameter in its own units, where they say little a standard normal,
whatever the scales are. The rough guess costs speed where it is poor, never correctness: the
density is that of ``u``, with the determinant of the map.

A block's matrices stand in rows ``start`` to ``stop``, each row from the block's first column on.
"""

from math import log, sqrt
from typing import Any

from model.graph.machine_code import compiled


@compiled
def fill_factor(scale: Any, information: Any, start: int, stop: int, factor: Any) -> float:
    """Fill a block of the upper factor `U`; return the log of its determinant."""
    log_determinant, n = 0.0, stop - start
    for i in range(n):
        # Rows taken out by themselves, from the diagonal on: the machine then does many columns at
        # once, in half the time.
        mine = factor[start + i, i:n]
        for j in range(mine.size):
            told = information[start + i, i + j]
            mine[j] = scale[start + i] * told * scale[start + i + j]
        mine[0] += 1.0
        for k in range(i):
            above = factor[start + k, i:n]
            times = above[0]
            for j in range(mine.size):
                mine[j] -= times * above[j]
        root = sqrt(mine[0])
        for j in range(mine.size):
            mine[j] /= root
        log_determinant += log(root)
    return log_determinant


@compiled
def fill_inverse(factor: Any, start: int, stop: int, inverse: Any) -> None:
    """Fill a block of `U^-1`, its upper triangle; the lower one is left as it is."""
    n = stop - start
    for i in range(n - 1, -1, -1):
        for k in range(i, n):
            inverse[start + i, k] = 0.0
        for j in range(i + 1, n):
            mine, below = inverse[start + i, j:n], inverse[start + j, j:n]
            times = factor[start + i, j]
            for k in range(mine.size):
                mine[k] -= times * below[k]
        inverse[start + i, i] = 1.0
        for k in range(i, n):
            inverse[start + i, k] /= factor[start + i, i]


@compiled
def times_upper(matrix: Any, start: int, stop: int, vector: Any, out: Any) -> None:
    """Fill a block of an upper triangle times a vector."""
    for i in range(start, stop):
        total = 0.0
        for k in range(i, stop):
            total += matrix[i, k - start] * vector[k]
        out[i] = total


@compiled
def times_upper_transposed(matrix: Any, start: int, stop: int, vector: Any, out: Any) -> None:
    """Fill a block of an upper triangle, transposed, times a vector."""
    for k in range(start, stop):
        out[k] = 0.0
    for i in range(start, stop):
        for k in range(i, stop):
            out[k] += matrix[i, k - start] * vector[i]


@compiled
def log_scale_gradient(
    inverse: Any, start: int, stop: int, z: Any, by_z: Any, u: Any, by_u: Any, out: Any
) -> None:
    """Fill a block of the derivatives by each log scale, through the map and its determinant.

    `by_z` and `by_u` are the derivatives by `z` and by `u` of all that depends on `u`. Through
    Cholesky's factor, whose product with the factor's own derivative is triangular, those by
    ``P = I + D G D`` are ``Q = U^-1 T U'^-1`` with ``T[i, j] = -z[i] by_z[j]`` for ``i >= j`` and
    alike above, less I; by the log scales they are the diagonals of ``Q (P - I)``, and that of
    ``Q P`` is ``-1 - u by_u``.
    """
    for i in range(start, stop):
        quadratic, before = 0.0, 0.0
        for k in range(i, stop):
            v = inverse[i, k - start]
            quadratic -= v * v * (1.0 + z[k] * by_z[k]) + 2.0 * v * z[k] * before
            before += by_z[k] * v
        out[i] = -1.0 - u[i] * by_u[i] - quadratic
