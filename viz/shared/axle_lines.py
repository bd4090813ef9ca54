"""The lines of the wheels' axles, which meet in one point where all wheels roll about it."""

from math import tan

MEETING = 0.03  # [m] lines that pass this near to each other meet
NARROW = "\N{NO-BREAK SPACE}"  # between a number and its unit


def rear_crossing(left: float, ahead: float, steer: float) -> float:
    """Where a wheel's axle line crosses the rear axle's line, left of the car's middle [m].

    left : of the middle; ahead : of the rear axle [m]; steer : not 0 [rad]
    """
    return float(left + ahead / tan(steer))


def length_words(length: float) -> str:
    """A length in centimetres, or in metres from one on.  length : [m]."""
    return f"{100 * length:.0f}{NARROW}cm" if length < 0.995 else f"{length:.1f}{NARROW}m"
