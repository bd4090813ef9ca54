"""Who judges candidates: processes of this machine, branched off with all that a candidate's figures depend on, or who drives the laps.

Most of what a candidate takes is Python, which threads of one process do in turn.  A process that is branched off from this one has its
kernels ready and begins at once; where a system knows no such processes (all but Linux) threads do the work.
"""

import signal
import sys
from collections.abc import Callable, Generator, Sequence
from contextlib import suppress
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from multiprocessing.context import ForkProcess
from typing import Any

from sim.errors import InputError
from sim.study.workers import Workers, blocks_done

Block = tuple[int, Any]


class Crew:
    """The workers of one search, called again and again; to be closed.

    workers : Workers; judge : values of a candidate to its figures, the first argument of all work
    """

    def __init__(self, workers: Workers, judge: Callable[[tuple[float, ...]], Any]):
        self.workers, self.judge = workers, judge
        self.branched = workers.cluster is None and workers.threads > 1 and sys.platform == "linux"
        self.ends: list[Connection] = []
        self.processes: list[ForkProcess] = []

    def shares(self, count: int, most: int) -> list[tuple[int, int]]:
        """Things to do in blocks of about one size, of which each of this machine's workers gets as many.

        count : of them; most : of a block [-]
        Returns (first, end) of each block [-].
        """
        hands = self.workers.threads if self.workers.cluster is None else 1
        blocks = min(hands * -(-count // (most * hands)), count)
        return [(count * block // blocks, count * (block + 1) // blocks) for block in range(blocks)]

    def done(self, work: Callable[..., Block], calls: Sequence[tuple[Any, ...]]) -> Generator[Block, None, None]:
        """Work as it is done, in any order.

        work : called with the judge and one of the calls [any unit]; calls : its further arguments, a tuple each
        Returns a generator of what `work` returns.  Raises InputError for a cluster and where a process is lost, and what the work raises.
        """
        if not self.branched or len(calls) < 2:
            return blocks_done(self.workers, work, [(self.judge, *call) for call in calls])
        if not self.processes:
            self._begin()
        return self._shared(work, calls)

    def _begin(self) -> None:
        # What a local search wants of SciPy, imported once for all processes instead of by each of them.
        import scipy.optimize  # noqa: F401

        context = get_context("fork")
        for _ in range(self.workers.threads):
            mine, theirs = context.Pipe()
            process = context.Process(target=_serve, args=(self.judge, theirs, [*self.ends, mine]), daemon=True)
            process.start()
            theirs.close()
            self.ends.append(mine)
            self.processes.append(process)

    def _shared(self, work: Callable[..., Block], calls: Sequence[tuple[Any, ...]]) -> Generator[Block, None, None]:
        waiting, busy = list(reversed(calls)), set[Connection]()
        for end in self.ends:
            if waiting:
                end.send((work, waiting.pop()))
                busy.add(end)
        while busy:
            heard = wait(list(busy))
            for end in [one for one in busy if one in heard]:
                try:
                    block, fault = end.recv()
                except EOFError:
                    raise InputError(
                        "--workers", "", "a process of the search was ended from outside", "try again with --workers 1"
                    ) from None
                if waiting and fault is None:
                    end.send((work, waiting.pop()))
                else:
                    busy.remove(end)
                if fault is not None:
                    raise fault
                yield block

    def close(self) -> None:
        """End the processes."""
        for end in self.ends:
            end.close()
        for process in self.processes:
            process.terminate()
            process.join()
        self.ends, self.processes = [], []


def _serve(judge: Callable[[tuple[float, ...]], Any], end: Connection, others: Sequence[Connection]) -> None:
    """One process: does what it is sent until the search closes its end of the pipe, or is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # an interruption is the search's business
    for other in others:  # else a search that was killed would leave them open and its processes waiting
        other.close()
    with suppress(EOFError, OSError):
        while True:
            work, call = end.recv()
            try:
                end.send((work(judge, *call), None))
            except Exception as fault:
                end.send((None, fault))
