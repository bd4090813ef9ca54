"""Where on a course set-ups differ most."""

from collections.abc import Sequence

import numpy as np

OWN_PLACE = 0.5  # on the way from one telling place to the next the difference falls below this share of the smaller one
LEAST_TELLING = 0.1  # of the largest difference; smaller ones tell nothing


def telling_stations(drives: Sequence[tuple[np.ndarray, np.ndarray]], closed: bool) -> list[float]:
    """Stations where set-ups differ most in power, the largest difference first; of one alone, where its power is greatest [m].

    drives : of each, stations (n,) [m] and the power that its tyres lose there (n,) [W]; closed : whether the course is
    Each is a place of its own: between it and a more telling one the difference falls below half of its own.
    """
    ends = min(float(station[-1]) for station, _ in drives)
    stations = drives[0][0]
    stations = stations[stations <= ends]
    powers = np.array([np.interp(stations, station, power) for station, power in drives])
    spread = np.ptp(powers, axis=0) if len(drives) > 1 else powers[0]
    # A bend may lie across the line of a closed course: it is one place.
    first = int(np.argmin(spread)) if closed else 0
    return [float(stations[(first + index) % len(stations)]) for index in separate_peaks(np.roll(spread, -first))]


def separate_peaks(values: np.ndarray) -> list[int]:
    """Indices of the peaks, the highest first; the valley between two is lower than OWN_PLACE of the lower one.

    values : (n,) from 0 on; peaks below LEAST_TELLING of the highest are left out, but never the highest
    """
    left, peaks = values.astype(float), list[int]()
    while not peaks or left.max() > LEAST_TELLING * values.max():
        peaks.append(int(np.argmax(left)))
        for side in (slice(peaks[-1], None), slice(peaks[-1], None, -1)):
            # The hill goes on until the values have risen again to what is a peak of its own.
            hill = values[side]
            risen = hill > np.minimum.accumulate(hill) / OWN_PLACE
            left[side][: int(np.argmax(risen)) if risen.any() else len(hill)] = 0.0
    return peaks
