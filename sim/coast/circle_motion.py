"""How a car that coasts round a circle slows down: speeds at the steps of an integration, for several sets of parameters at once."""

from typing import NamedTuple

from sim.kernels.compiled import kernel


class Circling(NamedTuple):
    """What is taken as known of a car that coasts round a circle; see `sim.coast.circle.fit_circle` for the formula.

    Its parameters in a row: steady drag [N], what side force costs at `reference` [N], pneumatic trail less the scenario's [m], one that
    is not used, then each coast's start speed [m/s].
    """

    effective_mass: float  # [kg]
    rolling: float  # [N]
    air: float  # drag over the squared speed [kg/m]
    aligning: float  # drag over the squared speed and the trail [kg/m2]
    trail: float  # pneumatic, of the scenario [m]
    relaxation: float  # length of the tyres [m]
    uneven: float  # rise of what side force costs, over the squared speed [s2/m2]
    reference: float  # [m/s]
    most: float  # speed that no coast has: what a search asks for beyond it is as at it [m/s]


@kernel
def slowing(car, steady, side, trail, speed):
    """Rate of a coasting car's speed.

    car : Circling; steady, side, trail : parameters [N], [N], [m]; speed : [m/s]
    Returns it [m/s2].  The formula is that of `sim.coast.circle.fit_circle`; the speed is held between rest and one that no coast has, so
    that no parameters of a search let an integration run away.
    """
    held = min(max(speed, 0.0), car.most)
    square = held * held
    per = side / car.reference**4 / (1.0 + car.uneven * car.reference**2)
    force = car.rolling + steady + square * (car.air + (car.trail + trail) * car.aligning + square * per * (1.0 + car.uneven * square))
    return -force / max(car.effective_mass + 2.0 * car.relaxation * per * square, 0.5 * car.effective_mass)


@kernel
def coast_round(car, several, steps, speeds, rates):
    """Speeds of all coasts by the classical Runge-Kutta method (textbook).

    car : Circling; several : (k, 4 + coasts) parameters; steps : (n, coasts) [s]
    speeds, rates : (n + 1, k, coasts) written, at the beginning of each step and at the end of the last [m/s], [m/s2]
    """
    for i in range(several.shape[0]):
        steady, side, trail = several[i, 0], several[i, 1], several[i, 2]
        for j in range(steps.shape[1]):
            speed = several[i, 4 + j]
            for node in range(steps.shape[0]):
                step = steps[node, j]
                first = slowing(car, steady, side, trail, speed)
                speeds[node, i, j], rates[node, i, j] = speed, first
                second = slowing(car, steady, side, trail, speed + 0.5 * step * first)
                third = slowing(car, steady, side, trail, speed + 0.5 * step * second)
                fourth = slowing(car, steady, side, trail, speed + step * third)
                speed += step / 6.0 * (first + 2.0 * second + 2.0 * third + fourth)
            speeds[-1, i, j], rates[-1, i, j] = speed, slowing(car, steady, side, trail, speed)
