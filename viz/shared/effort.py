"""What a fault costs and what curing it takes, in words, alike in every command."""

from collections.abc import Iterable
from math import floor, log10

from sim.judgements import TELL_APART
from sim.scenario.tables import HOUR
from sim.study.effort import DAY, EVERY, RODS, Cure, Effort, Saving, WorthIt
from viz.shared.words import PRESSURE_FIRST

_DAYS_FROM = 240.0  # [min] from which work is told in days
PLACING = 10.0  # of car and sheets on the floor.  Judgement. [min]
_VERDICTS = {
    WorthIt.UNTOLD: f"less than the model can tell ({100 * TELL_APART:g} % of the drive work), so for the race alone not worth the work.",
    WorthIt.SMALL: "less than a soft tyre costs, so for the race alone not worth the work.",
    WorthIt.PAYS: "worth the work.",
}


def floor_words(reading: float) -> str:
    """Floor work of setting a front end, added up.  reading : of the plan [min]"""
    whole = PLACING + reading + RODS.minutes
    return f"With placing the car ({PLACING:.0f}) and the turns ({RODS.minutes:.0f}) about {whole:.0f} in all."


def two(value: float) -> str:
    """A figure with two digits and never an exponent."""
    if not abs(value) >= 5e-5:
        return "0"
    rounded = round(value, 1 - floor(log10(abs(value))))
    return f"{rounded:.{max(1 - floor(log10(abs(rounded))), 0)}f}"


def lasts(more: float) -> str:
    """EVERY and what comes on top of it, with the digits of that part.  more : laps, above 0 where something is saved."""
    digits = len(two(abs(more)).partition(".")[2])
    return f"{EVERY + more:.{digits}f}"


def effort_words(effort: Effort) -> str:
    """What a cure takes: time and parts.  effort : Effort."""
    days = round(effort.minutes / DAY)
    time = f"{effort.minutes:.0f} minutes" if effort.minutes < _DAYS_FROM else "a day" if days <= 1 else f"{days} days"
    *most, last = (f"about {time}", *(effort.parts or ("no parts",)))
    return f"{', '.join(most)} and {last}"


def saving_words(saving: Saving, closed: bool) -> str:
    """What a change saves in the race's terms.  saving : Saving; closed : whether the course is driven in laps."""
    lap, laps = ("a lap", "laps") if closed else ("a run", "runs")
    if saving.saves_Wh is None:
        further = f"with the energy for {EVERY} {laps} you then drive {lasts(saving.more_in_100_laps)}"
        return f"{two(saving.saves_J / HOUR)} Wh {lap} at the wheels ({further})"
    if saving.more_race_laps is not None:
        return f"{two(saving.saves_Wh)} Wh {lap} ({two(saving.more_race_laps)} more laps of this race)"
    return f"{two(saving.saves_Wh)} Wh {lap} ({two(saving.more_charge_laps or 0.0)} more {laps} on a charge)"


def saved_words(cure: Cure, closed: bool) -> str:
    """What a cure saves, or at most does.  cure, closed : as above."""
    return f"{'at most ' if cure.at_most else ''}{saving_words(cure, closed)}"


def cure_words(cure: Cure, closed: bool) -> str:
    """A cure in a sentence: what to do, what it takes, what it saves, and whether that is worth it.  cure, closed : as above."""
    return f"To {cure.doing} takes {effort_words(cure)}, and saves {saved_words(cure, closed)}: {worth_words(cure)}"


def worth_words(cure: Cure) -> str:
    """Whether a cure is worth its effort, as the end of a sentence, and what to do first where it is not.  cure : Cure."""
    first = f" {PRESSURE_FIRST}" if cure.verdict is not WorthIt.PAYS and cure.parts else ""
    if cure.at_most and cure.verdict is WorthIt.PAYS:
        return "worth the work if what you build comes near."
    return f"{_VERDICTS[cure.verdict]}{first}"


def dearest(cures: Iterable[Cure]) -> Cure | None:
    """The cure that saves most, None where there is none.  cures : of one set-up."""
    return max(cures, key=lambda cure: cure.saves_J, default=None)
