"""Speed of the replay and of the steering bench, this checkout against another:  python tests/benchmarks/replay_speed.py [OTHER_CHECKOUT]

Each checkout has a process of its own that stays; they are asked in turn, a few times each and no longer than LONGEST seconds for a
question, and processor times are printed: the least of each, and the middle one of the ratios of neighbours.  Asked are a picture at
1280 x 720 with four traces of 100,000 rows (at most 8 ms where it once took 16 to 19: 0.5 to 0.42), the same as fast as it goes, the time
from moving an arm's joint on the bench to the new picture (10 ms where it once took 27 to 34: 0.37 to 0.3), and at last the time from
`watch` to its first picture (2.5 s).
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

HERE = Path(__file__).resolve().parents[2]
SCENARIO, ROUNDS, STARTS = "quay-loop", 9, 3
LONGEST = 20.0  # [s] after which a question is not asked again
KINDS = ("cross rod", "centre arm", "rack")
# What runs in either checkout: it uses names only that both have, or have under another one.
CHILD = """
import contextlib, dataclasses, io, os, sys, time
os.environ["SDL_VIDEODRIVER"] = "dummy"
sys.path.insert(0, sys.argv[1])
import numpy as np
import sim
assert sim.__path__[0].startswith(sys.argv[1]), sim.__path__
from pathlib import Path
from viz.cli import main
sys.argv, folder = ["scrubwise", "run", sys.argv[2], "--out", sys.argv[3]], Path(sys.argv[3])
with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):
    main()
os.environ["PYGAME_HIDE_SUPPORT_PROMPT"] = "1"
import pygame
from viz.replay.player import Player
from viz.replay.run_data import read_run
from viz.replay.stage import Stage
try:
    from viz.replay.bench.window import Bench
except ImportError:
    from viz.replay.bench_window import Bench

ROWS = 100_000
def lengthened(drive):
    old = np.arange(len(drive.time))
    new = np.linspace(0, len(old) - 1, ROWS)
    def denser(values):
        return np.stack([np.interp(new, old, column) for column in np.atleast_2d(values.T)], axis=-1).reshape(ROWS, *values.shape[1:])
    fields = {one.name: getattr(drive, one.name) for one in dataclasses.fields(drive)}
    return dataclasses.replace(drive, **{name: denser(value) for name, value in fields.items()
                                         if isinstance(value, np.ndarray) and len(value) == len(old)})

replay = read_run(folder)
replay = dataclasses.replace(replay, drives=tuple(lengthened(one) for one in replay.drives[:4]),
                             scenario=replay.scenario.model_copy(update={"setup": replay.scenario.setup[:4]}))
surface, stage, bench = pygame.Surface((1280, 720)), Stage(replay), Bench(replay)
players = {}

def picture(speed):
    if speed not in players:
        players[speed] = Player.opened(replay)
        players[speed].speed, players[speed].shows = float(speed), {"lines", "trails", "slip", "loads", "numbers"}
        players[speed].playing = True
        stage.draw(surface, players[speed])
    player, count = players[speed], 12
    begin = time.process_time()
    for _ in range(count):
        player.advance(1 / 60)
        player.playing = True
        stage.draw(surface, player)
    return (time.process_time() - begin) / count

def drag(kind):
    model, count = bench.model, 9
    if model.kind != kind:
        model.choose_kind(kind)
        model.turn_hand(0.3 - model.hand)
        bench.draw(surface)
        model.start_over()
    joint = model.pose().joints[0]
    begin = time.process_time()
    for index in range(count):
        bench.wanted = (0, (joint[0] - 0.001 * (index % 9 + 1), joint[1]))
        bench.draw(surface)
    took = (time.process_time() - begin) / count
    model.start_over()
    return took

print("ready", flush=True)
for line in sys.stdin:
    what, _, which = line.strip().partition(" ")
    print(picture(which) if what == "picture" else drag(which), flush=True)
"""
FIRST_PICTURE = """
import os, sys, time
from pathlib import Path
os.environ["SDL_VIDEODRIVER"] = "dummy"
from viz.replay import window
draw = window.Window.frame
def frame(self, seconds):
    draw(self, seconds)
    self.open = False
window.Window.frame = frame
sys.argv = ["scrubwise", "watch", sys.argv[1]]
from viz.cli import main
main()
"""


def main(other: str = "") -> None:
    asked = [f"picture {speed}" for speed in (1, 20)] + [f"drag {kind}" for kind in KINDS]
    with tempfile.TemporaryDirectory() as folder:
        roots = [str(HERE), *([str(Path(other).resolve())] if other else [])]
        children = [
            subprocess.Popen([sys.executable, "-c", CHILD, root, SCENARIO, f"{folder}/run{index}"], cwd=root, text=True,
                             stdin=subprocess.PIPE, stdout=subprocess.PIPE)
            for index, root in enumerate(roots)
        ]  # fmt: skip
        for child in children:
            if child.stdout.readline() != "ready\n":
                raise SystemExit("a checkout could not be measured")
        for what in asked:
            times = [list[float]() for _ in children]
            _in_turn(times, ROUNDS, [lambda child=child, what=what: _answer(child, what) for child in children])
            _tell(what, times, "ms", 1)
        for child in children:
            child.stdin.close()
            child.wait()
        times = [list[float]() for _ in roots]
        _in_turn(times, STARTS, [lambda place=place: _start(roots[place], f"{folder}/run{place}") for place in range(len(roots))])
        _tell("start of watch, up to the first picture", times, "s of processor", 2)


def _in_turn(times: list[list[float]], rounds: int, askers: list) -> None:
    begin = time.perf_counter()
    for _ in range(rounds):
        for some, ask in zip(times, askers, strict=True):
            some.append(ask())
        if time.perf_counter() - begin > LONGEST:
            return


def _answer(child: subprocess.Popen, what: str) -> float:
    """Processor time of one picture [ms]."""
    child.stdin.write(f"{what}\n")
    child.stdin.flush()
    return 1e3 * float(child.stdout.readline())


def _start(root: str, run: str) -> float:
    """Processor time of a whole process that shows one picture [s]."""
    before = os.times()
    subprocess.run([sys.executable, "-c", FIRST_PICTURE, run], cwd=root, env=os.environ | {"PYTHONPATH": root}, check=True,
                   stdout=subprocess.DEVNULL)  # fmt: skip
    after = os.times()
    return after.children_user + after.children_system - before.children_user - before.children_system


def _tell(what: str, times: list[list[float]], unit: str, digits: int) -> None:
    least = [min(some) for some in times]
    ratio = ""
    if len(times) > 1:
        ratio = f", the other {least[1]:.{digits}f}: {median(own / other for own, other in zip(*times, strict=True)):.2f} of it"
    print(f"{what}: {least[0]:.{digits}f} {unit}{ratio}", flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
