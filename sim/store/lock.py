"""A lock of the operating system (flock, or a locked byte on Windows): it ends with the process that holds it, however that ends."""

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sim.errors import InputError

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

PATIENCE_S = 10.0  # writing a run with its plots takes a few seconds
_POLL_S = 0.02


@contextmanager
def held(lock: Path, source: str) -> Iterator[None]:
    """Hold a lock; wait for another process that holds it, at most PATIENCE_S.

    lock : the lock's file; source : the folder as the user wrote it
    Raises InputError where the other process does not let go.
    """
    deadline = time.monotonic() + PATIENCE_S
    while (handle := _try_lock(lock)) is None:
        if time.monotonic() > deadline:
            raise InputError(source, "", "another run is being written here", "wait until it is done, or give another folder")
        time.sleep(_POLL_S)
    try:
        yield
    finally:
        _unlock(lock, handle)


@contextmanager
def held_if_free(lock: Path) -> Iterator[bool]:
    """Hold a lock where nobody else does, without waiting.  lock : the lock's file.  Yields whether it is held."""
    handle = _try_lock(lock)
    try:
        yield handle is not None
    finally:
        if handle is not None:
            _unlock(lock, handle)


def _try_lock(lock: Path) -> int | None:
    """The locked file's handle, or None while somebody else holds it."""
    handle = os.open(lock, os.O_RDWR | os.O_CREAT, 0o666)
    locked = False
    try:
        # The last holder may have removed the file after we opened it; a lock on a nameless file guards nothing.
        with suppress(BlockingIOError, PermissionError, FileNotFoundError):
            if sys.platform == "win32":
                msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
            else:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            locked = os.path.samestat(os.fstat(handle), os.stat(lock))
    finally:
        if not locked:
            os.close(handle)
    return handle if locked else None


def _unlock(lock: Path, handle: int) -> None:
    if sys.platform == "win32":  # removes no open file; if another process has opened it by now, it stays for that one
        os.close(handle)
        with suppress(OSError):
            os.unlink(lock)
        return
    try:
        with suppress(OSError):
            os.unlink(lock)  # while we hold it: afterwards it may be the next holder's
    finally:
        os.close(handle)
