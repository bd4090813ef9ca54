"""Motor and battery: Kirchhoff's laws, limits, and feeding back."""

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.car.battery import Battery, battery_current, charge_rate
from sim.car.drivetrain import electric_flow, motor_limit
from sim.car.motor import Motor, most_braking, most_force, motor_current, motor_power, steady_force

MOTOR = Motor(winding_resistance=0.1, torque_constant=0.1, no_load_current=2.0, current_limit=60.0, gear=29.0, efficiency=0.95,
              regenerates=True)  # fmt: skip
BATTERY = Battery(open_voltage=24.0, internal_resistance=0.02, capacity=9 * 3600.0, rated_time=20 * 3600.0, exponent=1.12, usable_share=0.9)
speeds = st.floats(0.0, 9.0)


@given(st.floats(-500.0, 2000.0))
def test_battery_meets_its_own_law(power):
    current = battery_current(BATTERY, power)
    assert BATTERY.open_voltage * current == pytest.approx(power + BATTERY.internal_resistance * current**2, rel=1e-9, abs=1e-9)
    assert abs(current) <= BATTERY.open_voltage / (2 * BATTERY.internal_resistance) or power < 0


def test_battery_gives_no_more_than_it_has():
    most = BATTERY.open_voltage**2 / (4 * BATTERY.internal_resistance)
    assert battery_current(BATTERY, 2 * most) == pytest.approx(BATTERY.open_voltage / (2 * BATTERY.internal_resistance), rel=1e-12, abs=0)
    assert battery_current(BATTERY._replace(internal_resistance=0.0), 480.0) == pytest.approx(20.0, rel=1e-12, abs=0)


@given(speeds)
def test_most_force_is_what_the_voltage_allows(speed):
    """At the most force the motor's voltage is at most the battery's under that current, or the current limit holds."""
    force = most_force(MOTOR, BATTERY.open_voltage, BATTERY.internal_resistance, speed)
    current = motor_current(MOTOR, force)
    if force == 0.0:
        assert MOTOR.torque_constant * MOTOR.gear * speed >= BATTERY.open_voltage - 2.0 * 0.12 - 1e-9
        return
    voltage = current * MOTOR.winding_resistance + MOTOR.torque_constant * MOTOR.gear * speed
    left = BATTERY.open_voltage - BATTERY.internal_resistance * current
    assert current <= MOTOR.current_limit * (1 + 1e-12)
    assert voltage <= left * (1 + 1e-12)
    assert current == pytest.approx(MOTOR.current_limit, rel=1e-9, abs=0) or voltage == pytest.approx(left, rel=1e-9, abs=0)


@given(st.floats(1.0, 200.0), speeds)
def test_power_into_the_motor_is_what_comes_out_and_the_losses(force, speed):
    current = motor_current(MOTOR, force)
    losses = MOTOR.winding_resistance * current**2 + MOTOR.no_load_current * MOTOR.torque_constant * MOTOR.gear * speed
    assert motor_power(MOTOR, current, speed) == pytest.approx(force * speed / MOTOR.efficiency + losses, rel=1e-12, abs=1e-12)
    assert steady_force(MOTOR, current) == pytest.approx(force, rel=1e-12, abs=0)


@given(st.floats(0.5, 9.0))
def test_braking_feeds_back_less_than_it_takes(speed):
    force = most_braking(MOTOR, speed)
    assert force > 0
    current = motor_current(MOTOR, -force)
    power = motor_power(MOTOR, current, speed)
    assert current < 0
    assert -force * speed <= power <= 0


@pytest.mark.parametrize("force", [90.0, 5.0, -60.0, -5.0])
@pytest.mark.parametrize("speed", [1.5, 7.0])
def test_every_watt_of_the_battery_arrives_somewhere(vehicle, force, speed):
    """What the cells give = what the treads get, or less what they feed back, and the losses; the gear takes its share of the flow."""
    car = vehicle("standard")[0]._replace(motor=MOTOR, battery=BATTERY)
    power, braking = force * speed, max(-force, 0.0)
    flow = electric_flow(car, max(force, 0.0), max(power, 0.0), braking, -braking * speed, speed)
    if force < 0:
        power = -min(braking, most_braking(MOTOR, speed)) * speed
        assert flow.regenerated == pytest.approx(-power, rel=1e-12, abs=0)
    lost = flow.copper + flow.no_load + flow.gear + flow.heat
    assert flow.battery == pytest.approx(power + lost, rel=1e-12, abs=1e-9)
    assert flow.gear == pytest.approx(power * (1 / 0.95 - 1) if force > 0 else -power * (1 - 0.95), rel=1e-9, abs=1e-9)
    assert flow.battery == pytest.approx(24.0 * flow.current, rel=1e-12, abs=0)
    assert min(flow.copper, flow.no_load, flow.heat) > 0


@given(st.floats(0.0, 40.0), st.floats(0.1, 9.0))
def test_an_idle_motor_is_turned_by_the_battery_or_by_the_brakes(vehicle, braking, speed):
    """The motor's own torque balance: k_t (I_0 - I) through the gear is what the wheels' brakes spare, at most all of the drag."""
    car = vehicle("standard")[0]._replace(motor=MOTOR._replace(regenerates=False, freewheel=False), battery=BATTERY)
    flow = electric_flow(car, 0.0, 0.0, braking, -braking * speed, speed)
    current = (flow.copper / 0.1) ** 0.5
    spared = min(braking, 2.0 * 0.1 * 29.0 / 0.95)
    assert (2.0 - current) * 0.1 * 29.0 / 0.95 == pytest.approx(spared, rel=1e-9, abs=1e-6)
    assert flow.battery == pytest.approx(flow.copper + flow.no_load + flow.heat, rel=1e-9, abs=1e-9)
    assert (flow.gear, flow.regenerated) == (0.0, 0.0)
    free = car._replace(motor=MOTOR._replace(regenerates=False))
    assert set(electric_flow(free, 0.0, 0.0, braking, -braking * speed, speed)) == {0.0}


def test_no_braking_without_the_means():
    assert most_braking(MOTOR._replace(regenerates=False), 5.0) == 0.0
    assert most_braking(MOTOR, 0.0) == 0.0


@given(st.floats(0.01, 400.0))
def test_charge_counts_more_above_the_rated_current_and_never_less(current):
    rate = charge_rate(BATTERY, current)
    assert rate >= current
    assert (rate == current) == (current <= 9 / 20)
    assert charge_rate(BATTERY, -current) == -current


@pytest.mark.parametrize("speed", [2.0, 7.0])
def test_a_motor_limits_its_car_and_no_motor_none(vehicle, speed):
    # Ohm's law over battery and winding, or the controller's limit; torque by the current less what it draws when it runs free.
    car, _ = vehicle("standard")
    battery = Battery(24.0, 0.01, 9.0 * 3600, 20 * 3600.0, 1.12, 0.9)
    turns = 29.0 * speed  # of the motor [rad/s]
    current = min(60.0, (24.0 - 0.1 * turns) / (0.1 + 0.01))
    expected = (current - 2.0) * 0.1 * 29.0 * 0.95
    assert motor_limit(car._replace(motor=MOTOR, battery=battery), speed) == pytest.approx(expected, rel=1e-12, abs=0)
    assert motor_limit(car, speed) == inf
