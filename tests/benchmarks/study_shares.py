"""Where the time of a large study goes, by name: python tests/benchmarks/study_shares.py [LAPS] [SCENARIO]

One study of uncertainty (left out: 10,000 laps of `quay-loop`, whose literature ranges are drawn) is driven by one worker, and the
processor time of each part is taken in that one run.  What only the thread that leads the study does cannot be shared by any number of
workers; it is to stay under 1 % of the whole.  What is Python in the blocks runs on all workers, but one at a time holds the
interpreter: numpy and kernels let go of it, so that the figure here is its most.
"""

import sys
import time
from collections import defaultdict

import sim.lap.lockstep.batch as batch
import sim.spread.run as study
import sim.study.jobs as jobs
from sim.scenario.file import find_scenario, load_scenario
from sim.spread.sample import Sample

MOST = 0.01  # of the whole, for what one thread does alone
# Each part, who does it, and the function that is timed; a part's time is without that of the parts inside it.
LEADER, WORKERS, KERNEL = "the leading thread alone", "Python on all workers", "the kernel on all workers"
PARTS = (
    ("draws of the inputs", LEADER, study, "_fill"), ("figures kept", LEADER, Sample, "put"),
    ("values of a block", LEADER, Sample, "values"), ("cars, paces and steer tables made ready", WORKERS, study, "laps_of"),
    ("pace planned", WORKERS, jobs, "plan_pace"), ("laps driven", KERNEL, batch, "integrate_lanes"),
    ("roads and steering laid out for the kernel", WORKERS, batch, "_drive_block"), ("figures of each lap", WORKERS, jobs, "_figures"),
    ("the rest of each block", WORKERS, jobs, "drive_block"), ("statistics", WORKERS, study, "statistics"),
    ("course, set-ups and collecting", LEADER, study, "spread"),
)  # fmt: skip


def main() -> None:
    wanted, name = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000, sys.argv[2] if len(sys.argv) > 2 else "quay-loop"
    path = find_scenario(name)
    scenario = load_scenario(path)
    samples = 16
    while samples * len(scenario.setup) < wanted:
        samples *= 2
    study.spread(scenario, path.parent, name, samples=16, literature=True)  # compiles where nothing is cached
    spent, inside = defaultdict(float), [0.0]

    def timed(part, owner, function):
        original = getattr(owner, function)

        def wrapper(*of, **options):
            inside.append(0.0)
            begin = time.process_time()
            try:
                return original(*of, **options)
            finally:
                took = time.process_time() - begin
                spent[part] += took - inside.pop()
                inside[-1] += took

        setattr(owner, function, wrapper)

    for part, _, owner, function in PARTS:
        timed(part, owner, function)
    found = study.spread(scenario, path.parent, name, samples=samples, literature=True)
    whole = sum(spent.values())
    print(f"{found.laps} laps of {name}, {len(found.inputs)} unsure inputs: {whole:.1f} s on one processor")
    for who in (LEADER, WORKERS, KERNEL):
        share = sum(spent[part] for part, of, *_ in PARTS if of == who) / whole
        print(f"{100 * share:7.2f} %  {who}" + (f" (at most {100 * MOST:g} % wanted)" if who == LEADER else ""))
        for part, of, *_ in PARTS:
            if of == who:
                print(f"{100 * spent[part] / whole:7.3f} %      {part}: {1e6 * spent[part] / found.laps:.1f} us a lap")
        if who == LEADER and share > MOST:
            sys.exit("what one thread does alone is too much of the whole")


if __name__ == "__main__":
    main()
