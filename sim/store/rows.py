"""Figures that a study keeps on the drive, so that an interrupted one goes on where it was stopped: a file whole or not at all."""

from pathlib import Path
from tempfile import TemporaryFile

import numpy as np

from sim.errors import InputError


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
    part = file.with_suffix(".part")
    try:
        with open(part, "wb") as stream:
            np.save(stream, rows)
        part.replace(file)
    except OSError as error:
        problem = f"{what} can't be kept in it ({error.strerror})"
        raise InputError(str(file.parent), "", problem, "make room, or leave --resume out") from None


def kept_rows(file: Path) -> np.ndarray | None:
    """The rows of a file [any unit], or None where it is missing or damaged.  file : of `keep_rows`."""
    try:
        return np.load(file, allow_pickle=False)
    except (OSError, ValueError, EOFError):
        return None
