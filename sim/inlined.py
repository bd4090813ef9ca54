"""Pieces of a kernel that are compiled into whoever calls them.

Only so do the piece's branches become choices between numbers, and only then can a loop over many cars run in the processor's lanes.
"""

import numba

from sim.compiled import CACHE


def piece(function):
    """Compile a function of plain floats and tuples into its callers.  function : plain Python.  Strict, as `compiled.kernel`."""
    return numba.njit(cache=CACHE is not None, fastmath=False, error_model="numpy", nogil=True, forceinline=True)(function)
