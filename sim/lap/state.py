"""Where each quantity stands in the state of a lap, and in its extremes; all SI."""

# Places of the state
VX, VY, YAW_RATE, SLIPS, STEER, STATION, ERROR, HEADING = 0, 1, 2, 3, 7, 8, 9, 10
LEDGER = 11
(DRIVE_WORK, AIR, ROLLING, BRAKES, HEIGHT, LATERAL, LONGITUDINAL, ALIGNING, HAND_WORK, STORED, RUB, ERROR_SQUARED) = (
    11, 12, 13, 14, 15, 16, 20, 24, 25, 26, 27, 31,
)  # fmt: skip
# What motor and battery did [J], [A s]; it stands last, from FLOW on
FLOW = 32
BATTERY, COPPER, NO_LOAD, GEAR, BATTERY_WARMTH, CHARGE, USED_CHARGE, REGENERATED = range(32, 40)
STATES = 40
# Places of a lap's extremes
LEAST_LOAD, FARTHEST, PEAK_SLIP, TRAVEL, EXTREMES = 0, 1, 2, 6, 7  # TRAVEL: way of the hands, there and back [rad]
