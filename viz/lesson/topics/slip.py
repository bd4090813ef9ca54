"""Lesson 5: the tyre slips anyway."""

from collections.abc import Sequence
from typing import Any

from sim.car.chassis import GRAVITY
from sim.scenario.scenario import Scenario
from sim.study.corner import CornerTurn, corner_result
from sim.study.ready import car_of, entries_of
from viz.corner.brief import warnings
from viz.lesson.catalogue import Told
from viz.lesson.charts import curves
from viz.lesson.ground import IDEAL, PARALLEL, shipped, tightest, with_setups
from viz.lesson.say import GAP, degrees, figure, kilometres_per_hour, metres, newtons, number, percent, speed, times
from viz.shared.rounding import TENTHS, shown_less

SCENARIO = "first-bend"
SPEED_SHARES = (0.2, 0.4, 0.6, 0.8, 1.0)  # of the scenario's target
FRACTIONS = (-0.5, 0.0, 0.5, 0.75, 1.0, 1.25, 1.5)
POINTS = 24  # of the drawn curves
SMALL = 0.01  # of the drive force: less is nothing that anybody could measure


def found() -> Told:
    """What lesson 5 shows, of the shipped car."""
    return found_of(shipped(SCENARIO))


def found_of(scenario: Scenario) -> Told:
    """What lesson 5 shows.  scenario : with a car and at least one bend.  Raises ValueError where the car does not get round that bend."""
    setups: list[dict[str, Any]] = [
        IDEAL,
        PARALLEL,
        *({"name": f"fraction {p:g}", "pivot": "stub axles", "linkage": "fraction", "fraction": p} for p in FRACTIONS),
    ]
    made = with_setups(scenario, f"Lesson 5: slip. {scenario.title}", setups)
    radius, target = tightest(made), float(made.pace.target_m_per_s)
    entries, rows, results = entries_of(made, "lesson"), [], []
    for share in SPEED_SHARES:
        result = corner_result(made, entries, radius, share * target, False)
        turns = result.setups
        if turns[0].converged and turns[1].converged:
            rows.append((share * target, turns))
            results.append(result)
    if len(rows) < 2:
        raise ValueError("the car does not get round the bend of this lesson")
    (slow, at_walk), (fast, at_speed) = rows[0], rows[-1]
    ideal, parallel = at_speed[0], at_speed[1]
    best_walk, best_speed = (best_fraction(turns[2:]) for turns in (at_walk, at_speed))
    more = (parallel.scrub_W or 0.0) - (ideal.scrub_W or 0.0)
    saves = [saved(turns[0], turns[1]) for turns in (at_walk, at_speed)]
    words = {
        "file": "lesson-5.toml",
        "radius": metres(radius),
        "radius_number": f"{radius:g}",
        "slow": speed(round(slow, 2)),
        "fast": speed(round(fast, 2)),
        "slow_number": f"{slow:g}",
        "fast_number": f"{fast:g}",
        "kmh": kilometres_per_hour(fast),
        "rows": [
            {
                "speed": speed(round(v, 2)),
                "slip": degrees(largest_slip(turns[0])),
                "best": pair_watts(turns)[0],
                "alike": pair_watts(turns)[1],
            }
            for v, turns in rows
        ],
        "slow_scrub": pair_watts(at_walk)[0],
        "fast_scrub": pair_watts(at_speed)[0],
        "fast_slip": degrees(largest_slip(ideal)),
        "more": pair_watts(at_speed)[2],
        "more_words": more_words(more, ideal.scrub_W or 0.0),
        "grows": grows_words(at_walk[0].scrub_W or 0.0, ideal.scrub_W or 0.0, slow, fast),
        "saves_slow": percent(abs(saves[0])),
        "saves_fast": percent(abs(saves[1])),
        "saves_words": saves_words(*saves),
        "goal": goal_words(best_speed, saves[1]),
        "best_walk": number(best_walk, 2),
        "best_speed": number(best_speed, 2),
        "fractions": [
            {"p": number(p, 2), "walk": newtons_or(one), "speed": newtons_or(other)}
            for p, one, other in zip(FRACTIONS, at_walk[2:], at_speed[2:], strict=True)
        ],
        "stiffness": f"{made.car.tyre.cornering_stiffness_per_rad:g}",
        "mass": f"{made.car.mass_kg or 0:g}\N{NO-BREAK SPACE}kg",
        "formula": newtons(cornering_drag(made, radius, fast)),
        "drag": newtons((ideal.scrub_W or 0.0) / fast),
        "side": f"{number(fast**2 / radius, 3)}\N{NO-BREAK SPACE}m/s²",
    }
    # Pupils run the slowest and the fastest of these turns.
    warned = list(dict.fromkeys(line for result in (results[0], results[-1]) for line in warnings(result, car_of(made))))
    label = f"Power lost by slipping tyres in a bend of {metres(radius)} radius, over speed, for ideal and parallel steering."
    drawn = [(0.0, 0.0, 0.0)]
    for v in (fast * n / POINTS for n in range(1, POINTS + 1)):
        one, other = corner_result(made, entries[:2], radius, v, False).setups
        drawn += [(v, one.scrub_W, other.scrub_W)] if one.scrub_W is not None and other.scrub_W is not None else []
    lines = [(name, [(row[0], row[at]) for row in drawn]) for at, name in ((1, IDEAL["name"]), (2, PARALLEL["name"]))]
    return Told(
        words, curves(lines, "speed [m/s]", "lost by slipping [W]", label), label, {"lesson-5.toml": made}, {"lesson-5.toml": warned}
    )


def largest_slip(turn: CornerTurn) -> float:
    """The largest slip angle of the four tyres [deg].  turn : one that there is."""
    return max((abs(one.slip_deg) for one in (turn.wheels or {}).values()), default=0.0)


def best_fraction(turns: tuple[CornerTurn, ...]) -> float:
    """The fraction of ideal that needs least drive force [-].  turns : one for each of FRACTIONS."""
    there = [(turn.drive_force_N, p) for turn, p in zip(turns, FRACTIONS, strict=True) if turn.drive_force_N is not None]
    return min(there)[1] if there else 1.0


def newtons_or(turn: CornerTurn) -> str:
    """Drive force of a turn.  turn : CornerTurn."""
    return "no such turn" if turn.drive_force_N is None else f"{number(turn.drive_force_N, 2)}\N{NO-BREAK SPACE}N"


def cornering_drag(scenario: Scenario, radius: float, fast: float) -> float:
    """The drag of four equal linear tyres in a bend, m a_y^2 / (c g) [N].  scenario : whose car; radius [m]; fast [m/s]."""
    side = fast**2 / radius
    return float(scenario.car.mass_kg or 0.0) * side**2 / (scenario.car.tyre.cornering_stiffness_per_rad * GRAVITY)


def pair_watts(turns: Sequence[CornerTurn]) -> tuple[str, str, str]:
    """What ideal and parallel steering lose by slipping, and the size of the difference of the two as they are shown.

    turns : of ideal and of parallel steering first
    """
    best, alike = (turn.scrub_W or 0.0 for turn in turns[:2])
    digits = max(len(figure(best, 3).partition(".")[2]), TENTHS)
    apart = abs(shown_less(alike, best, digits))
    return f"{number(best, digits)}{GAP}W", f"{number(alike, digits)}{GAP}W", f"{number(apart, digits)}{GAP}W"


def more_words(more: float, ideal: float) -> str:
    """What parallel steering adds to the slip that every car needs.  more, ideal [W]."""
    if ideal <= 0:
        return "Here ideal steering slips not at all."
    share = more / ideal
    if abs(share) < SMALL:
        return f"Parallel steering makes no difference that anybody could measure (less than {percent(SMALL)})."
    return f"Parallel steering loses {percent(abs(share))} {'more' if share > 0 else 'less'} than that."


def grows_words(before: float, after: float, slow: float, fast: float) -> str:
    """How the loss grows with speed.  before, after [W]; slow, fast [m/s]."""
    if before <= 0:
        return f"From {speed(round(slow, 2))} on the loss grows from nothing."
    return f"The car goes {times(fast / slow)} as fast and loses {times(after / before)} as much."


def saved(ideal: CornerTurn, parallel: CornerTurn) -> float:
    """What ideal steering saves, as a share of the drive force of parallel steering.  ideal, parallel : turns that there are."""
    one, other = ideal.drive_force_N or 0.0, parallel.drive_force_N or 0.0
    return (other - one) / other if other > 0 else 0.0


def saves_words(slow: float, fast: float) -> str:
    """How what ideal steering saves changes with speed.  slow, fast : shares of the drive force."""
    if abs(slow) < SMALL and abs(fast) < SMALL:
        return "Neither slow nor fast does ideal steering save anything that could be measured."
    if fast < 0.9 * slow:
        return "The faster the car goes, the smaller is the part that ideal steering saves: the rest is slip that every car needs."
    if fast > 1.1 * slow:
        return "The faster the car goes, the larger is the part that ideal steering saves."
    return "Slow or fast, ideal steering saves about the same part."


def goal_words(best: float, share: float) -> str:
    """Whether ideal steering is the goal at speed.  best : fraction that needs least; share : that ideal saves, of the drive force."""
    if abs(share) < SMALL:
        return "at speed it hardly matters which of them the car has, so ideal steering is not a goal by itself"
    if abs(best - 1.0) < 0.2:
        return "at speed ideal steering is still about the best of these, but what it saves has to be weighed against everything else"
    side = "more" if best > 1 else "less"
    return f"at speed the best of these turns the inner wheel {side} than ideal steering does, so ideal is not the goal"
