"""Areas of the maps of the steady turn between the points of their grid, so that edges are no stairs and dirt is no physics."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sim.turn.maps import TurnMap, level_with_best

FINER = 4  # points between two of the grid
LEAST_PART = 0.002  # of a map: smaller parts of an area are drawn as their surroundings
LEAST_WIDTH = 5  # points across a part, near a hundredth of the map: narrower ones likewise


def beyond_end(one: TurnMap, speeds: np.ndarray) -> np.ndarray:
    """How far each point lies beyond the end of the turns, below 0 where there is one [m/s]: 0 runs where turns end, not along the grid.

    one : a set-up's turns; speeds : of its columns [m/s]
    """
    none, step = ~np.isfinite(one.scrub), speeds[1] - speeds[0]
    over = speeds - np.minimum(one.ends_at, speeds[-1] + step)[:, None]
    return np.where(none, np.where(over > 0, over, step), np.where(over > 0, -step, over))


def finer(values: np.ndarray) -> np.ndarray:
    """Values with others put between along the first axis, on straight lines.  values : (n, ...) [any unit]."""
    places = np.arange(FINER * (len(values) - 1) + 1) / FINER
    below = np.minimum(places.astype(int), len(values) - 2)
    part = (places - below).reshape(-1, *[1] * (values.ndim - 1))
    return (1 - part) * values[below] + part * values[below + 1]


def best_areas(maps: tuple[TurnMap, ...], speeds: np.ndarray) -> np.ndarray:
    """Which set-ups are level with the best, on a grid made finer, without what is too small to be read.

    maps : one a set-up; speeds : of their columns [m/s]
    Returns (radii, speeds) a number whose bits are the set-ups; where there is no turn, that of the nearest one, 0 where there is none.
    """
    fine = []
    for one in maps:
        power, ended = np.log(one.drive), np.isfinite(one.drive[:, 1:-1]) & ~np.isfinite(one.drive[:, 2:])
        power[:, 2:][ended] = (2 * power[:, 1:-1] - power[:, :-2])[ended]  # goes on as it did up to the end
        over = finer(finer(beyond_end(one, speeds)).T).T
        fine.append(replace(one, drive=np.where(over > 0, np.nan, np.exp(finer(finer(power).T).T))))
    weights = 2 ** np.arange(len(maps), dtype=np.int64)
    return _without_specks(np.tensordot(weights, level_with_best(fine).astype(np.int64), axes=1))


def _without_specks(code: np.ndarray) -> np.ndarray:
    """Parts of areas that are too small or too narrow to be read, and points without an area, are given to their surroundings."""
    from scipy.ndimage import binary_opening, distance_transform_edt, label

    kept = np.zeros(code.shape, dtype=bool)
    for kind in np.unique(code[code > 0]):
        # A map's own edge makes nothing narrow.
        wide = binary_opening(np.pad(code == kind, LEAST_WIDTH, mode="edge"), np.ones((LEAST_WIDTH, LEAST_WIDTH)))
        parts, _ = label(wide[LEAST_WIDTH:-LEAST_WIDTH, LEAST_WIDTH:-LEAST_WIDTH])
        large = np.bincount(parts.ravel()) >= LEAST_PART * code.size
        large[0] = False
        kept |= large[parts]
    if not kept.any():
        return code
    nearest = distance_transform_edt(~kept, return_distances=False, return_indices=True)
    return code[tuple(nearest)]
