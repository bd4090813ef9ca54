"""How kernels are compiled: strict arithmetic, cached in a folder that is named by the source text.

The folder's name is a hash of every file that holds a kernel and of those that it imports from: numba's own cache looks at the file of one
function only, and would serve stale code when a function that the kernel calls changes in another file.  `cache.py` keeps the files.

Inlined functions are compiled into whoever calls them.  Only so do their branches become choices between numbers, and only then can a
loop over many cars run in the processor's lanes.
"""

import functools
import hashlib
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
from numba.core.codegen import get_host_cpu_features
from numba.core.compiler import Flags
from numba.core.registry import cpu_target

from sim.kernels.cache import Kept, open_folder

HERE = Path(__file__).resolve().parents[1]  # the folder of `sim`


def _leave_blas_closed() -> None:
    """Let numba go on without products of matrices, which no kernel here takes.

    To look for them it opens all of scipy.linalg with the first kernel, a twentieth of a start.  A module that is None can't be imported
    (Python's own rule); afterwards the name is free again for whoever wants it.
    """
    name = "scipy.linalg.cython_blas"
    if name in sys.modules:
        return
    sys.modules[name] = None  # type: ignore[assignment]
    try:
        import numba.np.arraymath  # noqa: F401 - it looks for them as it is imported
    finally:
        del sys.modules[name]


_leave_blas_closed()


def _digest(texts: dict[Path, bytes]) -> str:
    """Hash of some files of `sim` and their compiler."""
    digest = hashlib.sha256(f"{numba.__version__} {sys.version}".encode())
    for file in sorted(texts):
        digest.update(file.relative_to(HERE).as_posix().encode() + texts[file])
    return digest.hexdigest()[:16]


def _texts() -> dict[Path, bytes]:
    """Every file of `sim`."""
    return {file: file.read_bytes() for file in HERE.rglob("*.py")}


def _kernel_texts() -> dict[Path, bytes]:
    """The files whose text decides what a kernel computes: those that hold one, and those whose names these import."""
    texts = _texts()
    kernels = [file for file, text in texts.items() if re.search(rb"^@(kernel|inlined|(inlined_)?no_refcount)\r?$", text, re.MULTILINE)]
    found = set(kernels)
    for file in kernels:
        for module in re.findall(rb"^from sim\.([\w.]+) import", texts[file], re.MULTILINE):
            place = HERE.joinpath(*module.decode().split("."))
            found |= {place.with_suffix(".py"), place / "__init__.py"} & texts.keys()
    return {file: texts[file] for file in found}


@functools.cache
def source_digest() -> str:
    """What names this text of `sim` and its compiler: figures of equal digest are equal bit for bit."""
    return _digest(_texts())


CACHE = open_folder(HERE, _digest(_kernel_texts()))  # None where nothing can be written: then every start compiles anew
if CACHE is not None:
    numba.config.CACHE_DIR = str(CACHE)  # type: ignore[attr-defined]


def _widest_registers() -> None:
    """Let a processor use its widest registers (AVX-512) for many cars side by side: its compiler keeps to half of them otherwise.

    A tenth less time; a figure is the same bit for bit, however many stand side by side.  Whoever has set NUMBA_CPU_FEATURES is heeded.
    """
    features = get_host_cpu_features()
    if numba.config.CPU_FEATURES is None and "+avx512f" in features.split(","):  # type: ignore[attr-defined]
        numba.config.CPU_FEATURES = features + ",-prefer-256-bit"  # type: ignore[attr-defined]


_widest_registers()

STRICT: dict[str, Any] = {"fastmath": False, "error_model": "numpy", "nogil": True}


def _kept(made: Any) -> Any:
    """A compiled function that is kept on disk."""
    if CACHE is not None and not numba.config.DISABLE_JIT:  # type: ignore[attr-defined]
        made._cache = Kept(made.py_func, CACHE)
    return made


def kernel(function: Callable[..., Any]) -> Any:
    """Compile a function of plain arrays and floats.  function : plain Python.

    Never fast-math, which would let a finite check vanish; other threads run on while a kernel does.
    """
    return _kept(numba.njit(**STRICT)(function))


def first_use(name: str) -> bool:
    """Whether a kernel has still to be compiled here, so that the caller can say that it takes a while.

    name : of the kernel with its file, such as "drive.integrate"
    """
    if numba.config.DISABLE_JIT:  # type: ignore[attr-defined]
        return False
    return CACHE is None or next(CACHE.glob(f"{name}-*.code"), None) is None


def without_refcount() -> dict[str, Any]:
    """The option by which a kernel does not count who holds an array; empty where this numba has none: counting is only slower.

    The option is numba's own affair and may go with any version; `tests/kernels/test_compiled.py` holds what makes it safe here.
    """
    option: dict[str, Any] = {"_nrt": False}
    try:
        cpu_target.options.parse_as_flags(Flags(), option)
    except Exception:  # whatever way a numba has of not knowing it
        return {}
    return option


NO_REFCOUNT = without_refcount()
# What a run's notes say of it.
SPEED_NOTES = () if NO_REFCOUNT else (f"numba {numba.__version__} counts who holds an array, so that laps take up to a fifth longer.",)


def inlined(function: Callable[..., Any]) -> Any:
    """Compile a function of plain floats, tuples and arrays into its callers.  function : plain Python.  Strict, as `compiled.kernel`."""
    return _kept(numba.njit(forceinline=True, **STRICT)(function))


def no_refcount(function: Callable[..., Any]) -> Any:
    """Compile a kernel that makes no array, keeps none and returns none.  function : plain Python.  Strict, as `compiled.kernel`.

    For what runs in every step: counting costs a locked memory access for each array and call, in all as much as a fifth of a lap.
    """
    return _kept(numba.njit(**STRICT, **NO_REFCOUNT)(function))


def inlined_no_refcount(function: Callable[..., Any]) -> Any:
    """Compile what `no_refcount` does into its callers.  function : as there.  Strict, as `compiled.kernel`.

    For the loops over many cars of one right-hand side: a call hands each array over as seven or nine numbers through memory, and all that
    these loops share took a ninth of a lap.
    """
    return _kept(numba.njit(forceinline=True, **STRICT, **NO_REFCOUNT)(function))
