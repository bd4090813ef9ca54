"""Pieces of a kernel that are compiled into whoever calls them, and kernels that only borrow their arrays.

Only so do the piece's branches become choices between numbers, and only then can a loop over many cars run in the processor's lanes.
"""

from typing import Any

import numba

from sim.kernels.compiled import CACHE

# Who holds an array is not counted in here.  Counting costs a locked memory access for each array and call, in all as much as a fifth
# of the arithmetic of a lap.
BORROWING: dict[str, Any] = {"cache": CACHE is not None, "fastmath": False, "error_model": "numpy", "nogil": True, "_nrt": False}


def piece(function):
    """Compile a function of plain floats, tuples and arrays into its callers.  function : plain Python.  Strict, as `compiled.kernel`.

    A piece that returns an array or a part of one may be called by pieces and borrowers only.
    """
    return numba.njit(forceinline=True, **BORROWING)(function)


def borrower(function):
    """Compile a kernel that makes no array and keeps none.  function : plain Python.  Strict, as `compiled.kernel`."""
    return numba.njit(**BORROWING)(function)
