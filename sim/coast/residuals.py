"""Least squares of coasts: what is measured, what is predicted, which rows count, how noisy they are."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

import numpy as np

from sim.car.chassis import GRAVITY
from sim.coast.log import FASTEST_LOG, FEWEST_ROWS
from sim.coast.motion import coast_motion
from sim.coast.runs import Coast, scatter
from sim.scenario.car import CarTable, TyreTable
from sim.scenario.tables import bounds_of

START_ROLLING, START_DRAG_AREA = 0.008, 0.20  # where the search begins: the scenario's usual car
# What a test in one direction cannot see: a road that looks level, air that feels still. Standard deviations; judgement, no source.
SLOPE_SPREAD, WIND_SPREAD = 0.002, 0.5  # [-], [m/s]
STEEPEST, STRONGEST = 0.1, 10.0  # bounds of slope [-] and wind [m/s]
# Below these a log is exact: rounding of a double sum, far from any sensor.
EXACT_SPEED, EXACT_DISTANCE = 1e-6, 1e-5  # [m/s], [m]
FAR_OUT = 4.5  # standard deviations; 7 in a million normal rows lie beyond
ROUNDS = 8  # of leaving out and fitting again
REPEATED = 0.9  # share of different values below which a log was recorded in steps
DIFFERENCE = 1e-6  # step of the central differences, in sizes of the parameters; their error is near 1e-10 of a slope
STOP, MOST_STEPS = 1e-15, 60  # of the search: to rounding
SCALES = np.array([0.01, 0.2, 0.005, 1.0])  # sizes of the parameters, for steps and stopping


class Residuals:
    """The residuals of all coasts, each over its noise, and their slopes: what the solver sees.

    Parameters: rolling, drag area, slope, wind, then each coast's start speed, then each coast's start place.
    """

    stop = STOP  # where the search ends: a step or a gain of this share

    def __init__(self, coasts: Sequence[Coast], mass: float, rotating_mass: float, air_density: float):
        self.coasts, self.count = coasts, len(coasts)
        self.both_ways = len({one.direction for one in coasts}) == 2
        self.weight = mass * GRAVITY / (mass + rotating_mass)
        self.drag_per_area = 0.5 * air_density / (mass + rotating_mass)
        speeds = [(index, one.speed) for index, one in enumerate(coasts) if one.speed is not None]
        ways = [(index, one.distance) for index, one in enumerate(coasts) if one.distance is not None]
        self.measured = np.concatenate([values for _, values in speeds + ways])
        self.owner = np.concatenate([np.full(len(values), index) for index, values in speeds + ways])
        self.clock = np.concatenate([coasts[index].time for index, _ in speeds + ways])
        self.is_speed = np.arange(len(self.measured)) < sum(len(values) for _, values in speeds)
        self.series = [mask for mask in (self.is_speed, ~self.is_speed) if mask.any()]
        self.floor = np.where(self.is_speed, EXACT_SPEED, EXACT_DISTANCE)
        placed = [one.distance is not None for one in coasts]
        self.free = np.flatnonzero([True] * (4 + self.count) + placed)
        limits = [bounds_of(TyreTable)["rolling_resistance"], bounds_of(CarTable)["drag_area_m2"],
                  (-STEEPEST, STEEPEST), (-STRONGEST, STRONGEST)]  # fmt: skip
        self.low, self.high = np.array(limits + [(0.0, 2 * FASTEST_LOG)] * self.count + [(-np.inf, np.inf)] * self.count).T
        self.begin = np.array([START_ROLLING, START_DRAG_AREA, 0.0, 0.0, *(_start_speed(one) for one in coasts), *[0.0] * self.count])
        self.scales = np.concatenate([SCALES, np.full(2 * self.count, 1.0)])

    def gaps(self, chosen: np.ndarray) -> np.ndarray:
        """How many usual steps lie between a row and the one before it.

        chosen : (n,) rows of one kind, in their order
        Returns (n,), at least 1, so that two rows by chance near in time are no more alike than neighbours; endless where a coast
        begins [-].
        """
        usual = float(np.median(np.concatenate([np.diff(one.time) for one in self.coasts])))
        steps = np.maximum(np.diff(self.clock[chosen]) / usual, 1.0)
        return np.concatenate([[np.inf], np.where(np.diff(self.owner[chosen]) == 0, steps, np.inf)])

    def is_exact(self, mask: np.ndarray, used: np.ndarray, off: np.ndarray) -> bool:
        """Whether the residuals of one kind are rounding alone.

        mask : (n,) the kind; used : (n,) which count; off : (n,) residuals [m/s or m]
        Returns True where their root mean square is no more than twice what an exact log's is.
        """
        return bool(np.mean(off[mask & used] ** 2) <= 4 * self.floor[mask][0] ** 2)

    def predicted(self, parameters: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
        """Speed and distance of each coast at its times.

        parameters : (p,) all of them, in the class's order [-], [m2], [-], [m/s], [m/s], [m]
        Returns for each coast (speed [m/s], distance [m]), each (n,).
        """
        rolling, area, slope, wind = parameters[:4]
        both = []
        for index, one in enumerate(self.coasts):
            pull = self.weight * (rolling + one.direction * slope)
            speed, way = coast_motion(one.time, parameters[4 + index], pull, area * self.drag_per_area, one.direction * wind)
            both.append((speed, way + parameters[4 + self.count + index]))
        return both

    def off(self, parameters: np.ndarray) -> np.ndarray:
        """Predicted less measured.

        parameters : (p,) as in `predicted`
        Returns (n,), speeds [m/s], then distances [m].
        """
        both = self.predicted(parameters)
        speeds = [speed for (speed, _), one in zip(both, self.coasts, strict=True) if one.speed is not None]
        ways = [way for (_, way), one in zip(both, self.coasts, strict=True) if one.distance is not None]
        return np.concatenate(speeds + ways) - self.measured

    def slopes(self, parameters: np.ndarray) -> np.ndarray:
        """Derivatives of `off` by central differences.  Start speeds are varied at once: a row knows only its own coast's.

        parameters : (p,) as in `predicted`
        Returns (n, p), in the units of `off` a unit of the parameter [m/s or m a unit].
        """

        def along(change: np.ndarray) -> np.ndarray:
            return (self.off(parameters + change) - self.off(parameters - change)) / (2 * DIFFERENCE)

        unit = DIFFERENCE * np.eye(4, len(parameters))
        shared = np.column_stack([along(scale * row) / scale for scale, row in zip(self.scales[:4], unit, strict=True)])
        starts = np.zeros(len(parameters))
        starts[4 : 4 + self.count] = DIFFERENCE
        own = self.owner[:, None] == np.arange(self.count)
        return np.column_stack([shared, own * along(starts)[:, None], own * ~self.is_speed[:, None]])

    def held(self) -> np.ndarray:
        """Rows that hold slope and wind near 0 where only one way was driven, one for each.

        Returns (0 or 2, p): 1 over the assumed spread of the parameter [1/-], [s/m].
        """
        rows = np.zeros((0 if self.both_ways else 2, len(self.begin)))
        if not self.both_ways:
            rows[0, 2], rows[1, 3] = 1 / SLOPE_SPREAD, 1 / WIND_SPREAD
        return rows

    def solve(self, parameters: np.ndarray, noise: np.ndarray, used: np.ndarray, loss: str) -> np.ndarray:
        """The parameters of least squares.

        parameters : (p,) where the search begins; noise : (n,) of the measured numbers [m/s or m]; used : (n,) which count
        loss : name of the loss function in the solver's words
        Returns (p,), as in `predicted`.
        """
        from scipy.optimize import least_squares

        held, free, scales = self.held(), self.free, self.scales

        def full(scaled: np.ndarray) -> np.ndarray:
            whole = self.begin.copy()
            whole[free] = scaled * scales[free]
            return whole

        def misses(scaled: np.ndarray) -> np.ndarray:
            whole = full(scaled)
            return np.concatenate([(self.off(whole) / noise)[used], held @ whole])

        def jacobian(scaled: np.ndarray) -> np.ndarray:
            rows = np.vstack([(self.slopes(full(scaled)) / noise[:, None])[used], held])
            return rows[:, free] * scales[free]

        inside = np.clip(parameters, self.low, self.high)[free] / scales[free]
        limits = self.low[free] / scales[free], self.high[free] / scales[free]
        ends = dict.fromkeys(("xtol", "ftol", "gtol"), self.stop)
        found = least_squares(misses, inside, jacobian, limits, loss=loss, max_nfev=MOST_STEPS, **ends)
        return full(found.x)


def _start_speed(coast: Coast) -> float:
    """Speed at the first rows, roughly; the fit refines it."""
    few = slice(0, max(FEWEST_ROWS, len(coast.time) // 10))
    if coast.speed is not None:
        return max(float(np.median(coast.speed[few])), 0.1)
    assert coast.distance is not None
    return max(float(np.polyfit(coast.time[few], coast.distance[few], 1)[0]), 0.1)


def without_wild(problem: Residuals) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The fit without the rows that lie far out.

    problem : Residuals
    Returns (parameters, noise of each measured number [m/s or m], which of them count).  A first fit that wild rows hardly touch
    (soft absolute value) finds the rows further than FAR_OUT off, which are left out of the next one, until none changes.
    """
    noise = problem.floor.copy()
    for mask in problem.series:
        noise[mask] = max(noise[mask][0], row_scatter(problem, problem.measured, mask))
    used = np.ones(len(noise), dtype=bool)
    found = problem.solve(problem.begin, noise, used, "soft_l1")
    for _ in range(ROUNDS):
        off, before, used = problem.off(found), used, np.zeros(len(noise), dtype=bool)
        for mask in problem.series:
            spread = max(1.4826 * float(np.median(np.abs(off[mask]))), problem.floor[mask][0])
            used[mask] = np.abs(off[mask]) <= FAR_OUT * spread
            noise[mask] = max(float(np.sqrt(np.mean(off[mask & used] ** 2))), problem.floor[mask][0])
        found = problem.solve(found, noise, used, "linear")
        if np.array_equal(before, used):
            break
    return found, noise, used


def row_scatter(problem: Residuals, values: np.ndarray, mask: np.ndarray) -> float:
    """Noise of single rows of one kind over all coasts, no finer than the steps in which it was recorded.

    problem : Residuals; values : (n,), measured or residuals [m/s or m]; mask : (n,) the kind
    Returns a standard deviation [m/s or m].
    """
    squares, rows = 0.0, 0
    for index, one in enumerate(problem.coasts):
        chosen = mask & (problem.owner == index)
        if chosen.any():
            squares += chosen.sum() * scatter(one.time, values[chosen]) ** 2
            rows += chosen.sum()
    levels = np.unique(np.round(problem.measured[mask], 9))
    # Where values come again and again they were recorded in steps; their own spacing tells nothing otherwise.
    grain = float(np.diff(levels).min()) if 1 < len(levels) < REPEATED * mask.sum() else 0.0
    return max(sqrt(squares / rows), grain / sqrt(12))
