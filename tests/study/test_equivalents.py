"""What a loss is worth: driven, not only computed; and where scrub goes that the motor does not pay."""

from math import nan

import numpy as np
import pytest

from sim.car.tyre import cornering_stiffness
from sim.lap.drive import drive_lap
from sim.lap.ledger import ledger_of
from sim.scenario.file import find_scenario, load_scenario
from sim.study.compare import compare
from sim.study.equivalents import LONGER, MOST_LONGER, NO_YARDSTICKS, SHARES, Yardstick, drive_yardstick, guesses
from viz.run.report import elsewhere_lines, finding, worth_lines

HELD = 0.05  # of a loss: an equivalent that is off by more misleads a team


@pytest.fixture(scope="module")
def compared():
    """The comparison of a shipped scenario with some of its set-ups, and its folder."""
    kept = {}

    def make(name, *setups):
        if (name, setups) not in kept:
            path = find_scenario(name)
            scenario = load_scenario(path)
            some = tuple(one for one in scenario.setup if one.name in setups)
            kept[name, setups] = compare(scenario.model_copy(update={"setup": some}), path.parent, name), path.parent
        return kept[name, setups]

    return make


def ideal_work(comparison, folder, *, car=None, toe=0.0):
    """Drive work [J] of the scenario's car with ideal steering, changed as a user would change it."""
    scenario = comparison.scenario
    setup = scenario.setup[0].model_validate({"name": "tried", "pivot": "stub axles", "linkage": "ideal", "toe_in_deg": toe})
    changed = scenario.model_copy(update={"car": car or scenario.car, "setup": (setup,)})
    (result,) = compare(changed, folder, "tried").results
    return result.ledger.drive_work


# With braking (quay-loop) and without, closed and open, a small loss and one as large as all the rest
@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "setup"), [("car-park", "parallel"), ("quay-loop", "ideal, 1 degree of toe-in"), ("first-bend", "parallel")]
)
def test_an_equivalent_costs_the_ideal_car_the_same(compared, name, setup):
    comparison, folder = compared(name, setup)
    (result,) = comparison.results
    cost, least = result.geometry_cost, comparison.reference.ledger.drive_work
    assert result.ledger.drive_work - least == cost
    worth = comparison.yardsticks.equivalents(cost)
    car = comparison.scenario.car
    front, rear = (
        tyre.model_copy(update={"rolling_resistance": tyre.rolling_resistance + worth.rolling_coefficient})
        for tyre in (car.tyre, car.rear_tyre or car.tyre)
    )
    driven = {
        "rolling": ideal_work(comparison, folder, car=car.model_copy(update={"tyre": front, "rear_tyre": rear})),
        "toe": ideal_work(comparison, folder, toe=worth.toe_deg),
        "mass": ideal_work(comparison, folder, car=car.model_copy(update={"mass_kg": car.mass_kg + worth.driver_kg})),
    }
    for kind, work in driven.items():
        assert work - least == pytest.approx(cost, rel=HELD, abs=0), kind


@pytest.mark.compiled
def test_geometry_cost_is_what_the_motor_pays(compared):
    """On quay-loop the driver brakes for bends: scrub that is saved is partly braked away."""
    comparison, _ = compared("quay-loop", "parallel")
    (result,) = comparison.results
    ideal = comparison.reference.ledger
    assert result.geometry_cost == result.ledger.drive_work - ideal.drive_work
    assert result.geometry_scrub == result.ledger.scrub - ideal.scrub
    assert 0.5 < result.geometry_cost / result.geometry_scrub < 0.9
    (line, why) = elsewhere_lines(comparison)
    pays = f"the motor pays {result.geometry_cost:+.1f} J (brakes -"
    assert line.startswith(f'"parallel": tyres scrub {result.geometry_scrub:+.1f} J, {pays}')
    assert why == "Scrub slows a car that would have to brake anyway: that part of it costs nothing."


@pytest.mark.compiled
def test_nothing_is_said_where_scrub_and_cost_agree(compared):
    comparison, _ = compared("car-park", "parallel")
    assert elsewhere_lines(comparison) == []
    assert len(worth_lines(comparison)) == 1


@pytest.mark.slow
def test_battery_energy_of_the_geometry(compared):
    comparison, _ = compared("race-day", "parallel")
    (result,) = comparison.results
    ideal = comparison.reference.ledger
    assert result.geometry_battery == result.ledger.electric.battery - ideal.electric.battery
    assert result.geometry_battery > result.geometry_cost > 0  # the motor's and the battery's losses come on top


@pytest.mark.compiled
def test_a_spanners_cure_is_never_called_small(compared):
    """7 % of the rolling resistance that a turn of a rod end cures, against as much that asks for other arms."""
    comparison, _ = compared("quay-loop", "ideal, 1 degree of toe-in", "ideal")
    toed = comparison.results[1]
    assert toed.toe_cost == pytest.approx(toed.geometry_cost, rel=1e-9, abs=0)  # ideal but for its toe
    assert np.isnan(comparison.results[0].toe_cost)
    words = finding(comparison)
    assert "small" not in words
    assert "To re-set the rods takes about 10 minutes and no parts, and saves" in words
    assert words.endswith("worth the work.")


@pytest.mark.compiled
def test_a_small_difference_that_needs_arms_is_called_small(compared):
    comparison, _ = compared("first-bend", "ideal", "parallel")
    assert "That is small:" in finding(comparison)
    assert 'To come as near as arms and rods can to "ideal" takes about a day, two arms and rods, and saves at most ' in finding(comparison)
    assert finding(comparison).endswith("so for the race alone not worth the work. Look after tyre pressure first.")


def test_guesses_are_the_textbook_forms(vehicle, circle):
    from sim.pace.driver import Pace, plan_pace

    car, table = vehicle("K")
    course = circle(12.0)
    ledger = ledger_of(car, drive_lap(car, table, course, plan_pace(course, car, Pace(3.0, 3.0, 1.5, 600.0))))
    rolling, toe, mass = guesses(50.0, car, ledger, course.length)
    assert rolling * car.mass * 9.81 * course.length == pytest.approx(50.0, rel=1e-12, abs=0)
    load = car.mass * 9.81 * 0.7 / 1.5 / 2
    stiffness = cornering_stiffness(car.front_tyre, load, car.mass * 9.81 / 4)
    assert 2 * stiffness * toe**2 * course.length == pytest.approx(50.0, rel=1e-12, abs=0)
    assert 0 < mass < car.mass


def test_a_yardstick_reads_between_driven_laps():
    stick = drive_yardstick(lambda amount: 100.0 + 3.0 * amount**2, 100.0, 50.0, 4.0, 2, 100.0)
    for loss in (0.0, 0.01, 1.0, 20.0, 48.0):
        assert stick.worth(loss) == pytest.approx((loss / 3.0) ** 0.5, rel=1e-9, abs=1e-12)


def test_a_yardstick_that_is_guessed_too_short_is_lengthened():
    stick = drive_yardstick(lambda amount: 100.0 + amount, 100.0, 50.0, 10.0, 1, 1e9)
    assert stick.worth(50.0) == pytest.approx(50.0, rel=1e-9, abs=0)
    assert np.isnan(stick.worth(1e6))


def test_no_amount_is_worth_what_no_lap_shows():
    # A car that does not come round ends the yardstick; so does one that needs less for more, and the limit.
    assert np.isnan(drive_yardstick(lambda amount: nan, 100.0, 50.0, 10.0, 1, 1e9).worth(10.0))
    assert np.isnan(drive_yardstick(lambda amount: 100.0 - amount, 100.0, 50.0, 10.0, 1, 1e9).worth(10.0))
    limited = drive_yardstick(lambda amount: 100.0 + amount, 100.0, 50.0, 50.0, 1, 30.0)
    assert limited.worth(20.0) == pytest.approx(20.0, rel=1e-9, abs=0)
    assert np.isnan(limited.worth(40.0))
    assert np.isnan(Yardstick(np.zeros(1), np.zeros(1), 1).worth(1.0))
    assert np.isnan(NO_YARDSTICKS.equivalents(1.0).driver_kg)


def test_one_driven_amount_is_a_yardstick_already():
    assert Yardstick(np.array([0.0, 2.0]), np.array([0.0, 10.0]), 1).worth(5.0) == pytest.approx(1.0, rel=1e-12, abs=0)


@pytest.mark.parametrize(("most", "longer"), [(3.0, 0), (5.0, 0), (5.1, 1), (7.6, 2), (1e3, MOST_LONGER)])
def test_a_yardstick_is_driven_until_it_is_long_enough_and_no_further(most, longer):
    """Five joules a unit, begun at one unit: the usual shares of it always, and half as long again only as long as it is too short."""
    made = drive_yardstick(lambda amount: 100.0 + 5.0 * amount, 100.0, most, 1.0, 1, 1e9)
    assert len(made.amount) == 1 + len(SHARES) + longer
    assert made.amount[-1] == pytest.approx(max(SHARES) * LONGER**longer, rel=1e-12, abs=0)
