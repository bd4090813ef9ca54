"""What looks like a slip among readings that can all be meant: a forgotten sign, exchanged columns, string against tape, rule against
threads, a protractor far askew."""

from math import degrees, hypot, pi, radians

import numpy as np

from sim.bench.as_built import HOME, Built
from sim.bench.as_built import TAPE as RODS_TAPE
from sim.bench.kinds import DIAL, WHEEL_LEFT, WHEEL_RIGHT, place_of
from sim.bench.readings import CLEAR, Readings, difference_at
from sim.keys import MILLIMETRE, MILLIMETRES_IN

STEERED = radians(5.0)  # beyond which a wheel or the hand wheel is turned to a side, whatever rods and marks are off.  Judgement. [rad]
FEWEST = 3  # pairs from which the one with the wrong sign can be told
NEAR_AGAIN = 0.5  # share of a miss that is left with the other sign, from which the sign is doubted.  Judgement. [-]
APART = 3.0  # standard errors between string and tape that chance explains in all but 3 of 1,000 cars
ALIKE = 0.5  # share of a common miss by which the pairs may differ in it, as wrong rods make them between the locks.  Judgement. [-]
ROUNDS = 4  # of setting a zero right, each of which leaves a small share of the miss
ASKEW = radians(1.0)  # by which two protractors together are askew by chance in few cars: 3 times their usual spreads.  Judgement. [rad]
MOST_TOE = radians(4.0)  # off the plan, of both wheels together, from which a single kind of reading is asked about.  Judgement. [rad]
# Standard errors between a rod's rule and its threads, which chance explains in one good car in ten thousand; and within which they agree
# once their columns are exchanged, as 19 of 20 do, where APART then is enough.  Judgement.
RULE_APART, RULE_AGREES = 4.0, 2.0
MEDIAN_ERROR = (pi / 2) ** 0.5  # standard error of a median over that of a mean, of many normal readings; of three a little less
# Strings that are written down as nearer to every rim than this may be centimetres: nobody stretches them further off than half a metre.
NEAR_STRINGS = 50 * MILLIMETRE
# Nearer than this to every rim, both strings would touch somewhere.  Judgement.
TOUCHING_STRINGS = 10 * MILLIMETRE
LEFT_IS = "left is positive, right is negative"
STRING_LEFT, STRING_RIGHT, TAPE = (place_of(name) for name in ("string_left_front_mm", "string_right_front_mm", "toe_front_mm"))


def doubts_about(readings: Readings, plan: Built) -> tuple[str, ...]:
    """Sentences about readings that look like slips.

    readings : Readings, checked against the plan; plan : Built
    Returns sentences, each with its line or its values.
    """
    return (
        *sign_doubts(readings, plan), *exchange_doubts(readings, plan), *rod_doubts(readings, plan), *toe_doubts(readings),
        *string_doubts(readings), *large_toe_doubts(readings, plan), *askew_doubts(readings, plan),
    )  # fmt: skip


def sign_doubts(readings: Readings, plan: Built) -> tuple[str, ...]:
    """Lines of wheel angles that would fit better with the other sign.

    readings, plan : as for `doubts_about`
    Returns a sentence for each such line.
    """
    told = []
    rows = np.flatnonzero(readings.read[:, WHEEL_LEFT])
    if not len(rows):
        return ()
    means, apart = readings.value[rows][:, [WHEEL_LEFT, WHEEL_RIGHT]].mean(axis=1), readings.value[rows, WHEEL_LEFT]
    apart = apart - readings.value[rows, WHEEL_RIGHT]
    misses, turned = apart - difference_at(plan.steering, means), -apart - difference_at(plan.steering, -means)
    known = misses[np.isfinite(misses)]
    toe = float(np.median(known)) if len(known) >= FEWEST else np.nan  # what rods and arms add nearly alike at every setting
    for row, mean, missed, other in zip(rows.tolist(), means, misses, turned, strict=True):
        hand = readings.value[row, DIAL]
        where = f"{readings.source_of(row)} {readings.place(row)}: is a minus sign missing?"
        if plan.hand_tells and abs(hand) > STEERED and abs(mean) > STEERED and hand * mean < 0:
            told.append(f"{where} The wheels stand to the {_side(mean)}, hand_deg to the {_side(hand)}; {LEFT_IS}.")
            continue
        miss, again = abs(missed - toe), abs(other - toe)
        error = hypot(*readings.error[row, [WHEEL_LEFT, WHEEL_RIGHT]])
        if abs(mean) > STEERED and miss > CLEAR + APART * error and again < NEAR_AGAIN * miss:
            told.append(f"{where} The wheels' angles are those of a turn to the {_side(-mean)}; {LEFT_IS}.")
    return tuple(told)


def _side(angle: float) -> str:
    return "left" if angle > 0 else "right"


def exchange_doubts(readings: Readings, plan: Built) -> tuple[str, ...]:
    """Whether the pairs of wheel angles fit the plan with left and right exchanged, and not as they stand.

    readings, plan : as for `doubts_about`
    Returns a sentence with the lines, or none where the plan has both wheels turn nearly alike, or any pair fits no better.
    """
    rows = np.flatnonzero(readings.read[:, WHEEL_LEFT])
    if not len(rows):
        return ()
    value = readings.value[rows]
    means, apart = value[:, [WHEEL_LEFT, WHEEL_RIGHT]].mean(axis=1), value[:, WHEEL_LEFT] - value[:, WHEEL_RIGHT]
    planned = difference_at(plan.steering, means)
    errors = np.hypot(*readings.error[rows][:, [WHEEL_LEFT, WHEEL_RIGHT]].T)
    clear = np.isfinite(planned) & (np.abs(means) > STEERED) & (2 * np.abs(planned) > CLEAR + APART * errors)
    if not clear.any():
        return ()
    rods, toe_error, how = _rods_add(readings, plan)
    allowed = ASKEW + APART * toe_error if how else MOST_TOE
    # What wrong rods add alike is taken off both ways, as far as a string or a tape leaves it open.
    misses, other = (
        np.abs(one - np.clip(np.median(one), rods - allowed, rods + allowed))
        for one in ((apart - planned)[clear], (-apart - planned)[clear])
    )  # fmt: skip
    enough = float(misses.max()) > CLEAR + APART * float(errors[clear].mean())
    if not enough or float(other.max()) >= NEAR_AGAIN * float(misses.max()) or not np.all(other < misses):
        return ()
    lines = ", ".join(f"{readings.source_of(row)} {readings.place(row)}" for row in rows[clear].tolist())
    signs = " Or are the minus signs of right turns missing?" if np.all(means[clear] > 0) else ""
    return (
        f"{lines}: are left_deg and right_deg exchanged? As they stand they miss the plan by up to {degrees(float(misses.max())):.1f} "
        f"degrees, exchanged by {degrees(float(other.max())):.1f}.{signs}",
    )


def _middle(readings: Readings, place: int) -> tuple[float, float]:
    """The middle one of all readings of a kind, so that one slip moves it little, and its standard error; nan where there is none."""
    rows = readings.read[:, place]
    count = int(rows.sum())
    if not count:
        return np.nan, np.nan
    error = float(np.sqrt((readings.error[rows, place] ** 2).sum())) / count
    return float(np.median(readings.value[rows, place])), error * (MEDIAN_ERROR if count > 2 else 1.0)


def rod_doubts(readings: Readings, plan: Built) -> tuple[str, ...]:
    """Whether a rule and the threads show different lengths of a rod.

    readings, plan : as for `doubts_about`
    Returns sentences, none where they agree within their errors.  Where tube and rod ends were not measured, only how two rods differ is
    compared, with both tubes taken as alike.
    """
    sides = ("",) if plan.one_rod else ("_left", "_right")
    names = ("rod",) if plan.one_rod else ("left rod", "right rod")
    rule = [_middle(readings, place_of(f"rod{side}_mm")) for side in sides]
    counted = [_middle(readings, place_of(f"threads{side}")) for side in sides]
    threads = [plan.home_length + plan.pitch * turns for turns, _ in counted]
    errors = [hypot(each, plan.pitch * turn) for (_, each), (_, turn) in zip(rule, counted, strict=True)]
    lengths = [length for length, _ in rule]
    common = RULE_APART * float(np.hypot(*plan.spreads[[HOME, RODS_TAPE]]))  # what both rods share
    allowed = [hypot(RULE_APART * error, common) for error in errors]

    def contradict(by_rule: list[float]) -> list[bool]:
        return [abs(one - other) > most for one, other, most in zip(by_rule, threads, allowed, strict=True)]

    wrong = contradict(lengths)
    if not plan.one_rod:
        error = hypot(*errors)
        by_rule, by_threads = lengths[0] - lengths[1], threads[0] - threads[1]
        apart, differ = (abs(by_rule - by_threads) > most * error for most in (APART, RULE_APART))
        says = (
            f"by the rule the left rod is {_longer(by_rule)} than the right one, by the threads {_longer(by_threads)}; their errors allow "
            f"{(RULE_APART if differ else APART) * error / MILLIMETRE:.1f} between them"
        )
        if apart and abs(by_rule + by_threads) <= RULE_AGREES * error and not any(contradict(lengths[::-1])):
            return (
                "Are the columns rod_left_mm and rod_right_mm exchanged? (Or threads_left and threads_right?) As they stand, "
                f"{says}; exchanged they agree.",
            )
        if all(wrong) and not differ:
            off = (lengths[0] - threads[0] + lengths[1] - threads[1]) / 2
            return (
                f"Rule and threads contradict each other: by the rule both rods are {_longer(off)} than by the threads. Are "
                "rod_tube_length_mm and rod_end_eye_length_mm right, and both ends of each rod counted?",
            )
        if differ and not any(wrong):
            return (
                f"Rule and threads contradict each other: {says}. Measure both rods and count both ends of each again; two tubes of "
                "unlike length do that too.",
            )
    return tuple(
        f"Rule and threads of the {name} contradict each other: {one / MILLIMETRE:.1f} mm by the rule, {other / MILLIMETRE:.1f} mm by the "
        f"threads; their errors allow {most / MILLIMETRE:.1f} between them. Measure it and count both of its ends again."
        for name, one, other, most, off in zip(names, lengths, threads, allowed, wrong, strict=True) if off
    )  # fmt: skip


def _longer(length: float) -> str:
    return f"{abs(length) / MILLIMETRE:.1f} mm {'longer' if length > 0 else 'shorter'}"


def toe_doubts(readings: Readings) -> tuple[str, ...]:
    """Whether the strings and the tape show different toe.

    readings : Readings
    Returns a sentence with both values and what to repeat, or none where they agree within their errors or one was not read.
    """
    (by_string, string_error), (by_tape, tape_error) = _toe_by_string(readings), _toe_by_tape(readings)
    if not len(by_string) or not len(by_tape):
        return ()
    allowed = APART * hypot(string_error, tape_error)
    toes = float(by_string.mean()), float(by_tape.mean())
    if abs(toes[0] - toes[1]) <= allowed:
        return ()
    fewer = "the tape" if len(by_tape) < len(by_string) else "the strings" if len(by_string) < len(by_tape) else "both"
    words = [f"{abs(degrees(toe)):.2f} degrees of toe-{'in' if toe > 0 else 'out'}" for toe in toes]
    both = f"String and tape disagree: the strings show {words[0]}, the tape {words[1]}"
    if readings.furthest_string < NEAR_STRINGS and abs(MILLIMETRES_IN["cm"] * toes[0] - toes[1]) <= allowed:
        return (f"{both}, which is what ten times the strings' would be: are the distances to the strings centimetres? Write millimetres.",)
    return (
        f"{both}; their errors allow {degrees(allowed):.2f} between "
        f"them. Read {fewer} again{' first' if fewer != 'both' else ''}, front and rear not exchanged.",
    )


def string_doubts(readings: Readings) -> tuple[str, ...]:
    """Whether every string stands so near to the rims that its distances are rather centimetres, where no tape speaks for or against it.

    readings : Readings
    Returns a sentence, or none.
    """
    (by_string, _), (by_tape, _) = _toe_by_string(readings), _toe_by_tape(readings)
    if not len(by_string) or len(by_tape) or not readings.furthest_string < TOUCHING_STRINGS:
        return ()
    return (
        f"No rim is further than {readings.furthest_string / MILLIMETRE:.1f} mm from its string: are the distances to the strings "
        "centimetres? Write millimetres; where they are that, read the toe with a tape too.",
    )


def large_toe_doubts(readings: Readings, plan: Built) -> tuple[str, ...]:
    """Whether strings or tape alone, with nothing else beside them, show more toe than a car is built with.

    readings, plan : as for `doubts_about`
    Returns a sentence, or none where the toe is usual or another kind of reading can speak against it.
    """
    (by_string, _), (by_tape, _) = _toe_by_string(readings), _toe_by_tape(readings)
    others = np.delete(readings.read, [STRING_LEFT, STRING_RIGHT, TAPE, DIAL], axis=1)
    if others.any() or bool(len(by_string)) == bool(len(by_tape)):
        return ()
    toes, how = (by_string, "strings show") if len(by_string) else (by_tape, "tape shows")
    toe, planned = float(toes.mean()), float(np.diff(plan.steering.front_wheels(np.zeros(1)).steer[0])[0])
    if abs(toe - planned) <= MOST_TOE:
        return ()
    return (
        f"The {how} {abs(degrees(toe)):.1f} degrees of toe-{'in' if toe > 0 else 'out'}, which one sees from afar: is it so, in "
        "millimetres, front and rear not mixed up? Measure the rods too, or read the toe another way.",
    )


def _toe(value: np.ndarray, error: np.ndarray) -> tuple[np.ndarray, float]:
    """Readings of total toe-in and the standard error of their mean."""
    return value, float(np.sqrt((error**2).sum())) / max(len(error), 1)


def _straight(readings: Readings) -> np.ndarray:
    """Rows that were not read with the hand wheel turned to a side."""
    return ~(np.abs(readings.value[:, DIAL]) > STEERED)


def _toe_by_string(readings: Readings) -> tuple[np.ndarray, float]:
    rows = readings.read[:, STRING_LEFT] & readings.read[:, STRING_RIGHT] & _straight(readings)
    value, error = readings.value[rows], readings.error[rows]
    return _toe(value[:, STRING_RIGHT] - value[:, STRING_LEFT], np.hypot(error[:, STRING_LEFT], error[:, STRING_RIGHT]))


def _toe_by_tape(readings: Readings) -> tuple[np.ndarray, float]:
    rows = readings.read[:, TAPE] & _straight(readings)
    return _toe(readings.value[rows, TAPE], readings.error[rows, TAPE])


def _rods_add(readings: Readings, plan: Built) -> tuple[float, float, str]:
    """What wrong rods and arms add to left less right straight ahead by strings, or else by tape, its standard error [rad], and which of
    them shows it; 0, 0 and nothing where neither was read."""
    (toes, error), how = _toe_by_string(readings), "strings show"
    if not len(toes):
        (toes, error), how = _toe_by_tape(readings), "tape shows"
    if not len(toes):
        return 0.0, 0.0, ""
    planned = float(np.diff(plan.steering.front_wheels(np.zeros(1)).steer[0])[0])
    return planned - float(toes.mean()), error, how


def _common_miss(readings: Readings, rows: np.ndarray, plan: Built, rods: float, side: int) -> tuple[float, float]:
    """The zero of one protractor that makes the pairs miss the plan by what the rods add, and how far the worst of them then still is.

    rows : of the pairs; rods : left less right that they add [rad]; side : 0 the left protractor, 1 the right one
    """
    zero, pairs = 0.0, readings.value[rows][:, [WHEEL_LEFT, WHEEL_RIGHT]]
    sign = 1.0 - 2.0 * side
    for _ in range(ROUNDS):
        shown = pairs.copy()
        shown[:, side] -= zero
        misses = shown[:, 0] - shown[:, 1] - difference_at(plan.steering, shown.mean(axis=1)) - rods
        misses = misses[np.isfinite(misses)]
        if len(misses) < FEWEST:
            return 0.0, np.inf
        zero += sign * float(np.median(misses))
    return zero, float(np.abs(misses - np.median(misses)).max())


def askew_doubts(readings: Readings, plan: Built) -> tuple[str, ...]:
    """Whether all pairs of wheel angles miss the toe of strings or tape by the same, which no rod explains.

    readings, plan : as for `doubts_about`
    Returns a sentence, or none where they agree, where a single pair may be misread, or where no string or tape was read.
    """
    rods, toe_error, how = _rods_add(readings, plan)
    rows = np.flatnonzero(readings.read[:, WHEEL_LEFT])
    if not how or len(rows) < FEWEST:
        return ()
    zero, rest = min((_common_miss(readings, rows, plan, rods, side) for side in (0, 1)), key=lambda found: found[1])
    error = float(np.hypot(*readings.error[rows][:, [WHEEL_LEFT, WHEEL_RIGHT]].T).mean())
    if abs(zero) <= ASKEW + APART * hypot(error / len(rows) ** 0.5, toe_error) or not rest <= ALIKE * abs(zero) + APART * error:
        return ()
    return (
        f"All pairs of wheel angles differ by the same {abs(degrees(zero)):.0f} degrees from what the {how}: a protractor stands "
        "askew. Set both along the car again and read the pairs again.",
    )
