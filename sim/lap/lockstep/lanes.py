"""Where the figures of many cars stand when they are driven side by side, and how one car is read from them.

Quantity k of a lane stands at k * LANES + lane.
"""

from typing import NamedTuple

from sim.car.battery import Battery
from sim.car.chassis import Car
from sim.car.motor import Motor
from sim.car.tyre import Tyre
from sim.kernels.compiled import inlined
from sim.lap.equations import TableValues
from sim.pace.driver import Driver
from sim.pace.road import Road
from sim.steering.hands import SteerCells

LANES = 32  # four of the widest registers: with fewer, one waits for what another has yet to work out

# Places of a car's figures: the fields of Car in their order, tyres, motor and battery spread out, then where and how it drives
(MASS, WHEELBASE, FRONT_TRACK, REAR_TRACK, FRONT_ARM, HEIGHT, YAW_INERTIA, DRAG_AREA, AIR_DENSITY, DRIVE) = range(10)
FRONT_TYRE, REAR_TYRE, MOTOR, BATTERY_PLACE = 10, 18, 26, 34
(POWER, WIND_X, WIND_Y, LEAST, MOST, HANDS_FIRST, HANDS_DENSITY, LENGTH, ROAD_DENSITY, STEP, LONGEST) = range(40, 51)
DRIVER = 51  # the fields of Driver that are the car's, in their order; its habits are the same for all cars
FIGURES = 56
# Places of its whole numbers
HANDS_ROW, HANDS_COUNT, ROAD_ROW, ROAD_COUNT, CLOSED, ROUNDS = range(6)
COUNTS = 6
# Places of what a lane reads from its tables
(BEND, SLOPE, PLAN, PLAN_SLOPE, AHEAD, LEFT_STEER, RIGHT_STEER, LEFT_RATE, RIGHT_RATE, LEFT_X, RIGHT_X, LEFT_Y, RIGHT_Y, LEFT_CAMBER,
 RIGHT_CAMBER, AIR_X, AIR_Y, MOTOR_FORCE) = range(18)  # fmt: skip
INPUTS = 18
# Places of a cell and of the place in it: on the road, on the road ahead, in the steer table
HERE, FURTHER, POSE_CELL = range(3)
CELLS = 3
# Places of what the arithmetic tells beside the rates
LOADS, RARE, LIFTED, FORCE, FORCE_POWER, BRAKING, BRAKED, ROLLED = 0, 4, 5, 6, 7, 8, 9, 10
OUTPUTS = 11


class Kinds(NamedTuple):
    """What any car of a block has; what none has is not worked out."""

    windy: bool
    electric: bool
    solid: bool  # a solid axle
    brush: bool | None  # LINEAR or BRUSH, the law of every car's tyres


@inlined
def lane_tyre(figures, place, lane, brush):
    """One axle's tyre.  figures : flat; place : of its first figure; lane [-]; brush : its law."""
    at = place * LANES + lane
    return Tyre(
        figures[at], figures[at + LANES], figures[at + 2 * LANES], figures[at + 3 * LANES], figures[at + 4 * LANES],
        figures[at + 5 * LANES], figures[at + 6 * LANES], figures[at + 7 * LANES], brush,
    )  # fmt: skip


@inlined
def lane_car(figures, lane, drive, regenerates, freewheel, brush):
    """The car of a lane.

    figures : flat; lane [-]; drive, regenerates, freewheel : as whole number and truths, or as floats; brush : the law
    """
    m, b = MOTOR * LANES + lane, BATTERY_PLACE * LANES + lane
    motor = Motor(
        figures[m], figures[m + LANES], figures[m + 2 * LANES], figures[m + 3 * LANES], figures[m + 4 * LANES],
        figures[m + 5 * LANES], regenerates, freewheel,
    )  # fmt: skip
    battery = Battery(
        figures[b], figures[b + LANES], figures[b + 2 * LANES], figures[b + 3 * LANES], figures[b + 4 * LANES], figures[b + 5 * LANES]
    )
    return Car(
        figures[MASS * LANES + lane], figures[WHEELBASE * LANES + lane], figures[FRONT_TRACK * LANES + lane],
        figures[REAR_TRACK * LANES + lane], figures[FRONT_ARM * LANES + lane], figures[HEIGHT * LANES + lane],
        figures[YAW_INERTIA * LANES + lane], figures[DRAG_AREA * LANES + lane], figures[AIR_DENSITY * LANES + lane], drive,
        lane_tyre(figures, FRONT_TYRE, lane, brush), lane_tyre(figures, REAR_TYRE, lane, brush), motor, battery,
    )  # fmt: skip


@inlined
def lane_driver(figures, habits, lane):
    """The driver of a lane.  figures : flat; habits : Driver whose first half is read; lane [-]."""
    at = DRIVER * LANES + lane
    return Driver(
        habits.lead, habits.preview, habits.hand_lag, habits.hand_rate, habits.speed_gain, figures[at], figures[at + LANES],
        figures[at + 2 * LANES], figures[at + 3 * LANES], figures[at + 4 * LANES],
    )  # fmt: skip


@inlined
def whole_car(figures, lane, brush):
    """The car of a lane with its fields' own types, as the one-car kernels want it.  figures : flat; lane [-]; brush : its law."""
    return lane_car(
        figures, lane, int(figures[DRIVE * LANES + lane]), figures[(MOTOR + 6) * LANES + lane] != 0.0,
        figures[(MOTOR + 7) * LANES + lane] != 0.0, brush,
    )  # fmt: skip


@inlined
def float_car(figures, lane, brush):
    """The car of a lane with all its fields as floats, so that no lane needs another type.  figures : flat; lane [-]; brush : its law."""
    return lane_car(
        figures, lane, figures[DRIVE * LANES + lane], figures[(MOTOR + 6) * LANES + lane], figures[(MOTOR + 7) * LANES + lane], brush
    )


@inlined
def whole_hands(figures, counts, hands_cells, lane):
    """The steering of a lane.  figures, counts : flat; hands_cells : of all set-ups; lane [-]."""
    row = counts[HANDS_ROW * LANES + lane]
    return SteerCells(
        figures[HANDS_FIRST * LANES + lane], figures[HANDS_DENSITY * LANES + lane],
        hands_cells[row : row + counts[HANDS_COUNT * LANES + lane]], figures[LEAST * LANES + lane], figures[MOST * LANES + lane],
    )  # fmt: skip


@inlined
def whole_road(figures, counts, road_cells, lane):
    """The road of a lane.  figures, counts : flat; road_cells : of all roads; lane [-]."""
    row = counts[ROAD_ROW * LANES + lane]
    return Road(
        figures[LENGTH * LANES + lane], counts[CLOSED * LANES + lane] != 0, figures[ROAD_DENSITY * LANES + lane],
        road_cells[row : row + counts[ROAD_COUNT * LANES + lane]], figures[POWER * LANES + lane], figures[WIND_X * LANES + lane],
        figures[WIND_Y * LANES + lane],
    )  # fmt: skip


@inlined
def lane_sight(inputs, lane):
    """What a lane has read, as a TableValues.  inputs : flat [SI]; lane [-]."""
    return TableValues(
        inputs[BEND * LANES + lane], inputs[SLOPE * LANES + lane], inputs[PLAN * LANES + lane], inputs[PLAN_SLOPE * LANES + lane],
        inputs[AHEAD * LANES + lane], inputs[AIR_X * LANES + lane], inputs[AIR_Y * LANES + lane], inputs[MOTOR_FORCE * LANES + lane],
        (inputs[LEFT_STEER * LANES + lane], inputs[RIGHT_STEER * LANES + lane]),
        (inputs[LEFT_RATE * LANES + lane], inputs[RIGHT_RATE * LANES + lane]),
        (inputs[LEFT_X * LANES + lane], inputs[RIGHT_X * LANES + lane]),
        (inputs[LEFT_Y * LANES + lane], inputs[RIGHT_Y * LANES + lane]),
        (inputs[LEFT_CAMBER * LANES + lane], inputs[RIGHT_CAMBER * LANES + lane]),
    )  # fmt: skip
