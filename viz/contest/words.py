"""What a contest's results say in plain words: to the class, to one team, and as a question."""

from collections.abc import Callable
from typing import TypeVar

from rich.text import Text

from sim.contest.results import ContestEntry, ContestResult, Kind
from sim.judgements import SMALL_SHARE
from sim.linkages.catalogue import kind_of
from viz.contest.figures import METRE_DIGITS, called, joules, metres, score_less, score_words
from viz.contest.why import risk_words, turntable_words, why
from viz.shared.brief import WIDTH
from viz.shared.dangers import TURNTABLE, danger_lines, needs_stop
from viz.shared.rounding import shown_less
from viz.shared.words import PRESSURE_FIRST, WHEEL_WORDS, listed_first

MOST_NAMED = 3  # teams in one sentence
MOST_STOPS = 2  # of those that need a stop, since the caution keeps its place whatever else there is to say
MOST_REASONS = 3  # refusals whose reason stands in the plain form
SPARE = 2  # columns that a cut line leaves, so that it stays one line where a sheet or page is a little narrower
LONGEST_FILE = 24  # signs of a refused entry's file name in a sentence
UNITS = {"mm": " mm", "deg": "°", "kg": " kg"}
CAN_STILL = "This contest says nothing about a car being safe. A set-up that wins here can still pinch fingers, come loose or tip over"
BEFORE = ". Before anybody drives, a competent adult checks steering, brakes and battery, and your event's rules are kept."
_ARMS = "the arms on the kingpins"
T = TypeVar("T")
# One question for each kind of entry; braces take the entry's figures.
QUESTIONS: dict[Kind, str] = {
    Kind.LOCK: (
        "Your wheels could not turn far enough for the tightest bend. Sketch your arms and rods from above with the hand wheel "
        "hard over: what stops them, and which length would you change first?"
    ),
    Kind.TIPS: (
        "Your car tipped over at this pace. Which would help most: a wider track, a lower seat, or going slower into that bend? "
        "How could you find out with a tape measure before anybody sits in it?"
    ),
    Kind.NO_GRIP: (
        "Your car slid off its line. A tyre has only so much grip to share between turning, driving and scrubbing: what took the "
        "share that the bend needed?"
    ),
    Kind.STOPPED: (
        "Your car came to a stop before the end. Where on the course was it, what did your steering ask of the tyres there, and what "
        "would you look at first on a real car?"
    ),
    Kind.TURNTABLE: (
        "Your whole axle swings round one pin. Draw it from above, steered a long way over: where do the front wheels stand under "
        "the car now? Why were wagons with such axles driven at a walk, and what does one wheel do to your hands when it meets a "
        "step?"
    ),
    Kind.REVERSED: (
        "At {at_outer_deg:.0f} degrees of the outer wheel your inner wheel turns less than the outer one. Draw both front wheels "
        "in a left turn and lay a ruler along each axle: do the lines meet the rear axle's line at one point? What must the tyres "
        "do instead of rolling?"
    ),
    Kind.UNEVEN_RODS: (
        "Your hand wheel stands {hand_ahead_deg:.1f} degrees round when the car drives straight on. Which rod is longer than the "
        "other, and do your left and right turns still feel alike?"
    ),
    Kind.TOE_IN: (
        "Your front wheels each point {toe_in_deg:.1f} degrees inwards. On a straight, no bend asks for that: which way does each "
        "tyre push, all the way along? What could toe-in be good for on a real car that this contest does not count?"
    ),
    Kind.TOE_OUT: (
        "Your front wheels each point {toe_out_deg:.1f} degrees outwards. On a straight, which way does each tyre push? Is there "
        "a bend in which the same angle would help, and how much of the course is that bend?"
    ),
    Kind.PARALLEL: (
        "Your two front wheels turn nearly alike. In a bend the inner wheel runs on the smaller circle: which of the two tyres is "
        "dragged sideways, and which way would you bend {arms} to help it?"
    ),
    Kind.TOO_LITTLE: (
        "At {at_outer_deg:.0f} degrees of the outer wheel your inner wheel makes {percent:.0f} % of the extra angle that ideal "
        "steering asks for. Which way should {arms} bend for more? Can one kink be right at every angle, or only at one?"
    ),
    Kind.TOO_MUCH: (
        "At {at_outer_deg:.0f} degrees of the outer wheel your inner wheel makes {percent:.0f} % of the extra angle that ideal "
        "steering asks for: more than enough. On which bends of this course does that cost most, and how would you see it on the "
        "tyres?"
    ),
    Kind.LEAN: (
        "Your kingpins lean. Turn the hand wheel of a standing car with leaning kingpins: does its nose rise or fall? Who gives "
        "that work back, and when is it worth having?"
    ),
    Kind.CLOSE_TO_IDEAL: (
        "Your wheels follow ideal steering closely, and still {scrub_J:.0f} J are dragged off the tyres, beside {rolling_J:.0f} J "
        "of rolling resistance. Why does a car with ideal steering scrub at all, and what would you look after next?"
    ),
}
READ_AGAIN = (
    "What does the rule that stopped this entry protect: the fairness of the contest, a car that can be built, or the people in it? Put it "
    "right and hand it in again."
)
FILL_IN = (
    "A program guesses no name and fills in nothing that is missing. What would it have had to guess in your file, and would you have "
    "wanted it to? Put it right and hand it in again."
)
WRITE_AGAIN = (
    "A program reads your file letter by letter, and one wrong or missing sign stops it. Which sign was it, and how could two of you check "
    "a file before it is handed in? Put it right and hand it in again."
)
RULE_WORDS = {
    "least drive work": "The car that needs least work at its driven wheels wins.",
    "least scrub": "The car that drags least energy off its tyres wins.",
    "most distance": "The car that gets furthest in the race on one charge wins.",
    "least rub of the worst tyre": "The car whose worst tyre is dragged over the fewest metres wins.",
}


SHARED_OF = {
    "least drive work": "{} of the drive work",
    "least scrub": "{} of the drive work",
    "most distance": "{} of the distance",
    "least rub of the worst tyre": "what {} of the drive work makes of the rubber",
}
DEMAND_WORDS = {
    "least_tip_margin_m_per_s2": "it tips over at no less than {:g} m/s2",
    "largest_kick_lever_mm": "its kick-back lever is {:g} mm at most",
}


def safety_words(result: ContestResult, more: str = "") -> str:
    """The caution for all, with more where a turntable axle drove.  more : of what a set-up can do."""
    turntables = any(entry.finished and entry.setup.get("pivot") == "turntable" for entry in result.entries)
    return f"{CAN_STILL}{more}{BEFORE}{f' {TURNTABLE}' if turntables else ''}"


def class_safety_words(result: ContestResult) -> str:
    """The same for everybody, with the teams whose steering can snap over, since a class sees no sheet but its own."""
    teams = [called(entry) for entry in result.entries if needs_stop(entry.dangers)]
    return safety_words(result, f"; that of {listed_first(teams, MOST_STOPS)} can snap over: it needs a stop" if teams else "")


def told_whole(reason: str) -> str:
    """A reason as a whole sentence, with one end mark.  reason : in one line"""
    return reason if reason.endswith(("?", "!", ".")) else f"{reason}."


def certain(value: T | None) -> T:
    """A figure that is known to be there, as an entry with a place has a score.  value : any.  Raises ValueError where it is not."""
    if value is None:
        raise ValueError("an entry lacks a figure that those of its standing have")
    return value


def around(result: ContestResult) -> str:
    """For how long the figures count."""
    return "a lap" if result.course.closed else "from start to finish"


def place_words(entry: ContestEntry) -> str:
    """A place for a table."""
    if entry.place is None:
        return "none"
    return f"{entry.place}{' shared' if entry.shared else ''}"


def placed(result: ContestResult) -> list[ContestEntry]:
    """The entries that have a place, in that order."""
    return [entry for entry in result.entries if entry.place is not None]


def best_entry(result: ContestResult) -> ContestEntry | None:
    """The first-placed entry with the best score."""
    return next((entry for entry in placed(result) if entry.score == result.best_score), None)


def entry_doubts(result: ContestResult) -> list[str]:
    """What looks like a slip in the entries, for whoever leads the class; each sentence begins with the team's name."""
    return [one for entry in result.entries for one in entry.doubts]


def finding(result: ContestResult) -> str:
    """Who is first, and how much lies between first and last."""
    ranked, best = placed(result), best_entry(result)
    if best is None:
        return "No entry has a place; the reasons stand below."
    first = [entry for entry in ranked if entry.place == 1]
    best_score = certain(best.score)
    score = score_words(best_score, result)
    last = max((certain(entry.score) for entry in ranked if entry.place == 1), key=lambda score: abs(score - best_score))
    if score_words(last, result) != score:
        score += f" to {score_words(last, result)}"
    winners = sorted(first, key=lambda entry: entry is not best)
    text = f"{_names(winners)} {'share first place' if len(first) > 1 else 'wins'}: {score}{turntable_words(winners, result)}."
    if len(ranked) == len(first):
        return text
    far = max(ranked, key=lambda entry: abs(certain(entry.score) - best_score))
    apart = abs(certain(far.score) - best_score)
    text += f" The furthest behind is {called(far)} by {score_words(apart, result)}{_percent(apart, best_score)}."
    if result.score_unit == "J":
        text += f" {_worth(apart, certain(best.rolling_J))}"
    return text


def reasons(result: ContestResult) -> list[str]:
    """Why the best score beats the first that is told apart from it, and the last."""
    ranked, best = placed(result), best_entry(result)
    if best is None:
        return []
    beaten = sorted((one for one in ranked if one.place != 1), key=lambda one: abs(certain(one.score) - certain(best.score)))
    return [text for one in (*beaten[:1], *beaten[1:][-1:]) if (text := why(best, one, result))]


def _names(entries: list[ContestEntry]) -> str:
    """Names in a sentence, of many the first ones, so that a sheet stays one page."""
    shown = [called(entry) for entry in entries[:MOST_NAMED]]
    more = len(entries) - len(shown)
    return ", ".join(shown) + (f" and {more} {'other' if more == 1 else 'others'}" if more else "")


def refused_words(result: ContestResult) -> list[str]:
    """How many entries were refused and which, in one line that no screen leaves out; empty where none was."""
    if not result.refused:
        return []
    files = [one.file if len(one.file) <= LONGEST_FILE else f"{one.file[: LONGEST_FILE - 1]}…" for one in result.refused]
    for shown in range(len(files), 0, -1):
        more = len(files) - shown
        line = f"Refused: {len(files)} ({', '.join(files[:shown])}{f' and {more} more' if more else ''}): --explain says why."
        if len(line) <= WIDTH:
            break
    return [line]


def why_refused(result: ContestResult) -> list[str]:
    """Why each of few entries was refused, cut to a terminal's line; empty where there are more."""
    lines = [Text(f"  {one.file}: {told_whole(one.reason)}") for one in result.refused if len(result.refused) <= MOST_REASONS]
    for line in lines:
        line.truncate(WIDTH - SPARE, overflow="ellipsis")
    return [line.plain for line in lines]


def _percent(part: float, whole: float) -> str:
    """A share in brackets, nothing where there is no sensible one."""
    if whole <= 0:
        return ""
    percent = 100 * part / whole
    return f" ({percent:.0f} %)" if percent >= 10 else f" ({percent:.1f} %)" if percent >= 0.1 else f" ({percent:.2f} %)"


def _worth(apart: float, rolling: float) -> str:
    """What a difference is beside the rolling resistance, and whether it is worth building for."""
    if rolling <= 0:
        return ""
    share = abs(apart) / rolling
    if share < SMALL_SHARE:
        much = f"{100 * share:.1f} %" if share >= 0.001 else "less than 0.1 %"
        return f"That is small: {much} of the rolling resistance. {PRESSURE_FIRST}"
    return f"That is as much as {100 * share:.0f} % of the rolling resistance."


def ground_lines(result: ContestResult) -> list[str]:
    """What the comparison stands on."""
    course = result.course
    lap = f"Course: {course.length_m:.1f} m, {'closed' if course.closed else 'open'}; at most {result.target_m_per_s:.2f} m/s."
    lines = [f"{lap} Every team drove the same course by the same plan of speeds, alone, with a driver who never tires."]
    if result.demanded:
        told = [DEMAND_WORDS[key].format(value) for key, value in result.demanded.items()]
        lines.append(f"Every car must keep: {'; '.join(told)}. What does not is refused.")
    return [
        *lines,
        f"{places_words(result)} On a real course tyres, wind and the driver's line move a lap by about as much or more.",
        "Tips at: the least acceleration towards the centre of a left turn at which the car tips over, from straight ahead to its lock; "
        f"the bends of this course are driven with at most {result.lateral_limit_m_per_s2:g} m/s2. Kick-back lever: how far from its "
        "kingpin's axis a wheel's hub lies; a step pulls at the hands by that lever.",
        "No uncertainty is given: the figures rest on the rules' numbers as they stand.",
    ]


def shared_words(result: ContestResult) -> str:
    """The rule by which places are shared, as a sentence without its end."""
    share = SHARED_OF[result.rule].format(f"{result.tolerance_percent:g} %")
    much = "" if result.shared_within is None else f" ({score_words(result.shared_within, result)} behind the winner)"
    return f"who is within {share} of the first of a place{much} shares it"


def places_words(result: ContestResult) -> str:
    """The rule by which places are shared and counted on, for the page."""
    words = shared_words(result)
    return f"{words[0].upper()}{words[1:]}, for such a difference cannot be told. After two who share place 1 comes place 3."


def ground_and_gaps(result: ContestResult) -> list[str]:
    """What the comparison stands on, and whom the replay shows."""
    return [*ground_lines(result), *replay_lines(result)]


def replay_lines(result: ContestResult) -> list[str]:
    """Whose laps the folder can replay, and how to have others."""
    shown = [f"{called(entry)} ({entry.replayed})" for entry in result.entries if entry.replayed]
    if not shown:
        return []
    line = f"In the replay, beside ideal steering: {', '.join(shown)}."
    return [f"{line} Any other joins them with --replay TEAM." if len(shown) < len(result.entries) else line]


def sheet_lines(entry: ContestEntry, result: ContestResult) -> list[str]:
    """What a team's choice cost and gained, against ideal steering and against the winner."""
    if not entry.finished:
        return [f"Your car did not finish: it {entry.reason}. So it has no place and no figures yet."]
    ideal, best = entry.ideal, best_entry(result)
    lines = [_place_line(entry, result)]
    work, rub = certain(entry.drive_work_J), certain(entry.rub_m)
    if ideal.drive_work_J is None:
        lines.append("Ideal steering does not get round here either, so nothing can be said against it.")
    else:
        more, when = shown_less(work, ideal.drive_work_J), around(result)
        verb = "cost" if more > 0 else "gained"
        choice = f"{verb} {joules(abs(more))}{_percent(abs(more), ideal.drive_work_J)}. {_worth(more, certain(ideal.rolling_J))}"
        lines.append(
            f"Your car needed {joules(work)} of drive work {when}. The same car with ideal steering needs "
            f"{joules(ideal.drive_work_J)}: your choice {choice if more else 'cost nothing.'}"
        )
        rubbed = shown_less(rub, certain(ideal.rub_m), METRE_DIGITS)
        lines.append(
            f"Together your four tyres were dragged over {metres(rub)} of road {when}, {_against(rubbed, metres, 'as far')} "
            f"{'than' if rubbed else 'as'} with ideal steering. The {WHEEL_WORDS[certain(entry.worst_tyre)]} tyre was dragged furthest: "
            f"{metres(certain(entry.rub_worst_m))}."
        )
    if best is not None and best is not entry:
        less = shown_less(work, certain(best.drive_work_J))
        rubbed = shown_less(rub, certain(best.rub_m), METRE_DIGITS)
        lines.append(
            f"Against the best score, that of {called(best)}, you needed {_against(less, joules, 'as much')} and dragged your tyres "
            f"{'over ' if rubbed else ''}{_against(rubbed, metres, 'as far')}."
        )
        lines += [text for text in [why(best, entry, result)] if text and entry.place != best.place]
    if entry.race_laps is not None:
        lines.append(_race_line(entry, best))
    return lines


def risk_lines(entry: ContestEntry, result: ContestResult) -> list[str]:
    """What an entry's place does not tell, for its sheet."""
    return [f"Your car {risk_words(entry, result)}.", *danger_lines(entry.dangers)]


def _more(apart: float) -> str:
    return "more" if apart >= 0 else "less"


def _against(apart: float, words: Callable[[float], str], same: str) -> str:
    """How much more or less.  apart : as it is printed; words : for it; same : where it is nothing"""
    return f"{words(abs(apart))} {_more(apart)}" if apart else same


def _place_line(entry: ContestEntry, result: ContestResult) -> str:
    ranked = placed(result)
    if entry.place is None:
        return "Your car finished, but it has no score."
    own = certain(entry.score)
    score = f'Your score by the rule "{result.rule}" is {score_words(own, result)}.'
    others = [one for one in ranked if one.place == entry.place and one is not entry]
    if others:
        return f"Place {entry.place} of {len(ranked)}, shared with {_names(others)}: nearer than the rules tell apart. {score}"
    text = f"Place {entry.place} of {len(ranked)}. {score}"
    if entry.place == 1 and len(ranked) > 1:
        second = min((one for one in ranked if one is not entry), key=lambda one: abs(certain(one.score) - own))
        text += f" The next, {called(second)}, is {score_words(abs(score_less(certain(second.score), own, result)), result)} behind."
    return text


def _race_line(entry: ContestEntry, best: ContestEntry | None) -> str:
    ends = {"time": "then the time is up", "charge": "then the battery is empty", "laps": "then the race is over"}
    laps, ended = certain(entry.race_laps), ends[certain(entry.race_ended_by)]
    text = f"In the race it drives {laps:.1f} laps, {certain(entry.race_distance_m) / 1000:.2f} km; {ended}."
    parts = []
    for name, figures in (("ideal steering", entry.ideal), ("the best score", best if best is not entry else None)):
        if figures is not None and figures.race_laps is not None:
            apart = laps - figures.race_laps
            parts.append(f"{abs(apart):.2f} laps {_more(apart)} than {name}")
    return f"{text} That is {' and '.join(parts)}." if parts else text


def question_for(entry: ContestEntry) -> str:
    """One question to think about, chosen by what the entry shows."""
    shows = entry.shows
    has_arms = kind_of(entry.setup.get("linkage")).rods
    share = shows.share_of_ideal
    return QUESTIONS[shows.kind].format(
        at_outer_deg=shows.at_outer_deg or 0.0, percent=100 * (share or 0.0), hand_ahead_deg=shows.hand_ahead_deg,
        toe_in_deg=shows.toe_in_deg, toe_out_deg=-shows.toe_in_deg, scrub_J=entry.scrub_J or 0.0,
        rolling_J=entry.rolling_J or 0.0, arms=_ARMS if has_arms else "the arms of a real linkage",
    )  # fmt: skip


def chosen_words(entry: ContestEntry) -> str:
    """A team's set-up as one line."""
    parts = []
    for key, value in (*entry.setup.items(), *entry.car.items()):
        words, _, unit = key.rpartition("_")
        sign = UNITS.get(unit)
        parts.append(value if isinstance(value, str) else f"{words.replace('_', ' ')} {value:g}{sign}" if sign else
                     f"{key.replace('_', ' ')} {value:g}")  # fmt: skip
    name = f"{entry.setup_name}: " if entry.setup_name else ""
    return f"{name}{', '.join(parts)}."
