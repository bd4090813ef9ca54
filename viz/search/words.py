"""What `search` found, in sentences: what it gains, how sure that is, whether it is worth the work, and what it costs elsewhere."""

from collections.abc import Callable
from math import ceil, degrees, floor, log10

from sim.judgements import FLAT_SHARE, MANY_BROKEN, MUCH_LOST, PLAY_MM, SMALL_SHARE, TELL_APART
from sim.linkages.catalogue import kind_of
from sim.linkages.front_end import ARM_ANGLE, ROD_TURNS, TOE_IN
from sim.search.judge import LIMITS, OBJECTIVES
from sim.search.result import AT_BOUND, Found, FreeRow, SearchResult, SumFigures, Together
from viz.shared.words import below_told_apart

# Objective to its words and to its figure.  The error is one of the arms and rods: it needs no lap.
OBJECTIVE_WORDS = {
    "drive_work": "drive work", "battery": "battery energy", "scrub": "scrub", "rub": "rub of the worst tyre", "error": "error from ideal",
}  # fmt: skip
FIGURES: dict[str, Callable[[Found], float | None]] = {
    "drive_work": lambda found: found.lap.drive_work_J, "battery": lambda found: found.lap.battery_Wh,
    "scrub": lambda found: found.lap.scrub_J, "rub": lambda found: found.lap.rub_m, "error": lambda found: found.sum.error_deg,
}  # fmt: skip
# What a limit holds.
HELD: dict[str, Callable[[SumFigures], float | None]] = {
    "turning_circle_m": lambda figures: figures.turning_circle_m, "kick_back_mm": lambda figures: figures.kick_back_mm,
    "lock_deg": lambda figures: figures.lock_deg, "rod_angle_deg": lambda figures: figures.rod_angle_deg,
    "shortest_rod_mm": lambda figures: figures.shortest_rod_mm, "longest_rod_mm": lambda figures: figures.longest_rod_mm,
}  # fmt: skip
LIMIT_WORDS = {
    "turning_circle_m": "turning circle at most {:g} m", "kick_back_mm": "kick-back lever at most {:g} mm",
    "lock_deg": "wheels' lock at least {:g} degrees", "rod_angle_deg": "angle between a rod and its arm at least {:g} degrees",
    "shortest_rod_mm": "shortest rod at least {:g} mm", "longest_rod_mm": "longest rod at most {:g} mm",
}  # fmt: skip
LIMIT_UNITS = {"turning_circle_m": "m", "kick_back_mm": "mm", "lock_deg": "degrees"}
RECOMMENDED = {"own": "the car as it is", "best": "the best", "less_change": "the smaller change"}
HALF_TURN_DEG = 180.0  # where an arm's angle begins again from the other side
NOTHING = 0.005  # of a key's unit; less is shown as 0
# What the laps in time say: not round, only the best gets round, no gain, one that may be none, another objective gains, a gain that
# can't be told apart, a small one, one worth the work.
UNFIT, RESCUED, NONE, UNSURE, TRADED, LEVEL, SMALL, WORTH = "unfit", "rescued", "none", "unsure", "traded", "level", "small", "worth"


def three(value: float) -> str:
    """A figure with three digits and never an exponent; below a 2000th it is 0."""
    if abs(value) < 5e-4:
        return "0"
    rounded = round(value, 2 - floor(log10(abs(value))))
    return f"{rounded:.{max(2 - floor(log10(abs(rounded))), 0)}f}"


def joules(value: float, sign: str = "") -> str:
    """Joules with as many decimals as mean something.  value [J]; sign : "+" to show it always."""
    return "0 J" if abs(value) < 0.05 else f"{value:{sign}.{0 if abs(value) >= 9.95 else 1}f} J"


def percent(share: float) -> str:
    """A share as a percentage.  share [-]."""
    return "under 0.1 %" if share < 5e-4 else f"{100 * share:.{0 if share >= 0.0995 else 1}f} %"


def verdict(result: SearchResult) -> str:
    """What the laps in time say of the best.  result : SearchResult."""
    own, best = result.own.lap, result.best.lap
    if not best.finished:
        return UNFIT
    if not own.finished:
        return RESCUED
    gain = result.lap_gain
    assert gain is not None  # both finish
    if joules(min([gain, *_spread(result)])) == "0 J" or min([gain, *_spread(result)]) < 0:
        return TRADED if _other_gain(result) else UNSURE if gain > 0 and joules(gain) != "0 J" else NONE
    if own.rolling_J and gain >= SMALL_SHARE * own.rolling_J:
        return WORTH
    return LEVEL if result.level else SMALL


def _other_gain(result: SearchResult) -> bool:
    """Whether an objective that a lap measures, other than drive work, gains what can be told apart."""
    others = [FIGURES[name] for name in result.objectives if name not in ("drive_work", "error")]
    pairs = [(figure(result.own), figure(result.best)) for figure in others]
    return any(before is not None and after is not None and before - after > TELL_APART * before for before, after in pairs)


def worth_pasting(result: SearchResult) -> bool:
    """Whether anybody is to paste what was found into a scenario."""
    said = verdict(result)
    if said in (UNFIT, LEVEL):
        return False
    if said in (RESCUED, TRADED, WORTH) or broken_limits(result):
        return True
    gain, work = result.lap_gain, result.own.lap.drive_work_J
    assert gain is not None  # both finish
    assert work is not None
    return said == SMALL and (gain >= TELL_APART * work or _other_gain(result))


def no_reason(result: SearchResult) -> bool:
    """Whether the gain alone is no reason to build new parts.  result : SearchResult."""
    return verdict(result) in (LEVEL, SMALL) and not _other_gain(result)


def finding(result: SearchResult) -> str:
    """The answer in plain sentences.  result : SearchResult."""
    own, name = result.own.lap, result.setup
    said = verdict(result)
    if said == UNFIT:
        return f'The sum of steady turns likes other values for "{name}", but in a lap in time they do not get round: do not build them.'
    if said == RESCUED:
        return f'"{name}" as it is does not get round this course at this pace; with the values below it does.'
    gain, work, spread, aims = result.lap_gain, own.drive_work_J, _spread(result), _aims(result)
    assert gain is not None  # both finish
    assert work is not None
    low, high = min(spread), max(spread)
    toe = _toe_first(result)
    if said in (NONE, UNSURE, TRADED):
        if gain > 0 and joules(gain) != "0 J":
            between = f"between {_more_or_less(low)} and {_more_or_less(high)} {over(result)}"
            spent = f"the best values would save {joules(gain)} of drive work {around(result)} in time, but that is not sure: {between}"
        else:
            spent = f"the best values change the drive work by {joules(-gain, '+')} {around(result)} in time"
            if {joules(low), joules(high)} != {"0 J"}:
                spent += f", by {joules(-high, '+')} to {joules(-low, '+')} {over(result)}"
        if said == TRADED:
            return f"{aims} But {spent}.{_charge(result)}{toe}"
        broken = broken_limits(result)
        if broken:
            return (
                f"No {'sure ' if said == UNSURE else ''}gain: leave the car as it is, unless it has to keep what it breaks now: {broken}. "
                f"To keep it {spent}.{_charge(result)}{toe}"
            )
        level = " It does as well to within what can be told apart." if result.level else ""
        what = f'there is no {"sure " if said == UNSURE else ""}gain over "{name}"; {spent}'
        return f"Leave the car as it is: {what}.{level}{f' {aims}' if aims else ''}{toe}"
    text = "Leave the car as it is: it does as well as the best to within what can be told apart. " if said == LEVEL else ""
    text += f"{aims} " if aims else ""
    text += (
        f'With the best values "{name}" needs {joules(gain)} less drive work {around(result)} ({work:.0f} J as it is); '
        f"{joules(low)} to {joules(high)} {over(result)}. "
        f"That is as much as {percent(gain / own.rolling_J if own.rolling_J else 0.0)} of the rolling resistance"
    )
    if said in (LEVEL, SMALL):
        text += ", which is small: a soft tyre costs more."
        if gain < TELL_APART * work:
            text += f" {below_told_apart(gain / work)}"
        text += toe or (" It is no reason to rebuild an axle; pump the tyres first." if no_reason(result) else "")
    else:
        text += f", which is worth the work.{toe}"
    return text + _charge(result) + _smaller(result)


def _more_or_less(gain: float) -> str:
    """An end of the range of a gain, as what the drive work becomes.  gain : drive work saved [J]."""
    return "nothing" if joules(gain) == "0 J" else f"{joules(abs(gain))} {'less' if gain > 0 else 'more'}"


def _toe_first(result: SearchResult) -> str:
    """That the car's toe is to be set before anything is built; empty where that saves nothing that can be told apart."""
    cost, work = result.toe_cost_J, result.own.lap.drive_work_J
    if cost is None or work is None or cost <= TELL_APART * work:
        return ""
    again = "" if {one.key for one in result.free} & {TOE_IN, *ROD_TURNS} else ", then search again"
    return (
        f" The toe of the car as it is costs {joules(cost)}: a turn of the rod ends cures that, in minutes and without parts, "
        f"so set the toe first{again}."
    )


def around(result: SearchResult) -> str:
    """For how long the figures count."""
    return "a lap" if result.closed else "from start to finish"


def over(result: SearchResult) -> str:
    """Over what a gain ranges, in words.  result : SearchResult."""
    doubt = result.doubt
    if doubt is None:
        return "over the range of tyres"
    own = "the scenario's unsure numbers" if len(doubt.unsure) > 1 else "the scenario's unsure number" if doubt.unsure else ""
    tyre = all(path.endswith("tyre.cornering_stiffness_per_rad") for path in doubt.unsure)
    parts = ["the range of tyres" if tyre and doubt.unsure else own] if doubt.unsure else []
    parts += (
        [f"new parts made to {doubt.made_to_deg_or_mm:g} {'degree' if doubt.made_to_deg_or_mm == 1 else 'degrees'} or mm"]
        if doubt.made_to_deg_or_mm is not None
        else []
    )
    return f"in 95 of 100 tries with {' and '.join(parts)}"


def _spread(result: SearchResult) -> list[float]:
    if result.doubt is not None and result.doubt.best.low_J is not None and result.doubt.best.high_J is not None:
        return [result.doubt.best.low_J, result.doubt.best.high_J]
    return [one.drive_work_J for one in result.gains if one.drive_work_J is not None]


def _aims(result: SearchResult) -> str:
    """What becomes of the objectives other than drive work."""
    parts = []
    for name in result.objectives:
        own, best = (FIGURES[name](found) for found in (result.own, result.best))
        if name != "drive_work" and own is not None and best is not None:
            before, after = three(own), three(best)
            goes = f"stays at {after}" if before == after else f"goes from {before} to {after}"
            parts.append(f"the {OBJECTIVE_WORDS[name]} {goes} {OBJECTIVES[name]}{'' if name == 'error' else f' {around(result)}'}")
    text = " and ".join(parts)
    return f"{text[0].upper()}{text[1:]}." if text else ""


def _charge(result: SearchResult) -> str:
    """Laps on a charge that are won or lost."""
    before, after = (found.lap.laps_per_charge for found in (result.own, result.best))
    if not (before and after):
        return ""
    level = f", less than the {100 * TELL_APART:g} % that can be told apart" if abs(after - before) <= TELL_APART * before else ""
    return f" On one charge it is {after - before:+z.2f} laps of {before:.1f}{level}."


def _smaller(result: SearchResult) -> str:
    """How to get nearly all of it with fewer parts changed."""
    less = result.less_change
    if less is None:
        return ""
    changed = " and ".join(f"{one.key} (to {less.values[one.key]:z.2f})" for one in result.free if _moved(one, less))
    before, after = result.own.lap.drive_work_J, less.lap.drive_work_J
    assert before is not None  # said of two that finish
    assert after is not None
    saved = joules(before - after)
    doubt = result.doubt.less_change if result.doubt is not None else None
    between = "" if doubt is None or doubt.low_J is None or doubt.high_J is None else f", {joules(doubt.low_J)} to {joules(doubt.high_J)}"
    return f" Changing only {changed} does as well to within what can be told apart ({saved} saved{between}): that is the smaller change."


def _moved(free: FreeRow, found: Found) -> bool:
    return found.values[free.key] != free.own


def broken_limits(result: SearchResult) -> str:
    """The limits that the car breaks as it is, in words.  result : SearchResult."""
    parts = []
    for name, limit in result.limits.items():
        value = HELD[name](result.own.sum)
        if value is not None and (value > limit if LIMITS[name] == "most" else value < limit):
            parts.append(f"{LIMIT_WORDS[name].format(limit)} ({three(value)} as it is)")
    return ", ".join(parts)


def yardstick(result: SearchResult) -> list[str]:
    """What to know of a set-up without arms and rods.  result : SearchResult."""
    if kind_of(result.linkage).rods:
        return []
    keys = " and ".join("its toe (toe_in_deg)" if one.key == "toe_in_deg" else one.key for one in result.free)
    what = "is a yardstick that no arms and rods follow: it can't be built." if kind_of(result.linkage).yardstick else \
        "has no arms and rods to choose."  # fmt: skip
    were = "was" if len(result.free) == 1 else "were"
    return [f'"{result.setup}" {what} Only {keys} {were} searched. To search arms and rods, name a set-up that has them with --setup, '
            "or add one."]  # fmt: skip


def warnings(result: SearchResult) -> list[str]:
    """What the best costs elsewhere, and where the sum and the lap in time do not say the same.  result : SearchResult."""
    lines = []
    for found, words in ((result.best, "the best"), (result.less_change, "the smaller change")):
        lost = [] if found is None else _lost(result, found.sum)
        if lost:
            paid = " and ".join(text for _, text in lost)
            lines.append(f"Warning: {words} pays with {paid}. Hold what you have with {_hold(result, lost)}.")
    gains = two_gains(result)
    if gains is not None and "0 J" not in map(joules, gains) and gains[0] * gains[1] < 0:
        lines.append("Warning: the sum of steady turns and the lap in time disagree about which is better; trust neither difference.")
    doubt = result.doubt
    if doubt is not None and doubt.broken >= MANY_BROKEN:
        words = "breaks a limit or does not get round" if result.limits else "does not get round"
        made = "the best" if result.less_change is None else "the smaller change"  # the car as it is needs no new parts
        held = " ".join(f"--limit {name}={_rounded(name, value, inside=True):g}" for name, value in doubt.tighter.items())
        cure = f" Leave room: search with {held}; this warning then means that limit, and yours is kept." if held else ""
        lines.append(f"Warning: as parts are made, {made} {words} in {percent(doubt.broken)} of the tries.{cure}")
    return lines


def _rounded(name: str, value: float, inside: bool = False) -> float:
    """A limit to two decimals, to the side that allows a little more, or inside it.  name : of the limit; value [its unit]."""
    up = (LIMITS[name] == "most") != inside
    return (ceil if up else floor)(100 * value) / 100


def _hold(result: SearchResult, lost: list[tuple[str, str]]) -> str:
    """Options that hold what the team has, rounded to its side."""
    kept = [(name, HELD[name](result.own.sum)) for name, _ in lost]
    return " ".join(f"--limit {name}={_rounded(name, value):g}" for name, value in kept if value is not None)


def _lost(result: SearchResult, figures: SumFigures) -> list[tuple[str, str]]:
    """Where much turning circle, lock or kick-back lever is lost: limit's name and words."""
    words = {"turning_circle_m": "a turning circle", "kick_back_mm": "a kick-back lever", "lock_deg": "a wheels' lock"}
    found = []
    for name in words:
        kind, before, after = LIMITS[name], HELD[name](result.own.sum), HELD[name](figures)
        if not before or after is None:
            continue
        if after > (1 + MUCH_LOST) * before if kind == "most" else after < (1 - MUCH_LOST) * before:
            found.append((name, f"{words[name]} of {three(after)} {LIMIT_UNITS[name]} instead of {three(before)}"))
    return found


def two_gains(result: SearchResult) -> tuple[float, float] | None:
    """Drive work saved by the sum of steady turns and by the lap in time [J]; None where one of the four figures is missing.

    result : SearchResult
    """
    by_sum, by_lap = result.sum_gain, result.lap_gain
    return None if by_sum is None or by_lap is None else (by_sum, by_lap)


def together_lines(result: SearchResult) -> list[str]:
    """Which keys only count together.  result : SearchResult."""
    return [f"{pair.first} and {pair.second}: {_counts(pair)}; so one of the two is enough to change." for pair in result.together]


def _counts(pair: Together) -> str:
    if abs(pair.ratio - 1) < TELL_APART:
        return "only their sum counts"
    if abs(pair.ratio + 1) < TELL_APART:
        return "only their difference counts"
    return f"they only count together (1 more of the first does what {three(pair.ratio)} more of the second does)"


def bound_lines(result: SearchResult) -> list[str]:
    """What to know of a best at its bounds or with shorter arms.  result : SearchResult."""
    lines, said, less = [], verdict(result), result.less_change
    at = [one for one in result.free if one.at_bound]
    if at and said in (SMALL, WORTH, RESCUED, TRADED):
        ends = " and ".join(f"{one.key} ({one.best:z.2f})" for one in at)
        # Where the smaller change leaves a key as it is, nobody needs more room for it.
        wider = any(less is None or _moved(one, less) for one in at)
        advice = "if the car has room, give wider ones with --free" if wider else "the smaller change does not need it"
        lines.append(f"The best lies at the edge of the bounds of {ends}; {advice}.")
    lines += [_own_at_bound(one) for one in result.free if _at_edge(one, one.own)]
    toed = result.less_change or result.best
    toe_out = toed.values.get(TOE_IN, 0.0)
    if toe_out < -NOTHING and worth_pasting(result):
        who = "the best" if result.less_change is None else "the smaller change"
        lines.append(f"With {TOE_IN} {toe_out:z.2f} {who} has toe-out: such a car wanders straight ahead (common practice, no source).")
    arms = [one for one in result.free if one.key == "arm_length_mm" and one.best < one.own]
    if arms and said != UNFIT:
        toe = [degrees(PLAY_MM / length) for length in (arms[0].own, arms[0].best)]
        lines.append(
            f"Shorter arms have a price that no lap shows: {PLAY_MM:g} mm of play in a joint turns a wheel by {toe[1]:.2f} degrees instead "
            f"of {toe[0]:.2f}, and the rods carry more."
        )
    return lines


def _at_edge(one: FreeRow, value: float) -> bool:
    return min(abs(value - one.low), abs(one.high - value)) <= AT_BOUND * (one.high - one.low)


def _own_at_bound(one: FreeRow) -> str:
    """What to know of a car that stands at the edge of what was searched.  one : FreeRow of the key."""
    text = f"As it is, the car lies at the edge of the bounds of {one.key} ({one.own:z.2f})"
    if one.key != ARM_ANGLE or abs(one.own) < HALF_TURN_DEG - NOTHING:
        return f"{text}: only one side of it was searched."
    span = one.high - one.low
    other = f"{-HALF_TURN_DEG:g}:{span - HALF_TURN_DEG:g}" if one.own > 0 else f"{HALF_TURN_DEG - span:g}:{HALF_TURN_DEG:g}"
    return f"{text}: +180 and -180 degrees are the same arm, so search the other side too: --free {ARM_ANGLE}={other}."


def fragment_heading(result: SearchResult) -> str:
    """The comment above a found set-up: what it is good for.  result : SearchResult."""
    said, broken, less = verdict(result), broken_limits(result), result.less_change
    aims = [OBJECTIVE_WORDS[name] for name in result.objectives]
    least = f"least {aims[0]}" if len(aims) == 1 else f"least {aims[1]} where {aims[0]} is within {100 * FLAT_SHARE:g} % of its least"
    text = {
        UNFIT: "does not get round in a lap in time: do not build it",
        NONE: f"gains nothing, but keeps {broken}" if broken else "gains nothing: leave the car as it is",
        UNSURE: f"gains nothing that is sure, but keeps {broken}" if broken else "gains nothing that is sure: leave the car as it is",
        LEVEL: "gains nothing that can be told apart: leave the car as it is",
        SMALL: f"{least}; the gain is small",
    }.get(said, least)
    lines = [f"# Found by scrubwise search: {text}."]
    if less is not None and said != UNFIT:
        as_it_is = ", ".join(one.key for one in result.free if not _moved(one, less))
        lines.append(f"# The smaller change, as good to within what can be told apart; as it is: {as_it_is}.")
    if kind_of(result.linkage).yardstick:
        lines.append("# A yardstick: it can't be built.")
    return "\n".join([*lines, "# Check the lock and the turning circle on the car."])
