"""How a car coasts, in closed form: rolling resistance, slope, and air drag against a steady wind."""

from math import atan, inf, sqrt

import numpy as np
from numpy.typing import ArrayLike


def coast_motion(time: ArrayLike, speed: float, pull: float, drag: float, headwind: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Speed and distance of a coast, dv/dt = -pull - drag u |u| with u = v + headwind.

    time : from the start, not negative, (n,) [s]; speed : at the start [m/s]
    pull : deceleration without air, (A + m g s) / m_e, of any sign [m/s2]; drag : B / m_e [1/m], not
    negative but for the steps of a difference; headwind [m/s]
    Returns (speed [m/s], distance [m]), each (n,).

    With k^2 = pull drag, C = cos kt, S = sin(kt) / k, H = (1 - C) / k^2 and E = u_0 S - pull H, all of them entire in k^2:
    u = (u_0 C - pull S) / (1 + drag E), air distance ln(1 + drag E) / drag.  For pull > 0 this is the arc tangent law
    v = v_s tan(phi_0 - kt).  Where u passes zero it goes on from rest with the drag the other way.
    Source: separation of variables; the tangent form as in Thompson, US EPA, The Vehicle Road Load Problem; this form derived here.
    """
    time = np.asarray(time, dtype=float)
    air = speed + headwind
    side = 1.0 if air >= 0 else -1.0
    turn = _air_rest(abs(air), side * pull, drag)
    first = np.minimum(time, turn)
    u, way = _one_way(first, abs(air), side * pull, drag)
    if turn < inf and (time > turn).any():
        back, backway = _one_way(time - first, 0.0, -side * pull, drag)
        u, way = np.where(time > turn, -back, u), way - backway
    return side * u - headwind, side * way - headwind * time


def _air_rest(air: float, pull: float, drag: float) -> float:
    """When the air speed passes zero: tan(kt) / k = u_0 / pull."""
    if pull <= 0:
        return inf
    k = sqrt(max(pull * drag, 0.0))
    return atan(air * k / pull) / k if k * air > 1e-8 * pull else air / pull


def _one_way(time: np.ndarray, air: float, pull: float, drag: float) -> tuple[np.ndarray, np.ndarray]:
    """Air speed and air distance while the air speed keeps its sign, which is positive here."""
    square = pull * drag
    k = sqrt(abs(square))
    if k * float(time.max(initial=0.0)) < 1e-8:  # the first terms are exact to rounding
        cosine, sine, rest = np.ones_like(time), time, 0.5 * time * time
    elif square > 0:
        cosine, sine, rest = np.cos(k * time), np.sin(k * time) / k, 2 * (np.sin(0.5 * k * time) / k) ** 2
    else:
        cosine, sine, rest = np.cosh(k * time), np.sinh(k * time) / k, 2 * (np.sinh(0.5 * k * time) / k) ** 2
    grown = air * sine - pull * rest
    z = drag * grown
    small = np.abs(z) < 1e-5
    logarithm = np.log1p(z) / np.where(small, 1.0, z)
    return (air * cosine - pull * sine) / (1 + z), grown * np.where(small, 1 - z * (0.5 - z / 3), logarithm)


def stop_of(speed: float, pull: float, drag: float) -> tuple[float, float]:
    """Time and distance to standstill in still air.

    speed : at the start [m/s]; pull : above 0 [m/s2]; drag : not negative [1/m]
    Returns (time [s], distance [m]): phi_0 / k and ln(1 + drag v^2 / pull) / (2 drag).  Source: as `coast_motion`.
    """
    time = _air_rest(speed, pull, drag)
    return time, float(_one_way(np.array([time]), speed, pull, drag)[1][0])
