"""Speed of the replay and of the steering bench, on one core: python tests/benchmarks/replay_speed.py

Prints the time of a picture at 1280 x 720 with four set-ups of 100,000 samples each (60 a second leave 16.7 ms), also with the
close-up zoomed in, and the time from moving an arm's joint on the bench to the new picture (50 ms is the limit).  Processor time
beside wall time tells whether the machine was busy with something else.
"""

import dataclasses
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pygame

from sim.linkages import catalogue
from sim.scenario.file import find_scenario, load_scenario
from sim.study.compare import compare
from viz.replay.bench.window import Bench
from viz.replay.player import Player
from viz.replay.run_data import Drive, Replay, read_run
from viz.replay.stage import Stage
from viz.run.folder import write_run

REAL_KINDS = [name for name, kind in catalogue.KINDS.items() if kind.rods]

SIZE, SAMPLES, PICTURES, DRAGS = (1280, 720), 100_000, 300, 30


def lengthened(drive: Drive) -> Drive:
    """The same lap with many more samples."""
    old = np.arange(len(drive.time))
    new = np.linspace(0, len(drive.time) - 1, SAMPLES)

    def denser(values: np.ndarray) -> np.ndarray:
        return np.stack([np.interp(new, old, column) for column in np.atleast_2d(values.T)], axis=-1).reshape(SAMPLES, *values.shape[1:])

    fields = {one.name: getattr(drive, one.name) for one in dataclasses.fields(drive)}
    columns = {name: denser(value) for name, value in fields.items() if isinstance(value, np.ndarray) and len(value) == len(old)}
    return dataclasses.replace(drive, **columns)


def measure(what: str, turn, count: int, limit: float) -> None:
    """Run and print [ms]."""
    wall, processor = [], time.process_time()
    for index in range(count):
        begin = time.perf_counter()
        turn(index)
        wall.append(1e3 * (time.perf_counter() - begin))
    processor = 1e3 * (time.process_time() - processor) / count
    middle, late = np.percentile(wall, (50, 95))
    print(f"{what}: {middle:.1f} ms (95 of 100 below {late:.1f}), processor {processor:.1f} ms; limit {limit:g} ms")


def main(name: str = "quay-loop") -> None:
    path = find_scenario(name)
    comparison = compare(load_scenario(path), path.parent, name)
    with tempfile.TemporaryDirectory() as folder:
        write_run(comparison, path.parent, Path(folder) / "run")
        replay = read_run(Path(folder) / "run")
    replay = dataclasses.replace(replay, drives=tuple(lengthened(one) for one in replay.drives))
    print(f"{name}: {SAMPLES} samples a set-up, {SIZE[0]} x {SIZE[1]}")
    pictures(replay)
    drags(replay)


def pictures(replay: Replay) -> None:
    surface, stage = pygame.Surface(SIZE), Stage(replay)
    for what, keys in (("a picture", {}), ("zoomed in", {"zoom": 4.0}), ("twenty times as fast", {"speed": 20.0})):
        player = Player.opened(replay)
        for key, value in keys.items():
            setattr(player, key, value)
        player.shows = {"lines", "trails", "slip", "loads", "numbers"}
        stage.draw(surface, player)

        def turn(index: int, player: Player = player) -> None:
            player.advance(1 / 60)
            player.playing = True
            stage.draw(surface, player)

        measure(what, turn, PICTURES, 1e3 / 60)


def drags(replay: Replay) -> None:
    bench, surface = Bench(replay), pygame.Surface(SIZE)
    for kind in REAL_KINDS:
        bench.model.choose_kind(kind)
        bench.draw(surface)
        joint = bench.model.pose().joints[0]

        def turn(index: int, joint: np.ndarray = joint) -> None:
            bench.wanted = (0, (joint[0] - 0.001 * (index % 9 + 1), joint[1]))
            bench.draw(surface)

        measure(f"an arm dragged, {kind}", turn, DRAGS, 50.0)


if __name__ == "__main__":
    main(*sys.argv[1:])
