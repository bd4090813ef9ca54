"""What a study of uncertainty found, in words and tables: pure functions of the result."""

from math import floor, log10
from typing import Any

from rich.table import Table
from rich.text import Text

from sim.car.tyre import LAWS
from sim.judgements import SMALL_SHARE, TELL_APART
from sim.linkages.catalogue import all_keys
from sim.scenario.uncertainty import FREE_PLAY
from sim.spread.findings import LARGEST_ERROR, best_pairs, is_small, lead_of, leading, no_difference, of_rolling, turned
from sim.spread.inputs import LAW, NORMAL, PLAY, UNIFORM
from sim.spread.run import FIGURES, PairSpread, Shares, Spread
from sim.spread.statistics import Estimate, Interval
from viz.shared.words import PRESSURE_FIRST, plain_table

# Plain names of numbers; any other is named by its key.
WORDS = {
    "cornering_stiffness_per_rad": "cornering stiffness", "camber_stiffness_per_rad": "camber stiffness",
    "relaxation_length_mm": "relaxation length",
    "pneumatic_trail_mm": "pneumatic trail", "rolling_resistance": "rolling resistance", "drag_area_m2": "drag area",
    "drive_stiffness_per_unit_slip": "drive stiffness", "target_m_per_s": "target speed", FREE_PLAY: "free play of the joints",
} | {name: key.words for name, key in all_keys().items() if key.words is not None}  # fmt: skip
UNITS = {
    "N_m_per_A", "kg_per_m3", "kg_m2", "per_rad", "m_per_s2", "m_per_s", "m2", "mm_per_turn", "mm", "m", "deg", "kg", "W", "A", "ohm",
    "V", "Ah", "h", "min",
}  # fmt: skip
CLIPPED = 0.001  # share of an input's draws set to a bound, from which on it is told
MOST_UNSURE = 3  # gains beside the largest that get a sentence each; the table holds all
DRAW, TRY = "draw", "try"  # what one time of drawing the unsure numbers is called, with --explain and without
MANY = {DRAW: "draws", TRY: "tries"}
MOST_DECIMALS = 4  # of a figure in joules: more would not fit a table, and nobody could measure them
MOST_TOGETHER = 0.3  # of a variance that no input makes alone, above which the words say so


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


def finding(spread: Spread, once: str = DRAW) -> list[str]:
    """The study's finding as plain sentences.  once : what one time of drawing the unsure numbers is called."""
    best, pairs = best_pairs(spread)
    if best < 0:
        return [f"No set-up gets round this course in enough {MANY[once]} for any figure."]
    lap = "a lap" if spread.closed else "from start to finish"
    work = spread.setups[best].figures[0]
    if work is None:  # only a set-up that was asked for
        return [f'"{spread.names[best]}" gets round in too few {MANY[once]} for anything to be compared with it.']
    if not pairs:
        return [f'"{spread.names[best]}" needs {_span(work)} of drive work {lap}{_most(spread, spread.setups[best].shares, once)}.']
    alike = [pair for pair in pairs if no_difference(spread, pair)]
    itself = f'The drive work itself: "{spread.names[best]}" needs {_span(work)} {lap}{_most(spread, spread.setups[best].shares, once)}.'
    same = f'need{"s" if len(alike) == 1 else ""} the same drive work as "{spread.names[best]}"'
    level = [f"{_named(spread, alike)} {same} {lap} in these {MANY[once]}: here the steering makes no difference."] if alike else []
    pairs = [pair for pair in pairs if pair not in alike]
    if not pairs:
        return [*level, itself]
    last = lead_of(spread, pairs)
    if spread.against is None:
        lines = [_pair_words(spread, last, lap, once)]
        others = pairs[:-1]
    else:
        lines, others = _against_words(spread, pairs, lap, once)
    unsure = [pair for pair in others if not pair.told_apart]
    if unsure:
        apart = f'can\'t be told apart from "{spread.names[best]}"'
        lines.append(f"{_named(spread, unsure)} {apart}: the interval of the difference holds zero.")
    if spread.against is None:
        lines += _other_gains(spread, [pair for pair in others if pair.told_apart], once)
    if last.gain and work.high.value - work.low.value > last.gain.high.value - last.gain.low.value:
        itself += " It is less sure than the differences, for what all set-ups share falls out of them."
    return [*lines, *level, itself]


def _named(spread: Spread, pairs: list[PairSpread]) -> str:
    return ", ".join(f'"{spread.names[pair.second]}"' for pair in pairs)


def _against_words(spread: Spread, pairs: list[PairSpread], lap: str, once: str) -> tuple[list[str], list[PairSpread]]:
    """Who needs less than the chosen set-up, then who needs more; and the pairs of which nothing was said yet."""
    name, lead = spread.names[pairs[0].first], lead_of(spread, pairs)
    ahead = [pair for pair in pairs if pair.told_apart and pair.gain is not None and pair.gain.middle.value < 0]
    behind = [pair for pair in pairs if pair.told_apart and pair not in ahead]
    lines = [] if ahead else [f'No set-up is sure to need less than "{name}".']
    if lead.told_apart:
        lines.append(_pair_words(spread, lead, lap, once))
    for those, word in ((ahead, "less"), (list(reversed(behind)), "more")):
        rest = [pair for pair in those if pair is not lead]
        for pair in rest[:MOST_UNSURE]:
            gain = turned(pair).gain if word == "less" else pair.gain
            assert gain is not None
            lines.append(f'"{spread.names[pair.second]}" needs {_span(gain)} {word}{_most(spread, pair.shares, once)}.')
        if len(rest) > MOST_UNSURE:
            lines.append(f"{len(rest) - MOST_UNSURE} others need {word} too: see the table.")
    return lines, [pair for pair in pairs if not pair.told_apart]


def _other_gains(spread: Spread, pairs: list[PairSpread], once: str) -> list[str]:
    """The gains beside the largest one: which are small in nearly every draw, and which may be large."""
    small: list[PairSpread] = []
    unsure: list[PairSpread] = []
    for pair in pairs:
        end = pair.gain.high.value if pair.gain else 0.0
        rolling = spread.setups[pair.first].figures[FIGURES.index("rolling_J")]
        tiny = rolling is not None and 0 < end < SMALL_SHARE * rolling.middle.value
        (small if tiny else unsure).append(pair)
    lines = []
    if small:
        widest = max(small, key=lambda pair: pair.gain.high.value if pair.gain else 0.0)
        names, share = ", ".join(f'"{spread.names[pair.second]}"' for pair in small), of_rolling(spread, widest)
        assert widest.gain is not None
        lines.append(
            f"Against {names} the gain is small: at most about {three(widest.gain)[2]} J, in the middle {three(widest.gain)[1]} J "
            f"({_small_percent(abs(share or 0.0))} % of the rolling resistance)."
        )
    for pair in sorted(unsure, key=lambda pair: -pair.gain.high.value if pair.gain else 0.0)[:MOST_UNSURE]:
        assert pair.gain is not None
        lines.append(f'Against "{spread.names[pair.second]}" the gain is {_span(pair.gain)}{_most(spread, pair.shares, once)}.')
    return lines


def _pair_words(spread: Spread, pair: PairSpread, lap: str, once: str) -> str:
    if pair.gain and pair.gain.middle.value < 0:  # the set-up that gets round most often needs more
        pair = turned(pair)
    first, second = (f'"{spread.names[index]}"' for index in (pair.first, pair.second))
    gain, chance = pair.gain, pair.chance
    assert gain is not None
    assert chance is not None
    if pair.told_apart:
        often = f"all {pair.draws} {MANY[once]}" if chance.value == 1 else f"{100 * chance.value:.0f} % of {pair.draws} {MANY[once]}"
        text = f"{first} beats {second} in {often}; the gain is {_span(gain)} {lap}{_most(spread, pair.shares, once)}."
    else:
        text = (
            f"{first} and {second} can't be told apart: the difference is {_span(gain)} {lap}, which holds zero"
            f"{_most(spread, pair.shares, once)}."
        )
    share = of_rolling(spread, pair)
    if share is None:
        return text
    if abs(share) < SMALL_SHARE:
        return f"{text} That is small: as much as {_small_percent(abs(share))} % more rolling resistance. {PRESSURE_FIRST}"
    return f"{text} That is as much as {100 * abs(share):.0f} % more rolling resistance."


def _most(spread: Spread, shares: Shares | None, once: str) -> str:
    """Which input matters most, as the end of a sentence."""
    if shares is None:
        return ""
    named, counted = leading(shares), shares.total or shares.alone
    if not named:
        return f"; which number matters most can't be told from so few {MANY[once]}"
    words = " or ".join(f"{number_words(spread, index)} ({_percent(counted[index])})" for index in named)
    together = 1 - sum(one.value for one in shares.alone.values())
    rest = f", and {100 * min(together, 1):.0f} % comes from inputs that act together" if together > MOST_TOGETHER else ""
    return f"; what matters most: {words}{rest}"


def _small_percent(share: float) -> str:
    return f"{100 * share:.1f}" if share >= 0.0005 else "less than 0.1"


def _percent(share: Estimate) -> str:
    return "not sure" if share.error > LARGEST_ERROR else f"{100 * min(max(share.value, 0.0), 1.0):.0f} %"


def _digits(*values: float) -> int:
    """Decimals that show the largest of some figures to two digits."""
    most = max(map(abs, values))
    return min(max(0, 1 - floor(log10(most))), MOST_DECIMALS) if most > 1e-9 else 0


def three(figure: Interval) -> tuple[str, str, str]:
    """Low end, middle and high end of a figure, with decimals for two digits of the middle, or nearly so where that is about 0."""
    digits = min(_digits(figure.middle.value), _digits(figure.low.value, figure.high.value) + 1)
    low, middle, high = (f"{one.value:z.{digits}f}" for one in (figure.low, figure.middle, figure.high))
    return low, middle, high


def _span(figure: Interval) -> str:
    """The middle of a figure in joules with its interval."""
    low, middle, high = three(figure)
    return f"{middle} J (95 %: {low} to {high} J)"


def spread_report(spread: Spread) -> list[Any]:
    """What `spread --explain` prints."""
    lines: list[Any] = [Text(spread.title, style="bold"), *(Text(line) for line in (*finding(spread), *failing(spread)))]
    lines += [Text(""), _setup_table(spread)]
    best, pairs = best_pairs(spread)
    if pairs:
        name = spread.names[best]
        heading = f'Gain of "{name}":' if spread.against is None else f'What others need more than "{name}" (below 0: less):'
        lines += [Text(""), Text(heading), _gain_table(spread, pairs)]
    shares = lead_of(spread, pairs).shares if pairs else spread.setups[max(best, 0)].shares
    lines += [Text(""), _input_table(spread, shares, bool(pairs))]
    return [*lines, Text(""), *(Text(line) for line in _grounds(spread, pairs))]


def failing(spread: Spread, once: str = DRAW) -> list[str]:
    """Who does not always get round, a line each.  once : as for `finding`."""
    return [
        f'"{name}" does not get round in {100 * (1 - one.finished):.0f} % of the {MANY[once]}; they are left out of its figures.'
        for name, one in zip(spread.names, spread.setups, strict=True) if one.finished < 1
    ]  # fmt: skip


def _setup_table(spread: Spread) -> Table:
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
            low, middle, high = three(figure)
            cells += [middle, f"{low} to {high}"]
        table.add_row(Text(name), *cells, f"{100 * one.finished:.0f} %")
    return table


def _gain_table(spread: Spread, pairs: list[PairSpread]) -> Table:
    chosen = spread.against is not None
    table = plain_table(
        ("set-up" if chosen else "against", "left"), ("more\nJ" if chosen else "gain\nJ", "right"), ("95 % between", "right"),
        ("needs\nless in" if chosen else "wins\nin", "right"), ("share of\nrolling", "right"), ("told\napart", "left"),
        ("what matters most", "left"),
    )  # fmt: skip
    for pair in pairs:
        assert pair.gain is not None
        assert pair.chance is not None
        low, middle, high = three(pair.gain)
        share = of_rolling(spread, pair)
        table.add_row(
            Text(spread.names[pair.second]), middle, f"{low} to {high}", wins(spread, pair),
            "" if share is None else f"{100 * share:z.2f} %", _told(spread, pair),
            Text(_most(spread, pair.shares, DRAW).removeprefix("; ").removeprefix("what matters most: ")),
        )  # fmt: skip
    return table


def wins(spread: Spread, pair: PairSpread) -> str:
    """In how many draws the first of a pair needs less, or against a chosen set-up the other one.  pair : of `best_pairs`."""
    assert pair.chance is not None
    return f"{100 * (pair.chance.value if spread.against is None else 1 - pair.chance.value):.0f} %"


def _told(spread: Spread, pair: PairSpread) -> str:
    if not pair.told_apart or no_difference(spread, pair):
        return "no"
    return "in sign" if is_small(spread, pair) else "yes"


def _input_table(spread: Spread, shares: Shares | None, of_gain: bool) -> Table:
    headings = [("number", "left"), ("drawn", "left")]
    if shares is not None:
        what = "the drive\nwork" if not of_gain else "the largest\ngain" if spread.against is None else "the first\ndifference"
        headings += [(f"share of\n{what}", "right")] + ([("with\nothers", "right")] if shares.total else [])
    table = plain_table(*headings)
    for index, one in enumerate(spread.inputs):
        low, high = one.middle - one.half, one.middle + one.half
        drawn = {
            NORMAL: f"{one.middle:g} +- {one.half:g}", PLAY: f"each wheel within +- {one.half:g}", LAW: " or ".join(LAWS),
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
    driven = f"{spread.laps} laps driven; seed {spread.seed}."
    lines = [f"{spread.samples} draws, each with the same car, tyres and air for all set-ups; {driven}"]
    if "pace.target_m_per_s" not in {one.path for one in spread.inputs}:
        lines.append(f"Speed on the straights: {spread.target:.2f} m/s in every draw.")
    lead = lead_of(spread, pairs) if pairs else None
    if lead and lead.gain and lead.chance:
        gain, chance, shares = lead.gain, lead.chance, lead.shares
        ends = max(gain.low.error, gain.high.error)
        digits = _digits(gain.middle.error, ends)
        parts = [f"{gain.middle.error:.{digits}f} J in its middle", f"{ends:.{digits}f} J at its ends"]
        parts.append(f"{100 * chance.error:.0f} % of its wins")
        if shares is not None:
            error = max(one.error for one in (shares.total or shares.alone).values())
            parts.append(f"{100 * error:.0f} % of its shares, which rest on {shares.draws} draws{' of each set' if shares.total else ''}")
        what = "the largest gain" if spread.against is None else f'the difference to "{spread.names[lead.second]}"'
        lines.append(f"Sampling error of {what}, 95 %: {', '.join(parts)}. More --samples make it smaller.")
    if pairs:
        lines.append("A gain is the middle of the differences, draw by draw, which is not the difference of the middles above.")
    if any(_told(spread, pair) == "in sign" for pair in pairs):
        lines.append(
            f"Told apart in sign: these draws leave no doubt which needs less, but under {100 * TELL_APART:g} % of the drive work no team "
            "can measure, and what the model leaves out may turn it round."
        )
    if any(one.kind == NORMAL for one in spread.inputs):
        lines.append("A +- is the half width that holds 95 % of a normal distribution.")
    if any(one.kind == UNIFORM for one in spread.inputs):
        lines.append("A range is drawn evenly. Ranges from the literature are wide, for nobody has measured this car's tyres.")
    if any(one.kind == LAW for one in spread.inputs):
        lines.append("Half of the draws have the linear law of the tyre, half the brush: nobody has measured which is nearer.")
    if any(one.kind == PLAY for one in spread.inputs):
        lines.append("Free play: each front wheel stands anywhere in it, and half the sum of both counts as toe-in.")
    lines += [
        f"{one.path}: {100 * share:.1f} % of its draws lay beyond what the key allows and were set to the bound."
        for one, share in zip(spread.inputs, spread.clipped, strict=True) if share >= CLIPPED
    ]  # fmt: skip
    if lead and lead.shares is None:
        lines.append("With so few draws, or so small a difference, nothing can be said about which number matters most.")
    lines.append("The course and the driver's line are the same in every draw, so what they add to the doubt is not in these figures.")
    return lines
