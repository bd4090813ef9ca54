"""The one rule by which every command prices a fault: what it costs in the race's terms, beside what it takes to cure it."""

from dataclasses import dataclass, field
from enum import StrEnum
from math import isfinite
from typing import NamedTuple

from sim.judgements import SMALL_SHARE, TELL_APART
from sim.linkages.catalogue import kind_of
from sim.linkages.front_end import TOE_IN, Arms, RodEnds, Stance, keys_of
from sim.scenario.setup import SetupTable
from sim.scenario.tables import HOUR

# Minutes of work.  Judgements, no source: half of a day in a school's workshop goes to making two arms and their holes, the sheets of
# `assemble` ask two hours for the front end alone, and what moves the rods, or an axle, has to be made beside them.
TURN_MINUTES = 5.0  # to undo the rods' lock nuts, turn their ends and lock them again
CHECK_MINUTES = 5.0  # to measure lengths and toe again: two strings, the tape and both rods, in the minutes that `bench --plan` has
DAY = 480.0
GROUND = "judgement"
EVERY = 100  # laps by which a saving is told where there is no battery that could run out
SPANNER_KEYS = {one.name for one in keys_of(RodEnds)} | {TOE_IN}
ARM_KEYS = {one.name for one in keys_of(Arms)}
BOLT_KEYS = {one.name for one in keys_of(Stance)} - SPANNER_KEYS


class WorthIt(StrEnum):
    """Whether a cure is worth its effort."""

    UNTOLD = "less than the model can tell"
    SMALL = "less than a soft tyre costs"
    PAYS = "worth the work"


class Used(NamedTuple):
    """What a lap takes, and how many of them there are; NaN where there is no battery, or no race."""

    drive_work: float  # [J]
    rolling: float  # of the drive work [J]
    battery: float  # energy [J]
    charge_laps: float  # on one charge [-]
    race_laps: float  # in the race [-]


@dataclass(frozen=True)
class Effort:
    """What a cure takes.

    doing : in words
    minutes : of work [min]
    parts : that have to be made or bought, in words
    ground : of the figures
    at_most : whether what is built only comes near what its saving is reckoned from
    """

    doing: str
    minutes: float
    parts: tuple[str, ...]
    ground: str = field(default=GROUND, kw_only=True)
    at_most: bool = field(default=False, kw_only=True)


@dataclass(frozen=True)
class Saving:
    """What a change saves, in the race's terms.

    saves_J : drive work of a lap [J]
    saves_Wh : battery energy of a lap, None without a battery [Wh]
    more_charge_laps : on one charge, None without a battery [-]
    more_race_laps : in the race, None without one [-]
    more_in_100_laps : that the drive work of 100 laps then lasts longer [-]
    """

    saves_J: float
    saves_Wh: float | None
    more_charge_laps: float | None
    more_race_laps: float | None
    more_in_100_laps: float


@dataclass(frozen=True)
class Cure(Saving, Effort):
    """A way to be rid of a cost, and what it saves.

    verdict : whether it is worth the effort
    """

    verdict: WorthIt


# What has no parts is done with the spanners that are there anyway.
RODS = Effort("re-set the rods", TURN_MINUTES + CHECK_MINUTES, ())


def verdict_of(saves: float, before: Used, effort: Effort) -> WorthIt:
    """Whether a cure is worth its effort: what nobody can tell never is, what costs spanner time alone then always is, and what needs
    parts is where it saves more than a soft tyre costs.

    saves : drive work of a lap [J]; before : Used; effort : of the cure.  Source: the judgements TELL_APART and SMALL_SHARE.
    """
    if not saves >= TELL_APART * before.drive_work:
        return WorthIt.UNTOLD
    return WorthIt.PAYS if not effort.parts or saves >= SMALL_SHARE * before.rolling else WorthIt.SMALL


def saving_of(before: Used, after: Used) -> Saving:
    """What a change saves.  before, after : what a lap takes without and with it [J], [-].

    Returns the Saving [units in the names of its fields].  Source: differences; laps in 100 for the same drive work.
    """
    saves = before.drive_work - after.drive_work
    return Saving(
        saves_J=saves, saves_Wh=_known((before.battery - after.battery) / HOUR),
        more_charge_laps=_known(after.charge_laps - before.charge_laps), more_race_laps=_known(after.race_laps - before.race_laps),
        more_in_100_laps=EVERY * saves / after.drive_work if after.drive_work > 0 else 0.0,
    )  # fmt: skip


def cure_of(effort: Effort, before: Used, after: Used) -> Cure:
    """A cure with what it saves.  effort : that it takes; before, after : as for `saving_of` [J], [-].

    Returns the Cure [units in the names of its fields].
    """
    saving = saving_of(before, after)
    return Cure(**vars(effort), **vars(saving), verdict=verdict_of(saving.saves_J, before, effort))


def _known(value: float) -> float | None:
    return value if isfinite(value) else None


def effort_between(setup: SetupTable, wanted: SetupTable) -> Effort | None:
    """What it takes to make one set-up of another, toe and rod ends aside; None where there is nothing to make.

    setup : that is there; wanted : that it is to become
    A rule for angles stands for arms and rods that follow it.
    """
    own, kind = kind_of(setup.linkage), kind_of(wanted.linkage)
    rule = not (kind.rods or kind.axle)
    near = "come as near as arms and rods can to" if rule else "steer like"
    like = f'{near} "{wanted.name}"'
    if own.axle != kind.axle:
        stubs = ("two stub axles and their beam", "their arms", "rods", "what moves them")
        return Effort(like, 3 * DAY, ("an axle on one pivot", "what turns it") if kind.axle else stubs, at_most=rule)
    if own.axle:
        return None
    if not own.rods or not kind.rods:
        return Effort(like, DAY, ("two arms", "rods"), at_most=rule) if own.name != kind.name or _differ(setup, wanted) else None
    if own.name != kind.name:
        return Effort(like, 2 * DAY, ("two arms", "rods", f"what {kind.a_name} needs"))
    differ = _differ(setup, wanted)
    if not differ:
        return None
    parts = (
        *(("two arms",) if differ & ARM_KEYS else ()), *(("the kingpins' seats",) if differ & BOLT_KEYS else ()),
        *((f"other parts of the {kind.name}",) if differ - ARM_KEYS - BOLT_KEYS else ()), "rods",
    )  # fmt: skip
    return Effort(like, DAY, parts)


def _differ(setup: SetupTable, wanted: SetupTable) -> set[str]:
    """The keys that need parts to be changed and are not alike."""
    keys = {key.name for key in kind_of(wanted.linkage).keys} - SPANNER_KEYS
    return {key for key in keys if setup.value_of(key) != wanted.value_of(key)}
