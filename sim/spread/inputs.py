"""What a study varies: the unsure numbers of a scenario, how they are drawn, and the laps that a draw makes."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

import numpy as np

from sim.car.chassis import Car, with_law
from sim.car.tyre import LAW_TYPES, LAWS
from sim.errors import InputError
from sim.scenario.car import FITTING, MEASURED_CAMBER_STIFFNESS, MEASURED_STIFFNESS
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import TableError, bounds_of
from sim.scenario.uncertainty import FREE_PLAY, PER_DEVIATION, Number, numbers_of
from sim.steering.table import STEERED, SteerTable
from sim.study.jobs import Ready, steering_of
from sim.study.ready import car_of, pace_of, race_of

RUN = 1024  # draws that are made at a time
NORMAL, UNIFORM, PLAY, LAW = "normal", "uniform", "free play", "either law"
# Ranges in which a number lies when nobody has measured it, drawn uniformly because nothing favours one part of them. [key's unit]
LITERATURE = {
    "cornering_stiffness_per_rad": MEASURED_STIFFNESS,
    "camber_stiffness_per_rad": MEASURED_CAMBER_STIFFNESS,
    # VTI rapport 952: 200 to 300 mm; two to three times the only study before it
    "relaxation_length_mm": (70.0, 300.0),
    # No measured figure is known: from the contact length, as a brush (9 mm) to a string (21 mm) with some room
    "pneumatic_trail_mm": (6.0, 25.0),
    # Good bicycle-type tyres 0.004 to 0.010 (bikeforums.net, kb.shoelace.biz, seen), small pneumatic scooter tyres to 0.015
    # (scootify.eco, seen); pressure and temperature make a factor of 2 to 3 each (Rothhämel 2023, abstract seen)
    "rolling_resistance": (0.004, 0.015),
    # From a full fairing to an upright rider; a judgement, no car of this kind has been measured
    "drag_area_m2": (0.05, 0.45),
    # Dry road: 0.9 to 1.0 in the accident logs of such cars (cauc-f24.org, seen), peak of bicycle tyres about 1.0 (VTI rapport 952,
    # abstract seen); that a dusty road may have as little as 0.7 is a judgement
    "friction": (0.7, 1.0),
}
# Nobody has measured the form of the tyre's law either: with the ranges goes a draw that takes each law as often as the other.
TYRE_LAW = "car.tyre.law"
WET_FRICTION = (0.3, 0.6)  # the same logs: 0.4 on a soaked road; the width about it is a judgement
WET_BELOW = 0.65  # a scenario with less friction than this means a wet road: halfway between the two ranges
# No lap reads these, so that drawing them would change nothing.
_UNREAD = ("car.hands.", "car.kingpin.", "car.wheel_mass_kg", "car.tyre_width_mm")
_INNER = ("tyre", "rear_tyre", "hands", "kingpin")  # tables of a car


@dataclass(frozen=True)
class Input:
    """One unsure number.

    path : its place in the scenario; setup : the index of the set-up that it belongs to, None for what all share [-]
    kind : NORMAL (95 % within `middle` +- `half`), UNIFORM (within them), PLAY (see `drawn`) or LAW (a place in `sim.car.tyre.LAWS`)
    middle, half : of the draws [the key's unit]; low, high : the key's bounds [the key's unit]
    """

    path: str
    setup: int | None
    kind: str
    middle: float
    half: float
    low: float
    high: float

    @property
    def table(self) -> str:
        """The table that the number stands in; "setup" for any set-up."""
        return "setup" if self.setup is not None else self.path.rpartition(".")[0]

    @property
    def key(self) -> str:
        """The number's key."""
        return self.path.rpartition(".")[2]


def inputs_of(scenario: Scenario, literature: bool, source: str) -> tuple[Input, ...]:
    """The unsure numbers of a scenario, those first that all set-ups share.

    scenario : Scenario; literature : whether tyre and drag figures without a stated uncertainty range as in LITERATURE, and the tyre's law
    source : the scenario's name in messages
    Returns the inputs.  Raises InputError where nothing that a lap reads is unsure.
    """
    numbers, owners = numbers_of(scenario), {setup.name: index for index, setup in enumerate(scenario.setup)}
    inputs = []
    for path, half in scenario.uncertainty.items():
        if path.startswith(_UNREAD):
            continue
        place, _, key = path.rpartition(".")
        setup = owners[place.removeprefix("setup.")] if place.startswith("setup.") else None
        if key == FREE_PLAY:
            inputs.append(Input(path, setup, PLAY, 0.0, half, -half, half))
        else:
            one = numbers[path]
            inputs.append(Input(path, setup, NORMAL, one.value, half, one.low, one.high))
    if literature:
        inputs += [one for one in literature_inputs(numbers) if one.path not in scenario.uncertainty]
        last = len(LAWS) - 1
        inputs.append(Input(TYRE_LAW, None, LAW, last / 2, last / 2, 0, last))
    if not inputs:
        example = '"car.tyre.cornering_stiffness_per_rad" = 3.0 below a line [uncertainty], or add --literature'
        raise InputError(source, "uncertainty", "no number that a lap reads has an uncertainty", f"write for example {example}")
    return tuple(sorted(inputs, key=lambda one: -1 if one.setup is None else one.setup))


def literature_inputs(numbers: dict[str, Number]) -> list[Input]:
    """The LITERATURE ranges of a scenario's tyres and drag area.

    numbers : of `scenario.uncertainty.numbers_of`
    Returns the inputs; a friction of a wet road ranges as a wet road's, and camber counts only where a kingpin leans.
    """
    found = []
    leans = any(number.value != 0 for path, number in numbers.items() if path.endswith(("kingpin_inclination_deg", "caster_deg")))
    for path, number in numbers.items():
        place, _, key = path.rpartition(".")
        if key in LITERATURE and place in ("car", "car.tyre", "car.rear_tyre") and (leans or key != "camber_stiffness_per_rad"):
            low, high = WET_FRICTION if key == "friction" and number.value < WET_BELOW else LITERATURE[key]
            found.append(Input(path, None, UNIFORM, (low + high) / 2, (high - low) / 2, low, high))
    return found


def unit_points(samples: int, dimensions: int, seed: int) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Two independent sets of points spread evenly over the unit cube, a run after the other.

    samples : a power of two; dimensions : of the cube [-]; seed : of the scrambling
    Returns runs of at most RUN points, (n, dimensions) twice, above 0 and below 1 [-]: the halves of one scrambled Sobol sequence of
    twice the dimensions.  More samples of a seed begin with the fewer.
    Source: scipy.stats.qmc.Sobol; the halves are the two sets of a Saltelli design.
    """
    from scipy.stats.qmc import Sobol

    sequence = Sobol(2 * dimensions, rng=np.random.default_rng(seed))
    for start in range(0, samples, RUN):
        points = sequence.random(min(RUN, samples - start)) + 0.5**31  # the sequence has 30 bits: never 0
        yield points[:, :dimensions], points[:, dimensions:]


def drawn(inputs: Sequence[Input], points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The numbers at points of the unit cube.

    inputs : the unsure numbers; points : (n, len(inputs)) [-]
    Returns (values [the keys' units], clipped), (n, len(inputs)) each: values beyond a key's bounds are set to the bound and marked.
    Free play is drawn as what changes the toe: each front wheel stands anywhere within +- `half`, one independently of the other, and
    the half of the sum of both toe-ins counts, for with the other half the driver's hands hold the car straight; that half sum has a
    triangular distribution.  Source: inverse distribution functions.
    """
    from scipy.special import ndtri

    values = np.empty(points.shape)
    for column, (one, u) in enumerate(zip(inputs, points.T, strict=True)):
        if one.kind == NORMAL:
            values[:, column] = one.middle + one.half / PER_DEVIATION * ndtri(u)
        elif one.kind == UNIFORM:
            values[:, column] = one.middle + one.half * (2 * u - 1)
        elif one.kind == LAW:
            values[:, column] = np.floor(u * len(LAWS))
        else:
            values[:, column] = one.half * np.where(u < 0.5, np.sqrt(2 * u) - 1, 1 - np.sqrt(2 * (1 - u)))
    low, high = np.array([(one.low, one.high) for one in inputs]).T
    kept = np.clip(values, low, high)
    return kept, kept != values


def laps_of(
    scenario: Scenario, setups: Sequence[int], inputs: Sequence[Input], values: np.ndarray, target: float
) -> list[Ready]:  # fmt: skip
    """The laps of some draws, ready to drive: of each draw every set-up in turn, which share its car and pace.

    scenario : Scenario; setups : their places in it; inputs : the unsure numbers; values : (n, len(inputs)) their draws [the keys' units]
    target : speed on the straights where that is not unsure itself [m/s]
    Returns n x len(setups) laps.  Nothing is checked again: values are inside their bounds, and `check_cars` looks after those that must
    fit.
    """
    changed: dict[str, dict[str, np.ndarray]] = {}
    laws = None
    for one, column in zip(inputs, values.T, strict=True):
        if one.kind == LAW:
            laws = [LAW_TYPES[LAWS[int(value)]] for value in column]
        elif one.setup is None:
            changed.setdefault(one.table, {})[one.key] = column
    # One copy of each table for all draws: its numbers are columns, and what SI figures are made of them are columns too.
    whole = _with_columns(scenario, changed)
    speed: Any = changed.get("pace", {}).get("target_m_per_s", target)
    cars: list[Car] = _each(car_of(whole), len(values))
    if laws is not None:
        cars = [with_law(car, law) for car, law in zip(cars, laws, strict=True)]
    paces, races = _each(pace_of(whole, speed), len(values)), _each(race_of(whole), len(values))
    tables = [_steerings(scenario, setup, inputs, values, changed.get("car", {})) for setup in setups]
    laps = scenario.pace.laps
    return [
        Ready(car, tables[place][index], pace, race, laps)
        for index, (car, pace, race) in enumerate(zip(cars, paces, races, strict=True)) for place in range(len(setups))
    ]  # fmt: skip


def _with_columns(scenario: Scenario, changed: Mapping[str, Mapping[str, np.ndarray]]) -> Scenario:
    """The scenario with columns in the place of numbers.  changed : table to key to column."""
    car = dict(changed.get("car", {})) | {
        name: getattr(scenario.car, name).model_copy(update=changed[f"car.{name}"]) for name in _INNER if f"car.{name}" in changed
    }
    tables = {
        name: getattr(scenario, name).model_copy(update=update)
        for name, update in [*changed.items(), ("car", car)] if update and "." not in name
    }  # fmt: skip
    return scenario.model_copy(update=tables)


def _each(figures: Any, count: int) -> list[Any]:
    """Figures of which some are columns, as one of the same kind for each of `count` rows; without a column the same one for all."""
    if isinstance(figures, np.ndarray):
        return figures.tolist()
    if is_dataclass(figures) and not isinstance(figures, type):
        parts = tuple(getattr(figures, one.name) for one in fields(figures))
        rows = _each(parts, count)
        return [figures] * count if rows[0] is parts else [type(figures)(*row) for row in rows]
    if isinstance(figures, tuple):
        columns = [_each(part, count) for part in figures]
        if all(column[0] is part for column, part in zip(columns, figures, strict=True)):
            return [figures] * count
        return list(map(getattr(type(figures), "_make", tuple), zip(*columns, strict=True)))
    return [figures] * count


def _steerings(
    scenario: Scenario, setup: int, inputs: Sequence[Input], values: np.ndarray, car: Mapping[str, np.ndarray]
) -> list[SteerTable | None]:  # fmt: skip
    """A set-up's steering in each draw.  car : the columns of its car; only where a draw changes what steering reads it is built anew."""
    own = [(one, column) for one, column in zip(inputs, values.T, strict=True) if one.setup == setup]
    lengths = {key: column for key, column in car.items() if key in STEERED}
    table = scenario.setup[setup]
    if not own and not lengths:
        return [steering_of(table, scenario.car)] * len(values)
    low, high = bounds_of(SetupTable)["toe_in_deg"]
    found = []
    for index in range(len(values)):
        keys = {one.key: float(column[index]) for one, column in own if one.kind != PLAY}
        play = sum(float(column[index]) for one, column in own if one.kind == PLAY)
        if play:
            keys["toe_in_deg"] = min(max(keys.get("toe_in_deg", table.toe_in_deg) + play, low), high)
        carried = scenario.car
        if lengths:
            carried = carried.model_copy(update={key: float(column[index]) for key, column in lengths.items()})
        found.append(steering_of(table.model_copy(update=keys), carried))
    return found


def check_cars(scenario: Scenario, inputs: Sequence[Input], values: np.ndarray, source: str) -> None:
    """Check that the numbers of each draw's car fit together.

    scenario : Scenario; inputs : the unsure numbers; values : (n, len(inputs)) their draws [the keys' units]
    source : the scenario's name in messages
    Raises InputError for the first car that cannot be, such as one whose mass centre stands ahead of its front axle.
    """
    columns = [index for index, one in enumerate(inputs) if one.table == "car" and one.key in FITTING]
    if not columns:
        return
    for row in values[:, columns]:
        car = scenario.car.model_copy(update={inputs[index].key: float(value) for index, value in zip(columns, row, strict=True)})
        try:
            car.check_lengths()
        except TableError as fault:
            problem = f"in some draws of car.{fault.key} {fault.problem}"
            raise InputError(source, "uncertainty", problem, "give smaller half widths") from None
