"""A study of uncertainty as plain numbers: how `--json` lays it out."""

from typing import Any, NotRequired, TypedDict

from sim.spread.findings import is_small, of_rolling, turned
from sim.spread.inputs import LAW, NORMAL, PLAY
from sim.spread.run import FIGURES, PairSpread, Shares, Spread
from sim.spread.statistics import Interval


class Ends(TypedDict):
    """An interval.  low, median, high : 95 % of the draws lie between low and high, half of them below the median [the figure's unit]."""

    low: float
    median: float
    high: float


class IntervalNumbers(Ends):
    """An interval of a sample.  sampling_error : half widths of the 95 % intervals of its ends and its median [the figure's unit]."""

    sampling_error: Ends


class ShareNumbers(TypedDict):
    """Share of an unsure number in a figure's variance.

    alone, total : on its own, and with what it does together with others [-]
    alone_sampling_error, total_sampling_error : half widths of their 95 % intervals [-]
    """

    alone: float
    alone_sampling_error: float
    total: NotRequired[float]
    total_sampling_error: NotRequired[float]


class ShareTable(TypedDict):
    """What decides a figure.

    shares : by path of the unsure number, null where they are not known
    shares_method : "additive fit" or "Saltelli design"; shares_samples : draws that they rest on [-]
    """

    shares: dict[str, ShareNumbers] | None
    shares_method: str | None
    shares_samples: int | None


class InputNumbers(TypedDict):
    """An unsure number.

    path : of it; setup : whose it is, null where it is not one set-up's; distribution : its kind
    value, plus_minus : as it is written, and half width of its 95 % interval [the number's unit]
    low, high : ends of that, or of its range [the number's unit]; clipped_share : of the draws, that were set to a bound [-]
    """

    path: str
    setup: str | None
    distribution: str
    value: float | None
    plus_minus: float | None
    low: float | None
    high: float | None
    clipped_share: float


class SetupNumbers(ShareTable):
    """A set-up.  name : its name; finished_share : of the draws, in which it gets round [-]; all others : in the unit of the name."""

    name: str
    finished_share: float
    drive_work_J: IntervalNumbers | None
    scrub_J: IntervalNumbers | None
    rolling_J: IntervalNumbers | None
    air_J: IntervalNumbers | None
    lap_time_s: IntervalNumbers | None
    min_load_N: IntervalNumbers | None
    battery_Wh: IntervalNumbers | None
    laps_per_charge: IntervalNumbers | None
    race_distance_m: IntervalNumbers | None


class PairNumbers(ShareTable):
    """Two set-ups in the same draws.

    setup, against : their names; draws : in which both get round [-]; gain_J : drive work that the first saves [J]
    probability, probability_sampling_error : that the first needs less, and the half width of its 95 % interval [-]
    told_apart : whether the interval of the gain leaves 0 out; small : whether it is small beside the drive work
    gain_share_of_rolling : as a share of the rolling resistance [-]
    """

    setup: str
    against: str
    draws: int
    gain_J: IntervalNumbers | None
    probability: float | None
    probability_sampling_error: float | None
    told_apart: bool
    small: bool
    gain_share_of_rolling: float | None


class SpreadNumbers(TypedDict):
    """What `spread` finds.

    title : of the scenario; samples, seed : of the draws [-]; laps_driven : in all [-]
    target_m_per_s : speed on the straights [m/s]; interval_share : of the draws, that an interval holds [-]
    against : the set-up that all are compared with, null for the best; clipped_share : of all draws, that were set to a bound [-]
    inputs : what was unsure; setups : in the scenario's order; pairs : each once
    differences_J : of the set-up in the column less that in the row, null where there is none [J]
    probability_beats : that the row's set-up needs less than the column's, likewise [-]
    """

    title: str
    samples: int
    seed: int
    laps_driven: int
    target_m_per_s: float
    interval_share: float
    against: str | None
    clipped_share: float
    inputs: list[InputNumbers]
    setups: list[SetupNumbers]
    differences_J: list[list[Ends | None]]
    probability_beats: list[list[float | None]]
    pairs: list[PairNumbers]


def spread_result(spread: Spread) -> dict[str, Any]:
    """A study of uncertainty as plain numbers for JSON; None where there is no figure."""
    names = spread.names
    differences: list[list[dict[str, float] | None]] = [[None] * len(names) for _ in names]
    chances: list[list[float | None]] = [[None] * len(names) for _ in names]
    for pair in spread.pairs:
        for seen in (pair, turned(pair)):
            if seen.gain is not None and seen.chance is not None:
                differences[seen.first][seen.second] = _ends(seen.gain)
                chances[seen.first][seen.second] = seen.chance.value
    setups = []
    for name, one in zip(names, spread.setups, strict=True):
        figures = {key: _interval_numbers(figure) for key, figure in zip(FIGURES, one.figures, strict=True)}
        setups.append({"name": name, "finished_share": one.finished, **figures, **_share_numbers(spread, one.shares)})
    return {
        "title": spread.title, "samples": spread.samples, "seed": spread.seed, "laps_driven": spread.laps,
        "target_m_per_s": spread.target, "interval_share": 0.95,
        "against": None if spread.against is None else names[spread.against],
        "clipped_share": spread.clipped_share,
        "inputs": [_input_numbers(spread, index) for index in range(len(spread.inputs))],
        "setups": setups,
        "differences_J": differences,  # of the set-up in the column less that in the row: what the row's set-up gains
        "probability_beats": chances,  # that the row's set-up needs less than the column's
        "pairs": [_pair_numbers(spread, pair) for pair in spread.pairs],
    }  # fmt: skip


def _input_numbers(spread: Spread, index: int) -> dict[str, Any]:
    one = spread.inputs[index]
    normal = one.kind == NORMAL
    return {
        "path": one.path, "setup": None if one.setup is None else spread.names[one.setup], "distribution": one.kind,
        "value": one.middle if normal else None, "plus_minus": one.half if one.kind in (NORMAL, PLAY) else None,
        "low": None if one.kind == LAW else one.middle - one.half, "high": None if one.kind == LAW else one.middle + one.half,
        "clipped_share": spread.clipped[index],
    }  # fmt: skip


def _interval_numbers(figure: Interval | None) -> dict[str, Any] | None:
    if figure is None:
        return None
    errors = {"low": figure.low.error, "median": figure.middle.error, "high": figure.high.error}
    return {**_ends(figure), "sampling_error": errors}


def _ends(figure: Interval) -> dict[str, float]:
    return {"low": figure.low.value, "median": figure.middle.value, "high": figure.high.value}


def _share_numbers(spread: Spread, shares: Shares | None) -> dict[str, Any]:
    if shares is None:
        return {"shares": None, "shares_method": None, "shares_samples": None}

    def numbers(index: int) -> dict[str, float]:
        found = {"alone": shares.alone[index].value, "alone_sampling_error": shares.alone[index].error}
        if shares.total is not None:
            found |= {"total": shares.total[index].value, "total_sampling_error": shares.total[index].error}
        return found

    return {
        "shares": {spread.inputs[index].path: numbers(index) for index in shares.alone},
        "shares_method": "additive fit" if shares.total is None else "Saltelli design", "shares_samples": shares.draws,
    }  # fmt: skip


def _pair_numbers(spread: Spread, pair: PairSpread) -> dict[str, Any]:
    return {
        "setup": spread.names[pair.first], "against": spread.names[pair.second], "draws": pair.draws,
        "gain_J": _interval_numbers(pair.gain),
        "probability": pair.chance.value if pair.chance else None,
        "probability_sampling_error": pair.chance.error if pair.chance else None,
        "told_apart": pair.told_apart,
        "small": is_small(spread, pair),
        "gain_share_of_rolling": of_rolling(spread, pair),
        **_share_numbers(spread, pair.shares),
    }  # fmt: skip
