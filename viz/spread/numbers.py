"""A study of uncertainty as plain numbers: how `--json` lays it out."""

from typing import Any

from sim.spread.findings import is_small, of_rolling, turned
from sim.spread.inputs import LAW, NORMAL, PLAY
from sim.spread.run import FIGURES, PairSpread, Shares, Spread
from sim.spread.statistics import Interval


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
