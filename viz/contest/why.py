"""Why one entry needs less drive work than another, and what no place tells: in plain words."""

from typing import NamedTuple

from sim.contest.results import ContestEntry, ContestResult
from viz.contest.figures import called, joules

WORTH_NAMING = 0.2  # of the difference between two entries: a cause below this share of it is not named; a judgement
SEEN_DEG = 0.05  # what rounds to nothing in the sentences


class Causes(NamedTuple):
    """What a difference in drive work is made of; together all of it [J].

    bends : how the wheels stand in the bends, toe set aside; toe : toe and rod turns; car : what ideal steering costs on a car of its own
    """

    bends: float
    toe: float
    car: float


def causes(better: ContestEntry, worse: ContestEntry) -> Causes | None:
    """What the drive work of one entry beyond another's is made of; None where not all of it is known.

    Both were driven without toe and rod turns too, and ideal steering on both cars: the parts are differences of such laps.
    """
    parts = []
    for one in (better, worse):
        if one.drive_work_J is None or one.toe_cost_J is None or one.ideal.drive_work_J is None:
            return None
        parts.append(Causes(one.drive_work_J - one.toe_cost_J - one.ideal.drive_work_J, one.toe_cost_J, one.ideal.drive_work_J))
    return Causes(*(b - a for a, b in zip(*parts, strict=True)))


def why(better: ContestEntry, worse: ContestEntry, result: ContestResult) -> str:
    """What the better of two entries does differently, as a sentence; empty where that is not known."""
    found = causes(better, worse)
    if found is None:
        return ""
    apart = sum(found)
    least = result.tolerance_percent / 100 * abs(better.drive_work_J or 0.0)
    if apart < least:
        near = f"The drive work of {called(better)} and {called(worse)} is not told apart ({joules(abs(apart))} lie between them)"
        turned = f"By drive work it is the other way round: {called(worse)} needs {joules(-apart)} less"
        return f"{turned if apart < -least else near}; {_differences(better, worse)}."
    words = {"bends": _bend_words(better, worse), "toe": _toe_words(better, worse), "car": _car_words(better, worse)}
    by_size = sorted(found._asdict().items(), key=lambda part: -part[1])
    lost = [(much, words[cause]) for cause, much in by_size if much >= WORTH_NAMING * apart]
    saved = [f"{joules(-much)} {_SHORT[cause]}" for cause, much in by_size if much <= -WORTH_NAMING * apart]
    text = f"{called(better)} needs {joules(apart)} less than {called(worse)}"
    if len(lost) == 1 and not saved:
        ((much, said),) = lost
        text += f", {'all of it' if joules(much) == joules(apart) else f'most of it, {joules(much)},'} {said}"
    else:
        text += ": " + "; ".join(f"{joules(much)} {said}" for much, said in lost)
    return text + (f". Against that {called(worse)} saves {' and '.join(saved)}." if saved else ".")


_SHORT = {"bends": "in the bends", "toe": "by its toe or rods", "car": "by its car"}


def _differences(better: ContestEntry, worse: ContestEntry) -> str:
    """How the wheels of two entries stand, where energies say nothing."""
    toes, errors = ([getattr(one.shows, key) for one in (better, worse)] for key in ("toe_in_deg", "bend_error_deg"))
    text = f"each front wheel of {called(better)} points {_toe(toes[0])}, of {called(worse)} {_toe(toes[1])}"
    if None not in errors:
        text += f", and in the bends the inner wheel stands {errors[0]:.1f} and {errors[1]:.1f} degrees off ideal"
    return text


def _bend_words(better: ContestEntry, worse: ContestEntry) -> str:
    one, other = better.shows.bend_error_deg, worse.shows.bend_error_deg
    if one is None or other is None or other < one + SEEN_DEG:
        return "in the bends, though the inner wheel's angle is no further from ideal there: leaning or shifting wheels do it"
    little = f"{one:.1f}" if one >= SEEN_DEG else "hardly any"
    return (
        f"in the bends: there the inner wheel of {called(worse)} stands {other:.1f} degrees off ideal{_side(worse)} on average, that of "
        f"{called(better)} {little}"
    )


def _side(entry: ContestEntry) -> str:
    """Whether the inner wheel turns too little or too far, where it does the same in nearly all bends."""
    size, bias = entry.shows.bend_error_deg or 0.0, entry.shows.bend_bias_deg or 0.0
    return "" if abs(bias) < 0.8 * size else " (too far)" if bias > 0 else " (too little)"


def _toe_words(better: ContestEntry, worse: ContestEntry) -> str:
    one, other = better.shows, worse.shows
    if abs(one.toe_in_deg - other.toe_in_deg) >= SEEN_DEG:
        return f"by toe: each front wheel of {called(worse)} points {_toe(other.toe_in_deg)}, of {called(better)} {_toe(one.toe_in_deg)}"
    if abs(abs(one.hand_ahead_deg) - abs(other.hand_ahead_deg)) >= SEEN_DEG:
        return (
            f"by the rods: straight ahead the hand wheel of {called(worse)} stands {abs(other.hand_ahead_deg):.1f} degrees round, of "
            f"{called(better)} {abs(one.hand_ahead_deg):.1f}"
        )
    return f"by how {called(worse)} sets toe and rods"


def _toe(degrees: float) -> str:
    if abs(degrees) < SEEN_DEG:
        return "straight ahead"
    return f"{abs(degrees):.1f} degrees {'inwards' if degrees > 0 else 'outwards'}"


def _car_words(better: ContestEntry, worse: ContestEntry) -> str:
    kinds = dict.fromkeys(key.rpartition("_")[0].replace("_", " ") for one in (better, worse) for key in one.car)
    return f"by the car itself ({', '.join(kinds)})"


def risk_words(entry: ContestEntry, result: ContestResult) -> str:
    """How near a car is to tipping and how a step tears at it, as the end of a sentence."""
    risks = entry.risks
    return (
        f"would tip over at {risks.tip_margin_m_per_s2:.1f} m/s2 (the bends ask for at most {result.lateral_limit_m_per_s2:g}) and has a "
        f"kick-back lever of {risks.kick_lever_mm:.0f} mm"
    )


def turntable_words(winners: list[ContestEntry], result: ContestResult) -> str:
    """What belongs into the line that names a turntable axle as the winner; empty where none wins."""
    tables = [one for one in winners if one.setup.get("pivot") == "turntable"]
    return "".join(f"; {called(one)}, a turntable axle, {risk_words(one, result)}" for one in tables[:1])
