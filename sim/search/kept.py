"""A search's candidates kept on the drive, so that an interrupted search goes on where it was stopped.

A candidate that was judged before is not judged again; which candidates are asked for, and in which order, does not hang on what was
kept.  So a search that goes on gives the same answer, bit for bit, as one that was never stopped.
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import astuple, fields
from pathlib import Path
from time import monotonic
from typing import Any

import numpy as np

from sim.course.centreline import Course, course_bytes
from sim.kernels.compiled import source_digest
from sim.store.rows import keep_rows, kept_rows, open_store

EVERY = 2.0  # between two writings, which is the most that a kill costs [s]


class KeptCandidates:
    """A search's candidates in a file that is written whole or not at all.

    kind : of a candidate's figures, a frozen dataclass of floats and whole-number enumerations; keys : how many values a candidate has [-]
    store : folder of the file, made where it is missing
    depends : what the figures depend on beside the values and the program, as JSON takes it; with the course it names the file
    course : Course
    Raises InputError for a store that can't be written.
    """

    def __init__(self, kind: type, keys: int, store: Path, depends: Any, course: Course):
        self.kind, self.keys = kind, keys
        self.makers = [one.type if isinstance(one.type, type) else float for one in fields(kind)]
        open_store(store)
        self.file = store / f"candidates-{_hash(kind, depends, course)}.npy"
        self.fresh, self.written = 0, monotonic()

    def taken_up(self) -> dict[tuple[float, ...], Any]:
        """What an earlier search kept: values to figures, in the order in which they were judged."""
        kept = kept_rows(self.file)
        if kept is None or kept.ndim != 2 or kept.shape[1] != self.keys + len(self.makers) or kept.dtype != float:
            return {}
        return {tuple(row[: self.keys]): self._figures(row[self.keys :]) for row in kept.tolist()}

    def note(self, known: Mapping[tuple[float, ...], Any]) -> None:
        """Write now and then.

        known : values [the keys' units] to figures, of which one is new.  Raises InputError where it can't be written.
        """
        self.fresh += 1
        if monotonic() - self.written >= EVERY:
            self.keep(known)

    def keep(self, known: Mapping[tuple[float, ...], Any]) -> None:
        """Write what is new.  known : values [the keys' units] to figures, all of them.  Raises InputError where it can't be written."""
        if not self.fresh:
            return
        keep_rows(self.file, np.array([[*point, *map(float, astuple(figures))] for point, figures in known.items()]), "candidates")
        self.fresh, self.written = 0, monotonic()

    def _figures(self, row: Sequence[float]) -> Any:
        return self.kind(*(make(value) for make, value in zip(self.makers, row, strict=True)))


def _hash(kind: type, depends: Any, course: Course) -> str:
    """Names everything that a candidate's figures depend on; the objectives, the bounds and the seed are not among it."""
    import scipy

    columns = [one.name for one in fields(kind)]
    text = json.dumps([source_digest(), np.__version__, scipy.__version__, columns, depends], sort_keys=True)
    return hashlib.sha256(text.encode() + course_bytes(course)).hexdigest()[:24]
