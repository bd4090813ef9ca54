"""The lines of the wheels' axles, which meet in one point where all wheels roll about it."""

from math import degrees, tan

MEETING = 0.03  # [m] lines that pass this near to each other meet
PARALLEL_DEG = 0.05  # between lines that the digits of a degree show as parallel
SAME_LENGTH = 0.005  # [m] lengths that are nearer than this are shown alike, in whole centimetres
NARROW = "\N{NO-BREAK SPACE}"  # between a number and its unit


def rear_crossing(left: float, ahead: float, steer: float) -> float:
    """Where a wheel's axle line crosses the rear axle's line, left of the car's middle [m].

    left : of the middle; ahead : of the rear axle [m]; steer : not 0 [rad]
    """
    return float(left + ahead / tan(steer))


def are_parallel(left: float, right: float) -> bool:
    """Whether the lines of both front axles run side by side and never meet.  left, right : how their wheels are steered [rad]."""
    return degrees(abs(left - right)) < PARALLEL_DEG


def apart_words(apart: float, parallel: bool, kingpins: float) -> str:
    """That both front axle lines do not meet on the rear axle's line, as a clause; that of parallel ones is no measure of the bend.

    apart : between the places where they cross that line [m]; parallel : whether they are; kingpins : how far those stand apart [m]
    """
    if not parallel:
        return f"its front axle lines cross the rear axle's line {length_words(apart)} apart instead of in one point"
    same = ", as far as its kingpins stand apart, whatever the bend" if abs(apart - kingpins) < SAME_LENGTH else ""
    return f"its front axle lines are parallel and never meet: they cross the rear axle's line {length_words(apart)} apart{same}"


def length_words(length: float) -> str:
    """A length in centimetres, or in metres from one on.  length : [m]."""
    return f"{100 * length:.0f}{NARROW}cm" if length < 0.995 else f"{length:.1f}{NARROW}m"
