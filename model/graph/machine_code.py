"""Numba's compiler: for the parts of the kernel, and for the whole, kept between runs."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, cast

import numba
import platformdirs

OPTIONS: Final[dict[str, Any]] = {
    # By Numba's default every division is checked for zero, which took a sixth of the time; a
    # point where one is 0 gives no number, and the sampler turns back from it. Products are added
    # in one step and divisions turned into products where the machine can; what takes for granted
    # that no end is infinite and no number missing stays forbidden.
    "error_model": "numpy",
    "fastmath": {"contract", "arcp"},
}


def compiled[Function: Callable[..., Any]](function: Function) -> Function:
    """Compile a function to machine code at its first call.

    To a type checker the result is the function as it was written: Numba's own
    types lose the signature, and with it every check of a kernel's callers.
    """
    return cast("Function", numba.njit(function, **OPTIONS))


def compiled_and_kept[Function: Callable[..., Any]](function: Function, key: str) -> Function:
    """Compile a function that lets others run meanwhile, and keep its machine code on disk.

    Parameters
    ----------
    function : callable
        A :func:`compiled` one.
    key : str
        Of the sources of all that it calls. Numba looks at the function's own file only, and
        would go on running the old code after an edit in another.
    """
    source = cast("Any", function).py_func
    folder = platformdirs.user_cache_path("kedgewise") / "machine_code" / key
    if not _can_be_written(folder):
        return cast("Function", numba.njit(source, nogil=True, **OPTIONS))
    config: Any = numba.config
    before, config.CACHE_DIR = config.CACHE_DIR, str(folder)
    try:
        return cast("Function", numba.njit(source, nogil=True, cache=True, **OPTIONS))
    finally:
        config.CACHE_DIR = before


def _can_be_written(folder: Path) -> bool:
    """Whether it is there or was made; Numba would else keep the code beside its source."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "kept").touch()
    except OSError:
        return False
    return True
