"""How sure a fit is where neighbouring errors are alike: over all likenesses, each as likely as the residuals make it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.coast.residuals import Residuals

CONFIDENCE = 0.95
# The likenesses that are tried, by the factor sqrt((1 + r) / (1 - r)) that each puts on the error of a mean: from errors that take
# turns (r = -0.6) over independent ones to a correlation of 0.99.  Neighbouring factors lie 6 % apart, and an interval lies between
# several of them.
FACTORS = 14.0 ** (np.arange(-12, 47) / 46)
ECHOES = (FACTORS**2 - 1) / (FACTORS**2 + 1)
INDEPENDENT = 12  # the place among them where r is 0
SHARES = np.gradient(ECHOES)  # of each before anything is seen: all correlations alike
UNLIKELY = 1e-9  # of the likeliest: what weighs less is left out of an interval, for two kinds of rows make thousands of pairs
HALVINGS = 40  # of the search for an interval's end: to 1e-12 of it


@dataclass(frozen=True, eq=False)
class Echo:
    """What the residuals of one kind, speeds or distances, say about their own likeness.

    part : their place among the rows that count
    gaps : (n,) usual steps since the row before, endless where a coast begins [-]
    weights : (k,) how likely each of ECHOES is
    variances : (k,) of the errors with each of ECHOES, over the noise that the rows were divided by [-]
    freedom : rows less parameters
    """

    part: slice
    gaps: np.ndarray
    weights: np.ndarray
    variances: np.ndarray
    freedom: int


def echoes_of(problem: Residuals, rows: np.ndarray, off: np.ndarray, noise: np.ndarray, used: np.ndarray) -> list[Echo]:
    """How alike neighbouring residuals are, for each kind of them.

    problem : Residuals
    rows : (n, p) slopes of the parameters that the log alone tells, over the noise [-]
    off : (n,) residuals, noise : (n,) of each [m/s or m]; used : (n,) which count
    Returns an Echo for each of the problem's series.

    Errors are taken for a chain, alike by r^k over k usual steps (a first-order chain seen at uneven times; textbook).  No single r
    is picked: each of ECHOES counts by its restricted likelihood, which allows for what the fitted parameters took out of the
    residuals (textbook, from memory).  The plain correlation of residuals comes out too small just where it matters, in short
    logs with errors that hang together for long.
    """
    found, begin = [], 0
    for mask in problem.series:
        chosen = np.flatnonzero(mask & used)
        part = slice(begin, begin := begin + len(chosen))
        gaps, misses = problem.gaps(chosen), (off / noise)[chosen]
        columns = rows[chosen][:, np.any(rows[chosen] != 0, axis=0)]
        freedom = len(chosen) - columns.shape[1]
        basis = np.linalg.qr(columns)[0]
        likely, variances = np.empty(len(ECHOES)), np.empty(len(ECHOES))
        for index, echo in enumerate(ECHOES):
            diagonal, beside, log_size = _precision(gaps, echo)
            seen, heard = _times(diagonal, beside, basis), _times(diagonal, beside, misses)
            system, right = basis.T @ seen, basis.T @ heard
            left = float(misses @ heard - right @ np.linalg.solve(system, right))
            variances[index] = left / freedom
            likely[index] = -0.5 * (log_size + np.linalg.slogdet(system)[1] + freedom * np.log(max(left, 1e-300)))
        weights = SHARES * np.exp(likely - likely.max())
        if problem.is_exact(mask, used, off):
            weights = np.zeros(len(ECHOES))
            weights[INDEPENDENT] = 1.0
        found.append(Echo(part, gaps, weights / weights.sum(), variances, freedom))
    return found


def _precision(gaps: np.ndarray, echo: float) -> tuple[np.ndarray, np.ndarray, float]:
    """Inverse of the correlations of a chain: its diagonal, the one beside it, and the logarithm of the correlations' determinant."""
    turns = np.where(np.isfinite(gaps) & (echo < 0), np.round(np.minimum(gaps, 1e6)) % 2, 0.0)
    likeness = (1 - 2 * turns) * abs(echo) ** gaps
    own = 1 - likeness**2
    carried = np.append(likeness[1:] ** 2 / own[1:], 0.0)
    return 1 / own + carried, -likeness[1:] / own[1:], float(np.log(own).sum())


def _times(diagonal: np.ndarray, beside: np.ndarray, values: np.ndarray) -> np.ndarray:
    """A matrix of three diagonals times (n,) or (n, p) values."""
    if values.ndim == 2:
        diagonal, beside = diagonal[:, None], beside[:, None]
    product = diagonal * values
    product[:-1] += beside * values[1:]
    product[1:] += beside * values[:-1]
    return product


def noise_with(problem: Residuals, found: np.ndarray, noise: np.ndarray, used: np.ndarray) -> np.ndarray:
    """Noise that makes the rows count no more than they tell: with their likeness, so that what is held keeps its due weight.

    problem : Residuals; found : (p,) its parameters; noise : (n,) [m/s or m]; used : (n,) which count
    Returns (n,) [m/s or m].
    """
    alone = _told_by_rows(problem, problem.free)
    rows = problem.slopes(found)[:, alone] / noise[:, None] * problem.scales[alone]
    wider = noise.copy()
    for mask, one in zip(problem.series, echoes_of(problem, rows, problem.off(found), noise, used), strict=True):
        wider[mask] *= np.exp(one.weights @ np.log(np.sqrt(np.maximum(one.variances, 1e-300)) * FACTORS))
    return np.maximum(wider, problem.floor)


def _told_by_rows(problem: Residuals, free: np.ndarray) -> np.ndarray:
    """Those of some parameters that nothing but the log tells."""
    return free[~np.any(problem.held()[:, free] != 0, axis=0)]


@dataclass(frozen=True, eq=False)
class Errors:
    """Errors of figures, each a sum of a fit's parameters.

    half : (q,) half width of the CONFIDENCE interval [a unit of the figure]
    covariance : (q, q) [unit squared]; own : of the log alone, with what is held known
    echo : expected correlation of neighbouring errors, the largest of speeds and distances [-]
    widened : how many times wider the rows make the intervals than they would with independent errors, the most of all figures [-]
    condition : of the fit, each column scaled to length 1
    freedom : rows less parameters
    """

    half: np.ndarray
    covariance: np.ndarray
    own: np.ndarray
    echo: float
    widened: float
    condition: float
    freedom: int


def errors_of(problem: Residuals, found: np.ndarray, noise: np.ndarray, used: np.ndarray, free: np.ndarray, figures: np.ndarray) -> Errors:
    """Errors of a fit: of the linearised least squares, with the likeness of its residuals.

    problem : Residuals; found : (p,) its parameters; noise : (n,) that the rows were divided by [m/s or m]; used : (n,) which count
    free : which parameters were fitted; figures : (q, p) what a unit of each parameter adds to each figure
    Returns Errors.  The interval holds the truth with CONFIDENCE when Student's t with each of ECHOES counts by its weight.
    """
    rows, held = problem.slopes(found) / noise[:, None] * problem.scales, problem.held() * problem.scales
    alone, shares = _told_by_rows(problem, free), figures * problem.scales
    echoes = echoes_of(problem, rows[:, alone], problem.off(found), noise, used)
    system = np.vstack([rows[used], held])[:, free]
    lengths = np.linalg.norm(system, axis=0)
    singular = np.linalg.svd(system / np.where(lengths > 0, lengths, 1.0), compute_uv=False)
    # By the system's own inverse, not that of its square, so that no digits are lost.
    lines = shares[:, free] @ np.linalg.pinv(system)
    count = int(used.sum())
    assumed = lines[:, count:] @ lines[:, count:].T
    spreads = [_spreads(lines[:, one.part], one) for one in echoes]
    own_lines = shares[:, alone] @ np.linalg.pinv(rows[used][:, alone])
    own = [_spreads(own_lines[:, one.part], one) for one in echoes]
    freedom = min(one.freedom for one in echoes)
    halves, widened = np.empty(len(figures)), 1.0
    for figure in range(len(figures)):
        variances, weights = _together([each[:, figure, figure] for each in spreads], echoes)
        halves[figure] = _half(variances + assumed[figure, figure], weights, freedom)
        variances, weights = _together([each[:, figure, figure] for each in own], echoes)
        independent = sum(float(each[INDEPENDENT, figure, figure]) for each in own)
        if independent > 0:
            widened = max(widened, _half(variances, weights, freedom) / _half(np.array([independent]), np.ones(1), freedom))
    mean, own_mean = (
        sum(np.einsum("k,kij->ij", one.weights, each) for one, each in zip(echoes, parts, strict=True)) for parts in (spreads, own)
    )  # fmt: skip
    return Errors(
        half=halves, covariance=assumed + mean, own=own_mean, echo=max(float(one.weights @ ECHOES) for one in echoes), widened=widened,
        condition=float(singular[0] / max(singular[-1], 1e-300)), freedom=count - len(alone),
    )  # fmt: skip


def _spreads(lines: np.ndarray, echo: Echo) -> np.ndarray:
    """Covariance of sums of the rows' errors with each of ECHOES.  lines : (q, n) what a row's error adds to each; gives (k, q, q)."""
    from scipy.linalg import solveh_banded

    spreads = np.empty((len(ECHOES), len(lines), len(lines)))
    for index, likeness in enumerate(ECHOES):
        diagonal, beside, _ = _precision(echo.gaps, likeness)
        alike = solveh_banded(np.vstack([diagonal, np.append(beside, 0.0)]), lines.T, lower=True)
        spreads[index] = echo.variances[index] * lines @ alike
    return spreads


def _together(spreads: list[np.ndarray], echoes: list[Echo]) -> tuple[np.ndarray, np.ndarray]:
    """Variances of a figure and their weights, for each likeness of the one kind with each of the other.  spreads : (k,) of each kind."""
    variances, weights = np.zeros(1), np.ones(1)
    for spread, echo in zip(spreads, echoes, strict=True):
        variances, weights = np.add.outer(variances, spread).ravel(), np.multiply.outer(weights, echo.weights).ravel()
    return variances, weights


def _half(variances: np.ndarray, weights: np.ndarray, freedom: int) -> float:
    """Where the weighted Student's t of these variances leave half of what CONFIDENCE leaves on one side."""
    from scipy.special import stdtr, stdtrit

    likely = weights > UNLIKELY * weights.max()
    sizes, weights, outside = np.sqrt(variances[likely]), weights[likely] / weights[likely].sum(), 1 - CONFIDENCE
    low, high = 0.0, float(stdtrit(freedom, 1 - outside / 2)) * float(sizes.max())
    if high == 0:
        return 0.0
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        beyond = 2 * float(weights @ stdtr(freedom, -middle / np.maximum(sizes, 1e-300)))
        low, high = (middle, high) if beyond > outside else (low, middle)
    return high
