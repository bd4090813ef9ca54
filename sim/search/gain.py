"""How sure a gain is: the scenario's unsure numbers, and how exactly parts are made, drawn many times and driven in time."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from pydantic import BaseModel

from sim.errors import InputError
from sim.judgements import MANY_BROKEN
from sim.linkages.front_end import TOE_IN
from sim.scenario.car import MEASURED_STIFFNESS
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import bounds_of
from sim.scenario.uncertainty import numbers_of
from sim.search.optimise import Bound
from sim.search.result import GainRange
from sim.search.setups import FreeKey
from sim.spread.inputs import PLAY, UNIFORM, Input, check_cars, drawn, inputs_of
from sim.study.jobs import Job

TRIES = 128  # a power of two; the ends of the range that 95 of 100 lie in then err by about a tenth of it
BETWEEN = (0.025, 0.5, 0.975)
MADE_UNITS = ("_deg", "_mm")  # of the keys that a tolerance in degrees or mm is meant for


def unsure_of(scenario: Scenario, chosen: int, made_to: float | None, source: str) -> tuple[Input, ...]:
    """The unsure numbers that a gain hangs on.

    scenario : Scenario; chosen : place of the set-up that was searched [-]
    made_to : how exactly parts are made, None as drawn [degrees or mm]; source : the scenario's name in messages
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
    found = []
    for path, number in numbers_of(scenario).items():
        if path.endswith("tyre.cornering_stiffness_per_rad"):
            low, high = stiffness_range(number.value)
            found.append(Input(path, None, UNIFORM, (low + high) / 2, (high - low) / 2, low, high))
    return tuple(found)


def stiffness_range(stiffness: float) -> tuple[float, float]:
    """Between which stiffnesses a tyre may lie.  stiffness : as it is written [1/rad].  Returns (low, high) [1/rad].

    A tyre outside the range of bicycle-size tyres has been measured or is of another kind; then half less and half more.
    """
    low, high = MEASURED_STIFFNESS
    return (low, high) if low < stiffness < high else (0.5 * stiffness, 1.5 * stiffness)


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
    from scipy.stats.qmc import Sobol

    own = scenario.setup[chosen]
    made = [one.key for one in keys if made_to is not None and one.key.endswith(MADE_UNITS)]
    width = len(unsure) + len(made)
    points = Sobol(width, rng=np.random.default_rng(seed)).random(TRIES) + 0.5**31 if width else np.empty((TRIES, 0))  # never 0
    values = drawn(unsure, points[:, : len(unsure)])[0] if unsure else np.empty((TRIES, 0))
    check_cars(scenario, unsure, values, source)
    jobs, as_made = [], []
    for row, place in zip(values.tolist(), points[:, len(unsure) :].tolist(), strict=True):
        whole = scenario.model_copy(update=_tables(scenario, unsure, row) | {"uncertainty": {}})
        made_off = {key: (made_to or 0.0) * (2 * share - 1) for key, share in zip(made, place, strict=True)}
        as_they_are = [_setup_as_is(setup, own, unsure, row, made_off) for setup in (own, *found)]
        jobs += [Job(whole.model_copy(update={"setup": (setup,)}), 0, target) for setup in as_they_are]
        as_made.append(as_they_are[-1])
    return jobs, as_made


def _tables(scenario: Scenario, unsure: Sequence[Input], row: Sequence[float]) -> dict[str, BaseModel]:
    """The tables of a try that all set-ups share.  They are not checked again: values are inside their bounds."""
    changed: dict[str, dict[str, float]] = {}
    for one, value in zip(unsure, row, strict=True):
        if one.setup is None:
            changed.setdefault(one.table, {})[one.key] = value
    car = changed.pop("car", {})
    inner = {name.removeprefix("car."): changed.pop(name) for name in list(changed) if name.startswith("car.")}
    parts = {name: getattr(scenario.car, name).model_copy(update=update) for name, update in inner.items()}
    tables = {name: getattr(scenario, name).model_copy(update=update) for name, update in changed.items()}
    return tables | {"car": scenario.car.model_copy(update=car | parts)}


def _setup_as_is(
    setup: SetupTable, own: SetupTable, unsure: Sequence[Input], row: Sequence[float], made_off: Mapping[str, float],
) -> SetupTable:  # fmt: skip
    """A set-up in a try: off by what its numbers are unsure by, and where a part is new by how it was made."""
    new = {key: more for key, more in made_off.items() if getattr(setup, key) != getattr(own, key)}
    off = dict(new)
    for one, value in zip(unsure, row, strict=True):
        if one.setup is None:
            continue
        if one.kind == PLAY:  # which changes the toe
            off[TOE_IN] = off.get(TOE_IN, 0.0) + value
        elif one.key not in new:
            off[one.key] = off.get(one.key, 0.0) + value - one.middle
    allowed = bounds_of(SetupTable)
    return setup.model_copy(
        update={key: float(np.clip((getattr(setup, key) or 0.0) + more, *allowed[key])) for key, more in off.items()}
    )  # fmt: skip


def gain_range(gains: np.ndarray) -> GainRange:
    """The range of a gain.  gains : (n,) drive work saved in each try, NaN where one of the two does not finish [J]."""
    fine = gains[np.isfinite(gains)]
    low, middle, high = map(float, np.quantile(fine, BETWEEN)) if len(fine) else (None, None, None)
    return GainRange(low, middle, high, unfinished=1.0 - len(fine) / len(gains))


def broken_share(missed: Callable[[Any], float], figures: Sequence[Any]) -> float:
    """Share of set-ups that break a limit or do not get round [-].  missed : how far figures miss; figures : of each, as made."""
    return float(np.mean([missed(one) > 0 for one in figures]))


def tighter_limits(bounds: Sequence[Bound], drawing: Any, figures: Sequence[Any]) -> dict[str, float]:
    """Limits to search with, so that parts as they are made keep the limits that are meant.

    bounds : what is meant, as Bounds; drawing : figures as drawn; figures : of each, as made
    Returns name to value [the bound's unit] of those that more than MANY_BROKEN of the parts break: moved by as much as 97.5 of 100
    parts stay within of their drawing.  A limit that would have to be 0 or less is left out.
    """
    found = {}
    for bound in bounds:
        values = np.array([float(getattr(one, bound.name)) for one in figures])
        values = values[np.isfinite(values)]
        if not len(values) or np.mean(bound.sign * (values - bound.value) > 0) < MANY_BROKEN:
            continue
        off = float(np.quantile(bound.sign * (values - float(getattr(drawing, bound.name))), BETWEEN[-1]))
        value = bound.value - bound.sign * max(off, 0.0)
        if value > 0:
            found[bound.name] = value
    return found
