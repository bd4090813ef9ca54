"""`spread`: what a study of uncertainty found, as plain numbers, and as words."""

from math import floor, log10
from typing import Any

from rich.text import Text

from sim.sample_statistics import Estimate, Interval
from sim.scenario.uncertainty import FREE_PLAY
from sim.spread import FIGURES, PairSpread, Shares, Spread
from sim.uncertainty import NORMAL, PLAY
from viz.tables import SMALL_SHARE, plain_table

# Plain names of numbers; any other is named by its key.
WORDS = {
    "cornering_stiffness_per_rad": "cornering stiffness", "relaxation_length_mm": "relaxation length",
    "pneumatic_trail_mm": "pneumatic trail", "rolling_resistance": "rolling resistance", "drag_area_m2": "drag area",
    "drive_stiffness_per_unit_slip": "drive stiffness", "target_m_per_s": "target speed", "toe_in_deg": "toe-in",
    FREE_PLAY: "free play of the joints",
}  # fmt: skip
UNITS = {
    "N_m_per_A", "kg_per_m3", "kg_m2", "per_rad", "m_per_s2", "m_per_s", "m2", "mm_per_turn", "mm", "m", "deg", "kg", "W", "A", "ohm",
    "V", "Ah", "h", "min",
}  # fmt: skip
CLIPPED = 0.001  # share of an input's draws set to a bound, from which on it is told
MOST_TOGETHER = 0.3  # of a variance that no input makes alone, above which the words say so


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
        "low": one.middle - one.half, "high": one.middle + one.half, "clipped_share": spread.clipped[index],
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
        "gain_share_of_rolling": _of_rolling(spread, pair),
        **_share_numbers(spread, pair.shares),
    }  # fmt: skip


def _of_rolling(spread: Spread, pair: PairSpread) -> float | None:
    """The middle of a gain as a share of the rolling loss, with the gain's sign."""
    rolling = spread.setups[pair.first].figures[FIGURES.index("rolling_J")]
    if pair.gain is None or rolling is None or rolling.middle.value <= 0:
        return None
    return pair.gain.middle.value / rolling.middle.value


def best_pairs(spread: Spread) -> tuple[int, list[PairSpread]]:
    """The set-up that needs least, and its pairs with the others, seen from it, the greatest gain last; -1 where none gets round."""
    done = [
        (-round(one.finished, 2), one.figures[0].middle.value, index) for index, one in enumerate(spread.setups) if one.figures[0]
    ]
    if not done:
        return -1, []
    best = min(done)[2]
    mine = [pair if pair.first == best else _turned(pair) for pair in spread.pairs if best in (pair.first, pair.second)]
    return best, sorted((pair for pair in mine if pair.gain), key=lambda pair: pair.gain.middle.value if pair.gain else 0.0)


def _turned(pair: PairSpread) -> PairSpread:
    """The same pair seen from the other set-up."""

    def less(one: Estimate) -> Estimate:
        return Estimate(-one.value, one.error)

    gain = pair.gain and Interval(less(pair.gain.high), less(pair.gain.middle), less(pair.gain.low))
    chance = pair.chance and Estimate(1 - pair.chance.value, pair.chance.error)
    return PairSpread(pair.second, pair.first, pair.draws, gain, chance, pair.shares)


def number_words(spread: Spread, index: int) -> str:
    """An input in plain words."""
    one = spread.inputs[index]
    words = WORDS.get(one.key)
    if words is None:
        stem, unit = one.key, next((unit for unit in sorted(UNITS, key=len, reverse=True) if one.key.endswith(f"_{unit}")), None)
        words = (stem.removesuffix(f"_{unit}") if unit else stem).replace("_", " ")
    if one.setup is not None:
        return f'the {words} of "{spread.names[one.setup]}"'
    several = any(other.table == "car.rear_tyre" for other in spread.inputs)
    owner = {"car.tyre": "the front tyre's" if several else "the tyre's", "car.rear_tyre": "the rear tyre's"}.get(one.table, "the")
    return f"{owner} {words}"


def finding(spread: Spread) -> list[str]:
    """The study's finding as plain sentences."""
    best, pairs = best_pairs(spread)
    if best < 0:
        return ["No set-up gets round this course in enough draws for any figure."]
    lap = "a lap" if spread.closed else "from start to finish"
    work = spread.setups[best].figures[0]
    assert work is not None
    if not pairs:
        return [f'"{spread.names[best]}" needs {_span(work)} of drive work {lap}{_most(spread, spread.setups[best].shares)}.']
    last = pairs[-1]
    lines = [_pair_words(spread, last, lap)]
    level = [spread.names[pair.second] for pair in pairs[:-1] if not pair.told_apart]
    if level:
        names = ", ".join(f'"{name}"' for name in level)
        lines.append(f'{names} can\'t be told apart from "{spread.names[best]}": the interval of the difference holds zero.')
    lines.append(
        f'The drive work itself is less sure than the differences: "{spread.names[best]}" needs {_span(work)} {lap}'
        f"{_most(spread, spread.setups[best].shares)}. What all set-ups share falls out of their difference."
    )
    return lines


def _pair_words(spread: Spread, pair: PairSpread, lap: str) -> str:
    if pair.gain and pair.gain.middle.value < 0:  # the set-up that gets round most often needs more
        pair = _turned(pair)
    first, second = (f'"{spread.names[index]}"' for index in (pair.first, pair.second))
    gain, chance = pair.gain, pair.chance
    assert gain is not None
    assert chance is not None
    if pair.told_apart:
        often = f"all {pair.draws} draws" if chance.value == 1 else f"{100 * chance.value:.0f} % of {pair.draws} draws"
        text = f"{first} beats {second} in {often}; the gain is {_span(gain)} {lap}{_most(spread, pair.shares)}."
    else:
        text = (
            f"{first} and {second} can't be told apart: the difference is {_span(gain)} {lap}, which holds zero"
            f"{_most(spread, pair.shares)}."
        )
    share = _of_rolling(spread, pair)
    if share is None:
        return text
    if abs(share) < SMALL_SHARE:
        percent = f"{100 * abs(share):.1f}" if abs(share) >= 0.0005 else "less than 0.1"
        return f"{text} That is small: as much as {percent} % more rolling resistance. Look after tyre pressure first."
    return f"{text} That is as much as {100 * abs(share):.0f} % more rolling resistance."


def _most(spread: Spread, shares: Shares | None) -> str:
    """Which input matters most, as the end of a sentence."""
    if shares is None:
        return ""
    counted = shares.total or shares.alone
    index = max(counted, key=lambda one: counted[one].value)
    text = f"; what matters most: {number_words(spread, index)} ({_percent(counted[index])})"
    together = 1 - sum(one.value for one in shares.alone.values())
    if together > MOST_TOGETHER:
        text += f", and {100 * min(together, 1):.0f} % comes from inputs that act together"
    return text


def _percent(share: Estimate) -> str:
    return f"{100 * min(max(share.value, 0.0), 1.0):.0f} %"


def _digits(*values: float) -> int:
    """Decimals that show the largest of some figures to two digits."""
    most = max(map(abs, values))
    return max(0, 1 - floor(log10(most))) if most > 1e-9 else 0


def _span(figure: Interval) -> str:
    """The middle of a figure in joules with its interval."""
    digits = _digits(figure.low.value, figure.high.value)
    low, middle, high = (f"{one.value:z.{digits}f}" for one in (figure.low, figure.middle, figure.high))
    return f"{middle} J (95 %: {low} to {high} J)"


def spread_report(spread: Spread) -> list[Any]:
    """What `spread` prints."""
    lines: list[Any] = [Text(spread.title, style="bold"), *(Text(line) for line in finding(spread))]
    lines += [
        Text(f'"{name}" does not get round in {100 * (1 - one.finished):.0f} % of the draws; they are left out of its figures.')
        for name, one in zip(spread.names, spread.setups, strict=True) if one.finished < 1
    ]  # fmt: skip
    lines += [Text(""), _setup_table(spread)]
    best, pairs = best_pairs(spread)
    if pairs:
        lines += [Text(""), Text(f'Gain of "{spread.names[best]}":'), _gain_table(spread, pairs)]
    lines += [Text(""), _input_table(spread, pairs[-1].shares if pairs else spread.setups[max(best, 0)].shares, bool(pairs))]
    return [*lines, Text(""), *(Text(line) for line in _grounds(spread, pairs))]


def _setup_table(spread: Spread):
    table = plain_table(
        ("set-up", "left"), ("drive\nwork J", "right"), ("95 % between", "right"), ("scrub\nJ", "right"), ("95 % between", "right"),
        ("gets\nround", "right"),
    )  # fmt: skip
    for name, one in zip(spread.names, spread.setups, strict=True):
        cells = []
        for key in ("drive_work_J", "scrub_J"):
            figure = one.figures[FIGURES.index(key)]
            if figure is None:
                cells += ["", ""]
                continue
            digits = _digits(figure.low.value, figure.high.value)
            cells += [f"{figure.middle.value:.{digits}f}", f"{figure.low.value:.{digits}f} to {figure.high.value:.{digits}f}"]
        table.add_row(Text(name), *cells, f"{100 * one.finished:.0f} %")
    return table


def _gain_table(spread: Spread, pairs: list[PairSpread]):
    table = plain_table(
        ("against", "left"), ("gain\nJ", "right"), ("95 % between", "right"), ("wins\nin", "right"), ("share of\nrolling", "right"),
        ("told\napart", "left"), ("what matters most", "left"),
    )  # fmt: skip
    for pair in pairs:
        assert pair.gain is not None
        assert pair.chance is not None
        digits = _digits(pair.gain.low.value, pair.gain.high.value)
        low, middle, high = (f"{one.value:z.{digits}f}" for one in (pair.gain.low, pair.gain.middle, pair.gain.high))
        share = _of_rolling(spread, pair)
        table.add_row(
            Text(spread.names[pair.second]), middle, f"{low} to {high}", f"{100 * pair.chance.value:.0f} %",
            "" if share is None else f"{100 * share:z.2f} %", "yes" if pair.told_apart else "no",
            Text(_most(spread, pair.shares).removeprefix("; what matters most: ")),
        )  # fmt: skip
    return table


def _input_table(spread: Spread, shares: Shares | None, of_gain: bool):
    headings = [("number", "left"), ("drawn", "left")]
    if shares is not None:
        what = "the largest\ngain" if of_gain else "the drive\nwork"
        headings += [(f"share of\n{what}", "right")] + ([("with\nothers", "right")] if shares.total else [])
    table = plain_table(*headings)
    for index, one in enumerate(spread.inputs):
        low, high = one.middle - one.half, one.middle + one.half
        drawn = {
            NORMAL: f"{one.middle:g} +- {one.half:g}", PLAY: f"each wheel within +- {one.half:g}",
        }.get(one.kind, f"{low:g} to {high:g}")  # fmt: skip
        cells = []
        if shares is not None:
            for part in (shares.alone, shares.total):
                if part is not None:
                    cells.append(_percent(part[index]) if index in part else "")
        table.add_row(Text(one.path), drawn, *cells)
    return table


def _grounds(spread: Spread, pairs: list[PairSpread]) -> list[str]:
    """What the figures rest on."""
    lines = [f"{spread.samples} draws, each with the same car, tyres and air for all set-ups; {spread.laps} laps driven; seed {spread.seed}."]
    if pairs and pairs[-1].gain and pairs[-1].chance:
        gain, chance = pairs[-1].gain, pairs[-1].chance
        ends = max(gain.low.error, gain.high.error)
        digits = _digits(gain.middle.error, ends)
        shares = pairs[-1].shares
        error = max((one.error for one in (shares.total or shares.alone).values()), default=0.0) if shares else 0.0
        text = (
            f"Sampling error of the largest gain, 95 %: {gain.middle.error:.{digits}f} J in its middle, {ends:.{digits}f} J at its ends, "
            f"{100 * chance.error:.0f} % of its wins"
        )
        lines.append(f"{text}, {100 * error:.0f} % of the shares. More --samples make it smaller.")
    if any(one.kind == NORMAL for one in spread.inputs):
        lines.append("A +- is the half width that holds 95 % of a normal distribution.")
    if any(one.kind not in (NORMAL, PLAY) for one in spread.inputs):
        lines.append("A range is drawn evenly. Ranges from the literature are wide, for nobody has measured this car's tyres.")
    if any(one.kind == PLAY for one in spread.inputs):
        lines.append("Free play: each front wheel stands anywhere in it, and half the sum of both counts as toe-in.")
    lines += [
        f"{one.path}: {100 * share:.1f} % of its draws lay beyond what the key allows and were set to the bound."
        for one, share in zip(spread.inputs, spread.clipped, strict=True) if share >= CLIPPED
    ]  # fmt: skip
    if pairs and pairs[-1].shares is None:
        lines.append("With so few draws, or so small a difference, nothing can be said about which number matters most.")
    lines.append("The course and the driver's line are the same in every draw, so what they add to the doubt is not in these figures.")
    return lines
