"""The plots of a comparison: where the tyres scrub, what takes the energy, how the wheels slip."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from matplotlib.backends.backend_agg import FigureCanvasAgg

from viz.run.course_plot import course_figure
from viz.run.losses_plot import losses_figure
from viz.run.slip_plot import slip_figure

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from matplotlib.figure import Figure

    from sim.study.compare import Comparison


PLOTS: dict[str, Callable[[Comparison], Figure]] = {"course.png": course_figure, "losses.png": losses_figure, "slip.png": slip_figure}


def write_plots(comparison: Comparison, folder: Path, plots: Mapping[str, Callable[[Comparison], Figure]] = PLOTS) -> list[Path]:
    """Write course.png, losses.png and slip.png.

    comparison : the run; folder : an existing one; plots : file names to what draws them
    Returns the files' paths.  The same comparison gives the same bytes.  Raises OSError where a file can't be written.
    """
    paths = []
    for name, draw in plots.items():
        picture = BytesIO()
        FigureCanvasAgg(draw(comparison)).print_png(picture, metadata={"Software": None})
        path = folder / name
        path.write_bytes(picture.getvalue())
        paths.append(path)
    return paths
