"""Compiled kernels on disk: each file sealed by a sum of its bytes, named by what it holds, thrown away where it is damaged.

numba's own store keeps one index a function.  Two processes that compile at once can give one name to two kernels there, and a file that a
power cut has left half written stops every later start.  So the files are this module's; what is in them, and how it becomes code again,
stays numba's affair.

They are code and pickles, which do what they say when they are read.  So they lie in a folder that is the user's alone, and nothing is read
that somebody else could have written.
"""

import hashlib
import logging
import os
import pickle
import shutil
import stat
import sys
import tempfile
from contextlib import suppress
from functools import cached_property
from pathlib import Path
from typing import Any, cast

from numba.core.caching import FunctionCache
from numba.core.serialize import dumps

LOG = logging.getLogger("scrubwise")  # a warning comes out as one line on standard error, also where nobody has set up logging
SEAL = hashlib.sha256
PRIVATE = 0o700  # the user's alone
PLACE = "place.txt"  # in a folder of kernels: the folder of `sim` that it was made for
# The largest that is read [bytes]: a path, and fifty times the longest kernel of November 2026; anything larger is not ours.
MOST_PLACE, MOST_CODE = 10_000, 75_000_000


class DamagedError(Exception):
    """A file of the store that does not hold what was written."""


def user_cache() -> Path:
    """The folder in which this system keeps what programs can make again."""
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local"))
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    return Path(os.environ.get("XDG_CACHE_HOME", Path.home() / ".cache"))


def open_folder(house: Path, text: str) -> Path | None:
    """The folder of one text's kernels, made where it is not there; those of older texts of the same house go.

    house : folder of `sim`; text : what names the kernels' text
    Returns the folder, or None where nothing can be written, or where others could write there too.
    """
    place = hashlib.sha256(str(house).encode()).hexdigest()[:8]
    try:
        folder = user_cache() / "scrubwise" / f"kernels-{place}-{text}"
        folder.parent.parent.mkdir(parents=True, exist_ok=True)
        new = not folder.is_dir()
        for one in (folder.parent, folder):
            one.mkdir(mode=PRIVATE, exist_ok=True)
            if not _made_private(one):
                return None
        with tempfile.TemporaryFile(dir=folder):
            pass
        if new:
            (folder / PLACE).write_text(str(house), encoding="utf-8")
            _remove_outlived(folder, house)
    except (OSError, RuntimeError):
        return None
    return folder


def _made_private(folder: Path) -> bool:
    """Whether a folder is the user's own and nobody else's.  One that others could write is emptied first: what lies in it may be theirs.

    Raises OSError.
    """
    status = os.lstat(folder)
    if not stat.S_ISDIR(status.st_mode) or not _of_user(status):
        return False
    if sys.platform != "win32" and status.st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        folder.chmod(PRIVATE)
        if status.st_mode & (stat.S_IWGRP | stat.S_IWOTH):
            for one in list(folder.iterdir()):
                shutil.rmtree(one) if one.is_dir() and not one.is_symlink() else one.unlink(missing_ok=True)
    return True


def _of_user(status: os.stat_result) -> bool:
    """Whether something belongs to who runs the program.  On Windows the user's folder is closed to others by its own rights."""
    return sys.platform == "win32" or status.st_uid == os.geteuid()


def _plain_bytes(path: Path, most: int) -> tuple[bytes, os.stat_result]:
    """The bytes of a plain file, and what the system says of it.

    path : of the file; most : that it may hold [bytes]
    Raises DamagedError where it is something else or larger; OSError.
    """
    # Without O_NONBLOCK a pipe of that name would keep us waiting; a plain file does not heed it.
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with open(handle, "rb") as stream:
        status = os.fstat(handle)
        if not stat.S_ISREG(status.st_mode) or status.st_size > most:
            raise DamagedError(path.name)
        content = stream.read(most + 1)  # some files tell no size, and a file may grow while it is read
    if content is None or len(content) > most:
        raise DamagedError(path.name)
    return content, status


def _remove_outlived(folder: Path, house: Path) -> None:
    """Folders of this house's older texts, and of houses that are gone.  Another checkout keeps its own."""
    for other in folder.parent.glob("kernels-*"):
        try:
            made_for = Path(_plain_bytes(other / PLACE, MOST_PLACE)[0].decode())
        except (OSError, DamagedError, ValueError):
            made_for = house  # from before places were written down, or damaged
        if other != folder and (made_for == house or not made_for.is_dir()):
            shutil.rmtree(other, ignore_errors=True)


class Files:
    """A function's compiled forms, a file each: the seal, then a pickle of what it is and of numba's data.

    folder : of the kernels; name : of the function with its file, such as "drive.integrate"
    """

    def __init__(self, folder: Path, name: str):
        self.folder, self.name = folder, name

    def path(self, key: Any) -> Path:
        """The file of one form.  key : what it was compiled for."""
        return self.folder / f"{self.name}-{hashlib.sha256(repr(key).encode()).hexdigest()[:20]}.code"

    def load(self, key: Any) -> Any:
        """What was saved, or None.  key : what it was compiled for.  Raises DamagedError; OSError."""
        try:
            content, status = _plain_bytes(self.path(key), MOST_CODE)
        except FileNotFoundError:
            return None
        loose = sys.platform != "win32" and status.st_mode & (stat.S_IWGRP | stat.S_IWOTH)
        if not _of_user(status) or loose:
            raise DamagedError(self.path(key).name)
        size = SEAL().digest_size
        if SEAL(content[size:]).digest() != content[:size]:
            raise DamagedError(self.path(key).name)
        known, data = pickle.loads(content[size:])
        return data if known == key else None

    def save(self, key: Any, data: Any) -> None:
        """Write whole or not at all; the last of two that write at once wins, and both have the same to say.

        key : what it was compiled for; data : numba's.  Raises OSError.
        """
        content = dumps((key, data))
        handle, name = tempfile.mkstemp(dir=self.folder)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(SEAL(content).digest() + content)
            os.replace(name, self.path(key))
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise

    def flush(self) -> None:
        """Forget all that was saved for the function."""
        for path in self.folder.glob(f"{self.name}-*.code"):
            with suppress(OSError):  # what can't be removed can't be read either, and costs a compilation at each start
                path.unlink(missing_ok=True)


class Kept:
    """The cache of one function: numba's, with this module's files under it.  What fails here costs a compilation, never the run."""

    warned = False  # one line is enough, however many files are damaged or cannot be written

    def __init__(self, function: Any, folder: Path):
        self.function, self.cache_path = function, folder
        self.files = Files(folder, f"{Path(function.__code__.co_filename).stem}.{function.__qualname__}")

    @cached_property
    def numbas(self) -> FunctionCache:
        """numba's own part.  It tries its folder out by writing, so it waits until the function is called: most of them never are."""
        cache = FunctionCache(self.function)
        cache._cache_file = cast(Any, self.files)
        return cache

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """numba's form for a signature, or None.  sig, target_context : as numba gives them."""
        try:
            return self.numbas.load_overload(sig, target_context)
        except Exception:  # whatever a damaged file makes of itself
            _warn(f"the compiled code in {self.cache_path} was damaged; it is thrown away and made anew, which takes up to a minute")
            self.flush()
            return None

    def save_overload(self, sig: Any, data: Any) -> None:
        """Keep numba's form for a signature where that can be done.  sig, data : as numba gives them."""
        try:
            self.numbas.save_overload(sig, data)
        except Exception as error:  # a full drive; or numba's own trial of the folder, which makes a RuntimeError of it
            reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error).partition("\n")[0]
            _warn(f"the compiled code cannot be kept in {self.cache_path} ({reason.lower()}); "
                  "this run goes on, but every start will compile anew until there is room")  # fmt: skip

    def flush(self) -> None:
        """Forget all that was saved for the function."""
        self.files.flush()


def _warn(line: str) -> None:
    if not Kept.warned:
        LOG.warning("scrubwise: %s", line)
    Kept.warned = True
