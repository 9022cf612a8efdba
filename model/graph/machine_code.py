"""Numba's compiler behind a type that keeps the function's own."""

from collections.abc import Callable
from typing import Any, cast

import numba


def compiled[Function: Callable[..., Any]](function: Function) -> Function:
    """Compile a function to machine code at its first call.

    To a type checker the result is the function as it was written: Numba's own
    types lose the signature, and with it every check of a kernel's callers.
    """
    # By Numba's default every division is checked for zero, which took a sixth of the time; a
    # point where one is 0 gives no number, and the sampler turns back from it. Products are added
    # in one step and divisions turned into products where the machine can; what takes for granted
    # that no end is infinite and no number missing stays forbidden.
    return cast(
        "Function",
        numba.njit(function, error_model="numpy", fastmath={"contract", "arcp"}),
    )
