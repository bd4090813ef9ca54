"""Where the figures of many cars stand when they are driven side by side, and how one car is read from them.

Quantity k of a lane stands at k * LANES + lane.
"""

from enum import IntEnum
from typing import NamedTuple

import numpy as np

from sim.car.battery import Battery
from sim.car.chassis import Car
from sim.car.motion import Wind
from sim.car.motor import Motor
from sim.car.tyre import Tyre
from sim.kernels.compiled import inlined
from sim.lap.equations import TableValues
from sim.pace.driver import Driver
from sim.pace.road import RoadColumn, RoadPieces
from sim.steering.cells import POSE, FrontPieces, FrontPose
from sim.steering.table import SteerColumn

LANES = 32  # four of the widest registers: with fewer, one waits for what another has yet to work out


class Figure(IntEnum):
    """Places of a car's figures: the fields of Car in their order, tyres, motor and battery spread out, then where and how it drives."""

    MASS = 0
    WHEELBASE = 1
    FRONT_TRACK = 2
    REAR_TRACK = 3
    FRONT_ARM = 4
    HEIGHT = 5
    YAW_INERTIA = 6
    DRAG_AREA = 7
    AIR_DENSITY = 8
    DRIVE = 9
    FRONT_TYRE = 10  # the first of its fields, and so on; of a tyre all but its law
    REAR_TYRE = 18
    MOTOR = 26
    BATTERY = 34
    POWER = 40
    WIND_X = 41
    WIND_Y = 42
    LEAST = 43
    MOST = 44
    STEER_FIRST = 45
    STEER_DENSITY = 46
    LENGTH = 47
    ROAD_DENSITY = 48
    STEP = 49
    LONGEST = 50
    DRIVER = 51  # the fields of Driver that are the car's, in their order; its habits are the same for all cars


FIGURES = 56


class Count(IntEnum):
    """Places of a car's whole numbers."""

    STEER_ROW = 0
    STEER_COUNT = 1
    ROAD_ROW = 2
    ROAD_COUNT = 3
    CLOSED = 4
    ROUNDS = 5


COUNTS = len(Count)


class Input(IntEnum):
    """Places of what a lane reads from its tables."""

    CURVATURE = 0
    SLOPE = 1
    PLAN = 2
    PLAN_SLOPE = 3
    AHEAD = 4
    LEFT_STEER = 5
    RIGHT_STEER = 6
    LEFT_RATE = 7
    RIGHT_RATE = 8
    LEFT_X = 9
    RIGHT_X = 10
    LEFT_Y = 11
    RIGHT_Y = 12
    LEFT_CAMBER = 13
    RIGHT_CAMBER = 14
    AIR_X = 15
    AIR_Y = 16
    MOTOR_FORCE = 17


INPUTS = len(Input)


class Held(IntEnum):
    """Places of the cubics of the cells in which a lane stands, four a piece."""

    ROAD = 0  # in the order of `RoadColumn`
    ROAD_AHEAD = 16  # the curvature
    STEER = 20  # in the order of a steer table's columns


HELDS = 52


class Place(IntEnum):
    """Places of a cell and of the coordinate in it."""

    ROAD = 0
    ROAD_AHEAD = 1
    STEER = 2


PLACES = len(Place)


class Output(IntEnum):
    """Places of what the arithmetic gives beside the rates."""

    LOADS = 0  # four
    RARE = 4
    LIFTED = 5
    FORCE = 6
    FORCE_POWER = 7
    BRAKING = 8
    BRAKED = 9
    ROLLED = 10


OUTPUTS = 11


class Kinds(NamedTuple):
    """What any car of a block has; what none has is not worked out."""

    windy: bool
    electric: bool
    solid: bool  # a solid axle
    brush: bool | None  # LINEAR or BRUSH, the law of every car's tyres


class Lanes(NamedTuple):
    """The cars that drive side by side."""

    figures: np.ndarray  # flat, see `Figure` [SI]
    counts: np.ndarray  # flat, see `Count`
    steer_cells: np.ndarray  # of all set-ups, as in `SteerCells`
    road_cells: np.ndarray  # of all roads, as in `Road`
    driver: Driver  # its habits
    kinds: Kinds
    live: np.ndarray  # (LANES,) 1 where a lane counts, else 0


class LaneWork(NamedTuple):
    """Work space of the lanes' right-hand side."""

    rows: np.ndarray  # flat, see `Place`: cells among those of all set-ups and roads
    held_rows: np.ndarray  # flat, see `Place`: of the cells that are held
    held: np.ndarray  # flat, see `Held`: what they hold
    moved: np.ndarray  # (LANES,) not 0 where a lane stands in another cell than it holds
    places: np.ndarray  # flat, see `Place`: coordinates in them, 0 to 1
    inputs: np.ndarray  # flat, see `Input`
    outputs: np.ndarray  # flat, see `Output`
    alone: np.ndarray  # (ALONE, STATES) of a car that is driven alone


ALONE = 3  # rows of the work space of a car that is driven alone: state, rate and next state of its step


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
    m, b = Figure.MOTOR * LANES + lane, Figure.BATTERY * LANES + lane
    motor = Motor(
        figures[m], figures[m + LANES], figures[m + 2 * LANES], figures[m + 3 * LANES], figures[m + 4 * LANES],
        figures[m + 5 * LANES], regenerates, freewheel,
    )  # fmt: skip
    battery = Battery(
        figures[b], figures[b + LANES], figures[b + 2 * LANES], figures[b + 3 * LANES], figures[b + 4 * LANES], figures[b + 5 * LANES]
    )
    return Car(
        figures[Figure.MASS * LANES + lane], figures[Figure.WHEELBASE * LANES + lane], figures[Figure.FRONT_TRACK * LANES + lane],
        figures[Figure.REAR_TRACK * LANES + lane], figures[Figure.FRONT_ARM * LANES + lane], figures[Figure.HEIGHT * LANES + lane],
        figures[Figure.YAW_INERTIA * LANES + lane], figures[Figure.DRAG_AREA * LANES + lane],
        figures[Figure.AIR_DENSITY * LANES + lane], drive, lane_tyre(figures, Figure.FRONT_TYRE, lane, brush),
        lane_tyre(figures, Figure.REAR_TYRE, lane, brush), motor, battery,
    )  # fmt: skip


@inlined
def lane_driver(figures, habits, lane):
    """The driver of a lane.  figures : flat; habits : Driver whose first half is read; lane [-]."""
    at = Figure.DRIVER * LANES + lane
    return Driver(
        habits.lead, habits.preview, habits.hand_lag, habits.hand_rate, habits.speed_gain, figures[at], figures[at + LANES],
        figures[at + 2 * LANES], figures[at + 3 * LANES], figures[at + 4 * LANES],
    )  # fmt: skip


@inlined
def whole_car(figures, lane, brush):
    """The car of a lane with its fields' own types, as the one-car kernels want it.  figures : flat; lane [-]; brush : its law."""
    return lane_car(
        figures, lane, int(figures[Figure.DRIVE * LANES + lane]), figures[(Figure.MOTOR + 6) * LANES + lane] != 0.0,
        figures[(Figure.MOTOR + 7) * LANES + lane] != 0.0, brush,
    )  # fmt: skip


@inlined
def float_car(figures, lane, brush):
    """The car of a lane with all its fields as floats, so that no lane needs another type.  figures : flat; lane [-]; brush : its law."""
    return lane_car(
        figures, lane, figures[Figure.DRIVE * LANES + lane], figures[(Figure.MOTOR + 6) * LANES + lane],
        figures[(Figure.MOTOR + 7) * LANES + lane], brush,
    )  # fmt: skip


@inlined
def lane_steering(figures, counts, lane):
    """The fields of a lane's SteerCells after its cells.  figures, counts : flat; lane [-]."""
    return (
        counts[Count.STEER_ROW * LANES + lane], counts[Count.STEER_COUNT * LANES + lane], figures[Figure.STEER_FIRST * LANES + lane],
        figures[Figure.STEER_DENSITY * LANES + lane], figures[Figure.LEAST * LANES + lane], figures[Figure.MOST * LANES + lane],
    )  # fmt: skip


@inlined
def lane_road(figures, counts, lane):
    """The fields of a lane's Road after its cells.  figures, counts : flat; lane [-]."""
    return (
        counts[Count.ROAD_ROW * LANES + lane], counts[Count.ROAD_COUNT * LANES + lane], figures[Figure.LENGTH * LANES + lane],
        counts[Count.CLOSED * LANES + lane] != 0, figures[Figure.ROAD_DENSITY * LANES + lane], figures[Figure.POWER * LANES + lane],
        figures[Figure.WIND_X * LANES + lane], figures[Figure.WIND_Y * LANES + lane],
    )  # fmt: skip


@inlined
def lane_values(inputs, lane):
    """What a lane has read, as a TableValues.  inputs : flat [SI]; lane [-]."""
    return TableValues(
        inputs[Input.CURVATURE * LANES + lane], inputs[Input.SLOPE * LANES + lane], inputs[Input.PLAN * LANES + lane],
        inputs[Input.PLAN_SLOPE * LANES + lane], inputs[Input.AHEAD * LANES + lane],
        Wind(inputs[Input.AIR_X * LANES + lane], inputs[Input.AIR_Y * LANES + lane]), inputs[Input.MOTOR_FORCE * LANES + lane],
        FrontPose(
            (inputs[Input.LEFT_STEER * LANES + lane], inputs[Input.RIGHT_STEER * LANES + lane]),
            (inputs[Input.LEFT_RATE * LANES + lane], inputs[Input.RIGHT_RATE * LANES + lane]),
            (inputs[Input.LEFT_X * LANES + lane], inputs[Input.RIGHT_X * LANES + lane]),
            (inputs[Input.LEFT_Y * LANES + lane], inputs[Input.RIGHT_Y * LANES + lane]),
            (inputs[Input.LEFT_CAMBER * LANES + lane], inputs[Input.RIGHT_CAMBER * LANES + lane]),
        ),
    )  # fmt: skip


@inlined
def lane_four(flat, place, lane):
    """Four values of a lane.  flat : of any unit; place : of the first; lane [-]."""
    at = place * LANES + lane
    return flat[at], flat[at + LANES], flat[at + 2 * LANES], flat[at + 3 * LANES]


@inlined
def lane_piece(held, place, column, lane):
    """One of the cubics that a lane holds.  held : flat; place : of its table in `Held`; column : of the table; lane [-]."""
    return lane_four(held, place + 4 * column, lane)


@inlined
def lane_road_pieces(held, lane):
    """The cubics of the road's cell that a lane holds.  held : flat; lane [-]."""
    return RoadPieces(
        lane_piece(held, Held.ROAD, RoadColumn.CURVATURE, lane), lane_piece(held, Held.ROAD, RoadColumn.SLOPE, lane),
        lane_piece(held, Held.ROAD, RoadColumn.PLAN, lane), lane_piece(held, Held.ROAD, RoadColumn.DIRECTION, lane),
    )  # fmt: skip


@inlined
def lane_pose_piece(held, column, lane):
    """One of the cubics of the steer table that a lane holds.  held : flat; column : of `SteerColumn`; lane [-]."""
    return lane_piece(held, Held.STEER, column - POSE, lane)


@inlined
def lane_front_pieces(held, lane):
    """The cubics of the steer table's cell that a lane holds.  held : flat; lane [-]."""
    return FrontPieces(
        (lane_pose_piece(held, SteerColumn.LEFT_STEER, lane), lane_pose_piece(held, SteerColumn.RIGHT_STEER, lane)),
        (lane_pose_piece(held, SteerColumn.LEFT_X, lane), lane_pose_piece(held, SteerColumn.RIGHT_X, lane)),
        (lane_pose_piece(held, SteerColumn.LEFT_Y, lane), lane_pose_piece(held, SteerColumn.RIGHT_Y, lane)),
        (lane_pose_piece(held, SteerColumn.LEFT_CAMBER, lane), lane_pose_piece(held, SteerColumn.RIGHT_CAMBER, lane)),
    )  # fmt: skip
