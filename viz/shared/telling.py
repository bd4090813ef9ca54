"""Where on a course set-ups differ most."""

from collections.abc import Sequence
from math import isfinite, nan

import numpy as np

OWN_PLACE = 0.5  # on the way from one telling place to the next the difference falls below this share of the smaller one
# Powers are compared by their mean over this much of the path: several relaxation lengths of a tyre (about 0.1 to 0.4 m), so that what
# is told is what the tyres do there and not a twitch of the driver's hands.  A judgement.
TOLD_OVER = 1.0  # [m]
LEAST_TELLING = 0.1  # of the largest difference; smaller ones tell nothing


def mean_over(station: np.ndarray, power: np.ndarray, length: float, closed: bool) -> np.ndarray:
    """Mean of a power over a piece of the path about each place, (n,) [W].

    station : (n,) rising [m]; power : (n,) [W]; length : of the piece [m]; closed : whether the path goes on from its end to its begin
    At an end of an open path the piece is what of it there is.
    """
    sums = running_sum(power, station)
    first, last = float(station[0]), float(station[-1])
    whole = last - first
    half = min(length, whole) / 2
    if half <= 0:
        return power.astype(float)
    begin, end = station - half, station + half
    if closed:
        rounds_before, rounds_after = np.floor((begin - first) / whole), np.floor((end - first) / whole)
        upto = np.interp(end - rounds_after * whole, station, sums) + rounds_after * sums[-1]
        return (upto - np.interp(begin - rounds_before * whole, station, sums) - rounds_before * sums[-1]) / (2 * half)
    begin, end = np.maximum(begin, first), np.minimum(end, last)
    return (np.interp(end, station, sums) - np.interp(begin, station, sums)) / (end - begin)


def running_sum(rate: np.ndarray, over: np.ndarray, total: float = nan) -> np.ndarray:
    """Running integral of a rate over time or path by trapezoids, (n,), which ends at a total that was summed in finer steps.

    rate : (n,); over : (n,) [s] or [m]; total : in the unit of both together, NaN where nobody summed it
    """
    sums = np.concatenate([[0.0], np.cumsum(0.5 * (rate[1:] + rate[:-1]) * np.diff(over))])
    return sums * (total / sums[-1]) if isfinite(total) and sums[-1] > 0 else sums


def telling_stations(drives: Sequence[tuple[np.ndarray, np.ndarray]], closed: bool) -> list[float]:
    """Stations where set-ups differ most in power, the largest difference first; of one alone, where its power is greatest [m].

    drives : of each, stations (n,) [m] and the power that its tyres lose there (n,) [W]; closed : whether the course is
    Powers are means over TOLD_OVER.  Each is a place of its own: between it and a more telling one the difference falls below half of its
    own.
    """
    return [place for place, _ in telling_places(drives, closed)]


def telling_places(
    drives: Sequence[tuple[np.ndarray, np.ndarray]], closed: bool, leading: float | None = None
) -> list[tuple[float, float]]:  # fmt: skip
    """As `telling_stations`, with the power that they differ by there; of one alone, with its power: (station [m], power [W]).

    leading : a station that comes first, whatever the difference there, with all that is the same place [m]; None for none
    """
    ends = min(float(station[-1]) for station, _ in drives)
    stations = drives[0][0]
    stations = stations[stations <= ends]
    around = closed and max(float(station[-1]) for station, _ in drives) < ends + TOLD_OVER  # all of them came round
    means = [(station, mean_over(station, power, TOLD_OVER, around)) for station, power in drives]
    powers = np.array([np.interp(stations, station, mean) for station, mean in means])
    spread = np.ptp(powers, axis=0) if len(drives) > 1 else powers[0]
    # A bend may lie across the line of a closed course: it is one place.
    first = int(np.argmin(spread)) if closed else 0
    lead = None if leading is None else (int(np.argmin(np.abs(stations - leading))) - first) % len(stations)
    places = [(first + index) % len(stations) for index in separate_peaks(np.roll(spread, -first), lead)]
    return [(float(stations[place]), float(spread[place])) for place in places]


def separate_peaks(values: np.ndarray, leading: int | None = None) -> list[int]:
    """Indices of the peaks, the highest first; the valley between two is lower than OWN_PLACE of the lower one.

    values : (n,) from 0 on; peaks below LEAST_TELLING of the highest are left out, but never the highest
    leading : index that comes before all others, None for none
    """
    left, peaks = values.astype(float), list[int]()
    while not peaks or left.max() > LEAST_TELLING * values.max():
        peaks.append(int(np.argmax(left)) if peaks or leading is None else leading)
        for side in (slice(peaks[-1], None), slice(peaks[-1], None, -1)):
            # The hill goes on until the values have risen again to what is a peak of its own.
            hill = values[side]
            risen = hill > np.minimum.accumulate(hill) / OWN_PLACE
            left[side][: int(np.argmax(risen)) if risen.any() else len(hill)] = 0.0
    return peaks
