"""The sample of a study on the drive: the draws, and what each set-up did in them, so that memory does not grow with either."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.store.rows import Shelf


@dataclass(frozen=True)
class Run:
    """Draws that are driven together.

    part : 0 for the first set of points, 1 for the second, 2 + i for the first with input i taken from the second
    setups : whose laps hang on these draws; start, count : of the draws [-]
    """

    part: int
    setups: tuple[int, ...]
    start: int
    count: int


class Sample:
    """Draws of unsure inputs and the figures of every set-up in them; to be closed.

    draws : how many; owners : of each input, the set-up that it belongs to, or None; setups, figures : how many [-]
    design : whether a Saltelli design is driven too: a second set of points, and for each input one with that input exchanged
    """

    def __init__(self, draws: int, owners: Sequence[int | None], setups: int, figures: int, design: bool):
        self.draws, self.owners, self.setups, self.design = draws, tuple(owners), setups, design
        self._figures = figures
        inputs = len(self.owners)
        self._values = Shelf(draws * inputs * (2 if design else 1))
        # All figures at the first set of points; of what a design adds, the first figure, by which set-ups are compared.
        self._found = Shelf(draws * setups * (figures + (1 + inputs if design else 0)))

    def close(self) -> None:
        """Throw all of it away."""
        self._values.close()
        self._found.close()

    def concerned(self, setup: int) -> list[int]:
        """The inputs that change a set-up's laps [-].  setup : its place [-]."""
        return [index for index, owner in enumerate(self.owners) if owner in (None, setup)]

    def runs(self, jobs: int) -> list[Run]:
        """All that has to be driven, each lap once, in runs of which the first of a larger sample are those of a smaller one.

        jobs : laps of a run at most, or one draw [-].  A set-up that no input concerns needs one lap, and of a design only those parts
        that exchange an input of its own.
        """
        drawn = tuple(setup for setup in range(self.setups) if self.concerned(setup))
        still = tuple(setup for setup in range(self.setups) if not self.concerned(setup))
        found = [Run(0, still, 0, 1)] if still else []
        for part in range(2 + len(self.owners) if self.design else 1):
            setups = drawn if part < 2 else tuple(setup for setup in drawn if part - 2 in self.concerned(setup))
            size = 1 << (max(jobs // max(len(setups), 1), 1).bit_length() - 1)
            found += [Run(part, setups, start, min(size, self.draws - start)) for start in range(0, self.draws if setups else 0, size)]
        return found

    def put_values(self, start: int, first: np.ndarray, second: np.ndarray | None = None) -> None:
        """Keep values of the inputs.  start : the first draw's place [-]; first, second : (n, inputs) of both sets [the inputs' units]."""
        width = len(self.owners)
        self._values.put(start * width, first)
        if second is not None:
            self._values.put((self.draws + start) * width, second)

    def values(self, start: int, count: int, part: int = 0) -> np.ndarray:
        """(count, inputs) the inputs of some draws [the inputs' units].  start, count : of the draws; part : see `Run` [-]."""
        width = len(self.owners)

        def read(half: int) -> np.ndarray:
            return self._values.get((half * self.draws + start) * width, count * width).reshape(count, width)

        if part < 2:
            return read(part)
        mixed = read(0)
        mixed[:, part - 2] = read(1)[:, part - 2]
        return mixed

    def put(self, run: Run, figures: np.ndarray) -> None:
        """Keep what a run found.  figures : (run.count, set-ups of the run, figures), NaN for none [any unit]."""
        for place, setup in enumerate(run.setups):
            if run.part:
                self._found.put(self._at(run.part, setup, 0) + run.start, figures[:, place, 0])
                continue
            whole = figures[:, place] if self.concerned(setup) else np.repeat(figures[:1, place], self.draws, axis=0)
            for column in range(self._figures):
                self._found.put(self._at(0, setup, column) + run.start, whole[:, column])

    def figure(self, setup: int, column: int = 0, part: int = 0) -> np.ndarray:
        """(draws,) a figure of a set-up [its unit].  setup, column : their places; part : see `Run`, beyond the first only column 0 [-]."""
        concerned = self.concerned(setup)
        if part and (not concerned or (part > 1 and part - 2 not in concerned)):
            part = 0  # nothing that this set-up reads was exchanged
        return self._found.get(self._at(part, setup, column), self.draws)

    def _at(self, part: int, setup: int, column: int) -> int:
        row = setup * self._figures + column if part == 0 else self.setups * (self._figures + part - 1) + setup
        return row * self.draws

    def inputs(self, chosen: Sequence[int], known: np.ndarray) -> "Inputs":
        """Some inputs at the first set of points, where the figures are known, as rows to slice.

        chosen : their places [-]; known : (draws,) whether each counts
        """
        return Inputs(self, np.array(chosen), np.flatnonzero(known))


@dataclass(frozen=True)
class Inputs:
    """Values of some inputs in some draws, read where they are sliced.  chosen : places of inputs; draws : places of draws, rising [-]."""

    sample: Sample
    chosen: np.ndarray
    draws: np.ndarray

    def __getitem__(self, rows: slice) -> np.ndarray:
        """(n, chosen) [the inputs' units].  rows : a slice with a start and an end."""
        draws = self.draws[rows]
        start = int(draws[0])
        return self.sample.values(start, int(draws[-1]) + 1 - start)[np.ix_(draws - start, self.chosen)]
