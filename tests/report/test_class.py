"""What the handout for a class tells of its set-ups and its rubber, and what the answers say of it."""

import re
from dataclasses import replace
from html import unescape

import numpy as np
import pytest

from sim.linkages.catalogue import KINDS
from sim.study.dangers import NO_DANGERS
from viz.report.again import undriven
from viz.report.chosen import chosen_words
from viz.report.classroom import apart_line, class_pages, parallel_lines, predict
from viz.report.dragged import dearer_words, furthest_lines, rubber_cells
from viz.report.page import steerings_of
from viz.report.short import driven
from viz.report.words import pair_of
from viz.shared.runs import CONTEST_PAGES, CONTEST_RESULTS


@pytest.fixture(scope="module")
def pair(bend_run):
    return pair_of(bend_run, steerings_of(bend_run))


@pytest.fixture(scope="module")
def handout(bend_run):
    return class_pages(bend_run)[0]


def with_ledger(one, **changed):
    return one._replace(ledger=replace(one.ledger, **changed))


def rows_of(page, table):
    """The cells of each row of the table that begins so."""
    body = page[page.index(table) :].partition("<tbody>")[2].partition("</tbody>")[0]
    return [re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row) for row in body.split("</tr>") if "<td" in row]


def test_rubber_is_the_rounded_sum_on_every_sheet(bend_run, bend_page, handout):
    """Sheets of one run differed by a hundredth where one of them added up what was rounded."""
    rub = np.array([0.344, 0.344, 0.344, 0.344])
    assert rubber_cells(replace(bend_run.results[0].ledger, rub=rub)) == [*["0.34"] * 4, "1.38"]
    shown, handed = rows_of(bend_page, '<th scope="col">lost J'), rows_of(handout, 'class="needed"')
    for one, page_row, handout_row in zip(bend_run.results, shown, handed, strict=True):
        assert page_row[-1] == handout_row[-1] == f"{one.ledger.rub.sum():.2f}"
    assert "add up to a hundredth or two more or less" in bend_page
    assert "add up to a hundredth or two more or less" in handout


def test_the_parts_of_the_handouts_table_reach_the_whole(handout):
    rows = rows_of(handout, 'class="needed"')
    assert len(rows) == 3
    for _, work, *parts in rows:
        joules = [float(one.removesuffix(" J")) for one in (work, *parts[:3])]
        assert sum(joules[1:]) == pytest.approx(joules[0], rel=0, abs=1e-9)


def test_less_rubber_that_costs_more_is_explained(bend_run, bend_page):
    done = driven(bend_run)
    told = dearer_words(done)
    assert '"parallel" drags less rubber than "ideal"' in told
    assert "the same slide under more side force costs more" in told
    assert told in predict(bend_run, list(bend_run.results), None).answers
    assert "the same slide under more side force costs more" in bend_page
    assert dearer_words(done[:1]) == ""
    assert dearer_words([done[0], with_ledger(done[1], rub=2 * done[0].ledger.rub)]) == ""


@pytest.mark.parametrize(
    ("share", "nearest"),
    [
        (0.0, "less than a tenth of a per cent"), (0.0002, "less than a tenth of a per cent"), (0.002, "a tenth of a per cent is nearest"),
        (0.0084, "one per cent is nearest"), (0.05, "ten per cent is nearest"),
        (0.2, "ten per cent is nearest"), (1.3, "more than ten per cent"),
    ],
)  # fmt: skip
def test_how_far_apart_is_answered_as_it_is_asked(bend_run, share, nearest):
    one = driven(bend_run)[0]
    assert apart_line([one, with_ledger(one, drive_work=one.work * (1 + share))]).endswith(f": {nearest}.")


def test_why_that_wheel(bend_run, pair):
    ideal, parallel, _ = driven(bend_run)
    first, place = furthest_lines([parallel], bend_run, pair)
    assert first.startswith('Of "parallel" the front right wheel is dragged furthest: 0.43 m.')
    assert "the slip with which every tyre pushes the car round" in first
    assert "it is the same wheel that tells the cars apart most" in place
    assert "That is as far as with ideal steering" in furthest_lines([ideal], bend_run, pair)[0]
    steered = with_ledger(parallel, rub=parallel.ledger.rub * [1, 3, 1, 1])
    assert "at another angle than the one at which it would roll" in furthest_lines([steered], bend_run, pair)[0]
    left = with_ledger(parallel, rub=parallel.ledger.rub * [9, 1, 1, 1])
    assert "the front right wheel tells the cars apart most" in furthest_lines([left], bend_run, pair)[1]
    assert furthest_lines([left], bend_run, None)[1] == "That is summed over the whole course."


def test_wheels_that_nearly_stand_parallel_are_told_apart(pair):
    """A wide bend's table gave both front wheels one figure, and the answer was that they do not stand parallel."""
    wide = replace(pair.better, steer=np.radians([-2.26, -2.30, 0.0, 0.0]), error=0.0)
    other = replace(pair.worse, steer=np.radians([-3.2, -1.2, 0.0, 0.0]))
    lines = parallel_lines(replace(pair, better=wide, worse=other))
    assert lines[0] == (
        '"ideal": its front wheels do not stand parallel: 0.04 degrees lie between them, too little to be seen, but no less than so wide a '
        "bend asks for."
    )
    assert "2.00 degrees lie between them." in lines[1]
    same = replace(wide, steer=np.zeros(4))
    assert parallel_lines(replace(pair, better=same, worse=same))[0] == '"ideal": its front wheels stand parallel.'


def test_set_ups_of_one_kind_are_told_apart(compared_of, yard):
    text = yard.partition("[[setup]]")[0]
    rods = '"cross rod"\narm_length_mm = {}\narm_angle_deg = {}'
    kinds = ['"ideal"', '"ideal"\ntoe_in_deg = 1.0', rods.format(110, 14), rods.format(120, 14), '"parallel"', '"fraction"\nfraction = 0.5']
    for index, keys in enumerate(kinds):
        text += f'[[setup]]\nname = "car {index}"\npivot = "stub axles"\nlinkage = {keys}\n'
    told = chosen_words(compared_of(text).scenario.setup)
    assert told[0] == "ideal: each front wheel always points the way it rolls (a yardstick: no rods make it exactly); no toe"
    assert told[1].endswith("(a yardstick: no rods make it exactly); toe-in 1°")
    assert told[2:4] == ["cross rod; arm length 110 mm, kink of the arms 14°", "cross rod; arm length 120 mm, kink of the arms 14°"]
    assert told[5].endswith("; share of ideal 0.5")
    assert len(set(told)) == 6


def test_a_set_up_alone_needs_no_numbers_but_its_kink(bend_run):
    assert chosen_words(bend_run.scenario.setup)[2].startswith("turntable (the whole axle swings")
    assert {setup.kind.name for setup in bend_run.scenario.setup} < set(KINDS) | {"turntable"}
    assert all(";" not in one for one in chosen_words(bend_run.scenario.setup))


def test_cars_of_a_contest_without_a_lap_are_counted(bend_run, handout, tmp_path):
    assert undriven(tmp_path) == 0
    pages = tmp_path / CONTEST_PAGES
    pages.mkdir()
    for text, count in (
        ('{"entries": [{"replayed": "winner"}, {"replayed": null}, {"replayed": null}]}', 2),
        ("[", 0),
        ("[]", 0),
        ("{}", 0),
    ):
        (pages / CONTEST_RESULTS).write_text(text, encoding="utf-8")
        assert undriven(tmp_path) == count
    assert "2 more cars of the contest are left out here" in class_pages(bend_run, 2)[0]
    assert "of the contest" not in handout


def test_who_picks_a_steering_that_can_snap_over_is_told(bend_run):
    """The answers said "take the easiest to build" of steerings that a run's page warns of, and neither sheet spoke of a stop."""
    one, *others = bend_run.results
    snaps = replace(NO_DANGERS, dead_centre_left_deg=55.0, dead_centre_left_arm="left", stop_left_deg=50.0, danger_left_deg=50.0)
    for dangers, told in ((snaps, True), (None, False)):
        run = replace(bend_run, results=(replace(one, dangers=dangers), *others))
        handout, answers = class_pages(run)
        assert ("some of these snap over without a stop" in plain_text(handout)) == told
        assert ("fit a stop before the hand wheel passes 50.0 deg left" in plain_text(answers)) == told


def plain_text(page):
    """A page's words, without marks."""
    return unescape(re.sub(r"<[^>]+>", "", page))
