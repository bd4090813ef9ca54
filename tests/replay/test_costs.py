"""The reference, the order and the telling bend, against plain sums over the traces."""

import csv
import json
import os
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from viz.replay.costs import LEAST_PLACE, bends_of, by_cost, joules, numbered_places, opening_pair, reference_of, slight, story_bend
from viz.replay.story import finding_of, story_of, verdict_of

IDEAL, PARALLEL, KINKED, TURNTABLE = range(4)


def plain_sum(folder, number, begin, end):
    """Power times time of every row of a trace file between two stations [J]."""
    (file,) = folder.glob(f"trace-{number:02d}-*.csv")
    total = 0.0
    with open(file, encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    for one, after in pairwise(rows):
        if begin <= float(one["station_m"]) < end:
            power = sum(float(value) for key, value in one.items() if key.startswith("slip_loss_W_"))
            total += power * (float(after["time_s"]) - float(one["time_s"]))
    return total


def test_the_story_is_of_the_bend_that_differs_most_by_a_plain_sum(car_park, car_park_run):
    """Two half circles, of which the second crosses the line: its piece at the lap's end is a little shorter, and costs less."""
    bends = bends_of(car_park)
    assert len(bends) == 3
    assert [bend.number for bend in bends] == [2, 1, 2]
    assert all(bend.turns_left for bend in bends)
    for other in (PARALLEL, KINKED):
        sums = [plain_sum(car_park_run, other + 1, *bend[1:3]) - plain_sum(car_park_run, IDEAL + 1, *bend[1:3]) for bend in bends]
        told = [joules(car_park.drives[other], *bend[1:3]) - joules(car_park.drives[IDEAL], *bend[1:3]) for bend in bends]
        assert told == pytest.approx(sums, rel=0.02, abs=1.5)  # a rectangle's sum may err by one row at each end
        assert story_bend(car_park, [IDEAL, other]) == bends[int(np.argmax(np.abs(sums)))]


def test_a_bend_of_more_joules_wins_against_one_of_more_watts(replay):
    """Power of 100 W over a metre is less than 20 W over ten."""
    one, flat = replay.drives[PARALLEL], replay.drives[IDEAL]
    course = replay.course
    curvature = np.where((course.station < 5) | ((course.station > 10) & (course.station < 20)), 0.25, 0.0)
    power = np.zeros_like(one.power)
    power[:, 0] = np.where(one.station < 1, 100.0, np.where((one.station > 10) & (one.station < 20), 20.0, 0.0))
    work = np.concatenate([[0.0], np.cumsum(0.5 * (power[1:, 0] + power[:-1, 0]) * np.diff(one.time))])
    drives = (replace(flat, power=0 * flat.power, work=0 * flat.work), replace(one, power=power, work=work))
    made = replace(replay, course=replace(course, curvature=curvature), drives=drives)
    bend = story_bend(made, [0, 1])
    assert 9.5 < bend.begin < 10.5
    assert 19.5 < bend.end < 20.6


def test_a_course_without_a_bend_is_told_about_its_telling_place(replay):
    made = replace(replay, course=replace(replay.course, curvature=0 * replay.course.curvature))
    (bend,) = bends_of(made)
    assert bend.number == 0
    assert 0 <= bend.begin < bend.end <= replay.course.length
    assert story_of(made, [0, 1], made.drives[0]).scenes[0].words.startswith("No bend on this course")


def test_the_pair_is_the_reference_and_the_costliest(car_park):
    assert reference_of(car_park) == IDEAL
    assert by_cost(car_park)[:2] == [PARALLEL, KINKED]
    assert opening_pair(car_park) == [IDEAL, PARALLEL]
    assert opening_pair(car_park, [TURNTABLE, KINKED, IDEAL]) == [TURNTABLE, KINKED]
    assert opening_pair(car_park, [KINKED]) == [KINKED]


def test_without_ideal_steering_the_least_loss_is_the_reference(car_park):
    scenario = car_park.scenario.model_copy(update={"setup": car_park.scenario.setup[1:3]})
    made = replace(car_park, scenario=scenario, drives=car_park.drives[1:3])
    assert reference_of(made) == 1
    assert opening_pair(made) == [1, 0]


def test_one_that_did_not_finish_is_no_reference_and_comes_last(car_park):
    cut = replace(car_park.drives[IDEAL], reason="tips over")
    made = replace(car_park, drives=(cut, *car_park.drives[1:]))
    assert reference_of(made) != IDEAL
    assert by_cost(made)[-1] == IDEAL


@pytest.mark.parametrize("damage", [None, "no file", "no last", "not json", "too deep", "another team", "pipe"])
def test_of_a_contest_the_winner_and_the_last(replay, tmp_path, damage):
    names = [one.name for one in replay.drives]
    entries = [{"team": names[2], "replayed": "winner"}, {"team": names[1], "replayed": "last"}, {"team": "x", "replayed": None}]
    if damage == "no last":
        entries.pop(1)
    if damage == "another team":
        entries[1]["team"] = "nobody"
    text = {"not json": "{", "too deep": "[" * 100_000}.get(damage, json.dumps({"entries": entries}))
    (tmp_path / "pages").mkdir()
    if damage == "pipe":
        if not hasattr(os, "mkfifo"):
            pytest.skip("pipes are files on POSIX systems")
        os.mkfifo(tmp_path / "pages/results.json")
    elif damage != "no file":
        (tmp_path / "pages/results.json").write_text(text, encoding="utf-8")
    made = replace(replay, folder=tmp_path)
    assert opening_pair(made) == ([2, 1] if damage is None else [IDEAL, by_cost(replay)[0]])


def test_what_tells_nothing_is_a_hundredth_of_the_drive_power(car_park):
    """One per cent of the summary's drive work over the lap's time."""
    told = json.loads((car_park.folder / "summary.json").read_text(encoding="utf-8"))["setups"][IDEAL]
    assert slight(car_park) == pytest.approx(0.01 * told["drive_work_J"] / told["lap_time_s"], rel=2e-3, abs=0)
    drives = tuple(replace(one, drive_work=float("nan")) for one in car_park.drives)
    unknown = replace(car_park, drives=drives)
    assert 0 < slight(unknown) < slight(car_park)  # the rolling resistance alone is less


def test_the_finding_says_where_it_hardly_matters(car_park):
    found = finding_of(car_park, [IDEAL, PARALLEL])
    assert found == 'In a lap "parallel" needs 493\u00a0J (128\u00a0%) more drive work than "ideal": this matters.'
    slightly = replace(car_park.drives[PARALLEL], drive_work=1.007 * car_park.drives[IDEAL].drive_work)
    made = replace(car_park, drives=(car_park.drives[IDEAL], slightly, *car_park.drives[2:]))
    assert finding_of(made, [IDEAL, PARALLEL]).endswith(": hardly matters.")
    for pair, told in (([IDEAL, PARALLEL], ("parallel", "more", "ideal")), ([PARALLEL, IDEAL], ("ideal", "less", "parallel"))):
        one, more, other = told
        words = f'In a lap "{one}" needs 2.7\u00a0J (0.70\u00a0%) {more} drive work than "{other}": hardly matters'
        assert verdict_of(made, pair) == words
    assert f"{verdict_of(car_park, [IDEAL, PARALLEL])}." == found  # banner and board have one figure
    alone = 'In a lap "parallel" needs 493\u00a0J (128\u00a0%) more drive work than ideal: this matters'
    assert verdict_of(car_park, [PARALLEL]) == alone
    assert verdict_of(car_park, [IDEAL, PARALLEL], brief=True) == "In a lap they differ by 493\u00a0J (128\u00a0%): this matters"
    once = replace(car_park, course=replace(car_park.course, closed=False))
    assert verdict_of(once, [PARALLEL]) == alone.replace("In a lap", "From start to finish")
    assert verdict_of(car_park, [IDEAL]) == ""
    same = replace(car_park.drives[PARALLEL], drive_work=car_park.drives[IDEAL].drive_work)
    alike = replace(car_park, drives=(car_park.drives[IDEAL], same, *car_park.drives[2:]))
    assert verdict_of(alike, [IDEAL, PARALLEL]) == "In a lap both need the same drive work"
    assert verdict_of(alike, [PARALLEL]) == 'In a lap "parallel" needs the drive work of ideal'
    unknown = replace(car_park.drives[PARALLEL], drive_work=float("nan"))
    untold = replace(car_park, drives=(car_park.drives[IDEAL], unknown))
    assert finding_of(untold, [IDEAL, PARALLEL]) == 'In a lap "parallel" rubs away 492\u00a0J more than "ideal".'
    cut = replace(car_park, drives=(car_park.drives[IDEAL], replace(slightly, reason="tips over at 14.2 s")))
    assert verdict_of(cut, [IDEAL, PARALLEL]) == ""
    assert finding_of(cut, [IDEAL, PARALLEL]) == '"parallel" does not get round: tips over at 14.2 s.'


def test_a_cost_that_lies_on_the_straights_is_told_as_that(car_park):
    one = car_park.drives[PARALLEL]
    even = replace(one, work=np.linspace(0.0, 500.0, len(one.time)))
    made = replace(car_park, drives=(car_park.drives[IDEAL], even, *car_park.drives[2:]))
    bends = bends_of(car_park)
    outside = 1 - sum(bend.end - bend.begin for bend in bends) / car_park.course.length
    assert outside < 0.5  # this course bends more than not, so an even cost lies in its bends
    assert "outside the bends" not in finding_of(made, [IDEAL, PARALLEL])
    straight = replace(car_park.course, curvature=np.where(car_park.course.station < 10, car_park.course.curvature, 0.0))
    assert "Most of what it rubs away more lies outside the bends." in finding_of(replace(made, course=straight), [IDEAL, PARALLEL])


@pytest.mark.parametrize("pair", [[IDEAL, PARALLEL], [KINKED, TURNTABLE], [PARALLEL], [IDEAL]])
def test_the_scenes_of_the_story(car_park, pair):
    lead = car_park.drives[pair[0]]
    story = story_of(car_park, pair, lead)
    bend = story_bend(car_park, pair)
    assert 20 <= story.seconds <= 30
    assert [one.name for one in story.scenes] == ["approach", "lines appear", "meet or miss", "dragged", "cost so far", "finding"]
    still = {one.name for one in story.scenes if one.begin == one.end}
    assert still == {"lines appear", "meet or miss", "cost so far", "finding"}
    dragged = story.scenes[3]
    assert (dragged.end - dragged.begin) / dragged.seconds == pytest.approx(0.2, rel=0, abs=1e-9)
    for one in story.scenes[1:4]:
        station = np.interp([one.begin, one.end], lead.time, lead.station)
        assert (station > bend.begin - 1).all()
        assert (station < bend.end + 1).all()
    begin, end = np.interp(story.stretch, lead.time, lead.station)
    assert begin < bend.begin
    assert end == pytest.approx(bend.end, rel=0, abs=1e-9)  # the finding does not stay on the straight beyond
    lasts = story.stretch[1] - story.stretch[0]
    assert story.clock_at(story.seconds + 0.3) == pytest.approx(story.stretch[0] + 0.3, rel=0, abs=1e-9)
    assert story.clock_at(story.seconds + lasts + 0.3) == pytest.approx(story.stretch[0] + 0.3, rel=0, abs=1e-6)


def test_a_place_next_to_zero_has_no_number(car_park):
    """Places 3 to 5 of a long lap lay where the strip's curve is nearly zero."""
    bend, other = 10.0, 30.0  # [m] places along the lap at which the second set-up's power has a top
    drive = car_park.drives[0]

    def topped(second):
        power = np.zeros_like(drive.power)
        power[:, 0] = 100 * np.exp(-((drive.station - bend) ** 2)) + second * np.exp(-((drive.station - other) ** 2))
        return replace(car_park, drives=(replace(drive, power=np.zeros_like(power)), replace(drive, power=power)))

    for second, numbered in ((150 * LEAST_PLACE, True), (50 * LEAST_PLACE, False)):
        places = numbered_places(topped(second), [0, 1])[1:]  # place 1 is chosen by joules
        assert any(abs(station - bend) < 0.1 for station, _ in places)
        assert any(abs(station - other) < 0.1 for station, _ in places) == numbered
