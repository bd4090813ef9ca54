"""Figures that a study keeps on the drive: a file whole or not at all, so that an interrupted one goes on where it was stopped, and what
would fill the memory.

A file of rows ends in a sum of its bytes: one whose bytes have changed since is worked out anew, instead of giving other figures.
"""

import hashlib
import io
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryFile, gettempdir
from threading import Lock

import numpy as np

from sim.errors import InputError

_WIDTH = 8  # bytes a number
_LARGEST = 100_000_000  # [bytes] a file of rows; a block of laps takes less than one
_SEAL = hashlib.sha256


def open_store(store: Path | None) -> None:
    """Make the folder in which figures are kept, before any is worked out.

    store : the folder, or None.  Raises InputError where it can't be made or written.
    """
    if store is None:
        return
    try:
        store.mkdir(parents=True, exist_ok=True)
        with TemporaryFile(dir=store):
            pass
    except OSError as error:
        remedy = "choose another folder with --resume"
        raise InputError(str(store), "", f"finished laps can't be kept there ({error.strerror})", remedy) from None


def keep_rows(file: Path, rows: np.ndarray, what: str) -> None:
    """Write rows, whole or not at all.

    file : to write or replace; rows : (n, columns) [any unit]; what : they are, in the message
    Raises InputError where it can't be written.
    """
    part, content = file.with_suffix(".part"), io.BytesIO()
    try:
        np.save(content, rows)
        with open(part, "wb") as stream:
            stream.write(content.getvalue() + _SEAL(content.getvalue()).digest())
        part.replace(file)
    except OSError as error:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        problem = f"{what} can't be kept in it ({error.strerror})"
        raise InputError(str(file.parent), "", problem, "make room, or leave --resume out") from None


def kept_rows(file: Path) -> np.ndarray | None:
    """The rows of a file [any unit], or None where it is missing or damaged.  file : of `keep_rows`."""
    try:
        if not file.is_file() or file.stat().st_size > _LARGEST:  # a pipe of that name would keep us waiting
            return None
        with open(file, "rb") as stream:
            sealed = stream.read(_LARGEST)
        content, seal = sealed[: -_SEAL().digest_size], sealed[-_SEAL().digest_size :]
        if _SEAL(content).digest() != seal:
            return None
        return np.lib.format.read_array(io.BytesIO(content), allow_pickle=False)
    except (OSError, ValueError, EOFError):
        return None


class Shelf:
    """Numbers that would fill the memory, in a file without a name: written and read in runs, and gone when it is closed.

    count : of the numbers; all are 0 until they are written [any unit]
    Raises InputError where the drive has no room for them.
    """

    def __init__(self, count: int):
        self._lock = Lock()
        try:
            self._stream = TemporaryFile(buffering=0)  # noqa: SIM115 (`close` closes it)
            self._stream.truncate(count * _WIDTH)
        except OSError as error:
            raise _no_room(error) from None

    def put(self, first: int, numbers: np.ndarray) -> None:
        """Write a run.  first : the place of its first number; numbers : of any shape, row by row [any unit]."""
        run = np.ascontiguousarray(numbers, dtype=float).data.cast("B")
        try:
            with self._lock:
                self._stream.seek(first * _WIDTH)
                while run:
                    run = run[self._stream.write(run) :]
        except OSError as error:
            raise _no_room(error) from None

    def get(self, first: int, count: int) -> np.ndarray:
        """Read a run.  first : the place of its first number; count : of them.  Returns (count,) [any unit]."""
        numbers = np.empty(count)
        run = numbers.data.cast("B")
        with self._lock:
            self._stream.seek(first * _WIDTH)
            while run:
                run = run[self._stream.readinto(run) :]
        return numbers

    def close(self) -> None:
        """Throw all of it away."""
        self._stream.close()


def _no_room(error: OSError) -> InputError:
    problem = f"the figures of the study can't be kept there ({error.strerror})"
    return InputError(gettempdir(), "", problem, "make room in it, or set TMPDIR to another folder")
