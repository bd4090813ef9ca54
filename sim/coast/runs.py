"""The coasts in a log: where the car rolls freely, between pushing, standing and braking."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sim.coast.log import FEWEST_ROWS, Log, read_log, running_median
from sim.errors import InputError

# The bounds are judgements for small cars with 0.05 to 0.5 m/s2 of coasting deceleration; no source.
AT_REST = 0.3  # [m/s]; below it wheel sensors skip and satellite speeds are noise
PUSHED = 0.25  # [m/s2]; a road would have to fall by 3 % to give this
BRAKED = 0.25  # [m/s2] more than the same coast had at higher speed; free rolling slows down less and less
HARDEST_COAST = 1.5  # [m/s2]
SHORTEST, LONGEST = 4.0, 1800.0  # [s] of a coast
LONGEST_GAP, GAP_STEPS = 5.0, 10.0  # a pause of the recorder ends a coast: [s], and in usual steps
WINDOW, LONGEST_WINDOW = 2.0, 10.0  # [s] on either side, over which a speed's trend is taken
CLEAR_TREND = 0.05  # [m/s2]; standard deviation of a trend that tells pushing from coasting
MOST_ROWS = 4000  # of all coasts together; more are averaged, since noise of a minute's roll is small long before
MOST_COASTS = 40  # beyond it the file is a drive through town, not a test
STRAIGHT, STRAIGHT_SHARE = 3.0, 0.03  # a way is straight within [m], or within this share of its length
DIRECTIONS = 36  # in which the places' extent is taken; between two of them it is short by 0.1 %
INNER = (5, 95)  # percentiles that it lies between, so that wild places do not count; of a circle's width that is 99 %
ROLL_FREELY = "let the car roll freely for at least 4 s and log it every half second"
REMEDIES = {  # where most rows are left out for another reason than that the car did not roll freely
    "with a repeated time": "write time_s with parts of a second, so that it rises from row to row",
    "in a stretch longer than half an hour": "give time_s in seconds, not in milliseconds, and a log of the test alone",
    "with a speed below 0": "turn the sign of the speed column",
}


@dataclass(frozen=True, eq=False)
class Coast:
    """One free roll of the car; arrays (n,).

    source : file name
    direction : 1 one way, -1 the other way
    time : from its first row [s]
    speed : [m/s], or None
    distance : from its first row [m], or None
    line : of the file, or number of the point
    heading : unit vector from its first to its last place where its way is straight, (2,) [-], or None
    extent : how far its places reach, all but the outermost [m], or None
    """

    source: str
    direction: int
    time: np.ndarray
    speed: np.ndarray | None
    distance: np.ndarray | None
    line: np.ndarray
    heading: np.ndarray | None = None
    extent: float | None = None


def trend(time: np.ndarray, values: np.ndarray, reach: int) -> tuple[np.ndarray, np.ndarray]:
    """Straight line through the rows about each row, by least squares.

    time : (n,) rising [s]; values : (n,) of any unit [-]; reach : rows on either side
    Returns (value of the line at the row, its slope per second), each (n,).
    """
    index = np.arange(len(time))
    low, high = np.maximum(index - reach, 0), np.minimum(index + reach + 1, len(time))
    clock, level = time - time.mean(), values - values.mean()

    def window(sums: np.ndarray) -> np.ndarray:
        total = np.concatenate([[0.0], np.cumsum(sums)])
        return total[high] - total[low]

    count = high - low
    mean_time, mean_value = window(clock) / count, window(level) / count
    spread = window(clock * clock) - count * mean_time**2
    slope = (window(clock * level) - count * mean_time * mean_value) / np.maximum(spread, 1e-12)
    return values.mean() + mean_value + slope * (clock - mean_time), slope


def scatter(time: np.ndarray, values: np.ndarray) -> float:
    """Noise of single rows: how far they lie off the line between their neighbours, whatever slow change is under them.

    time : (n,) rising [s]; values : (n,) of any unit [-]
    Returns a standard deviation, from the median so that wild rows do not count.  Derived here: with a = (t - t_before) / (t_after
    - t_before) the miss has the variance s^2 (1 + a^2 + (1 - a)^2); 1.4826 takes a normal median of sizes to a deviation.
    """
    share = (time[1:-1] - time[:-2]) / (time[2:] - time[:-2])
    miss = values[1:-1] - ((1 - share) * values[:-2] + share * values[2:])
    return float(1.4826 * np.median(np.abs(miss) / np.sqrt(1 + share**2 + (1 - share) ** 2))) if len(miss) else 0.0


def find_coasts(log: Log, direction: int) -> tuple[list[Coast], dict[str, int], tuple[str, ...]]:
    """The coasts of a log.

    log : Log; direction : 1 for the first way, -1 for the way back
    Returns (coasts, rows left out by reason, notes).  Rows of a coast are rows between pushing, standing, braking, pauses of
    the recorder and clocks that run back.
    """
    left_out = dict(log.left_out)

    def leave(reason: str, count: int) -> None:
        if count:
            left_out[reason] = left_out.get(reason, 0) + int(count)

    coasts: list[Coast] = []
    pieces, notes = _pieces(log, leave)
    for piece in pieces:
        if len(piece) < FEWEST_ROWS:
            leave("in stretches too short", len(piece))
            continue
        rows = _rolling(log, piece, leave)
        for part in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1):
            part = piece[part]
            if len(part) < FEWEST_ROWS or log.time[part[-1]] - log.time[part[0]] < SHORTEST:
                leave("in stretches too short", len(part))
            elif log.time[part[-1]] - log.time[part[0]] > LONGEST:
                leave("in a stretch longer than half an hour", len(part))
            else:
                coasts.append(_coast(log, part, direction))
    if any(coast.heading is None and log.x is not None for coast in coasts) and log.speed is None:
        notes = (*notes, f"{log.source}: the way is not straight; its length is summed point by point, which noise lengthens.")
    return coasts, left_out, notes


def _pieces(log: Log, leave: Callable[[str, int], None]) -> tuple[list[np.ndarray], tuple[str, ...]]:
    """Stretches of rows with rising times and without long pauses, each as indices into the log."""
    kept: list[int] = []
    cuts, restarts, last = [], 0, -np.inf
    for row, now in enumerate(log.time):
        if now > last:
            kept.append(row)
            last = now
        elif now == last:
            leave("with a repeated time", 1)
        elif row + 1 < len(log.time) and log.time[row + 1] <= last:
            # The clock goes on from the earlier time, so it was set back; a single row would be a slip.
            cuts.append(len(kept))
            restarts += 1
            kept.append(row)
            last = now
        else:
            leave("with a time that runs back", 1)
    rows = np.array(kept)
    notes = () if not restarts else (f"{log.source}: its time starts again {restarts} time{'s' if restarts > 1 else ''}; cut there.",)
    step = np.diff(log.time[rows])
    usual = float(np.median(step[step > 0])) if (step > 0).any() else 1.0
    cuts += [int(at) + 1 for at in np.flatnonzero(step > max(LONGEST_GAP, GAP_STEPS * usual))]
    return [piece for piece in np.split(rows, sorted(set(cuts))) if len(piece)], notes


def _rolling(log: Log, piece: np.ndarray, leave: Callable[[str, int], None]) -> np.ndarray:
    """Which rows of a piece roll freely, as positions in the piece."""
    time = log.time[piece]
    reach = max(2, round(WINDOW / float(np.median(np.diff(time)))))
    if log.speed is not None:
        speed = running_median(log.speed[piece])
        noise = scatter(time, log.speed[piece])
        while reach * np.median(np.diff(time)) < LONGEST_WINDOW and _trend_error(time, noise, reach) > CLEAR_TREND:
            reach *= 2
    elif log.x is not None and log.y is not None:
        speed = np.hypot(*(trend(time, place[piece], reach)[1] for place in (log.x, log.y)))
    else:
        assert log.distance is not None
        speed = np.abs(trend(time, log.distance[piece], reach)[1])
    gain = trend(time, speed, reach)[1]
    rest = speed < AT_REST
    driven = _widened(gain > PUSHED, reach) & ~rest
    braked = _braked(time, -gain, rest | driven, reach) & ~rest & ~driven
    below = speed < -AT_REST
    leave("with a speed below 0", below.sum())
    leave("at rest", (rest & ~below).sum())
    leave("driven or pushed", driven.sum())
    leave("braked", braked.sum())
    return np.flatnonzero(~(rest | driven | braked))


def _trend_error(time: np.ndarray, noise: float, reach: int) -> float:
    step = float(np.median(np.diff(time)))
    return noise / (step * (2 * reach**3 / 3 + reach**2 + reach / 3) ** 0.5)


def _widened(mask: np.ndarray, reach: int) -> np.ndarray:
    """The mask with as many rows more on either side as a trend reads."""
    total = np.concatenate([[0], np.cumsum(mask)])
    index = np.arange(len(mask))
    return total[np.minimum(index + reach + 1, len(mask))] > total[np.maximum(index - reach, 0)]


def _braked(time: np.ndarray, loss: np.ndarray, other: np.ndarray, reach: int) -> np.ndarray:
    """Where the speed falls faster than free rolling explains: by more than its median so far in this stretch."""
    mask = loss > HARDEST_COAST
    starts = np.flatnonzero(~other & np.concatenate([[True], other[:-1]]))
    for start in starts:
        ends = np.flatnonzero(other[start:])
        end = start + int(ends[0]) if len(ends) else len(loss)
        if time[end - 1] - time[start] > LONGEST:
            continue
        # A trend near the stretch's end reads few rows; the bound waits until as many rows stand before it.
        for row in range(start + 2 * reach + 1, end, max(1, reach // 2)):
            if loss[row] > np.median(loss[start:row]) + BRAKED:
                mask[row:end] |= loss[row:end] > np.median(loss[start:row]) + BRAKED
                break
    return _widened(mask, reach)


def _coast(log: Log, rows: np.ndarray, direction: int) -> Coast:
    distance = heading = extent = None
    if log.x is not None and log.y is not None:
        place = np.column_stack([log.x[rows], log.y[rows]])
        middle = place - place.mean(axis=0)
        axis = np.linalg.svd(middle, full_matrices=False)[2]
        along, across = middle @ axis[0], middle @ axis[1]
        way = along[-1] - along[0]
        turns = np.pi / DIRECTIONS * np.arange(DIRECTIONS)
        low, high = np.percentile(middle @ np.array([np.cos(turns), np.sin(turns)]), INNER, axis=0)
        extent = float((high - low).max())
        if np.sqrt(np.mean(across**2)) <= max(STRAIGHT, STRAIGHT_SHARE * abs(way)) and abs(way) > 2 * STRAIGHT:
            distance, heading = (along - along[0]) * np.sign(way), axis[0] * np.sign(way)
        else:
            distance = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(place, axis=0).T))])
    elif log.distance is not None:
        distance = log.distance[rows] - log.distance[rows[0]]
        distance = distance if distance[-1] >= 0 else -distance
    # A satellite receiver's own speed is far better than its places; a place would only add its wander.
    if log.speed is not None and log.x is not None:
        distance = None
    speed = None if log.speed is None else log.speed[rows]
    return Coast(log.source, direction, log.time[rows] - log.time[rows[0]], speed, distance, log.line[rows], heading, extent)


def averaged(coasts: list[Coast]) -> tuple[list[Coast], int]:
    """The coasts with as many neighbouring rows made one as keep the fit quick: a mean loses nothing of a speed that changes slowly.

    coasts : of all logs
    Returns (coasts, number of rows in a mean [-]); a coast that would be left with too few rows stays as it is.
    """
    several = -(-sum(len(one.time) for one in coasts) // MOST_ROWS)
    if several == 1:
        return coasts, 1

    def means(values: np.ndarray) -> np.ndarray:
        return values[: len(values) // several * several].reshape(-1, several).mean(axis=1)

    return [
        one if len(one.time) < FEWEST_ROWS * several
        else replace(
            one, time=means(one.time), speed=None if one.speed is None else means(one.speed),
            distance=None if one.distance is None else means(one.distance),
            line=one.line[: len(one.time) // several * several : several],
        )
        for one in coasts
    ], several  # fmt: skip


def turned_by_heading(coasts: list[Coast]) -> tuple[list[Coast], tuple[str, ...]]:
    """The coasts with the direction that their own places show, where they have places.

    coasts : of all logs
    Returns (coasts, notes).  The first coast with a heading keeps its direction; the others are measured against it.
    """
    first = next((one for one in coasts if one.heading is not None), None)
    if first is None or first.heading is None:
        return coasts, ()
    turned, notes = [], []
    for one in coasts:
        if one.heading is not None:
            shown = first.direction if float(one.heading @ first.heading) > 0 else -first.direction
            if shown != one.direction:
                notes.append(f"{one.source}: the coast from point {one.line[0]} heads the other way by its places; taken so.")
                one = replace(one, direction=shown)
        turned.append(one)
    return turned, tuple(notes)


def read_coasts(there: list[Path], back: list[Path]) -> tuple[list[Coast], dict[str, int], tuple[str, ...]]:
    """All coasts of some logs.

    there, back : log files of the one way and of the other
    Returns (coasts, rows left out by reason, notes).  Raises InputError for a log that cannot be read or holds no coast, and
    for one that is named twice.
    """
    coasts: list[Coast] = []
    left_out: dict[str, int] = {}
    notes: tuple[str, ...] = ()
    seen: set[str] = set()
    for path, direction in [*((path, 1) for path in there), *((path, -1) for path in back)]:
        source = str(path)
        if source in seen:
            raise InputError(source, "", "the log is named twice", "name each log once, for the way that it was driven")
        seen.add(source)
        log = read_log(path, source)
        found, left, said = find_coasts(log, direction)
        if not found:
            most = max(left, key=lambda reason: left[reason], default="")
            why = f" ({left[most]} of {len(log.time) + sum(log.left_out.values())} rows are {most})" if most else ""
            raise InputError(source, "", f"holds no coast{why}", REMEDIES.get(most, ROLL_FREELY))
        coasts += found
        notes += (*(f"{source}: {note}" for note in log.notes), *said)
        for reason, count in left.items():
            left_out[reason] = left_out.get(reason, 0) + count
    if len(coasts) > MOST_COASTS:
        raise InputError(
            coasts[0].source, "", f"the logs hold {len(coasts)} coasts, more than {MOST_COASTS}", "cut the logs down to the test"
        )
    coasts, several = averaged(coasts)
    said = (f"The logs are long: every {several} neighbouring rows were made one by their mean.",) if several > 1 else ()
    return coasts, left_out, (*notes, *said)
