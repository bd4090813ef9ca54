"""The steering bench as a picture or a film, without a screen."""

from collections.abc import Iterator
from math import cos, pi
from pathlib import Path

from viz.replay.bench.window import Bench
from viz.replay.export import SIZE, check_kind, check_look, chosen_setups, write_frames
from viz.replay.quiet import pygame
from viz.replay.run_data import read_run

SWEEP = 8.0  # [s] in which the hand wheel goes from straight to its left stop, to its right one, and back


def export_bench(
    run_folder: Path, file: Path, setups: list[str] | None = None, speed: float = 1.0, size: tuple[int, int] = SIZE, text: float = 1.0
) -> None:  # fmt: skip
    """Write a still (.png) of the bench as it opens, or an animation (.gif, .mp4) in which its hand wheel goes from stop to stop.

    run_folder, file : to read, to write or replace; setups : the first is the one on the bench, by name, number from 1 or a name's
    beginning; None for the first that has rods; speed : of an animation, 1 takes SWEEP; size : of a picture, even numbers [px]
    text : how much larger its letters are, as far as the page has room [-]
    The same run gives the same pictures.  Raises InputError where the run can't be read, there is no such set-up, or the file can't be
    written.
    """
    check_kind(file)
    check_look(speed, size, text)
    replay = read_run(run_folder)
    chosen = chosen_setups(replay, setups)
    bench = Bench(replay, first=chosen[0] if chosen else None, buttons=False)
    bench.text = text
    write_frames(file, size, lambda rate: _frames(bench, size, rate / speed))


def _frames(bench: Bench, size: tuple[int, int], rate: float) -> Iterator[pygame.Surface]:
    """The pictures, on one surface that the next picture overwrites.  rate : pictures a second, 0 for one alone."""
    surface, steering = pygame.Surface(size), bench.model.built.steering
    for index in range(max(1, round(SWEEP * rate))):
        if rate:
            share = (1 - cos(4 * pi * index / (SWEEP * rate))) / 2  # slow at the stops, where there is most to see
            lock = steering.lock_left if index < SWEEP * rate / 2 else steering.lock_right
            bench.model.turn_hand(share * lock - bench.model.hand)
        bench.draw(surface)
        yield surface
