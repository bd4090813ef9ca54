"""Who does a study's blocks of work: this process, its threads, or an existing Dask cluster."""

from __future__ import annotations

import logging
import pickle
import time
import warnings
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import CancelledError
from dataclasses import dataclass
from queue import Empty, Queue
from threading import Thread
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

import numpy as np

from sim.errors import InputError
from sim.kernels.compiled import source_digest

if TYPE_CHECKING:
    from distributed import Client

ANSWER_WITHIN = 10  # [s] for the scheduler
WORKER_WITHIN = 30  # [s] for the first worker, and for a new one where all are gone
LOOK_EVERY = 2.0  # [s] while nothing is heard

Block = tuple[int, np.ndarray]  # its place among all, and its figures
Work = Callable[..., Block]


class Cluster:
    """A Dask cluster: the one connection that a study has to it, from the first check to the last block.

    address : of the scheduler, such as tcp://127.0.0.1:8786
    Raises InputError where no scheduler answers, so before any work is done.
    """

    def __init__(self, address: str):
        self.address, self.client = address, _client(address)


@dataclass(frozen=True)
class Workers:
    """Who drives: threads of this machine, or a cluster, whose connection ends with the `with` block of its workers."""

    threads: int = 1
    cluster: Cluster | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None) -> None:
        if self.cluster is not None:
            self.cluster.client.close()


def blocks_done(workers: Workers, work: Work, calls: Sequence[tuple[Any, ...]]) -> Generator[Block, None, None]:
    """Blocks as they are done, in any order; to be closed where not all are taken.

    workers : Workers; work : a function of this program; calls : its arguments, a tuple a block [any unit]
    Returns a generator of what `work` returns.  Raises InputError for a cluster, see `_on_cluster`.
    """
    if workers.cluster is not None:
        return _on_cluster(workers.cluster, work, calls)
    if workers.threads == 1 or len(calls) == 1:
        return (work(*call) for call in calls)
    return _on_threads(workers.threads, work, calls)


def _on_threads(threads: int, work: Work, calls: Sequence[tuple[Any, ...]]) -> Generator[Block, None, None]:
    from joblib import Parallel, delayed

    blocks = Parallel(n_jobs=threads, prefer="threads", return_as="generator_unordered")(delayed(work)(*call) for call in calls)
    try:
        yield from (block for block in blocks)  # closing this one does not close them
    finally:
        with warnings.catch_warnings():  # that what is still being done comes to nothing is what an interruption means
            warnings.simplefilter("ignore", UserWarning)
            blocks.close()


def _on_cluster(cluster: Cluster, work: Work, calls: Sequence[tuple[Any, ...]]) -> Generator[Block, None, None]:
    """Blocks done by a cluster; one whose worker died is done again by another.

    Raises InputError where no worker answers or the scheduler is lost, where a worker runs another version of this program, and where a
    block fells one worker after the other.
    """
    from distributed import KilledWorker

    address = cluster.address
    other = InputError("--cluster", "", "a worker runs another version of scrubwise, or none", "install the same on every machine")
    again = "start workers, then try again; with --resume the finished laps are kept"
    try:
        if cluster.client.status != "running":  # since the first check hours may have gone by with other work
            raise CancelledError
        for block in _heard(cluster.client, work, calls):
            if block is None:
                raise other
            yield block
    except TimeoutError:
        raise InputError("--cluster", "", f"the scheduler at {address} has no worker", again) from None
    except (ImportError, AttributeError):  # what a worker without this program, or with another, says of it
        raise other from None
    except (CancelledError, OSError):
        problem = f"the scheduler at {address} was lost on the way"
        raise InputError("--cluster", "", problem, "start the cluster again; with --resume the finished laps are kept") from None
    except KilledWorker:
        raise InputError("--cluster", "", "the same laps felled one worker after the other", "give the workers more memory") from None


def _heard(client: Client, work: Work, calls: Sequence[tuple[Any, ...]]) -> Iterator[Block | None]:
    """What workers send, while there are any; raises TimeoutError where there has been none for long, and what joblib raises."""
    from joblib import Parallel, delayed, parallel_config

    heard: Queue = Queue()

    def listen() -> None:
        # As bytes the arguments travel with the call; as objects they would lie on one worker and be lost with it.
        tasks = (delayed(_done)(source_digest(), work, pickle.dumps(call)) for call in calls)
        try:
            with parallel_config(backend="dask", wait_for_workers_timeout=WORKER_WITHIN):
                for block in Parallel(return_as="generator_unordered", batch_size=1)(tasks):
                    heard.put((block, None))
            heard.put((None, StopIteration()))
        except BaseException as fault:
            heard.put((None, fault))

    # Listened to in a thread of its own: joblib waits for workers that are gone without end and without a word.
    Thread(target=listen, daemon=True).start()
    last = time.monotonic()
    while True:
        try:
            block, fault = heard.get(timeout=LOOK_EVERY)
        except Empty:
            if client.ncores():
                last = time.monotonic()
            elif time.monotonic() - last > WORKER_WITHIN:
                raise TimeoutError from None
            continue
        if isinstance(fault, StopIteration):
            return
        if fault is not None:
            raise fault
        last = time.monotonic()
        yield block


def _client(address: str) -> Client:
    try:
        from distributed import Client
    except ImportError:
        raise InputError("--cluster", "", "the cluster library is not installed", "pip install scrubwise[cluster]") from None
    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what goes wrong is told in one line here
    found: Queue = Queue()

    def connect() -> None:
        try:
            found.put(Client(address, timeout=f"{ANSWER_WITHIN}s", set_as_default=True))
        except Exception:  # whatever speaks there, it is no scheduler
            found.put(None)

    # Something that takes the connection and never speaks, such as the scheduler's own web page, would be waited for without end.
    Thread(target=connect, daemon=True).start()
    try:
        client = found.get(timeout=2 * ANSWER_WITHIN)
    except Empty:
        client = None
    if client is None:
        problem = f"no scheduler answers at {address}"
        raise InputError("--cluster", "", problem, "start one, or check the address (tcp://HOST:PORT)")
    return client


def _done(digest: str, work: Work, call: bytes) -> Block | None:
    """One block on a worker; None where the worker is not of the caller's version."""
    return work(*pickle.loads(call)) if digest == source_digest() else None
