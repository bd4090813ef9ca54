"""Numbers that are allowed and look like slips: one sentence of doubt each, with what is usual.

What is usual stands where each key is declared; all of it is judgement: common practice with cars of this kind, no source.
"""

from collections.abc import Iterator
from math import isclose

from sim.keys import Instead
from sim.linkages.front_end import ARM_ANGLE, leaning_doubt
from sim.scenario.car import YAW_INERTIA_PER_MASS, CarTable
from sim.scenario.scenario import Scenario
from sim.scenario.tables import Table, common_of

# A slip of the unit or of a digit: times this much a value is usual again. [-]
_SLIPS = (1000.0, 10.0, 100.0, 0.1, 0.01, 0.001)
# Between what lies how far a contact point stands outside its kingpin, half the difference of the tracks [mm].
_OFFSETS = (-25.0, 150.0)
# Between what lies the mass centre's place as a share of the wheelbase, and yaw inertia as a share of the usual one. [-]
_PLACES, _INERTIAS = (0.3, 0.75), (0.4, 2.5)
_SUB_MILLIMETRE = 1.0  # [mm] a length below this, and not 0, was measured in metres
# Keys that matter to the answer and are easily left out: what an energy depends on most.
_MATTER = (("car", ("yaw_inertia_kg_m2", "drag_area_m2")), ("car.tyre", ("cornering_stiffness_per_rad", "rolling_resistance")))


def doubt(name: str, value: float, common: tuple[float, float], whence: str = "") -> str:
    """What is doubtful about a number, a sentence without its end; empty where it is usual.

    name : its key; value : as it is written [the key's unit]; common : between what it usually lies [the key's unit]
    whence : which other keys it was worked out from, in words behind its value
    """
    low, high = common
    length = name.endswith("_mm")
    slight = length and 0 < abs(value) < _SUB_MILLIMETRE <= high / 10
    if low <= value <= high and not slight:
        return ""
    slips = [value * times for times in _SLIPS if low <= value * times <= high and not (length and abs(value * times) < _SUB_MILLIMETRE)]
    meant = f"; did you mean {slips[0]:.4g}?" if slips else ""
    return f"{name} = {value:.6g}{whence} is unusual ({low:g} to {high:g} is usual){meant}"


def file_doubts(scenario: Scenario) -> tuple[str, ...]:
    """The doubts about a scenario's numbers, each a sentence.  scenario : Scenario."""
    found = [f"{examples_words(scenario.examples)}."] if scenario.examples else []
    return (*found, *number_doubts(scenario))


def number_doubts(scenario: Scenario) -> tuple[str, ...]:
    """Those of them that are about a single number or some that do not go together.  scenario : Scenario."""
    return tuple(one if one.endswith("?") else f"{one}." for one in _table_doubts(scenario))


def examples_words(count: int) -> str:
    """That numbers are not this car's, a sentence without its end.  count : of them [-]."""
    are = " is still an example" if count == 1 else "s are still examples"
    return f"{count} number{are}, not measured (MEASURE: stands behind them; take it out as you measure)"


def _table_doubts(scenario: Scenario) -> Iterator[str]:
    car = scenario.car
    tables: dict[str, Table | None] = {
        "car": car, "car.tyre": car.tyre, "car.rear_tyre": car.rear_tyre, "car.kingpin": car.kingpin, "pace": scenario.pace,
        "motor": scenario.motor, "battery": scenario.battery,
    }  # fmt: skip
    for place, table in tables.items():
        if table is not None:
            doubted = set()
            for said, key in _numbers(table, set(type(table).model_fields), scenario.measured(place)):
                doubted.add(key)
                yield f"{place}.{said}"
            yield from (_proportions(car, doubted, scenario.measured("car")) if table is car else ())
    for index, setup in enumerate(scenario.setup):
        measured = scenario.measured("setup", index)
        for said, _ in _numbers(setup, setup.keys_read, measured):
            yield f"{named(setup.name)}: {said}"
        angle = setup.value_of(ARM_ANGLE)
        leaning, meant = leaning_doubt(angle) if angle is not None else ("", None)
        if leaning:
            asked = _meant(setup, ARM_ANGLE, meant, measured) if meant is not None else ""
            yield f"{named(setup.name)}: {ARM_ANGLE} = {angle:.6g}{_worked_out(ARM_ANGLE, measured)} {leaning}{asked}"


def named(setup: str) -> str:
    """A set-up's name in quotes, with a question mark for each sign that cannot be shown.  setup : its name."""
    return '"' + "".join(sign if sign.isprintable() else "?" for sign in setup) + '"'


def _numbers(table: Table, keys: set[str], measured: tuple[Instead, ...]) -> Iterator[tuple[str, str]]:
    for key, common in common_of(type(table)).items():
        value = getattr(table, key)
        if key in keys and value is not None:
            said = doubt(key, value, common, _worked_out(key, measured))
            if said:
                yield said, key


def _source(key: str, measured: tuple[Instead, ...]) -> Instead | None:
    return next((one for one in measured if key in one.kept), None)


def _worked_out(key: str, measured: tuple[Instead, ...]) -> str:
    """Which keys of the file a number comes from, in brackets; empty where it stands there itself."""
    source = _source(key, measured)
    return f" (worked out from {' and '.join(one.name for one in source.measured)})" if source is not None else ""


def _meant(setup: Table, key: str, value: float, measured: tuple[Instead, ...]) -> str:
    """What may have been meant, as the file would say it.  value : of the key [its unit]."""
    source = _source(key, measured)
    if source is None:
        return f"; did you mean {value:.6g}?"
    values = {name: getattr(setup, name) for name in (*source.kept, *source.reads)}
    before, after = source.measured_from(values), source.measured_from(values | {key: value})
    changed = [(one.name, new) for one, old, new in zip(source.measured, before, after, strict=True) if not isclose(old, new, abs_tol=1e-9)]
    return f"; did you mean {' and '.join(f'{name} = {new:.6g}' for name, new in changed)}?"


def _proportions(car: CarTable, doubted: set[str], measured: tuple[Instead, ...]) -> Iterator[str]:
    """Numbers that are usual by themselves and do not go together; of a doubted one nothing more is said."""
    offset = (car.front_track_mm - car.kingpin_track_mm) / 2
    low, high = _OFFSETS
    if not doubted & {"front_track_mm", "kingpin_track_mm"} and not low <= offset <= high:
        side = "outside" if offset > 0 else "inside"
        yield (f"car.kingpin_track_mm = {car.kingpin_track_mm:g} puts each wheel {abs(offset):.0f} mm {side} its kingpin "
               f"({low:g} to {high:g} outside is usual)")  # fmt: skip
    share = car.mass_centre_behind_front_axle_mm / car.wheelbase_mm
    low, high = _PLACES
    if not doubted & {"mass_centre_behind_front_axle_mm", "wheelbase_mm"} and not low <= share <= high:
        place = "mass_centre_behind_front_axle_mm"
        yield (f"car.{place} = {getattr(car, place):.6g}{_worked_out(place, measured)} puts {100 * share:.0f} % of the weight on the "
               f"rear axle ({100 * low:g} to {100 * high:g} % is usual)")  # fmt: skip
    usual = YAW_INERTIA_PER_MASS * car.mass_kg
    low, high = _INERTIAS
    if not doubted & {"mass_kg", "yaw_inertia_kg_m2"} and not low * usual <= car.yaw_inertia_kg_m2 <= high * usual:
        yield (f"car.yaw_inertia_kg_m2 = {car.yaw_inertia_kg_m2:g} is unusual for {car.mass_kg:g} kg "
               f"({low * usual:.2g} to {high * usual:.2g} is usual)")  # fmt: skip


def assumed(scenario: Scenario) -> tuple[str, ...]:
    """What was left out and matters, with the values assumed, as one sentence; none where all was given.  scenario : Scenario."""
    tables: dict[str, Table] = {"car": scenario.car, "car.tyre": scenario.car.tyre}
    parts = []
    for place, keys in _MATTER:
        table = tables[place]
        for key in keys:
            if key not in table.model_fields_set:
                parts.append(f"{place}.{key} = {getattr(table, key):.4g}" + (
                    f" (mass x {YAW_INERTIA_PER_MASS:g}, a judgement)" if callable(type(table).model_fields[key].default_factory) else ""
                ))  # fmt: skip
    return (f"Not given, so assumed: {', '.join(parts)}.",) if parts else ()
