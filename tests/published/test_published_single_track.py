"""The single-track formulas and the slipping bicycle against textbooks; each figure with the digits that are printed.

"From memory" marks a page that was not opened; the figure is recomputed all the same.  Textbooks give cornering stiffness in
newtons per radian; the car's tyre takes it as a share of the load, c = C / F_z.
"""

from math import degrees, radians

import numpy as np
import pytest

from sim.car.chassis import GRAVITY, axle_loads, characteristic_speed, kinematic_steer, single_track, understeer_gradient, yaw_velocity_gain
from sim.car.motion import WheelColumn
from sim.steering.table import merged_table
from sim.turn.steady import steady_turn

FOOT, MILE_PER_HOUR = 0.3048, 0.44704
ANGLES = [12.5, 25.0, 50.0, 100.0, 200.0]  # radii that halve the angle, at one speed [m]


@pytest.fixture
def textbook_car(vehicle):
    """A car from its mass [kg], axle distances [m] and axle cornering stiffnesses [N/rad]."""

    def make(mass, front_arm, rear_arm, front_stiffness, rear_stiffness):
        car, _ = vehicle("K")
        car = car._replace(mass=mass, wheelbase=front_arm + rear_arm, front_arm=front_arm)
        front, rear = axle_loads(car)
        return car._replace(
            front_tyre=car.front_tyre._replace(cornering_stiffness=front_stiffness / front),
            rear_tyre=car.rear_tyre._replace(cornering_stiffness=rear_stiffness / rear),
        )

    return make


def wong(textbook_car, front_per_tyre):
    """Wong, Theory of Ground Vehicles, 3rd ed. 2001, example 5.1 (from memory): 20.105 kN, 2.8 m, 53.5 % in front."""
    return textbook_car(20105 / GRAVITY, 2.8 * 0.465, 2.8 * 0.535, 2 * front_per_tyre, 2 * 38250)


@pytest.mark.outside(
    "H2", what="Understeer gradient and characteristic speed of a car of 20.105 kN", source="Wong, Theory of Ground Vehicles, example 5.1",
    how="memory",
)  # fmt: skip
def test_wong_understeering(textbook_car, within_published):
    car = wong(textbook_car, 38920)
    within_published(understeer_gradient(car), 0.016, 0.0005)
    within_published(degrees(understeer_gradient(car)), 0.92, 0.005)
    within_published(characteristic_speed(car), 41.5, 0.05)


@pytest.mark.outside(
    "H2", what="Critical speed of the same car with stiffer front tyres", source="Wong, Theory of Ground Vehicles, example 5.1",
    how="memory",
)  # fmt: skip
def test_wong_oversteering(textbook_car, within_published):
    car = wong(textbook_car, 47820)
    within_published(understeer_gradient(car), -0.0097, 0.00005)
    within_published(characteristic_speed(car), 53.1, 0.05)


@pytest.mark.outside(
    "H3", what="Gradient and speed of another car with these tyres", source="askanewquestion.com, 1867047 (question; answer worked out)",
    how="worked",
)  # fmt: skip
def test_wongs_tyres_on_another_car(textbook_car, within_published):
    # askanewquestion.com, 1867047 (question seen, no answer printed): 4520 lb, 10.5 ft, a/l = 0.45, 8750 and 8600 lb/rad per
    # tyre.  Published values H3 gives 0.023801 rad/g, 36.31 m/s, 119.1 ft/s.
    pound, wheelbase = 0.45359237, 10.5 * FOOT
    car = textbook_car(4520 * pound, 0.45 * wheelbase, 0.55 * wheelbase, 2 * 8750 * pound * GRAVITY, 2 * 8600 * pound * GRAVITY)
    within_published(understeer_gradient(car), 0.023801, 5e-7)
    within_published(characteristic_speed(car), 36.31, 0.005)
    within_published(characteristic_speed(car) / FOOT, 119.1, 0.05)


@pytest.mark.outside(
    "H4", what="Gradient, speed, radius and steer of a car of 1008 kg", source="numerade.com, O. Hogan, 7347 (inputs; answer worked out)",
    how="worked",
)  # fmt: skip
def test_a_neutral_looking_car(textbook_car, within_published):
    # numerade.com, O. Hogan, 7347 (inputs seen): 1008 kg, 1.2 and 1.0 m, 117 and 145 kN/rad; published values H4
    car = textbook_car(1008, 1.2, 1.0, 117e3, 145e3)
    within_published(understeer_gradient(car), 0.0012187, 5e-8)
    within_published(degrees(understeer_gradient(car)), 0.06983, 5e-6)
    within_published(characteristic_speed(car), 133.07, 0.005)
    radius = 10**2 / (0.5 * GRAVITY)
    within_published(radius, 20.387, 0.0005)
    within_published(degrees(10 / radius / yaw_velocity_gain(car, 10)), 6.2177, 5e-5)


@pytest.mark.outside(
    "H5", what="Axle loads and gradient of a car of 1600 kg", source="Pacejka, Tire and Vehicle Dynamics, table 1.1", how="memory",
)  # fmt: skip
def test_pacejka(textbook_car, within_published):
    # Pacejka, Tire and Vehicle Dynamics, table 1.1 (from memory): 1600 kg, 1.4 and 1.6 m, 60 kN/rad on both axles
    car = textbook_car(1600, 1.4, 1.6, 60e3, 60e3)
    for ours, theirs in zip(axle_loads(car), (8371, 7325), strict=True):
        within_published(ours, theirs, 0.5)
    within_published(understeer_gradient(car), 0.0174, 5e-5)
    within_published(characteristic_speed(car), 41.079, 0.0005)


@pytest.mark.outside(
    "H6", what="Gradient, yaw gain and steer of a car of 1573 kg",
    source="Rajamani, Vehicle Dynamics and Control (inputs from memory; answers worked out)", how="worked",
)  # fmt: skip
def test_rajamani(textbook_car, within_published):
    # Rajamani, Vehicle Dynamics and Control (parameters from memory): 1573 kg, 1.1 and 1.58 m, 80 kN/rad per tyre;
    # published values H6
    car = textbook_car(1573, 1.1, 1.58, 160e3, 160e3)
    within_published(understeer_gradient(car), 0.0172737, 5e-8)
    within_published(characteristic_speed(car), 39.013, 0.0005)
    within_published(yaw_velocity_gain(car, 30), 7.03443, 5e-6)
    within_published(degrees(30 / 1000 / yaw_velocity_gain(car, 30)), 0.244352, 5e-7)


def gillespie(textbook_car, gradient_deg):
    """Gillespie, Fundamentals of Vehicle Dynamics, ch. 6 (from memory): 1901 and 1552 lb, 100.6 in; K as printed."""
    wheelbase, share = 100.6 / 12 * FOOT, 1901 / (1901 + 1552)
    car = textbook_car(3453 * 0.45359237, (1 - share) * wheelbase, share * wheelbase, 1e5, 1e5)
    softness = 0.1 + radians(gradient_deg)
    return car._replace(
        front_tyre=car.front_tyre._replace(cornering_stiffness=1 / softness),
        rear_tyre=car.rear_tyre._replace(cornering_stiffness=10.0),
    )


@pytest.mark.outside(
    "H7", what="Steer of a slow car on 50 to 500 ft", source="Gillespie, Fundamentals of Vehicle Dynamics, ch. 6", how="memory",
)  # fmt: skip
@pytest.mark.parametrize(("radius_ft", "printed"), [(500, 0.96), (200, 2.4), (100, 4.8), (50, 9.6)])
def test_gillespie_ackermann_angle(textbook_car, within_published, radius_ft, printed):
    steer, _ = kinematic_steer(1 / (radius_ft * FOOT), gillespie(textbook_car, 0.147))
    within_published(degrees(steer), printed, 0.005 if printed < 1 else 0.05)


@pytest.mark.outside(
    "H7", what="Characteristic speed 324 ft/s = 221 mph, and the yaw gain at 60 mph",
    source="Gillespie, Fundamentals of Vehicle Dynamics, ch. 6", how="memory",
)  # fmt: skip
def test_gillespie_characteristic_speed(textbook_car, within_published):
    speed = characteristic_speed(gillespie(textbook_car, 0.147))
    softer = speed - characteristic_speed(gillespie(textbook_car, 0.1475))
    within_published(speed / FOOT, 324, 0.5, u_input=softer / FOOT)
    within_published(speed / MILE_PER_HOUR, 221, 0.5, u_input=softer / MILE_PER_HOUR)
    within_published(yaw_velocity_gain(gillespie(textbook_car, 0.147), 60 * MILE_PER_HOUR), 9.777, 0.0005)


@pytest.mark.outside(
    "H8", what="Gradient, speed, gain and steer of car K with unlike tyres", source="single-track formulas, worked out", how="worked",
)  # fmt: skip
def test_car_k(vehicle, within_published):
    # Published values H8, exact
    car, _ = vehicle("K")
    within_published(understeer_gradient(car), 0.0, 0.0)
    within_published(yaw_velocity_gain(car, 6.0), 4.0, 0.00005)
    car = car._replace(front_tyre=car.front_tyre._replace(cornering_stiffness=10.0))
    within_published(understeer_gradient(car), 0.0166667, 5e-8)
    within_published(degrees(understeer_gradient(car)), 0.95493, 5e-6)
    within_published(characteristic_speed(car), 29.714, 0.0005)
    within_published(yaw_velocity_gain(car, 6.0), 3.84329, 5e-6)
    within_published(6 / 8 / yaw_velocity_gain(car, 6.0), 0.195145, 5e-7)


@pytest.mark.target(
    "T7", what="The slipping bicycle goes to the single-track formulas as angles shrink",
    asked="order 2, give or take 0.2; 0.1 % at 50 m, at 100 m for 10 m/s",
)  # fmt: skip
@pytest.mark.outside(
    "H1", what="The slipping bicycle goes to l/R + K a_y/g and its sideslip and gain as angles shrink",
    source="Gillespie, ch. 6; Wong, ch. 5", how="memory", within="order 2 ± 0.2; steer 0.1 % at 50 m",
)  # fmt: skip
@pytest.mark.parametrize("stiffness", [(10.0, 12.0), (12.0, 12.0), (12.0, 10.0)], ids=["under", "neutral", "over"])
@pytest.mark.parametrize(("speed", "radius_of_a_thousandth"), [(3.0, 50.0), (6.0, 50.0), (10.0, 100.0)])
@pytest.mark.parametrize("sign", [1, -1])
def test_slipping_bicycle_meets_the_formulas(vehicle, orders, stiffness, speed, radius_of_a_thousandth, sign, within_target):
    # Steer l/R + K a_y/g and sideslip b/R - a_y/(g c_r) (Gillespie ch. 6, Wong ch. 5, from memory) hold for small angles: what
    # our second rung differs by must fall with the square of the angle, and be below 0.1 % of the steer at 50 m.
    car, table = vehicle("K", tyre={"pneumatic_trail_mm": 0.0, "rolling_resistance": 0.0, "cornering_stiffness_per_rad": stiffness[0]})
    car = single_track(car._replace(rear_tyre=car.rear_tyre._replace(cornering_stiffness=stiffness[1]), drag_area=0.0))
    steer, sideslip, gain = [], [], []
    for radius in ANGLES:
        turn = steady_turn(car, merged_table(table), sign * radius, speed)
        assert turn.converged
        share = speed**2 / radius / GRAVITY
        steer.append(sign * turn.steers[0] / (1.5 / radius + understeer_gradient(car) * share) - 1)
        sideslip.append((sign * turn.sideslip - (0.7 / radius - share / stiffness[1])) / (0.7 / radius))
        gain.append(sign * speed / radius / turn.steers[0] / yaw_velocity_gain(car, speed) - 1)
        assert turn.wheels[0, WheelColumn.LATERAL] == pytest.approx(turn.wheels[1, WheelColumn.LATERAL], rel=1e-12, abs=0)
    for errors in (steer, sideslip, gain):
        within_target(np.abs(orders(errors) - 2.0), at_most=0.2, of="order less 2")
    within_target(abs(steer[ANGLES.index(radius_of_a_thousandth)]), at_most=1e-3, of="steer")


@pytest.mark.outside(
    "H1", what="Yaw gain is half the neutral one at the characteristic speed, and greatest there", source="Gillespie, ch. 6", how="memory",
    within="1e-4 relative",
)  # fmt: skip
def test_gain_of_the_slipping_bicycle_halves_at_the_characteristic_speed(vehicle):
    # At V_ch the yaw gain is half the neutral V/l and at its greatest; on 4 km radius the angles are about 1e-3.
    car, table = vehicle("K", tyre={"pneumatic_trail_mm": 0.0, "rolling_resistance": 0.0, "cornering_stiffness_per_rad": 2.0})
    car = single_track(car._replace(rear_tyre=car.rear_tyre._replace(cornering_stiffness=4.0), drag_area=0.0))
    best = characteristic_speed(car)

    def gain(speed):
        turn = steady_turn(car, merged_table(table), 4000.0, speed)
        return speed / 4000.0 / turn.steers[0]

    assert gain(best) == pytest.approx(0.5 * best / 1.5, rel=1e-4, abs=0)
    assert gain(0.97 * best) < gain(best) > gain(1.03 * best)
