"""Lesson 1: every wheel rolls on a circle of its own."""

from math import ceil, hypot, pi, radians, tan

import numpy as np

from sim.car.chassis import WHEELS
from sim.lap.trace import pose_columns
from sim.scenario.scenario import Scenario
from sim.steering.arrangement import ideal_setup
from sim.study.knock import contact_points
from sim.study.ready import car_of, make_entry
from sim.turn.rolling import rolling_turn
from viz.lesson.catalogue import Told
from viz.lesson.charts import circles
from viz.lesson.ground import shipped, tightest, with_car
from viz.lesson.say import GAP, closing_digits, degrees, metres, millimetres, number
from viz.shared.rounding import shown_less
from viz.shared.words import WHEEL_WORDS

SCENARIO = "car-park"
WIDER = 4.0  # times the first bend's radius, to see what a wide bend asks for
NARROWER = 0.5  # of the kingpin track, for a question
ALIKE_DEG = 0.05  # angles that a page shows as the same
SPARE_M = 0.25  # of string, for the hands and the knot
AHEAD_M, OFF_M = 1.0, 0.05  # along which an angle is measured with a tape; what chalk and tape may be off there, a judgement


def found() -> Told:
    """What lesson 1 shows, of the shipped car."""
    return found_of(shipped(SCENARIO))


def found_of(scenario: Scenario) -> Told:
    """What lesson 1 shows.  scenario : with a car and at least one bend."""
    radius = tightest(scenario)
    left, right, places, radii = rolled(scenario, radius)
    more, table = shown_less(left, right, 1), scenario.car
    outer, inner = max(radii[:2]), min(radii[:2])
    wide = rolled(scenario, WIDER * radius)
    narrow = rolled(with_car(scenario, kingpin_track_mm=NARROWER * table.kingpin_track_mm), radius)
    cot_outer, cot_inner = 1 / tan(radians(right)), 1 / tan(radians(left))
    ratio = table.kingpin_track_mm / table.wheelbase_mm
    places_shown = closing_digits(cot_outer, cot_inner, ratio)
    behind = table.wheelbase_mm - table.mass_centre_behind_front_axle_mm
    words = {
        "scenario": SCENARIO,
        "radius": metres(radius),
        "radius_number": f"{radius:g}",
        "outer_deg": f"{right:.2f}",
        "walk": f"{float(scenario.pace.target_m_per_s):g}",
        "more": degrees(abs(more)),
        "why": why_words(more),
        "turns": f"has to turn {degrees(abs(more))} {'more' if more > 0 else 'less'} than"
        if abs(more) >= ALIKE_DEG
        else "has to turn just as far as",
        "which": "the inner" if more >= ALIKE_DEG else "the outer" if more <= -ALIKE_DEG else "neither",
        "wheels": [
            {"name": WHEEL_WORDS[wheel], "radius": metres(r), "way": metres(once_round(r)), "steer": degrees(steer)}
            for wheel, r, steer in zip(WHEELS, radii, (left, right, 0.0, 0.0), strict=True)
        ],
        "outer_way": metres(once_round(outer)),
        "inner_way": metres(once_round(inner)),
        "way_more": metres(shown_less(once_round(outer), once_round(inner), 2)),
        "string": f"{ceil(max(radii) + SPARE_M)}{GAP}m",
        "ahead": f"{AHEAD_M:g}{GAP}m",
        "off": metres(OFF_M),
        "wide_radius": metres(WIDER * radius),
        "wide_more": degrees(abs(wide[0] - wide[1])),  # no sheet shows these two, so their difference is not that of rounded ones
        "wide_words": "much less"
        if abs(wide[0] - wide[1]) < 0.5 * abs(more)
        else "not much less"
        if abs(wide[0] - wide[1]) < abs(more)
        else "no less",
        "narrow_track": millimetres(NARROWER * table.kingpin_track_mm),
        "narrow_more": degrees(abs(narrow[0] - narrow[1])),
        "narrow_words": "less" if abs(narrow[0] - narrow[1]) < abs(more) - ALIKE_DEG else "no less",
        "wheelbase": millimetres(table.wheelbase_mm),
        "front_track": millimetres(table.front_track_mm),
        "rear_track": millimetres(table.rear_track_mm),
        "kingpin_track": millimetres(table.kingpin_track_mm),
        "behind": millimetres(behind),
        "rear_middle": metres((radius**2 - (behind / 1e3) ** 2) ** 0.5),
        "strings": [
            {
                "name": WHEEL_WORDS[wheel],
                "string": metres(r),
                "ahead": metres(place[0]),
                "steer": degrees(steer),
                "across": metres(AHEAD_M * tan(radians(steer))),
            }
            for wheel, r, place, steer in zip(WHEELS[:2], radii[:2], places[:2], (left, right), strict=True)
        ],
        "rear_strings": [{"name": WHEEL_WORDS[wheel], "string": metres(r)} for wheel, r in zip(WHEELS[2:], radii[2:], strict=True)],
        "cot_outer": number(cot_outer, places_shown),
        "cot_inner": number(cot_inner, places_shown),
        "cot_difference": number(shown_less(cot_outer, cot_inner, places_shown), places_shown),
        "ratio": number(ratio, places_shown),
    }
    drawn = [(WHEEL_WORDS[wheel], x, y, steer) for wheel, (x, y), steer in zip(WHEELS, places, (left, right, 0.0, 0.0), strict=True)]
    label = f"A car in a left turn of {words['radius']} radius; each wheel stands square to the string from the turning centre."
    return Told(words, circles(drawn, label), label)


def why_words(more: float) -> str:
    """Why the wheels stand as they do, in a sentence.  more : by which the inner one turns further [deg]."""
    if abs(more) < ALIKE_DEG:
        return "Here both wheels swing about nearly the same place, so both have to turn just as far."
    if more < 0:
        return f"On this car the outer wheel has to turn {degrees(-more)} more than the inner one."
    return (
        "The inner wheel's kingpin is nearer to the centre, so the line to it stands at a steeper angle: the inner wheel has to turn "
        f"{degrees(more)} more than the outer one."
    )


def once_round(radius: float) -> float:
    """The way once round a circle, of the radius as it is shown, so that who multiplies it finds the same [m].  radius [m]."""
    return 2 * pi * round(radius, 2)


def rolled(scenario: Scenario, radius: float) -> tuple[float, float, list[tuple[float, float]], list[float]]:
    """A left turn in which every wheel rolls.

    scenario : whose car; radius : of the mass centre's path [m]
    Returns both front wheels' angles [deg], and of each wheel how far it is ahead and to the right of the turning centre, and from it [m].
    """
    car = car_of(scenario)
    entry = make_entry(ideal_setup(), scenario, "lesson", "setup")
    turn = rolling_turn(car, entry.table, 1 / radius)
    hand, steers = pose_columns(entry.table, np.array([turn.steer]))
    x, y = contact_points(entry.steering, scenario.car, float(hand[0]))
    ahead, beside = radius * np.sin(turn.sideslip), radius * np.cos(turn.sideslip)  # the mass centre, seen from the turning centre
    places = [(float(ahead + one), float(beside - other)) for one, other in zip(x, y, strict=True)]
    left, right = np.degrees(steers[0, :2])
    return float(left), float(right), places, [hypot(*place) for place in places]
