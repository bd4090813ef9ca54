"""Steer angles of wheels that roll about one centre on the rear axle's line."""

import numpy as np


def rolling_steer(steer: np.ndarray | float, sideways: np.ndarray | float, wheelbase: float) -> np.ndarray:
    """Steer angle, at a point beside another, that rolls about the same centre: cot d' = cot d - sideways / l.

    steer : (n,) d, at the first point [rad]
    sideways : how far the second point is to the left of the first [m]
    wheelbase : l [m]
    Returns d' (n,), through a right angle and back to 0 without a break [rad].  Source: plane geometry of rolling
    wheels, written with atan2 so that it is smooth at 0.
    """
    sine = np.sin(steer)
    return np.arctan2(sine, np.cos(steer) - sideways / wheelbase * sine)


def ideal_outer(inner: np.ndarray | float, track: float, wheelbase: float) -> np.ndarray:
    """Ideal (Ackermann) angle of the outer wheel: cot outer = cot inner + track / l, here in a left turn.

    inner : (n,) of the inner wheel, positive in a left turn, negative in a right turn [rad]
    track : between the kingpin axes at the ground [m]
    wheelbase : l [m]
    Returns the outer wheel's angle (n,) [rad].  Source: the Ackermann condition, every text on steering.
    """
    return rolling_steer(inner, -track * np.where(np.asarray(inner) < 0, -1.0, 1.0), wheelbase)


def ideal_inner(outer: np.ndarray | float, track: float, wheelbase: float) -> np.ndarray:
    """Ideal (Ackermann) angle of the inner wheel: cot inner = cot outer - track / l, here in a left turn.

    outer : (n,) of the outer wheel, positive in a left turn, negative in a right turn [rad]
    track : between the kingpin axes at the ground [m]
    wheelbase : l [m]
    Returns the inner wheel's angle (n,) [rad].  Source: as for `ideal_outer`.
    """
    return rolling_steer(outer, track * np.where(np.asarray(outer) < 0, -1.0, 1.0), wheelbase)


def equivalent_steer(steer: np.ndarray, kingpin_y: np.ndarray, wheelbase: float) -> np.ndarray:
    """Single-track steer angle that asks for the mean of the curvatures which the two wheels ask for.

    steer : (n, 2) of the left and the right wheel [rad]
    kingpin_y : (2,) their kingpins at the ground, left of the centre line; 0 for a turntable [m]
    wheelbase : l [m]
    Returns the angle (n,) [rad].  Source: derived here: kappa_i = tan d_i / (l + y_i tan d_i) and
    angle = atan(l (kappa_1 + kappa_2) / 2).  Unlike the mean of the cotangents, which it equals for ideal steering, it
    has no singularity with toe.
    """
    return np.arctan(np.tan(rolling_steer(steer, -kingpin_y, wheelbase)).mean(axis=1))
