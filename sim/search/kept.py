"""A search's candidates kept on the drive, so that an interrupted search goes on where it was stopped.

A candidate that was judged before is not judged again; which candidates are asked for, and in which order, does not hang on what was
kept.  So a search that goes on gives the same answer, bit for bit, as one that was never stopped.
"""

import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import astuple, fields
from pathlib import Path
from time import monotonic
from typing import Any

import numpy as np

from sim.course.centreline import Course, course_bytes
from sim.kernels.compiled import DIGEST
from sim.store.rows import keep_rows, kept_rows, open_store

EVERY = 2.0  # between two writings, which is the most that a kill costs [s]


class KeptJudge:
    """A judge that remembers, in memory and in a file that is written whole or not at all.

    judge : values to figures, a frozen dataclass of numbers; kind : that dataclass; keys : how many values a candidate has [-]
    store : folder of the file, made where it is missing; None keeps nothing
    depends : what the figures depend on beside the values and the program, as JSON takes it; with the course it names the file
    course : Course
    Raises InputError for a store that can't be written.
    """

    def __init__(self, judge: Callable[[Sequence[float]], Any], kind: type, keys: int, store: Path | None, depends: Any,
                 course: Course):  # fmt: skip
        self.judge, self.kind, self.keys, self.store = judge, kind, keys, store
        self.makers = [bool if one.type is bool else float for one in fields(kind)]
        self.rows: dict[tuple[float, ...], tuple[float, ...]] = {}
        self.fresh, self.written = 0, monotonic()
        if store is not None:
            open_store(store)
            self.file = store / f"candidates-{_hash(kind, depends, course)}.npy"
            self._take_up()

    def __call__(self, values: Sequence[float]) -> Any:
        """Figures of a candidate, judged or remembered.  values : one a key [the key's unit]."""
        point = tuple(float(value) for value in values)
        row = self.rows.get(point)
        if row is not None:
            return self._figures(row)
        figures = self.judge(point)
        self.rows[point] = tuple(float(value) for value in astuple(figures))
        self.fresh += 1
        if monotonic() - self.written >= EVERY:
            self.keep()
        return figures

    def keep(self) -> None:
        """Write what is new.  Raises InputError where it can't be written."""
        if self.store is None or not self.fresh:
            return
        keep_rows(self.file, np.array([point + row for point, row in self.rows.items()]), "candidates")
        self.fresh, self.written = 0, monotonic()

    def _figures(self, row: tuple[float, ...]) -> Any:
        return self.kind(*(make(value) for make, value in zip(self.makers, row, strict=True)))

    def _take_up(self) -> None:
        """Read what an earlier search kept."""
        kept = kept_rows(self.file)
        if kept is not None and kept.ndim == 2 and kept.shape[1] == self.keys + len(self.makers) and kept.dtype == float:
            self.rows = {tuple(row[: self.keys]): tuple(row[self.keys :]) for row in kept.tolist()}


def _hash(kind: type, depends: Any, course: Course) -> str:
    """Names everything that a candidate's figures depend on; the objectives, the bounds and the seed are not among it."""
    import scipy

    columns = [one.name for one in fields(kind)]
    text = json.dumps([DIGEST, np.__version__, scipy.__version__, columns, depends], sort_keys=True)
    return hashlib.sha256(text.encode() + course_bytes(course)).hexdigest()[:24]
