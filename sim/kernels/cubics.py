"""Tables that kernels read: cubic pieces on a uniform grid, smooth enough for a fourth-order integrator."""

import numpy as np

from sim.kernels.compiled import inlined


def cubic_cells(pieces: np.ndarray, grid: np.ndarray) -> np.ndarray:
    """Coefficients of cubic pieces in the cell's own coordinate t = (x - node)/spacing, 0 to 1.

    pieces : (4, n), as `splines.spline_pieces` gives them for nodes at `grid`
    grid : (n + 1,) uniform nodes [any unit]
    Returns (n, 4), value = c0 + t (c1 + t (c2 + t c3)).  Source: change of variable.
    """
    spacing = (grid[-1] - grid[0]) / (len(grid) - 1)
    return np.ascontiguousarray(pieces[::-1].T * spacing ** np.arange(4))


@inlined
def cell_of(place, spacing, count):
    """Cell and coordinate of a place on a uniform grid that starts at 0, held at the ends.

    place, spacing : [both in the grid's unit]
    count : number of cells
    Returns (index, t), t in [0, 1].  Source: arithmetic.
    """
    return cell_at(place / spacing, count)


@inlined
def cell_at(scaled, count):
    """Cell and coordinate of a place that is counted in cells, held at the ends.

    scaled : place over spacing [-]; count : number of cells
    Returns (index, t), t in [0, 1].  Source: arithmetic.
    """
    # In this order a place that is not a number falls to 0: a broken lap must not read beside the table.
    scaled = min(max(0.0, scaled), float(count))
    index = min(int(scaled), count - 1)
    return index, scaled - index


@inlined
def cubic(piece, t):
    """Value of one cubic piece.  piece : (4,) coefficients; t : 0 to 1 [-].  Source: Horner's scheme."""
    return piece[0] + t * (piece[1] + t * (piece[2] + t * piece[3]))


@inlined
def cubic_slope(piece, t):
    """Derivative of one cubic piece by t.  piece : (4,) coefficients; t : 0 to 1 [-].  Source: Horner's scheme."""
    return piece[1] + t * (2.0 * piece[2] + t * 3.0 * piece[3])


@inlined
def piece_at(cells, row, column, columns):
    """One column's coefficients in a cell.  cells : as in `SteerCells` and `Road`; row; column, columns : which of how many [-]."""
    return cells[row, column], cells[row, columns + column], cells[row, 2 * columns + column], cells[row, 3 * columns + column]
