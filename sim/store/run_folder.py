"""The run folder: written whole or not at all, replaced in one swap, refused where it is not ours.

A folder is ours when it holds a readable marker file (`MARKER`).  Nothing about the time of day or the process goes
into it, so that the same run gives the same bytes.

Beside the folder NAME, and only while a run is written or after one was interrupted, three names may stand:

    .scrubwise-NAME-part   a run that is being written or thrown away; never read, always safe to remove
    .scrubwise-NAME-old    the earlier folder, whole, moved aside for the moment of the swap
    .scrubwise-NAME-lock   an empty file, locked through the operating system by whoever writes or restores

The swap: NAME becomes -old, -part becomes NAME, -old becomes -part and is removed.  So at every moment the complete
earlier folder or the complete new one stands under NAME or under -old.  Where only -old stands, the next reader or
run puts it back.  -old is never removed in place: half of it would then look like a run to put back.

The lock is the operating system's (flock, or a locked byte on Windows), not the file's presence: it ends with the
process that holds it, however that process ends.  So whoever holds it knows that every leftover is a dead one's,
without guessing from process numbers or ages, and a live run's files are never touched.  A second run to the same
folder waits a little (`store.lock.PATIENCE_S`) for the first, then is refused.  Any command that is started in the
folder where they stand, or that writes there, clears them away (`clear_leftovers`), and half-written files with them.
"""

import errno
import json
import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from sim.errors import InputError
from sim.store.beside import MARK, clear_files, marked_names
from sim.store.lock import held, held_if_free

MARKER = "scrubwise-run.json"  # inside the folder; what makes a folder ours
FORMAT = 1
# A virus scanner or an indexer holds files that were just written for a moment, and Windows then renames no folder
# around them.  Elsewhere a refusal is final.
RENAME_PATIENCE_S = 2.0 if sys.platform == "win32" else 0.0

_ROLES = ("part", "old", "lock")  # none ends in another, so no two folders share a leftover's name
_MARKER_LIMIT = 100_000  # ours lists the files of a run; anything larger is somebody else's file
_POLL_S = 0.02
_PLAIN = {
    errno.ENOSPC: ("no space left on the drive", "make room or give a folder on another drive"),
    errno.EDQUOT: ("no space left in your share of the drive", "make room or give a folder on another drive"),
    errno.EACCES: ("no permission to use this place", "give a folder that belongs to you"),
    errno.EPERM: ("no permission to use this place", "give a folder that belongs to you"),
    errno.EROFS: ("the drive is write-protected", "give a folder on another drive"),
    errno.ENAMETOOLONG: ("the name is too long", "give a shorter one"),
}


@dataclass(frozen=True)
class _Places:
    """Where a run folder and its leftovers stand; `source` is the folder as the user wrote it."""

    source: str
    target: Path
    part: Path
    old: Path
    lock: Path


def clear_leftovers(folder: Path) -> None:
    """Put right what killed commands left in a folder: half-written files and run folders go, an earlier run that stands aside comes back.

    folder : to look through, not those inside it.  What another command holds, and what cannot be cleared, stays.
    """
    names = marked_names(folder)
    clear_files(folder, names)
    runs = {name.removeprefix(MARK).removesuffix(f"-{role}") for name in names for role in _ROLES if name.endswith(f"-{role}")}
    for run in sorted(filter(None, runs)):
        places = _places(folder / run)
        if places.lock.parent != Path(os.path.realpath(folder)):  # a link has taken the run's name
            continue
        with suppress(OSError, InputError), held_if_free(places.lock) as free:
            if free:
                _refuse_foreign(places)  # what stands where the run was is somebody's; the earlier run stays aside
                _tidy(places)


def check_target(folder: Path) -> None:
    """Refuse a folder that a run could not be written to, before any lap is driven.

    folder : the run folder, as the user wrote it; links are followed [path]
    Dead leftovers of an interrupted run to the same folder are put right on the way.
    Raises InputError if the folder is a file, holds something that Scrubwise did not write, is the current folder or
    holds it, is a whole drive, has a name kept for leftovers, cannot be made where it should stand, or if another run
    is being written there.
    """
    with _plain_errors(folder):
        places = _places(folder)
        _refuse_place(places)
        clear_leftovers(places.target.parent)
        with held(places.lock, places.source):
            _refuse_foreign(places)
            _tidy(places)


@contextmanager
def run_folder(folder: Path) -> Iterator[Path]:
    """Write a run folder whole or not at all.

    folder : the run folder, as the user wrote it; links are followed [path]
    Yields an empty folder beside it, to be filled with plain files.  When the block ends well, the marker is added,
    the files are synced to the drive and take the place of `folder` in one swap; after any exception they are removed
    and `folder` is as it was.  Once the new folder stands, a leftover that cannot be cleared away is no reason to
    fail: the next run to the same folder does it.
    Raises InputError for everything that `check_target` refuses, and in place of every OSError, in the block too.
    """
    with _whole_folder(folder, _refuse_foreign) as part:
        yield part
        _write_marker(part)


@contextmanager
def new_folder(folder: Path) -> Iterator[Path]:
    """Write a folder that is the user's own from then on, whole or not at all, where nothing or an empty folder stands.

    folder : to make, as the user wrote it; links are followed [path]
    Yields an empty folder beside it, as `run_folder` does.  It gets no marker, so that nothing ever replaces it.
    Raises InputError where something stands there, where no folder can be swapped, and in place of every OSError.
    """
    with _whole_folder(folder, _refuse_taken) as part:
        yield part


@contextmanager
def _whole_folder(folder: Path, refuse: Callable[[_Places], None]) -> Iterator[Path]:
    """The part to be filled, and the swap.  folder : as the user wrote it; refuse : raises InputError for what may not be replaced."""
    with _plain_errors(folder):
        places = _places(folder)
        _refuse_place(places)
        with held(places.lock, places.source):
            refuse(places)
            _tidy(places)
            try:
                os.mkdir(places.part)
                yield places.part
                _sync_files(places.part)
                _swap(places, refuse)
            except BaseException:
                shutil.rmtree(places.part, ignore_errors=True)
                raise


def open_run(folder: Path) -> Path:
    """Find a complete run folder for reading; put an interrupted swap right.

    folder : the run folder, as the user wrote it [path]
    Returns `folder`.  It is complete at that moment; a run that replaces it later may do so between two files that the
    caller reads.
    Raises InputError if there is no run, if Scrubwise did not write the folder, or if its format is another version's.
    """
    with _plain_errors(folder):
        places = _places(folder)
        marker = _read_marker(places.target)
        if marker is None:
            # Either there is no run, or a swap was interrupted, or we looked in the very middle of one.
            if _is_there(places.old) or _is_there(places.lock):
                with held(places.lock, places.source):
                    _restore(places)
                    marker = _read_marker(places.target)
            else:
                marker = _read_marker(places.target)
        if marker is None:
            raise _no_run(places)
    run_format, written_by = marker
    if run_format != FORMAT:
        raise InputError(
            places.source,
            MARKER,
            f"this run was written by {written_by} in format {run_format}, and this version reads format {FORMAT}",
            "run the scenario again with this version",
        )
    return Path(folder)


def _no_run(places: _Places) -> InputError:
    again = "give a folder that `scrubwise run SCENARIO --out FOLDER` wrote"
    if not _is_there(places.target):
        return InputError(places.source, "", "there is no such run folder", again)
    if not places.target.is_dir():
        return InputError(places.source, "", "this is a file, not a run folder", again)
    return InputError(places.source, "", f"Scrubwise did not write this folder (no usable {MARKER} in it)", again)


def _places(folder: Path) -> _Places:
    target = Path(os.path.realpath(folder))
    beside = (target.parent / f"{MARK}{target.name}-{role}" for role in _ROLES)
    return _Places(str(folder), target, *beside)


def _refuse_place(places: _Places) -> None:
    """Refuse a place where no folder can be swapped, whatever it holds."""
    source, target = places.source, places.target
    another = "give the name of a new folder"
    if target.is_symlink():
        raise InputError(source, "", "this link leads back to itself", another)
    if os.path.ismount(target):
        raise InputError(source, "", "this is a whole drive and cannot be swapped", "give a folder inside it")
    if Path(os.path.realpath(os.getcwd())).is_relative_to(target):
        raise InputError(source, "", "this folder is the current one or holds it", another)
    if target.name.startswith(MARK):
        raise InputError(source, "", f"names with {MARK} in front are kept for unfinished runs", "give another name")
    if not _is_there(target.parent):
        raise InputError(source, "", f"there is no folder {target.parent} to put it in", "make that folder first")
    if not target.parent.is_dir():
        raise InputError(source, "", f"{target.parent} is a file, so no folder can stand in it", another)


def _refuse_foreign(places: _Places) -> None:
    """Refuse a target that stands and is neither empty nor ours."""
    if not _is_there(places.target):
        return
    if not places.target.is_dir():
        raise InputError(places.source, "", "this is a file, not a folder", "give the name of a new folder")
    if not _is_empty(places.target) and _read_marker(places.target) is None:
        raise InputError(
            places.source,
            "",
            "this folder holds something that Scrubwise did not write",
            "give the name of a new or an empty folder",
        )
    added = _added(places.target)
    if added is not None:
        raise InputError(
            places.source, "", f'the folder also holds "{added}", which Scrubwise did not write', "move it elsewhere, or give a new folder"
        )


def _refuse_taken(places: _Places) -> None:
    """Refuse a target that stands and is not an empty folder."""
    if not _is_there(places.target):
        return
    if not places.target.is_dir():
        raise InputError(places.source, "", "there is a file of this name", "give the name of a new folder")
    if not _is_empty(places.target):
        raise InputError(places.source, "", "this folder holds something already", "give the name of a new folder")


def _added(folder: Path) -> str | None:
    """The first name in a run folder that its marker does not list: something that a person put there and would miss."""
    try:
        with open(folder / MARKER, "rb") as file:
            written = json.loads(file.read(_MARKER_LIMIT)).get("files")
    except (OSError, ValueError, AttributeError, RecursionError):  # no run, or swapped away at this moment
        return None
    if not isinstance(written, list):  # a run of another format, which cannot say
        return None
    return next((name for name in _names(folder) if name not in written and name != MARKER), None)


def _names(folder: Path) -> list[str]:
    def fail(error: OSError) -> None:
        if not isinstance(error, FileNotFoundError):  # swapped away at this moment
            raise error

    found = []  # rglob passes over what it can't list, since Python 3.12 whatever the reason
    for here, folders, files in os.walk(folder, onerror=fail):
        links = [name for name in folders if Path(here, name).is_symlink()]
        found += [Path(here, name).relative_to(folder).as_posix() for name in files + links]
    return sorted(found)


def _tidy(places: _Places) -> None:
    """Put right what a dead run left; only for the holder of the lock."""
    if _is_there(places.part):
        shutil.rmtree(places.part)
    _restore(places)
    _discard_old(places)


def _restore(places: _Places) -> None:
    """Put the earlier folder back if the swap ended half way; only for the holder of the lock."""
    if not _is_there(places.old):
        return
    if _is_there(places.target):
        if not (places.target.is_dir() and _is_empty(places.target)):
            return
        os.rmdir(places.target)  # somebody made the missing folder anew; it must not cost the run that stands aside
    _rename(places.old, places.target)
    _sync_folder(places.target.parent)


def _discard_old(places: _Places) -> None:
    if _is_there(places.old):
        _rename(places.old, places.part)
        shutil.rmtree(places.part)


def _swap(places: _Places, refuse: Callable[[_Places], None]) -> None:
    refuse(places)  # again: the laps took a while
    try:
        if _is_there(places.target):
            try:
                _rename(places.target, places.old)
            except PermissionError as error:
                raise InputError(
                    places.source,
                    "",
                    "the earlier run cannot be moved away: a file in it is open, or it belongs to somebody else",
                    "close the windows that show it and run again, or give another folder",
                ) from error
        _rename(places.part, places.target)
    except BaseException:
        with suppress(OSError):
            _restore(places)
        raise
    # The new run stands.  The earlier one goes only when the drive is sure of that; if not, it stays aside.
    with suppress(OSError):
        _sync_folder(places.target.parent)
        _discard_old(places)


def _write_marker(folder: Path) -> None:
    marker = {"format": FORMAT, "written_by": f"scrubwise {program_version()}", "files": _names(folder)}
    with open(folder / MARKER, "w", encoding="utf-8", newline="\n") as file:
        file.write(json.dumps(marker) + "\n")


def program_version() -> str:
    """Version of the installed program, or "uninstalled" where it runs from a copy of the source."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("scrubwise")
    except PackageNotFoundError:
        return "uninstalled"


def _read_marker(folder: Path) -> tuple[int, str] | None:
    """Format and writer, or None where the marker is missing or not one of ours."""
    try:
        if not (folder / MARKER).is_file():  # a pipe of that name would keep us waiting
            return None
        with open(folder / MARKER, "rb") as file:
            text = file.read(_MARKER_LIMIT)
    except (FileNotFoundError, NotADirectoryError):  # swapped away at this moment
        return None
    try:
        marker = json.loads(text)
    except (ValueError, RecursionError):
        return None
    if not isinstance(marker, dict):
        return None
    run_format, written_by = marker.get("format"), marker.get("written_by")
    if type(run_format) is not int or not isinstance(written_by, str):
        return None
    return (run_format, written_by) if written_by.startswith("scrubwise ") and written_by.isprintable() else None


def _is_there(path: Path) -> bool:
    """Whether the name is taken.  Unlike Path.exists, a drive that fails to answer is an error, not a no."""
    try:
        os.lstat(path)
    except (FileNotFoundError, NotADirectoryError):
        return False
    return True


def _is_empty(folder: Path) -> bool:
    with os.scandir(folder) as entries:
        return next(entries, None) is None


def _rename(old: Path, new: Path) -> None:
    deadline = time.monotonic() + RENAME_PATIENCE_S
    while True:
        try:
            return os.rename(old, new)
        except PermissionError:
            if time.monotonic() >= deadline:
                raise
            time.sleep(_POLL_S)


def _sync_files(folder: Path) -> None:
    def fail(error: OSError) -> None:
        raise error

    for here, _, names in os.walk(folder, onerror=fail):
        for name in names:
            with open(Path(here) / name, "rb+") as file:
                os.fsync(file.fileno())
        _sync_folder(Path(here))


def _sync_folder(folder: Path) -> None:
    if sys.platform == "win32":  # cannot open a folder; its file system keeps renames in order by itself
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # some network drives sync files but no folders
            raise
    finally:
        os.close(handle)


@contextmanager
def _plain_errors(folder: Path) -> Iterator[None]:
    """Turn an OSError into one plain line that names the run folder and, where known, the file."""
    try:
        yield
    except OSError as error:
        reason = (error.strerror or str(error) or type(error).__name__).lower()
        problem, remedy = _PLAIN.get(error.errno or 0, (f"the drive answered: {reason}", "check the drive, or give another folder"))
        place = Path(os.fsdecode(error.filename)).name if isinstance(error.filename, str | bytes | Path) else ""
        inside = place and not place.startswith(MARK) and place != Path(folder).name
        raise InputError(str(folder), place if inside else "", problem, remedy) from error
