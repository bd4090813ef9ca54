"""A file that is being written stands beside the one that it will replace, locked; what a killed command left of it is cleared away.

    .scrubwise-XXXXXXXX.pdf   (or another ending) a file that is being written; never read, safe to remove where nobody holds it

The lock is the operating system's and ends with the process, however that ends.  So whoever gets it knows that the file is a dead one's.
Where a file that is open cannot be renamed (Windows) there is no lock, and only one that has lain untouched for AGED_S goes.
"""

import os
import re
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import islice
from pathlib import Path

if sys.platform != "win32":
    import fcntl

MARK = ".scrubwise-"
AGED_S = 3600.0  # no single file takes so long to write
MOST_NAMES = 20_000  # of a folder that are looked at: a few hundredths of a second
_BESIDE = re.compile(re.escape(MARK) + r"[a-z0-9_]{8}\.[a-z0-9]{2,5}")  # as tempfile forms them


@contextmanager
def file_beside(folder: Path, suffix: str) -> Iterator[Path]:
    """A new empty file with a lock on it.

    folder : where it stands; suffix : how its name ends
    Yields it, to be written and renamed; what is left of it at the end is removed.  Raises OSError.
    """
    made, handle = _new_file(folder, suffix)
    try:
        yield made
    finally:
        if handle is not None:
            os.close(handle)
        made.unlink(missing_ok=True)


def _new_file(folder: Path, suffix: str) -> tuple[Path, int | None]:
    """The file, and the handle that holds its lock, where there is one."""
    while True:
        handle, name = tempfile.mkstemp(suffix=suffix, prefix=MARK, dir=folder)
        made = Path(name)
        if sys.platform == "win32":
            os.close(handle)
            return made, None
        with suppress(OSError):  # some network drives know no locks
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        with suppress(FileNotFoundError):  # another command may have cleared it away before it was locked
            if os.path.samestat(os.fstat(handle), os.stat(made)):
                return made, handle
        os.close(handle)


def marked_names(folder: Path) -> list[str]:
    """The names in a folder that begin with MARK, of the first MOST_NAMES.  folder : to look at."""
    try:
        with os.scandir(folder) as names:
            return sorted(one.name for one in islice(names, MOST_NAMES) if one.name.startswith(MARK))
    except (OSError, ValueError):
        return []


def clear_files(folder: Path, names: list[str]) -> None:
    """Remove the files that a killed command left.  folder : where they stand; names : in it, of `marked_names`."""
    for name in names:
        if _BESIDE.fullmatch(name):
            with suppress(OSError):
                _clear(folder / name)


def _clear(path: Path) -> None:
    if path.is_symlink() or not path.is_file():
        return
    if sys.platform == "win32":
        if time.time() - path.stat().st_mtime > AGED_S:
            path.unlink()
        return
    handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)  # raises where somebody holds it
        path.unlink()
    finally:
        os.close(handle)
