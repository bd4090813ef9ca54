"""A run in five plain answers, places that are shared, and legends of what is drawn."""

import re
from dataclasses import replace
from html import unescape
from pathlib import Path
from random import Random

import pytest

from sim.judgements import TELL_APART
from sim.scenario.file import find_scenario, load_scenario
from sim.study.compare import compare
from viz.cli.shell import isolated_names
from viz.report.classroom import class_pages, places_of, predict
from viz.report.page import steerings_of
from viz.report.short import driven, five_answers, is_yardstick, wanted_angles
from viz.report.words import all_along, legend_words, pair_lines, pair_of, to_do_lines, toe_words
from viz.shared.dangers import needs_stop
from viz.shared.effort import lasts
from viz.shared.rounding import shown_less, tenths

YARD = (Path(__file__).parents[1] / "scenarios" / "yard.toml").read_text(encoding="utf-8")
YARD_HEAD = re.compile(r"radius_m = 4, turn_deg = 90")
ARMS = "arm_length_mm = 110\narm_angle_deg = 14"
QUESTIONS = ["Which steering?", "How much?", "Why?", "How sure?", "What now?"]


@pytest.fixture(scope="module")
def bend_pair(bend_run):
    return pair_of(bend_run, steerings_of(bend_run))


def test_five_questions_are_answered(bend_run, bend_pair, bend_page):
    told = dict(five_answers(bend_run, bend_pair))
    assert list(told) == QUESTIONS
    assert told["Which steering?"].startswith("No set-up here that gets round is made of arms and rods")
    assert 'does not matter whether yours steer like "ideal" or like "parallel"' in told["Which steering?"]
    assert '"ideal" and "parallel" are yardsticks' in told["Which steering?"]
    assert '"turntable axle" is not meant' in told["Which steering?"]
    works = [one.work for one in driven(bend_run)]
    assert f"{tenths(min(works))} to {tenths(max(works))} J" in told["How much?"]
    assert f"{tenths(shown_less(max(works), min(works)))} J" in told["How much?"]
    assert "too little" in told["Why?"]
    assert "too small to count" in told["How sure?"]
    assert "Leave the steering as it is" in told["What now?"]
    assert all(f"<dt>{question}</dt>" in bend_page for question in QUESTIONS)


@pytest.mark.compiled
def test_a_difference_that_counts_is_acted_on(compared_of, yard):
    toed = compared_of(yard, ('linkage = "ideal"', 'linkage = "parallel"\ntoe_in_deg = 3.0'), ("hand_wheel_limit_deg = 10", ""))
    works = [one.work for one in driven(toed)]
    assert max(works) > (1 + TELL_APART) * min(works)
    told = dict(five_answers(toed, pair_of(toed, steerings_of(toed))))
    assert list(told) == QUESTIONS
    assert "is larger" in told["How sure?"]
    assert "re-set the rods" in told["What now?"]


def test_nobody_gets_round(bend_run):
    lost = replace(bend_run, results=tuple(replace(one, ledger=None, reason="leaves the line") for one in bend_run.results))
    told = dict(five_answers(lost, None))
    assert list(told) == QUESTIONS
    assert told["Which steering?"] == "None of these gets round this course."
    assert '"parallel" leaves the line.' in told["Why?"]


@pytest.mark.compiled
def test_one_alone_gets_round(compared_of, yard):
    alone = compared_of(yard, ('name = "ideal"', 'name = "best"'), ('linkage = "ideal"', f'linkage = "cross rod"\n{ARMS}'),
                        ('pivot = "turntable"', 'pivot = "stub axles"\nlinkage = "parallel"\nhand_wheel_limit_deg = 5'))  # fmt: skip
    assert [one.result.name for one in driven(alone)] == ["best"]
    told = dict(five_answers(alone, pair_of(alone, steerings_of(alone))))
    assert list(told) == QUESTIONS
    assert told["Which steering?"] == '"best": it is the only one here that gets round.'
    assert tenths(driven(alone)[0].work) in told["How much?"]
    assert "that between" not in told["How sure?"]


@pytest.mark.compiled
def test_parallel_wheels_name_nothing_to_build(compared_of, yard):
    """As ideal steering and its shares: one rule for the answers, for what to do and for the class."""
    rods = f'pivot = "stub axles"\nlinkage = "cross rod"\n{ARMS}'
    both = compared_of(yard, ("hand_wheel_limit_deg = 10", ""), ('pivot = "turntable"', rods))
    told = dict(five_answers(both, None))
    assert told["Which steering?"].startswith('"turntable"')
    assert "it alone of those here that get round can be built of arms and rods" in told["Which steering?"]
    assert '"ideal" and "short lock" are yardsticks' in told["Which steering?"]
    assert 'What is built only comes near "ideal".' in told["Which steering?"]
    assert any('"turntable" needs least' in line for line in to_do_lines(both))
    handout = class_pages(both)[0]
    assert "parallel: both front wheels turn by the same angle (a yardstick: it names no rods)" in handout


NAMED = re.compile('"([^"]+)"')
LINKAGES = (
    'linkage = "ideal"', 'linkage = "parallel"', 'linkage = "fraction"\nfraction = {share:.2f}',
    'linkage = "cross rod"\narm_length_mm = {length:.0f}\narm_angle_deg = {angle:.1f}', "",
)  # fmt: skip


def drawn(dice):
    """The text of a lawful scenario, drawn."""
    head = YARD_HEAD.sub(lambda _: f"radius_m = {dice.uniform(3.0, 15.0):.1f}, turn_deg = {dice.choice((-120, -60, 45, 90))}", YARD)
    head = head.replace("target_m_per_s = 3.0", f"target_m_per_s = {dice.uniform(1.5, 6.0):.1f}").partition("[[setup]]")[0]
    for number in range(dice.randint(1, 5)):
        kind = dice.choice(LINKAGES).format(share=dice.uniform(-0.5, 1.5), length=dice.uniform(80, 180), angle=dice.uniform(5, 25))
        toe = f"toe_in_deg = {dice.choice((0.0, 0.0, 0.5, 2.0))}\n" if kind else ""
        limit = f"hand_wheel_limit_deg = {dice.choice((4, 40, 40, 40)) if number else 40}\n"
        head += f'[[setup]]\nname = "car {number}"\npivot = "{"stub axles" if kind else "turntable"}"\n{kind}\n{toe}{limit}'
    return head


@pytest.mark.compiled
@pytest.mark.parametrize("seed", [*range(10), *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(10, 30))])
def test_answers_of_drawn_scenarios_agree_with_their_tables(compared_of, seed):
    run = compared_of(drawn(Random(seed)))
    answers = five_answers(run, pair_of(run, steerings_of(run)))
    told, works = dict(answers), {one.name: one.ledger.drive_work for one in run.results if one.ledger is not None}
    assert list(told) == QUESTIONS
    assert all(text.strip() and "nan" not in text and "None " not in text.replace("None of", "") for text in told.values())
    if not works:
        assert told["Which steering?"].startswith("None of these gets round")
        return
    rods = {setup.name for setup in run.scenario.setup if setup.linkage == "cross rod"}
    tables = {setup.name for setup in run.scenario.setup if setup.pivot == "turntable"}
    built = {name: work for name, work in works.items() if name in rods}
    angles = {name: work for name, work in works.items() if name not in rods | tables}
    first = told["Which steering?"]
    best = min(built or works, key=lambda name: works[name])
    if built:
        level = {name for name, work in built.items() if work <= works[best] * (1 + TELL_APART)}
        assert set(NAMED.findall(first)) & rods == level
    elif len(works) > 1:
        assert "is made of arms and rods, so there is none" in first
        level = {name for name, work in angles.items() if work <= min(angles.values()) * (1 + TELL_APART)}
        assert set(NAMED.findall(wanted_angles([one for one in driven(run) if is_yardstick(one.kind)]))) == level
    low, high = min(works.values()), max(works.values())
    assert tenths(low) in told["How much?"]
    if len(works) > 1:
        assert tenths(high) in told["How much?"]
        assert ("is larger" in told["How sure?"]) == (high >= (1 + TELL_APART) * low)


def test_places_below_the_doubt_are_shared(bend_run):
    done = driven(bend_run)
    assert set(places_of(done).values()) == {1}  # they differ by 0.84 %
    assert any("all share one place" in line for line in predict(bend_run, list(bend_run.results), None).answers)
    apart = [done[0], done[1]._replace(ledger=replace(done[1].ledger, drive_work=2 * done[0].work))]
    assert list(places_of(apart).values()) == [1, 2]


def test_a_class_hears_that_ideal_is_a_yardstick(bend_run):
    for page in class_pages(bend_run):
        assert '"ideal" and "parallel" are yardsticks' in re.sub("<[^>]+>", "", unescape(page))
    assert "Would you rebuild" not in class_pages(bend_run)[0]


def test_a_legend_names_what_is_drawn(bend_pair):
    assert "blue line" in legend_words(bend_pair)
    straight = replace(bend_pair, better=replace(bend_pair.better, crossings=None), worse=replace(bend_pair.worse, crossings=None))
    assert "line" not in legend_words(straight)
    far = replace(straight, worse=replace(straight.worse, crossings=(30.0, 40.0)))
    assert "orange" not in legend_words(far)


def test_toe_is_told_for_each_wheel(bend_pair):
    import numpy as np

    assert "(1.0 degrees of toe-in on each wheel)" in toe_words(replace(bend_pair.worse, steer=np.radians([-1.0, 1.0, 0.0, 0.0])))


@pytest.mark.parametrize(("more", "text"), [(0.84, "100.84"), (130, "230"), (4.4, "104.4"), (0.0, "100")])
def test_how_far_the_energy_of_a_hundred_laps_goes(more, text):
    assert lasts(more) == text


def test_a_name_from_right_to_left_is_kept_to_itself_in_the_terminal(from_right):
    name = "\u05d0\u05d1 \u05d2"
    assert isolated_names(f"1  {name}  20.0") == f"1  \u2068{name}\u2069  20.0"
    assert isolated_names("Kestrels  20.0") == "Kestrels  20.0"


@pytest.mark.compiled
def test_toe_is_told_as_toe_and_not_as_a_bend(compared_of, yard):
    """Who reads that toe makes tyres slip "to go round" changes the arms; it drags on straights too."""
    text = (
        yard
        + """
[[setup]]
name = "toed"
pivot = "stub axles"
linkage = "ideal"
toe_in_deg = 1.5
"""
    )
    run = compared_of(text)
    toed = next(one for one in run.results if one.name == "toed")
    assert toed.toe_cost > 0.9 * toed.geometry_cost > 0
    told = dict(five_answers(run, pair_of(run, steerings_of(run))))
    assert '"toed": its front wheels do not point the same way' in told["Why?"]
    assert "on straights too" in told["Why?"]
    assert "to go round" not in told["Why?"].split("Even ideal")[0]
    assert '"toed"' not in told["Which steering?"].split("only comes near")[-1]
    assert any("on straights too" in line for line in pair_lines(pair_of(run, steerings_of(run))))
    # Without toe, or with so little that arms cost more, the bend is told.
    assert all_along(run.results[0]) == ""


@pytest.mark.slow
def test_a_race_is_told_in_laps_and_a_missing_stop_before_driving():
    path = find_scenario("race-day")
    run = compare(load_scenario(path, "race-day"), path.parent, "race-day")
    told = dict(five_answers(run, None))
    laps = sorted((one.race.laps, one.race.distance) for one in run.results if one.race)
    assert f"{laps[-1][0]:.1f} laps ({laps[-1][1] / 1000:.2f} km)" in told["How much?"]
    assert f"{laps[0][0]:.1f} ({laps[0][1] / 1000:.2f} km)" in told["How much?"]
    assert ("fit a stop" in told["What now?"]) == any(one.dangers is not None and needs_stop(one.dangers) for one in run.results)
