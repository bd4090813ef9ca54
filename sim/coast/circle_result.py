"""What coasts round a circle say of the car as built, beside the model's set-ups."""

from collections.abc import Callable, Sequence
from pathlib import Path

from sim.coast.circle import MIDDLE, TRAIL_SPREAD, fit_circle, model_drag, turns_of
from sim.coast.doubts import circle_warnings
from sim.coast.echo import CONFIDENCE
from sim.coast.result import CircleCoast, CircleRun, MeasuredDrag, ModelledDrag, checked_options, quality, run_figures
from sim.coast.runs import read_coasts
from sim.errors import InputError
from sim.scenario.scenario import Scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import MILLIMETRE
from sim.study.ready import car_of, make_entry
from sim.study.summary import known

LARGEST_CIRCLE = 200.0  # [m]


def check_radius(radius: float, scenario: Scenario) -> None:
    """Raise InputError for a circle that this car can't coast round.  radius : left positive [m]; scenario : with the car."""
    least = scenario.car.wheelbase_mm * MILLIMETRE
    if not least <= abs(radius) <= LARGEST_CIRCLE:
        problem = f"{radius:g} is not between the wheelbase ({least:g}) and {LARGEST_CIRCLE:g} in size"
        raise InputError("--circle-radius", "", problem, "give the radius in metres, positive to the left")


def circle_coast(
    logs: list[Path], mass: float, radius: float, scenario: Scenario, source: str, setups: Sequence[SetupTable],
    rotating_mass: float | None = None, air_density: float | None = None, modelling: Callable[[], None] = lambda: None,
) -> CircleCoast:  # fmt: skip
    """Cornering drag from logs of a car that coasts round a circle, beside the model's for some of a scenario's set-ups.

    logs : with speeds; mass [kg]; radius : of the circle, left positive, see `check_radius` [m]; scenario : gives rolling coefficient and
    drag area; source : its name in messages; setups : of it; rotating_mass, air_density : as in `straight_coast`, the scenario's air
    where it is None; modelling : called when the logs have been fitted and the model's turns begin
    Returns a CircleCoast.  Raises InputError as `straight_coast`, for a set-up that cannot be built, and for logs that cannot be of this
    circle.
    """
    wheels, density = checked_options(mass, rotating_mass, air_density or scenario.course.air_density_kg_per_m3)
    coasts, left_out, notes = read_coasts(logs, [])
    car = car_of(scenario)._replace(mass=mass, air_density=density)
    fit = fit_circle(coasts, car, wheels, radius)
    entries = [make_entry(one, scenario, source, one.place) for one in setups]
    modelling()
    modelled = tuple(
        ModelledDrag(entry.name, tuple(known(value) for value in model_drag(car, entry.table, radius, fit.speeds))) for entry in entries
    )  # fmt: skip
    return CircleCoast(
        kind="circle", scenario=source, radius_m=radius,
        mass_kg=mass, effective_mass_kg=fit.effective_mass, air_density_kg_per_m3=density, confidence=CONFIDENCE,
        rolling_resistance_taken=fit.rolling, drag_area_taken_m2=fit.drag_area,
        pneumatic_trail_taken_m=fit.trail, trail_spread_m=TRAIL_SPREAD,
        measured=tuple(
            MeasuredDrag(float(speed), float(drag), float(half))
            for speed, drag, half in zip(fit.speeds, fit.drag, fit.half_width, strict=True)
        ),
        cornering_drag_seen=bool(fit.drag[MIDDLE] > fit.half_width[MIDDLE]),
        steady_part_N=fit.steady, rising_part_N=fit.rising, rising_part_at_m_per_s=fit.reference,
        correlation=fit.correlation, **quality(fit, left_out),
        setups=modelled,
        warnings=tuple(circle_warnings(fit, rotating_mass is not None)),
        notes=tuple(notes),
        runs=tuple(CircleRun(**run_figures(one), turns=turns_of(one.coast, radius)) for one in fit.coasts),
    )  # fmt: skip
