"""How sure a gain is: the scenario's unsure numbers, and how exactly parts are made, drawn many times and driven in time."""

from collections.abc import Callable, Sequence

import numpy as np

from sim.errors import InputError
from sim.scenario.car import MEASURED_STIFFNESS
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import bounds_of
from sim.scenario.uncertainty import FREE_PLAY, numbers_of
from sim.search.result import GainRange
from sim.search.setups import FreeKey
from sim.spread.inputs import UNIFORM, Input, check_cars, drawn, inputs_of, unit_points, variant
from sim.study.jobs import Job

TRIES = 128  # a power of two; the ends of the range that 95 of 100 lie in then err by about a tenth of it
BETWEEN = (0.025, 0.5, 0.975)
MADE_UNITS = ("_deg", "_mm")  # of the keys that a tolerance in degrees or mm is meant for


def unsure_of(scenario: Scenario, chosen: int, made_to: float | None, source: str) -> tuple[Input, ...]:
    """The unsure numbers that a gain hangs on.

    scenario : Scenario; chosen : place of the set-up that was searched [-]; made_to : see `sim.search.result.Doubt` [degrees or mm]
    source : the scenario's name in messages
    Returns those of the scenario; where it states none and parts are made to a tolerance, the stiffness of its tyres over the range of
    bicycle-size tyres; none where there is neither.
    """
    if scenario.uncertainty:
        try:
            return tuple(one for one in inputs_of(scenario, False, source) if one.setup in (None, chosen))
        except InputError:  # none of them is read by a lap
            return ()
    if made_to is None:
        return ()
    low, high = MEASURED_STIFFNESS
    paths = [path for path in numbers_of(scenario) if path.endswith("tyre.cornering_stiffness_per_rad")]
    return tuple(Input(path, None, UNIFORM, (low + high) / 2, (high - low) / 2, low, high) for path in paths)


def tries(
    scenario: Scenario, chosen: int, keys: Sequence[FreeKey], found: Sequence[SetupTable], unsure: Sequence[Input], made_to: float | None,
    target: float, seed: int, source: str,
) -> tuple[list[Job], list[SetupTable]]:  # fmt: skip
    """Laps of what the team has and of what was found, with the same unsure numbers in each try.

    scenario : Scenario; chosen : place of the set-up that was searched [-]; keys : FreeKeys; found : set-ups; unsure : of `unsure_of`
    made_to : each part that is new is within as much of its drawing, evenly [degrees or mm]; target : [m/s]; seed : of what is drawn [-]
    source : the scenario's name in messages
    Returns jobs, 1 + len(found) a try, and the last found set-up as it is made in each try.  Raises InputError where numbers of a car do
    not fit together.
    """
    made = [one for one in keys if made_to is not None and one.key.endswith(MADE_UNITS)]
    points, _ = unit_points(TRIES, len(unsure) + len(made), seed)
    values = drawn(unsure, points[:, : len(unsure)])[0] if unsure else np.empty((TRIES, 0))
    check_cars(scenario, unsure, values, source)
    own, allowed = scenario.setup[chosen], bounds_of(SetupTable)
    jobs, as_made = [], []
    for row, place in zip(values, points[:, len(unsure) :], strict=True):
        jobs.append(Job(variant(scenario, chosen, unsure, row), 0, target))
        for setup in found:
            off = {
                key.key: (made_to or 0.0) * (2 * share - 1)
                for key, share in zip(made, place, strict=True) if getattr(setup, key.key) != getattr(own, key.key)
            }  # fmt: skip
            # What a number of the set-up is unsure by, it is unsure by in the new one too, unless its part is made anew.
            shift = [
                0.0 if one.setup is None or one.key == FREE_PLAY else getattr(setup, one.key) - (getattr(own, one.key) or 0.0)
                for one in unsure
            ]
            other = [getattr(setup, one.key) if one.key in off else value + more
                     for one, value, more in zip(unsure, row, shift, strict=True)]  # fmt: skip
            clipped = [min(max(float(value), one.low), one.high) for one, value in zip(unsure, other, strict=True)]
            changed = tuple(setup if index == chosen else one for index, one in enumerate(scenario.setup))
            whole = variant(scenario.model_copy(update={"setup": changed}), chosen, unsure, clipped)
            cut = {key: float(np.clip(getattr(whole.setup[0], key) + more, *allowed[key])) for key, more in off.items()}
            last = whole.setup[0].model_copy(update=cut)
            jobs.append(Job(whole.model_copy(update={"setup": (last,)}), 0, target))
        as_made.append(last)
    return jobs, as_made


def gain_range(gains: np.ndarray) -> GainRange:
    """The range of a gain.  gains : (n,) drive work saved in each try, NaN where one of the two does not finish [J]."""
    fine = gains[np.isfinite(gains)]
    low, middle, high = map(float, np.quantile(fine, BETWEEN)) if len(fine) else (None, None, None)
    return GainRange(low, middle, high, unfinished=1.0 - len(fine) / len(gains))


def broken_share(judge: Callable[[SetupTable], object], missed: Callable[[object], float], setups: Sequence[SetupTable]) -> float:
    """Share of set-ups that break a limit or do not get round [-].  judge : to figures; missed : how far those miss; setups : as made."""
    return float(np.mean([missed(judge(setup)) > 0 for setup in setups]))
