"""What the commands print: the wording and the order of the parts; figures are only matched by their shape, which physics may move."""

import io
import re
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from sim.car.chassis import characteristic_speed, with_law
from sim.car.tyre import BRUSH, LINEAR
from sim.lap.ladder import Model
from sim.scenario.file import check_scenario
from sim.study.angles import angles_result
from sim.study.compare import compare
from sim.study.corner import corner_result
from sim.study.ready import car_of, entries_of
from sim.study.summary import summary
from viz.angles.report import ASSUMED, angles_report
from viz.corner.brief import corner_brief, warnings
from viz.corner.report import corner_report
from viz.run.brief import run_brief
from viz.run.report import compared, finding, law_lines, run_report, sliding_lines
from viz.shared.torque import LAW_WORDS

YARD = (Path(__file__).parents[1] / "scenarios" / "yard.toml").read_text(encoding="utf-8")
WIDTHS = [80, 120]


@pytest.fixture(scope="module")
def yard():
    """The small scenario, changed by (old, new) pairs of text."""

    def changed(*changes):
        text = YARD
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        return check_scenario(tomllib.loads(text), "yard.toml")

    return changed


@pytest.fixture(scope="module")
def comparison(yard):
    return compare(yard(), Path(), "yard.toml")


def printed(renderables, width):
    """As the command line prints to a file, at a width."""
    text = io.StringIO()
    console = Console(file=text, width=width, no_color=True, highlight=False, markup=False)
    for renderable in renderables:
        console.print(renderable)
    assert max(map(len, text.getvalue().splitlines())) <= width
    assert "\x1b" not in text.getvalue()
    assert "…" not in text.getvalue()  # no figure was cut off
    return text.getvalue()


def masked(text):
    """Text with each run of blanks as one and each figure as #."""
    return re.sub(r"[-+]?\d+(\.\d+)?(e[-+]\d+)?", "#", " ".join(text.split()))


def in_order(text, parts):
    """The parts stand in the text in this order; more may stand between them."""
    at = 0
    for part in parts:
        found = text.find(part, at)
        assert found >= 0, f"{part!r} is missing after {text[:at]!r} in {text!r}"
        at = found + len(part)


# --- run --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", WIDTHS)
def test_run_report(comparison, width):
    text = printed(run_report(comparison, Path("yard-run")), width)
    assert text.startswith('Yard: three ways\n2 of 3 set-ups get round. "turntable" needs ')
    assert text.endswith("\nWritten to yard-run\n")
    in_order(masked(text), [
        'Yard: three ways # of # set-ups get round. "turntable" needs # % more drive work from start to finish than "ideal" (# J against '
        "# J); most of the difference goes to front tyres slipping sideways. That is small: as much as # % more rolling resistance. ",
        'To come as near as arms and rods can to "ideal" takes about # days, two stub axles and their beam, their arms, rods and what '
        'moves them, and saves at most # Wh a ',
        "run at the wheels (with the energy for # runs you then drive #): "
        "less than the model can tell (# % of the drive work), so for the race alone not worth the ",
        "work. Look after tyre pressure first.",
        '"short lock" does not finish: it runs # m off the line after # s, # m into the lap: at full lock (# deg) it does not turn enough.',
        "drive scrub geometry scrub lap off line least set-up work J J cost J more J time s most cm load N",
        "ideal # # # # # # #", "short lock did not finish", "turntable # # # # # # #",
        "front front rear rear set-up left right left right",
        "ideal rubber dragged m # # # # slip loss J # # # #", "turntable rubber dragged m # # # # slip loss J # # # #",
        "Course: # m, open, driven once; tightest bend # m at # m.", "Where the written curvature steps, it is eased over # m.",
        "Model: slipping four wheels. Energy ledger: drive work and losses agree within # of the drive work.",
        "No uncertainty has been computed: the figures rest on the scenario's numbers as they stand.", "Written to yard-run",
    ])  # fmt: skip


def test_run_report_columns_stand_under_their_headings(comparison):
    lines = printed(run_report(comparison, None), 120).splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("set-up") and "work J" in line)
    assert lines[at - 1].rstrip().endswith("least")
    assert re.fullmatch(r"ideal +\d+\.\d +\d+\.\d +[-+]\d+\.\d +[-+]\d+\.\d +\d+\.\d\d +\d+\.\d +\d+", lines[at + 1])
    assert re.fullmatch(r"short lock +did not finish *", lines[at + 2])
    assert len({len(line) for line in lines[at - 1 : at + 4]}) == 1  # all as wide as the table
    assert "Written to" not in lines[-1]


@pytest.mark.compiled
def test_of_set_ups_that_nobody_could_tell_apart_each_stands_once_in_the_table(comparison):
    """The first one stands for the best of them; where it needed most, it was the worst too, and had two rows."""
    ideal, _, turntable = comparison.results
    less = replace(turntable, ledger=replace(turntable.ledger, drive_work=ideal.ledger.drive_work * (1 - 1e-4)))
    told = replace(comparison, results=(ideal, less))
    assert compared(told) == (ideal, less)
    text = printed(run_brief(told, Path("yard-run")), 80)
    assert re.findall(r"^(ideal|turntable) ", text, re.MULTILINE) == ["ideal", "turntable"]


@pytest.mark.compiled
def test_whoever_does_not_get_round_is_looked_at_first(comparison):
    """ "The steering hardly costs anything here", a run said of which the own car had not got round."""
    text = " ".join(printed(run_brief(comparison, Path("yard-run")), 80).split())
    assert 'see it with `scrubwise watch yard-run`; first look why "short lock" did not get round.' in text


@pytest.mark.compiled
def test_run_tells_the_costs_by_both_laws(comparison, yard):
    # Whichever law is driven, the other one's cost stands beside it; JSON and words say the same.
    brush = compare(yard(("[car]", '[car.tyre]\nlaw = "brush"\n\n[car]')), Path(), "yard.toml")
    told = []
    for driven, order in ((comparison, ("linear", "brush")), (brush, ("brush", "linear"))):
        costs = summary(driven).setups[2].geometry_cost_by_law_J
        assert tuple(costs) == order
        assert costs[order[0]] == summary(driven).setups[2].geometry_cost_J
        (line,) = law_lines(driven)
        words = [LAW_WORDS[law] for law in order]
        assert masked(line) == (
            f'The form of the tyre is part of the doubt: the geometry of "turntable" costs # J with {words[0]} ("{order[0]}"), '
            f'# J with {words[1]} ("{order[1]}", reckoned from steady turns).'
        )
        told.append(costs)
        assert line in " ".join(printed(run_report(driven, None), 120).split())
    # Each was driven once and reckoned once: to what a sum of steady turns can tell.
    for law in ("linear", "brush"):
        assert told[0][law] == pytest.approx(told[1][law], rel=0.05, abs=0)
    assert abs(told[0]["brush"] / told[0]["linear"] - 1) > 0.02
    assert summary(driven).setups[1].geometry_cost_by_law_J == {"brush": None, "linear": None}  # did not get round


@pytest.mark.parametrize(("law", "trusted_deg", "words"), [
    (LINEAR, 3.04, "side force is 33 % and more above that of a tyre that gives way"), (BRUSH, 10.92, "the whole contact slides"),
])  # fmt: skip
def test_the_warning_stands_where_the_law_ends(comparison, law, trusted_deg, words):
    # Stiffness 14, friction 0.9: a third more at 3.04 degrees; all of a brush slides at atan(3 x 0.9 / 14) = 10.92 degrees.
    car, ideal = with_law(comparison.car, law), comparison.results[0]
    for factor, warns in ((0.99, False), (1.01, True)):
        peaks = np.array([0.0, -np.tan(np.radians(factor * trusted_deg)), 0.01, 0.0])
        lines = sliding_lines((replace(ideal, peak_slips=peaks),), car)
        assert len(lines) == warns
        if warns:
            assert f"Beyond about {trusted_deg:.1f} degrees" in lines[0]
            assert words in lines[0]


@pytest.mark.compiled
@pytest.mark.parametrize("width", WIDTHS)
def test_longest_names_fit(yard, width):
    long = "a set-up of which somebody wrote down everything that there was to say about it"
    assert len(long) <= 80
    renamed = compare(yard(('"turntable"\npivot', f'"{long}"\npivot')), Path(), "yard.toml")
    text = printed(run_report(renamed, None), width)
    for word in long.split():
        assert word in text
    assert re.search(r"\d+ +[\d.]+ +[-+]\d+\.\d +[-+]\d+\.\d +\d+\.\d\d +\d+\.\d +\d+$", text, re.M)


@pytest.mark.compiled
@pytest.mark.parametrize(
    ("rung", "words"),
    [
        (Model.ROLLING_BICYCLE, "Model: rolling bicycle. A sum along the line, not a simulation in time: its energy ledger closes by "
         "construction."),
        (Model.SLIPPING_BICYCLE, "Model: slipping bicycle. Energy ledger: drive work and losses agree within # of the drive work."),
    ],
    ids=["rolling", "slipping"],
)  # fmt: skip
def test_run_report_names_the_model(yard, rung, words):
    text = masked(printed(run_report(compare(yard(), Path(), "yard.toml", rung), None), 120))
    assert words in text
    rolling = rung == Model.ROLLING_BICYCLE
    assert ("rubber dragged m" in text) != rolling  # nothing slips on that rung
    if rolling:
        assert "All set-ups need the same drive work here to within # %: on this course and on this rung of the ladder the " in text


@pytest.mark.compiled
def test_run_report_of_a_straight_and_of_a_loop(yard):
    straight = compare(yard((", {radius_m = 4, turn_deg = 90}, {straight_m = 4}", "")), Path(), "yard.toml")
    assert "open, driven once; no bends." in printed(run_report(straight, None), 120)
    round_it = "turn_deg = 180}, {straight_m = 8}, {radius_m = 4, turn_deg = 180}]\nclosed = true"
    loop = compare(yard(("turn_deg = 90}, {straight_m = 4}]", round_it)), Path(), "yard.toml")
    text = masked(printed(run_report(loop, None), 120))
    assert "closed, one flying lap after a run-in lap; tightest bend # m at # m." in text
    assert " % more drive work a lap than " in text


def test_a_ledger_that_does_not_close_is_told_first(comparison):
    first = comparison.results[0]
    leaking = replace(first, ledger=replace(first.ledger, air=first.ledger.air + 0.01 * first.ledger.drive_work))
    text = masked(printed(run_report(replace(comparison, results=(leaking, *comparison.results[1:])), None), 120))
    in_order(text, ["Warning: the energy ledger leaves # of the drive work unexplained; trust no small difference.", "set-up"])
    assert "Warning" not in printed(run_report(comparison, None), 120)


# --- the finding ------------------------------------------------------------------------------------------------------


@pytest.fixture
def found(comparison):
    """The finding of two set-ups: the second loses `more` joules more, to `cause`, where rolling takes `rolling`."""

    def say(more, cause="lateral", wheel=0, rolling=100.0, work=1000.0, closed=False):
        ledger = replace(comparison.results[0].ledger, drive_work=work, rolling=rolling)
        extra = np.zeros(4)
        extra[wheel] = more
        value = extra if cause in ("lateral", "longitudinal") else more
        worse = replace(ledger, drive_work=work + more, **{cause: getattr(ledger, cause) + value})
        one = replace(comparison.results[0], name="good", ledger=ledger)
        other = replace(comparison.results[0], name="bad", ledger=worse)
        course = replace(comparison.course, closed=closed)
        ideal, short, _ = comparison.scenario.setup
        named = (short.model_copy(update={"name": "bad"}), ideal.model_copy(update={"name": "good"}))
        scenario = comparison.scenario.model_copy(update={"setup": named})
        return finding(replace(comparison, scenario=scenario, results=(other, one), course=course))

    return say


CAUSES = [
    ("air", 0, "air drag"), ("rolling", 0, "rolling resistance"), ("brakes", 0, "brakes"), ("aligning", 0, "tyres twisting on the road"),
    ("lateral", 0, "front tyres slipping sideways"), ("lateral", 1, "front tyres slipping sideways"),
    ("lateral", 2, "rear tyres slipping sideways"), ("lateral", 3, "rear tyres slipping sideways"),
    ("longitudinal", 2, "tyres slipping lengthways"),
]  # fmt: skip


@pytest.mark.parametrize(("cause", "wheel", "words"), CAUSES)
def test_finding_names_the_cause(found, cause, wheel, words):
    start = '"bad" needs 5.0 % more drive work from start to finish than "good" (1050 J against 1000 J); most of the difference goes to '
    assert found(50.0, cause, wheel).startswith(f"{start}{words}.")


def test_finding_tells_small_from_large(found):
    work = 'To come as near as arms and rods can to "good" takes about a day, two arms and rods, and saves at most'
    assert found(9.9).endswith(
        f" That is small: as much as 9.9 % more rolling resistance. {work} 0.0027 Wh a run at the wheels "
        "(with the energy for 100 runs you then drive 100.99): "
        "less "
        "than the model can tell (1 % of the drive work), so for the race alone not worth the work. Look after tyre pressure first."
    )
    assert found(10.3, rolling=110.0).endswith(
        f" That is small: as much as 9.4 % more rolling resistance. {work} 0.0029 Wh a run at the wheels "
        "(with the energy for 100 runs you then drive 101.0): "
        "less "
        "than a soft tyre costs, so for the race alone not worth the work. Look after tyre pressure first."
    )
    assert found(11.0).endswith(
        f" That is as much as 11 % more rolling resistance. {work} 0.0031 Wh a run at the wheels "
        "(with the energy for 100 runs you then drive 101.1): "
        "worth the work if what you build comes near."
    )
    assert found(250.0, closed=True).startswith('"bad" needs 25 % more drive work a lap than "good" (1250 J against 1000 J); ')


def test_finding_shows_two_figures_apart(found):
    assert '"bad" needs 0.15 % more' in found(1.5)
    assert "(1001.5 J against 1000.0 J)" in found(1.5)
    assert "(100.12 J against 100.00 J)" in found(0.12, work=100.0)


def test_finding_without_rolling_resistance_compares_with_nothing(found):
    assert "most of the difference goes to front tyres slipping sideways. To come as near as" in found(50.0, rolling=0.0)


@pytest.mark.parametrize("more", [0.0, 1e-4])
def test_finding_of_equal_set_ups(found, more):
    assert found(more) == ("All set-ups need the same drive work here to within 0.05 %: on this course the steering makes no difference.")


def test_finding_of_one_and_of_none(comparison):
    done = comparison.results[0]
    stopped = comparison.results[1]
    assert not stopped.finished
    one = finding(replace(comparison, results=(done, stopped)))
    assert re.fullmatch(r'Only "ideal" gets round; \d+\.\d % of its drive work is dragged off its tyres\.', one)
    assert finding(replace(comparison, results=(done,))) == one.removeprefix("Only ")
    assert finding(replace(comparison, results=(stopped,))) == "No set-up gets round this course; the reasons stand below."
    text = printed(run_report(replace(comparison, results=(stopped,), reference=stopped), None), 120)
    assert "Ideal steering does not get round either, so no cost of the geometry can be given." in text
    assert "No lap was finished, so there is no energy ledger." in text
    assert "rubber dragged" not in text


# --- angles and corner ------------------------------------------------------------------------------------------------


@pytest.mark.compiled
@pytest.mark.parametrize("width", WIDTHS)
def test_angles_report(yard, width):
    scenario = yard()
    text = printed(angles_report(angles_result(scenario, entries_of(scenario, "yard.toml"), [4.0, 20.0, 85.0], 8.0, 3.0)), width)
    own, rest = "(hand wheel limit)", "turning circle # m kerb to kerb, # m wall to wall; kingpin offset # mm; steering ratio # to #"
    assumed = f"lock # deg left ({ASSUMED}), # deg right (assumed too); {rest}"
    head = "hand left right ideal inner error"
    in_order(masked(text), [
        "Yard: three ways Angles in degrees, positive to the left. The error is the inner wheel's angle less the ideal one for the outer.",
        f"ideal {assumed} {head} # # # # # # # # # #", "outer # deg: beyond the lock",
        f"short lock lock # deg left {own}, # deg right {own}; {rest} {head} # # # # #",
        "outer # deg: beyond the lock outer # deg: beyond the lock",
        f"turntable {assumed} {head} # # # # # # # # # #", "outer # deg: beyond the lock",
    ])  # fmt: skip


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("radius", [8.0, -8.0])
def test_corner_report(yard, width, radius):
    scenario = yard()
    text = printed(corner_report(corner_result(scenario, entries_of(scenario, "yard.toml"), radius, 3.0, True)), width)
    figures = "scrub # W, aligning # W, drive force # N, hand # deg, sideslip # deg"
    torque = "Hand torque: # N m with tyres that never give way (linear), # N m with tyres that give way as they slip (brush)."
    head = "steer slip load side drive slip wheel deg deg N force N force N loss W"
    wheels = " ".join(f"{wheel} # # # # # #" for wheel in ("front left", "front right", "rear left", "rear right"))
    ladder = "left wheel right wheel sideslip scrub rung of the ladder deg deg deg W"
    rungs = " ".join(f"{rung} # # # #" for rung in ("rolling bicycle", "slipping bicycle", "rolling four wheels", "slipping four wheels"))
    side = "left" if radius > 0 else "right"
    in_order(masked(text), [
        f"Steady turn to the {side}: radius # m at # m/s, # m/s# sideways.",
        f"ideal {figures} {torque} {head} {wheels} {ladder} {rungs}", "short lock There is no such turn: ",
        "slipping four wheels no such turn",
        f"turntable {figures} {torque} {head} {wheels} {ladder} {rungs}",
    ])  # fmt: skip


@pytest.mark.compiled
def test_better_arms_are_offered_where_the_steering_costs_something(yard):
    """A search was offered on a straight, on which no steering costs anything."""
    told = {}
    for key, changes in (("bends", [('linkage = "ideal"', 'linkage = "parallel"')]),
                         ("straight", [(", {radius_m = 4, turn_deg = 90}", "")])):  # fmt: skip
        told[key] = " ".join(printed(run_brief(compare(yard(*changes), Path(), "yard.toml"), Path("out")), 80).split())
    assert "`scrubwise search` finds better arms and rods." in told["bends"]
    assert "`scrubwise search`" not in told["straight"]
    assert "watch out`; the steering hardly costs anything here." in told["straight"]


def briefly(scenario, radius, speed, ladder=False):
    text = printed(corner_brief(corner_result(scenario, entries_of(scenario, "yard.toml"), radius, speed, ladder), car_of(scenario)), 80)
    return " ".join(text.split())


def test_a_steady_turn_begins_with_what_it_finds(yard):
    told = briefly(yard(), 8.0, 3.0)
    assert "m/s2 sideways. 2 of 3 set-ups can drive this turn. They need the same drive force, " in told
    assert '"short lock": there is no such turn: ' in told
    assert "front left" not in told
    assert "Warning" not in told
    parallel = briefly(yard(('linkage = "ideal"', 'linkage = "parallel"')), -3.0, 3.0)
    most, percent, least = re.search(r'"ideal" needs most drive force: ([\d.]+) N, ([\d.]+) % more than "turntable" with ([\d.]+) N\.',
                                     parallel).groups()  # fmt: skip
    assert float(percent) == pytest.approx(100 * (float(most) / float(least) - 1), rel=0, abs=0.06 * 100 / float(least) + 0.5)


def test_a_steady_turn_warns_as_a_run_does(yard):
    """Slips beyond what the linear law is meant for stood in the table without a word."""
    told = briefly(yard(), 8.0, 7.5)
    slip, limit = re.search(r"Warning: tyres slip up to ([\d.]+) degrees .* Beyond about ([\d.]+) degrees the linear law", told).groups()
    assert float(slip) > float(limit)


def test_a_car_that_spins_by_itself_is_told_in_a_steady_turn(yard):
    scenario = yard()
    car = car_of(scenario)
    soft = car._replace(rear_tyre=car.rear_tyre._replace(cornering_stiffness=4.0))
    result = corner_result(scenario, entries_of(scenario, "yard.toml"), 8.0, 3.0, False)
    critical = characteristic_speed(soft)
    for speed, warned in ((0.99 * critical, False), (1.01 * critical, True)):
        told = " ".join(warnings(replace(result, speed_m_per_s=speed), soft))
        assert (f"from {critical:.1f} m/s on such a car spins by itself" in told) == warned
        assert "spins" not in " ".join(warnings(replace(result, speed_m_per_s=speed), car))


def test_no_figure_is_a_negative_zero(yard):
    scenario = yard()
    entries = entries_of(scenario, "yard.toml")
    for report in (angles_report(angles_result(scenario, entries, None, 8.0, 3.0)),
                   corner_report(corner_result(scenario, entries, -8.0, 3.0, True))):  # fmt: skip
        assert not re.search(r"-0(\.0+)?(?![\d.])", printed(report, 120))
