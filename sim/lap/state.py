"""Where each quantity stands in the state of a lap, and in its extremes; all SI."""

from enum import IntEnum


class State(IntEnum):
    """Places of the state; fours stand for the first of them, in the order of `chassis.WHEELS`."""

    VX = 0  # velocity of the mass centre, car axes [m/s]
    VY = 1
    YAW_RATE = 2  # [rad/s]
    SLIPS = 3  # four, lateral [rad]
    STEER = 7  # equivalent single-track steer [rad]
    STATION = 8  # [m]
    ERROR = 9  # left of the line [m]
    HEADING = 10  # error against the line's direction [rad]
    # The ledger [J], from LEDGER on
    DRIVE_WORK = 11
    AIR = 12
    ROLLING = 13
    BRAKES = 14
    HEIGHT = 15
    LATERAL = 16  # four
    LONGITUDINAL = 20  # four
    ALIGNING = 24
    HAND_WORK = 25
    STORED = 26
    RUB = 27  # four, slip distances [m]
    ERROR_SQUARED = 31  # its integral along the station [m3]
    # What motor and battery did [J], [A s]; it stands last, from FLOW on
    BATTERY = 32
    COPPER = 33
    NO_LOAD = 34
    GEAR = 35
    BATTERY_WARMTH = 36
    CHARGE = 37
    USED_CHARGE = 38
    REGENERATED = 39


LEDGER, FLOW, STATES = int(State.DRIVE_WORK), int(State.BATTERY), 40


class Extreme(IntEnum):
    """Places of a lap's extremes; a four stands for the first of them."""

    LEAST_LOAD = 0  # of any wheel [N]
    FARTHEST = 1  # from the line [m]
    PEAK_SLIP = 2  # four, with their signs [rad]
    TRAVEL = 6  # way of the hands, there and back [rad]


EXTREMES = 7
