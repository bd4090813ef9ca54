"""What `import sim` finds, as figures of the plotting library that the caller owns: nothing is shown, no other figure is touched."""

from matplotlib.figure import Figure

from sim.errors import InputError
from sim.surface.given import shown
from sim.surface.laps import Laps
from sim.surface.studies import Improvement, Uncertainty
from viz.run.course_plot import course_figure
from viz.run.losses_plot import losses_figure
from viz.run.slip_plot import slip_figure
from viz.search.plot import search_figure
from viz.spread.plot import spread_figure


def course(laps: Laps) -> Figure:
    """Where on the course the tyres scrub, a map a set-up."""
    _refuse_other(laps, Laps, "figures.course(sim.compare(CASE))")
    return course_figure(laps.comparison)


def losses(laps: Laps) -> Figure:
    """What takes the drive work, a bar a set-up."""
    _refuse_other(laps, Laps, "figures.losses(sim.compare(CASE))")
    return losses_figure(laps.comparison)


def slips(laps: Laps) -> Figure:
    """How the wheels slip along the lap."""
    _refuse_other(laps, Laps, "figures.slips(sim.compare(CASE))")
    return slip_figure(laps.comparison)


def uncertainty(found: Uncertainty) -> Figure:
    """How much more each set-up needs, with 95 % intervals, and what decides it."""
    _refuse_other(found, Uncertainty, "figures.uncertainty(sim.uncertainty(CASE))")
    return spread_figure(found.result)


def improvement(found: Improvement) -> Figure:
    """The valley that each key makes around what is recommended."""
    _refuse_other(found, Improvement, "figures.improvement(sim.improve(CASE))")
    return search_figure(found.result)


def _refuse_other(given: object, kind: type, call: str) -> None:
    """Raise InputError where a plot was asked of something else.  given : that; kind : wanted; call : how it is written."""
    if not isinstance(given, kind):
        raise InputError(call.partition("(")[0], "", f"{shown(given)} is not what this plot shows", f"write {call}")
