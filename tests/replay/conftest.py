"""A run folder made by hand: four set-ups roll round a circle, so that every place in the replay is known in closed form."""

import json
from math import asin, cos, pi, sin
from pathlib import Path

import numpy as np
import pygame
import pytest

from sim.car.chassis import WHEELS, kinematic_steer
from sim.linkages.rolling import equivalent_steer
from sim.scenario.file import dump_scenario, find_scenario, load_scenario
from sim.steering.table import hand_where
from sim.store.run_folder import run_folder
from sim.study.compare import compare
from sim.study.ready import car_of, entries_of
from viz.replay import pens
from viz.replay.run_data import read_run
from viz.run.folder import write_run

RADIUS, SPEED, STEP = 4.0, 1.5, 0.02  # of the mass centre's path [m], [m/s], between samples [s]
YARD = (Path(__file__).parents[1] / "scenarios" / "yard.toml").read_text(encoding="utf-8")
CAR = YARD[YARD.index("[car]") : YARD.index("[course]")].replace("one wheel left", "differential")
SCENARIO = (
    f'title = "Made by hand: a circle to the left"\n{CAR}'
    + """
[course]
segments = [{radius_m = 4, turn_deg = 360}]
closed = true
[pace]
target_m_per_s = 1.5
[[setup]]
name = "ideal"
pivot = "stub axles"
linkage = "ideal"
[[setup]]
name = "parallel"
pivot = "stub axles"
linkage = "parallel"
[[setup]]
name = "kinked arms"
pivot = "stub axles"
linkage = "cross rod"
arm_length_mm = 110
arm_angle_deg = 13.9
[[setup]]
name = "turntable"
pivot = "turntable"
[[setup]]
name = "half"
pivot = "stub axles"
linkage = "fraction"
fraction = 0.5
"""
)


def rolling_columns(car, entry):
    """Columns of a trace: the mass centre follows the circle as a rolling bicycle would, the wheels stand as the linkage says.

    The slip power is made: 200 N at the left and 600 N at the right wheels times the sine of the angle to their motion times speed.  All
    of it is sideways: the side force is that power over the wheel's forward speed and the tangent of its slip.
    """
    steer, sideslip = kinematic_steer(1 / RADIUS, car)
    pins = entry.steering.kingpin_y
    hand = hand_where(entry.steering, lambda wheels: equivalent_steer(wheels.steer, pins, car.wheelbase), np.array([steer]))
    pose = entry.steering.front_wheels(hand)
    station = np.arange(0.0, 2 * pi * RADIUS, SPEED * STEP)
    line, one = station / RADIUS, np.ones(len(station))
    back = car.front_arm - car.wheelbase
    x = np.array([*(pose.x[0] + car.front_arm), back, back])
    y = np.array([*pose.y[0], car.rear_track / 2, -car.rear_track / 2])
    steers = np.array([*pose.steer[0], 0.0, 0.0])
    rate, vx, vy = SPEED / RADIUS, SPEED * cos(sideslip), SPEED * sin(sideslip)
    moving = np.arctan2(vy + rate * x, vx - rate * y)
    off = np.sin(moving - steers)
    forward = np.hypot(vx - rate * y, vy + rate * x) * np.cos(moving - steers)
    columns = {
        "time_s": station / SPEED, "station_m": station, "x_m": RADIUS * np.sin(line), "y_m": RADIUS * (1 - np.cos(line)),
        "heading_deg": np.degrees(line - sideslip), "speed_m_per_s": SPEED * one, "sideslip_deg": np.degrees(sideslip) * one,
        "yaw_rate_deg_per_s": np.degrees(rate) * one, "lateral_error_m": 0 * one, "hand_deg": np.degrees(hand[0]) * one,
        "drive_force_N": 10 * one,
    }  # fmt: skip
    for i, wheel in enumerate(WHEELS):
        columns |= {
            f"steer_deg_{wheel}": np.degrees(steers[i]) * one, f"slip_deg_{wheel}": np.degrees(-np.arctan(off[i])) * one,
            f"load_N_{wheel}": (300.0 + 40 * i) * one,
            f"lateral_force_N_{wheel}": -np.sign(off[i]) * (600 if i % 2 else 200) * SPEED / forward[i] * one,
            f"slip_loss_W_{wheel}": (600 if i % 2 else 200) * abs(off[i]) * SPEED * one,
            f"rub_speed_m_per_s_{wheel}": abs(off[i]) * SPEED * one,
        }  # fmt: skip
    return columns


def write_trace(path, columns):
    table = np.column_stack(list(columns.values()))
    np.savetxt(path, table, fmt="%.12g", delimiter=",", header=",".join(columns), comments="")


@pytest.fixture(scope="session")
def circle_run(tmp_path_factory, scenario_of):
    """The folder of the run; its drive works are made too, 10 J apart."""
    scenario = scenario_of(SCENARIO)
    car, folder = car_of(scenario), tmp_path_factory.mktemp("replay") / "circle"
    setups = [{"finished": True, "reason": "", "drive_work_J": 1000.0 + 10.0 * index} for index, _ in enumerate(scenario.setup)]
    with run_folder(folder) as made:
        (made / "scenario.toml").write_text(dump_scenario(scenario), encoding="utf-8")
        (made / "summary.json").write_text(json.dumps({"model": "slipping four wheels", "setups": setups}), encoding="utf-8")
        for index, entry in enumerate(entries_of(scenario, "made")):
            write_trace(made / f"trace-{index + 1:02d}-x.csv", rolling_columns(car, entry))
    return folder


@pytest.fixture(scope="session")
def replay(circle_run):
    return read_run(circle_run)


@pytest.fixture(scope="session")
def car_park_compared(compiler):
    """A real run: two tight bends at a walk, four set-ups."""
    path = find_scenario("car-park")
    return compare(load_scenario(path), path.parent, "car-park")


@pytest.fixture(scope="session")
def car_park_run(car_park_compared, tmp_path_factory):
    """The folder of that run."""
    folder = tmp_path_factory.mktemp("replay") / "car-park-run"
    write_run(car_park_compared, find_scenario("car-park").parent, folder)
    return folder


@pytest.fixture(scope="session")
def car_park(car_park_run):
    return read_run(car_park_run)


LINE_AT_MOST = 80  # [px]


class WordSurface(pygame.Surface):
    """Writes down each line of words that is put on it: (words, its rectangle, the part of the surface that is drawn on) [px]."""

    lines: list

    def blit(self, source, dest, *more):
        if isinstance(source, Letters):
            self.lines.append((source.words, source.get_rect(topleft=dest), self.get_clip()))
        return super().blit(source, dest, *more)

    def fill(self, colour, rect=None, *more):
        filled = (self.get_rect() if rect is None else pygame.Rect(rect)).clip(self.get_clip())
        if filled.height > LINE_AT_MOST:  # a picture that is begun again; behind a word alone another one that it hides is a fault
            self.lines = [one for one in self.lines if not filled.contains(one[1])]
        return super().fill(colour, rect, *more)


class Letters(pygame.Surface):
    words: str


@pytest.fixture
def noted(monkeypatch):
    """A surface of a size that notes the words on it."""
    real = pens._letters

    def letters(words, size, bold, colour):
        picture = real(words, size, bold, colour)
        made = Letters(picture.get_size(), pygame.SRCALPHA)
        made.blit(picture, (0, 0))
        made.words = words
        return made

    def surface(size=(1280, 720)):
        made = WordSurface(size)
        made.lines = []
        return made

    monkeypatch.setattr(pens, "_letters", letters)
    return surface


@pytest.fixture(scope="session")
def sideslip():
    """Of the mass centre on the circle, from its distance to the rear axle [rad]."""
    return asin((1.5 - 0.82) / RADIUS)


def pixels_of(surface, colour, inside=None):
    """Columns and rows of the pixels of a colour, (n, 2)."""
    pixels = pygame.surfarray.array3d(surface).astype(int)
    wanted = np.array(pygame.Color(colour)[:3])
    found = np.argwhere(np.abs(pixels - wanted).max(axis=2) <= 2)
    if inside is not None:
        x, y, w, h = inside
        found = found[(found[:, 0] >= x) & (found[:, 0] < x + w) & (found[:, 1] >= y) & (found[:, 1] < y + h)]
    return found


@pytest.fixture(scope="session")
def where():
    return pixels_of
