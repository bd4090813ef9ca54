"""Speed of a search's judging, beside all start-up: python tests/benchmarks/search_speed.py [REPEATS]

Looks for the best arms and toe of the quay loop's cross rod with one worker, with two (processes of this machine, branched off), with as
many threads and on a cluster of two workers, which are started here.  What a worker does but once (its start, SciPy's import) is done
before the clock starts.  All are asked in turn, each figure is the least of a few.  Two clocks: the wall's, which other work on the machine
makes worth little, and the processors': what this process takes and, call by call, the busiest of its workers.  The second is what the
first would be on cores of one's own.  Linux only.
"""

import json
import subprocess
import sys
import tempfile
import time
from contextlib import ExitStack, contextmanager
from pathlib import Path

from sim.scenario.file import find_scenario, load_scenario
from sim.search.around import least_change, valleys
from sim.search.judge import Judge
from sim.search.optimise import Bound, Candidates, Goal, best_point, descend
from sim.search.setups import free_keys
from sim.study.ready import course_of
from sim.study.workers import Cluster, Workers

REPEATS = 5
SETUP = "kinked arms, cross rod"
FREE = {"arm_angle_deg": (-30.0, 40.0), "arm_length_mm": (60.0, 160.0), "toe_in_deg": (-1.0, 1.0)}
CIRCLE = 7.0  # [m] limit on the turning circle: local searches slide along it, as in most searches
EQUAL = 1.001  # of the least drive work counts as equal to it


def taken_by(process: int) -> float:
    """Processor time of another process so far [s].  process : its number; Linux makes its clock's number of it."""
    return time.clock_gettime((~process << 3) | 2)


class Search:
    """One search of the quay loop, to be judged by any workers again and again."""

    def __init__(self) -> None:
        path = find_scenario("quay-loop")
        scenario = load_scenario(path)
        setup = next(one for one in scenario.setup if one.name == SETUP)
        self.keys = free_keys(setup, FREE, "quay-loop")
        course = course_of(scenario, path.parent, "quay-loop")
        self.judge = Judge(scenario, course, setup, self.keys, float(scenario.pace.target_m_per_s))
        self.own = tuple(float(getattr(setup, one.key) or 0.0) for one in self.keys)

    def judged(self, workers: Workers, others: list[int], branched: bool) -> tuple[float, float, tuple, int]:
        """Wall time of the judging [s], processor time as above [s], the best candidate and how many were tried.

        workers : who judges; others : numbers of the processes that do, where they run already; branched : whether to branch some off
        """
        bounds = [(one.low, one.high) for one in self.keys]
        with Candidates(self.judge, bounds, self.own, lambda done, of, name: None, workers=workers) as problem:
            problem.crew.branched = branched
            goal = Goal("drive_work", (Bound("turning_circle_m", 1, CIRCLE),))
            # Each worker makes a short local search, which nobody remembers.
            calls = [(place, problem.box, Goal("scrub"), self.own, (0,), 1.0) for place in range(2)]
            for _ in problem.crew.done(descend, calls):
                pass
            pids = [process.pid for process in problem.crew.processes if process.pid] or others
            busiest, take = [0.0], problem._take

            def watched(work, calls):
                before = [taken_by(pid) for pid in pids]
                found = take(work, calls)
                busiest.append(max((taken_by(pid) - held for pid, held in zip(pids, before, strict=True)), default=0.0))
                return found

            problem._take = watched  # type: ignore[method-assign]
            begin, own = time.perf_counter(), time.process_time()
            best = best_point(problem, goal, 0)
            least = goal.value(problem.figures(best))
            equal = Goal("drive_work", (*goal.bounds, Bound("drive_work", 1, EQUAL * least)))
            valleys(problem, least_change(problem, best, equal), equal)
            return time.perf_counter() - begin, time.process_time() - own + sum(busiest), best, problem.tried


@contextmanager
def cluster_of_two():
    """The address of a scheduler with two workers of this machine, and the workers' process numbers."""
    from distributed import Client

    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "scheduler.json"
        dask = [sys.executable, "-m", "dask"]
        here = ["--host", "127.0.0.1", "--no-dashboard"]
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        processes = [subprocess.Popen([*dask, "scheduler", *here, "--port", "0", "--scheduler-file", str(file)], **quiet)]
        try:
            while not file.exists() or not file.read_text():
                time.sleep(0.1)
            address = json.loads(file.read_text())["address"]
            processes += [subprocess.Popen([*dask, "worker", address, *here, "--nthreads", "1", "--no-nanny"], **quiet) for _ in range(2)]
            with Client(address) as client:
                client.wait_for_workers(2)
                yield address, [process.pid for process in processes[1:]]
        finally:
            for process in processes:
                process.terminate()


def main() -> None:
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else REPEATS
    search = Search()
    with ExitStack() as stack:
        address, pids = stack.enter_context(cluster_of_two())
        cluster = stack.enter_context(Workers(cluster=Cluster(address)))
        kinds = {
            "one worker": (Workers(), [], False), "two workers": (Workers(threads=2), [], True),
            "two threads": (Workers(threads=2), [], False), "cluster of two": (cluster, pids, False),
        }  # fmt: skip
        times: dict[str, list[tuple[float, float]]] = {name: [] for name in kinds}
        found = set()
        for turn in range(repeats + 1):
            for name, kind in kinds.items():
                wall, spent, *answer = search.judged(*kind)
                found.add(tuple(answer))
                if turn:  # the first one compiles where nothing is cached
                    times[name].append((wall, spent))
    assert len(found) == 1, "what is found depends on who judges"
    ((_, tried),) = found
    least = {name: [min(column) for column in zip(*rows, strict=True)] for name, rows in times.items()}
    for name, (wall, spent) in least.items():
        print(f"{tried} candidates, {name}: {wall:.2f} s by the wall's clock, {spent:.2f} s by the processors'")
    for first, second in (("one worker", "two workers"), ("two threads", "cluster of two"), ("two workers", "cluster of two")):
        wall, spent = (one / other for one, other in zip(least[first], least[second], strict=True))
        print(f"{second}: {wall:.2f} times as fast as {first} by the wall's clock, {spent:.2f} times by the processors'")


if __name__ == "__main__":
    main()
