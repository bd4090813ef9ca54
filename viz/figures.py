"""What `import sim` finds, as figures of the plotting library that the caller owns: nothing is shown, no other figure is touched."""

from matplotlib.figure import Figure

from sim.surface.laps import Laps
from sim.surface.studies import Improvement, Uncertainty
from viz.run.course_plot import course_figure
from viz.run.losses_plot import losses_figure
from viz.run.slip_plot import slip_figure
from viz.search.plot import search_figure
from viz.spread.plot import spread_figure


def course(laps: Laps) -> Figure:
    """Where on the course the tyres scrub, a map a set-up."""
    return course_figure(laps.comparison)


def losses(laps: Laps) -> Figure:
    """What takes the drive work, a bar a set-up."""
    return losses_figure(laps.comparison)


def slips(laps: Laps) -> Figure:
    """How the wheels slip along the lap."""
    return slip_figure(laps.comparison)


def uncertainty(found: Uncertainty) -> Figure:
    """How much more each set-up needs, with 95 % intervals, and what decides it."""
    return spread_figure(found.result)


def improvement(found: Improvement) -> Figure:
    """The valley that each key makes around what is recommended."""
    return search_figure(found.result)
