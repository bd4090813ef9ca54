"""What a study of uncertainty found, as plain numbers."""

from math import hypot
from typing import Any

from sim.judgements import TELL_APART
from sim.spread.inputs import LAW, NORMAL, PLAY
from sim.spread.run import FIGURES, PairSpread, Shares, Spread
from sim.spread.statistics import Estimate, Interval

LARGEST_ERROR = 0.25  # of a share, beyond which nobody can say what matters most; a judgement


def spread_result(spread: Spread) -> dict[str, Any]:
    """A study of uncertainty as plain numbers for JSON; None where there is no figure."""
    names, pairs = spread.names, [(pair, _pair_numbers(spread, pair)) for pair in spread.pairs]
    differences: list[list[Any]] = [[None] * len(names) for _ in names]
    chances: list[list[Any]] = [[None] * len(names) for _ in names]
    for pair, row in pairs:
        gain = row["gain_J"]
        if gain is not None and row["probability"] is not None:
            there = {key: gain[key] for key in ("low", "median", "high")}
            differences[pair.first][pair.second] = there
            differences[pair.second][pair.first] = {
                "low": -there["high"], "median": -there["median"], "high": -there["low"],
            }  # fmt: skip
            chances[pair.first][pair.second], chances[pair.second][pair.first] = row["probability"], 1 - row["probability"]
    setups = []
    for name, one in zip(names, spread.setups, strict=True):
        figures = {key: _interval_numbers(figure) for key, figure in zip(FIGURES, one.figures, strict=True)}
        setups.append({"name": name, "finished_share": one.finished, **figures, **_share_numbers(spread, one.shares)})
    return {
        "title": spread.title, "samples": spread.samples, "seed": spread.seed, "laps_driven": spread.laps,
        "target_m_per_s": spread.target, "interval_share": 0.95,
        "clipped_share": sum(spread.clipped) / len(spread.clipped),
        "inputs": [_input_numbers(spread, index) for index in range(len(spread.inputs))],
        "setups": setups,
        "differences_J": differences,  # of the set-up in the column less that in the row: what the row's set-up gains
        "probability_beats": chances,  # that the row's set-up needs less than the column's
        "pairs": [row for _, row in pairs],
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
    parts = {"low": figure.low, "median": figure.middle, "high": figure.high}
    return {key: part.value for key, part in parts.items()} | {"sampling_error": {key: part.error for key, part in parts.items()}}


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


def of_rolling(spread: Spread, pair: PairSpread) -> float | None:
    """The middle of a gain as a share of the rolling loss, with the gain's sign; None without either.

    spread : the study; pair : one of it
    """
    rolling = spread.setups[pair.first].figures[FIGURES.index("rolling_J")]
    if pair.gain is None or rolling is None or rolling.middle.value <= 0:
        return None
    return pair.gain.middle.value / rolling.middle.value


def is_small(spread: Spread, pair: PairSpread) -> bool:
    """Whether a gain's middle is less of the drive work than anything can tell apart on a course, however sure its sign is here.

    spread : the study; pair : one of it
    """
    work = spread.setups[pair.first].figures[FIGURES.index("drive_work_J")]
    return pair.gain is not None and work is not None and abs(pair.gain.middle.value) <= TELL_APART * work.middle.value


def leading(shares: Shares) -> list[int]:
    """The input that matters most, or the two of which either may; empty where the draws are too few to name any.

    shares : of a variance
    """
    counted = shares.total or shares.alone
    first = max(counted, key=lambda index: counted[index].value)
    most = counted[first]
    level = [
        index for index, one in counted.items()
        if index == first or most.value - one.value < hypot(most.error, one.error)
    ]  # fmt: skip
    if most.error > LARGEST_ERROR or len(level) > 2:
        return []
    return sorted(level, key=lambda index: -counted[index].value)


def best_pairs(spread: Spread) -> tuple[int, list[PairSpread]]:
    """The set-up that needs least, and its pairs with the others, seen from it, the greatest gain last; -1 where none gets round.

    spread : the study; pairs in too few draws of which both get round are left out
    """
    done = [
        (-round(one.finished, 2), one.figures[0].middle.value, index) for index, one in enumerate(spread.setups) if one.figures[0]
    ]
    if not done:
        return -1, []
    best = min(done)[2]
    mine = [pair if pair.first == best else turned(pair) for pair in spread.pairs if best in (pair.first, pair.second)]
    return best, sorted((pair for pair in mine if pair.gain), key=lambda pair: pair.gain.middle.value if pair.gain else 0.0)


def turned(pair: PairSpread) -> PairSpread:
    """The same pair seen from the other set-up.  pair : of a study."""

    def less(one: Estimate) -> Estimate:
        return Estimate(-one.value, one.error)

    gain = pair.gain and Interval(less(pair.gain.high), less(pair.gain.middle), less(pair.gain.low))
    chance = pair.chance and Estimate(1 - pair.chance.value, pair.chance.error)
    return PairSpread(pair.second, pair.first, pair.draws, gain, chance, pair.shares)
