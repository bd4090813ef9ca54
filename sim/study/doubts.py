"""What looks like a slip in a scenario: its numbers, and what its set-ups do with them; a sentence each."""

from collections.abc import Iterator, Sequence
from math import atan2, degrees, radians

import numpy as np

from sim.scenario.doubts import file_doubts, named
from sim.scenario.scenario import Scenario
from sim.steering.angles import angle_rows, hand_range, steering_ratio
from sim.study.dangers import hand_words
from sim.study.ready import Entry, entries_of, make_entry

# Steering that somebody drew errs by less than this until the outer wheel has turned so far; judgements.  [deg]
MOST_ERROR, FAR_ENOUGH = 10.0, 30.0
# Between a rod and straight across, seen from above, straight ahead; a judgement.  [deg]
MOST_LEAN = 15.0


def doubts_of(scenario: Scenario, entries: Sequence[Entry]) -> tuple[str, ...]:
    """The doubts about a scenario's numbers and about its set-ups' angles, each a sentence.

    scenario : Scenario; entries : of its set-ups those that are shown, made ready
    """
    return (*file_doubts(scenario), *_steering_doubts(scenario, entries))


def run_doubts(scenario: Scenario) -> tuple[str, ...]:
    """The same of a scenario whose set-ups are built already.  scenario : Scenario.  Raises InputError where one cannot be built."""
    return doubts_of(scenario, entries_of(scenario, scenario.title))


def built_doubts(scenario: Scenario, name: str, source: str) -> tuple[str, ...]:
    """The same where one set-up alone is built, set or measured.

    scenario, source : the scenario and its name in messages; name : of the set-up.  Raises InputError where it cannot be built.
    """
    setup = next(one for one in scenario.setup if one.name == name)
    return doubts_of(scenario, [make_entry(setup, scenario, source, setup.place)])


def rod_lean(entry: Entry) -> float:
    """How far the rods stand from straight across, seen from above, straight ahead: the most [deg].  entry : of a set-up with rods."""
    steering = entry.steering
    drawing = steering.mechanism.drawn(0.0, steering.front_wheels(np.zeros(1)).swing[0])
    return max(degrees(atan2(*np.abs(end - begin))) for begin, end in drawing.rods)


def _steering_doubts(scenario: Scenario, entries: Sequence[Entry]) -> Iterator[str]:
    setups = {setup.name: setup for setup in scenario.setup}
    for entry in entries:
        setup = setups[entry.name]
        if not setup.kind.rods:
            continue
        lean = rod_lean(entry)
        if lean > MOST_LEAN:
            along = f"{setup.kind.along} and at " if setup.kind.along else ""
            yield (f"{named(setup.name)}: straight ahead its rods stand {lean:.0f} degrees from across the car (up to {MOST_LEAN:g} is "
                   f"usual); look at {along}how far the arms' joints stand behind the axle.")  # fmt: skip
        rows = angle_rows(entry.steering, scenario.car, hand_range(entry.steering))
        near = np.minimum(np.abs(rows.left), np.abs(rows.right)) <= radians(FAR_ENOUGH)
        worst = degrees(float(np.max(np.abs(rows.error[near]), initial=0.0)))
        if worst > MOST_ERROR:
            yield (f"{named(setup.name)}: a front wheel is up to {worst:.0f} degrees off ideal steering before the outer one has turned by "
                   f"{FAR_ENOUGH:g} (less than {MOST_ERROR:g} is usual); look at its arms and rods.")  # fmt: skip
        ratio, (low, high) = steering_ratio(entry.steering, scenario.car), setup.kind.common_ratio
        if not low <= ratio <= high:
            yield (f"{named(setup.name)}: its {hand_words(setup.kind)} turns {ratio:.2g} degrees for each degree of the wheels "
                   f"({low:g} to {high:g} is usual with {setup.kind.a_name}).")  # fmt: skip
