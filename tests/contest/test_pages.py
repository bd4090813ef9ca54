"""What a contest prints and writes: words, the class's page, a sheet for each team, and a folder that can be replayed."""

import csv
import re
from dataclasses import replace
from html.parser import HTMLParser
from io import StringIO
from itertools import combinations
from string import Formatter

import pytest
from pytest import approx  # noqa: PT013  read as a word of the comparison
from rich.console import Console

import viz.contest.report
from sim.contest.entries import read_entries
from sim.contest.results import NO_FIGURES, Kind, Misspelt, NameRemark, Refused, Role
from sim.contest.rules import SCORES, read_rules
from sim.contest.run import MOST_REPLAYED, contest_result
from sim.errors import InputError
from sim.scenario.file import load_scenario, shipped_folder
from sim.store.run_folder import MARKER, check_target
from sim.study.dangers import NO_DANGERS
from viz.cli.shell import print_report
from viz.contest.brief import contest_brief
from viz.contest.excess_plot import excess_figure, excess_parts
from viz.contest.figures import beyond_ideal, beyond_words, called, score_less, score_words
from viz.contest.report import contest_pages, contest_report, sheet_name, write_contest
from viz.contest.why import causes, why
from viz.contest.words import (
    FILL_IN,
    READ_AGAIN,
    RULE_WORDS,
    WRITE_AGAIN,
    class_safety_words,
    finding,
    question_for,
    reasons,
    safety_words,
    sheet_lines,
)  # fmt: skip
from viz.replay.run_data import read_run
from viz.shared.brief import MOST_LINES, height
from viz.shared.html import isolated
from viz.shared.runs import CONTEST_PAGES
from viz.shared.spans import bar_spans

VOID = {"meta", "br"}
RULES = (shipped_folder() / "class-contest" / "rules.toml").read_text(encoding="utf-8")
BEND = "segments = [{straight_m = 6}, {radius_m = 4, turn_deg = 90}, {straight_m = 4}]\n\n"
SHORT = RULES.replace(RULES[RULES.index("closed = true") : RULES.index("[pace]")], BEND)
DEMANDED = SHORT[SHORT.index("[demanded]") : SHORT.index("[score]")]
SHORT = SHORT.replace(DEMANDED, "")  # so that the turntable drives
ARMS = '[setup]\npivot = "stub axles"\nlinkage = "cross rod"\narm_length_mm = 110\narm_angle_deg = '
WILD = '<script>alert("&")</script>'
ENTRIES = {
    "a.toml": f"team = 'A{WILD}'\n{ARMS}20\nname = '{WILD}'\n",
    "b.toml": f'team = "Straight"\n{ARMS}0\n',
    "c.toml": 'team = "Wagon"\n[setup]\npivot = "turntable"\n',
    "<b>.toml": '"=1+1" = 2\nteam = "-1"',
}


class Page(HTMLParser):
    """A page's elements; raises where one is not closed in its place."""

    def __init__(self, text):
        super().__init__()
        self.open, self.tags, self.links, self.words = [], [], [], []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.links += [value for key, value in attrs if key in ("href", "src")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


def kinked(result):
    return next(one for one in result.entries if one.team == f"A{WILD}")


def make(folder, entries=ENTRIES, rules=SHORT):
    folder.mkdir()
    for file, text in (entries | {"rules.toml": rules}).items():
        (folder / file).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def held(tmp_path_factory):
    """(folder, result, comparison) of the small contest."""
    folder = make(tmp_path_factory.mktemp("contest") / "class")
    return folder, *contest_result(folder)


@pytest.fixture(scope="module")
def written(held, tmp_path_factory):
    folder, result, comparison = held
    out = tmp_path_factory.mktemp("out") / "run"
    write_contest(result, comparison, folder, out)
    return out


def content(folder):
    return {file.relative_to(folder).as_posix(): file.read_bytes() for file in sorted(folder.rglob("*")) if file.is_file()}


def printed(result, capsys):
    assert sum(map(height, contest_brief(result, "run"))) <= MOST_LINES
    print_report(contest_report(result))
    return " ".join(capsys.readouterr().out.split())


# --- words ------------------------------------------------------------------------------------------------------------


def test_report(held, capsys):
    out = printed(held[1], capsys)
    assert out.startswith("Yard loop: who loses least in the bends?")
    assert f'"A{WILD}"' in out
    assert "Refused: <b>.toml: =1+1: no such key; known are team, members, setup." in out
    assert "This contest says nothing about a car being safe." in out
    assert "trust no" not in out  # places within what the model can tell apart are shared instead


def test_small_differences_are_called_small(held):
    result = held[1]
    best, last = (next(one for one in result.entries if one.team == team) for team in (f"A{WILD}", "Straight"))
    result = replace(result, best_score=best.score)
    near = replace(last, score=best.score + 0.05 * best.rolling_J)
    said = finding(replace(result, entries=(best, near)))
    assert said.endswith("That is small: 5.0 % of the rolling resistance. Look after tyre pressure first.")
    far = replace(last, score=best.score + 0.5 * best.rolling_J)
    assert finding(replace(result, entries=(best, far))).endswith("That is as much as 50 % of the rolling resistance.")


def test_of_many_who_share_a_place_a_few_are_named(held):
    result = held[1]
    one = replace(kinked(result), place=1, shared=True, score=result.best_score)
    class_ = replace(result, entries=tuple(replace(one, team=f"T{index}") for index in range(6)))
    assert finding(class_).startswith('"T0", "T1", "T2" and 3 others share first place: ')
    assert sheet_lines(class_.entries[0], class_)[0].startswith('Place 1 of 6, shared with "T1", "T2", "T3" and 2 others: nearer')


def test_scores_that_share_first_place_are_told_from_best_to_last(held):
    result = held[1]
    one = replace(kinked(result), place=1, shared=True, score=result.best_score)
    other = replace(one, team="Other", score=1.04 * result.best_score)
    low, high = (score_words(entry.score, result) for entry in (one, other))
    assert finding(replace(result, entries=(other, one))).endswith(f"share first place: {low} to {high}.")
    level = finding(replace(result, entries=(replace(one, team="Other"), one)))
    assert level.endswith(f"share first place: {low}.")


def test_who_is_not_replayed_is_told(held, capsys):
    result = held[1]
    one = kinked(result)
    line = "In the replay, beside ideal steering: "
    out = printed(result, capsys)
    assert f'{line}"Wagon" (winner), "A{WILD}" (teaches most), "Straight" (last).' in out
    assert "--replay TEAM" not in out  # all are there
    other = replace(result, entries=(replace(one, replayed=Role.CHOSEN), replace(one, team="Own car", replayed=None)))
    for told in (printed(other, capsys), Page(contest_pages(other)["index.html"]).text):
        assert f'{line}"A{WILD}" (chosen). Any other joins them with --replay TEAM.' in told
    assert line not in printed(replace(result, entries=(replace(one, replayed=None),)), capsys)


def test_a_slip_of_the_pen_gets_a_question_of_its_own(held):
    result = held[1]
    slip = Misspelt("a.toml", None, "line 2, column 5: this is not TOML: a key has no value; write key = value")
    rule = Refused("b.toml", None, "setup.toe_in_deg: the rules allow -2 to 2, and 3 is above that; choose a value between")
    pages = contest_pages(replace(result, entries=(), refused=(slip, rule)))
    one, other = (Page(pages[name]).text for name in ("team-001-a-toml.html", "team-002-b-toml.html"))
    assert (WRITE_AGAIN in one, READ_AGAIN in one) == (True, False)
    assert (WRITE_AGAIN in other, READ_AGAIN in other) == (False, True)


@pytest.mark.compiled
def test_a_file_with_several_slips_is_a_slip_of_the_pen(tmp_path):
    """Its sheet asked for the rule that stopped it, since several slips were told in one error of another kind."""
    entries = {"a.toml": "team = “One”\n[setup\npivot = \n", "b.toml": f'team = "Two"\n{ARMS}20\n'}
    result, _ = contest_result(make(tmp_path / "class", entries))
    assert [type(one) for one in result.refused] == [Misspelt]
    assert "Also" not in result.refused[0].reason or result.refused[0].team is None
    assert WRITE_AGAIN in Page(contest_pages(result)["team-002-a-toml.html"]).text


@pytest.mark.parametrize(
    ("name", "text", "question"),
    [
        ("empty.toml", "", FILL_IN),
        ("ends.toml.txt", f'team = "Two"\n{ARMS}20\n', FILL_IN),
        ("kind.toml", f'team = "Two"\n{ARMS}20\n'.replace("cross rod", "cros rod"), FILL_IN),
        ("short.toml", 'team = "Two"\n[setup]\npivot = "stub axles"\nlinkage = "cross rod"\narm_length_mm = 110\n', FILL_IN),
        ("none.toml", 'team = "Two"\n', FILL_IN),
        ("bytes.toml", "team = \udcff", FILL_IN),
        ("pen.toml", 'team = "Two\n', WRITE_AGAIN),
        ("long.toml", f'team = "Two"\n{ARMS}20\n'.replace("110", "5"), READ_AGAIN),
        ("axle.toml", 'team = "Two"\n[course]\n', READ_AGAIN),
    ],
)
def test_what_is_no_scenario_is_not_asked_about_rules(held, tmp_path, name, text, question):
    """A file that was empty, badly named or misspelt broke no rule, and its sheet asked what the rule protects."""
    folder = make(tmp_path / "class", {})
    (folder / name).write_bytes(text.encode("utf-8", "surrogateescape"))
    ((), (one,)) = map(tuple, read_entries(folder, read_rules(folder)))
    sheets = contest_pages(replace(held[1], entries=(), refused=(one,)))
    told = Page(next(text for name, text in sheets.items() if name != "index.html")).text
    assert [words for words in (FILL_IN, WRITE_AGAIN, READ_AGAIN) if words in told] == [question]
    assert "?." not in told


def test_a_class_is_told_whose_steering_can_snap_over(held):
    """Each team's own sheet told it, and nobody else: a class that picks what won saw no word of it."""
    result = held[1]
    snaps = replace(NO_DANGERS, dead_centre_left_deg=55.0, stop_left_deg=50.0, danger_left_deg=50.0)
    for count, told in ((0, ""), (1, 'that of "1" can snap over'), (2, 'that of "1" and "2" can'), (4, 'that of "1", "2" and 2 more can')):
        driven = [one for one in result.entries if one.finished][:1] * 4
        driven = [
            replace(one, team=f"{place}", dangers=snaps if place <= count else NO_DANGERS) for place, one in enumerate(driven, start=1)
        ]
        some = replace(result, entries=tuple(driven))
        brief = "\n".join(map(str, contest_brief(some, "run")))
        for text in (brief, class_safety_words(some), Page(contest_pages(some)["index.html"]).text):
            assert ("can snap over: it needs a stop" in text) == (count > 0)
            assert told in text
        assert "snap over" not in safety_words(some)


@pytest.mark.slow
@pytest.mark.parametrize(("count", "length"), [(1, 5), (2, 6), (3, 90), (40, 12), (200, 200)])
def test_refused_entries_are_never_left_out(held, count, length):
    """They stood among remarks, of which a full screen told only how many there are."""
    result = held[1]
    files = [f"{place:03d}".ljust(length, "x") + ".toml" for place in range(count)]
    drove = [replace(one, dangers=NO_DANGERS) for one in result.entries if one.team != "Wagon"] * 12
    best = min(one.score for one in drove)
    told = replace(result, refused=tuple(Refused(file, None, "why " * 30) for file in files), entries=tuple(drove), best_score=best)
    brief = contest_brief(told, "class")
    (line,) = [str(one) for one in brief if str(one).startswith("Refused: ")]
    assert line.startswith(f"Refused: {count} ({files[0][:20]}")
    assert line.endswith("): --explain says why.")
    assert height(line) == 1
    assert sum(map(height, brief)) <= MOST_LINES
    assert any(hasattr(one, "row_count") for one in brief[: list(map(str, brief)).index(line)])  # the table stands before it
    texts = list(map(str, brief))
    reason = reasons(told)[0]
    assert texts.index(reason) < texts.index(line)
    # Why is told of few, where it takes the room of no remark.
    whys = [one for one in texts if one.startswith("  0")]
    assert len(whys) == (count if count <= 2 else 0)
    assert all(
        height(one) == 1 and one.startswith(f"  {file}: why why") and one.endswith("…") for one, file in zip(whys, files, strict=False)
    )


def test_a_broken_rule_that_reads_like_a_slip_of_the_pen_is_none(tmp_path):
    """A key of the name "this is not TOML" was taken for a file that is no TOML, because the reason was searched for these words."""
    entries = {"a.toml": '"this is not TOML" = 1\nteam = "One"\n', "b.toml": 'team = "Two\n'}
    result, _ = contest_result(make(tmp_path / "class", entries))
    rule, slip = result.refused
    assert rule.reason.startswith("this is not TOML: no such key")
    assert ": this is not TOML: " in slip.reason
    assert (type(rule), type(slip)) == (Refused, Misspelt)
    pages = contest_pages(result)
    assert READ_AGAIN in Page(pages["team-001-one.html"]).text
    assert WRITE_AGAIN in Page(pages["team-002-b-toml.html"]).text


def test_a_turntable_that_drove_brings_a_caution_of_its_own(held):
    result = held[1]
    one = kinked(result)
    turntable = replace(one, setup={"pivot": "turntable"})
    others = tuple(entry for entry in result.entries if entry.setup["pivot"] != "turntable")
    assert "A turntable axle tips earlier" in safety_words(replace(result, entries=(turntable,)))
    assert "turntable" not in safety_words(replace(result, entries=others))
    assert "turntable" not in safety_words(replace(result, entries=(replace(turntable, finished=False),)))
    assert "A turntable axle tips earlier" in contest_pages(replace(result, entries=(turntable,)))["index.html"]


def test_a_team_that_gained_is_told_so(held):
    result = held[1]
    one = kinked(result)
    better = replace(one, drive_work_J=one.ideal.drive_work_J - 3.0, rub_m=one.ideal.rub_m - 0.5)
    lines = " ".join(sheet_lines(better, result))
    assert "your choice gained 3.0 J" in lines
    assert "0.50 m less than with ideal steering" in lines


def test_nothing_more_is_not_told_as_more(held):
    """A sheet told of tyres that were dragged over 0.00 m more."""
    result = held[1]
    best = kinked(result)
    level = replace(best, team="Level", place=2, score=best.score + 1e-9, ideal=best)
    told = " ".join(sheet_lines(level, replace(result, entries=(best, level), best_score=best.score)))
    assert "of road from start to finish, as far as with ideal steering." in told
    assert "you needed as much and dragged your tyres as far." in told
    assert "your choice cost nothing." in told
    assert "0.0 J more" not in told
    assert "0.00 m" not in told


def test_race_is_told_in_laps(held):
    result = held[1]
    race = {"race_laps": 90.0, "race_distance_m": 11_000.0, "race_ended_by": "charge"}
    last, best = result.entries[-1], replace(result.entries[0], **race)
    one = replace(last, **(race | {"race_laps": 88.5}), ideal=replace(last.ideal, **race))
    said = sheet_lines(one, replace(result, entries=(best, one), best_score=best.score))[-1]
    assert said == (
        "In the race it drives 88.5 laps, 11.00 km; then the battery is empty. "
        "That is 1.50 laps less than ideal steering and 1.50 laps less than the best score."
    )


@pytest.mark.parametrize("kind", Kind)
def test_every_question_can_be_asked(held, kind):
    one = kinked(held[1])
    shows = replace(one.shows, kind=kind, share_of_ideal=None, at_outer_deg=None, toe_in_deg=1.0, hand_ahead_deg=3.0)
    asked = question_for(replace(one, shows=shows))
    assert asked.rstrip().endswith("?")
    assert not any(field for _, field, *_ in Formatter().parse(asked))


def test_every_entry_has_a_question_of_its_kind(held):
    kinds = {one.team: one.shows.kind for one in held[1].entries}
    assert kinds == {f"A{WILD}": "close to ideal", "Straight": "parallel", "Wagon": "turntable"}


def test_every_rule_has_words():
    assert set(RULE_WORDS) == set(SCORES)


# --- pages ------------------------------------------------------------------------------------------------------------


def test_pages_are_sound_and_nothing_in_them_comes_from_outside(held):
    pages = contest_pages(held[1])
    assert list(pages) == [
        "index.html", "team-001-wagon.html", "team-002-a-script-alert-script.html", "team-003-straight.html", "team-004-1.html",
    ]  # fmt: skip
    for text in pages.values():
        page = Page(text)
        assert text.startswith("<!doctype html>")
        assert "script" not in page.tags
        assert "img" not in page.tags
        assert page.tags.count("h1") == 1
        assert set(page.links) <= set(pages)
        assert "says nothing about a car being safe" in page.text
        assert "competent adult" in page.text
        assert "event's rules" in page.text
        assert not re.search(r"https?:", text)
        assert "size: A4" in text
    assert set(Page(pages["index.html"]).links) == set(pages) - {"index.html"}


def test_names_are_shown_as_they_are_written(held):
    pages = contest_pages(held[1])
    sheet = Page(pages["team-002-a-script-alert-script.html"])
    assert f"A{WILD}" in sheet.text
    assert f"{WILD}: stub axles" in sheet.text
    assert f"A{WILD}" in Page(pages["index.html"]).text
    assert "<b>.toml" in Page(pages["index.html"]).text


def test_sheet_holds_what_its_team_wants_to_know(held):
    page = Page(contest_pages(held[1])["team-003-straight.html"])
    one = held[1].entries[2]
    for part in (
        "Place 3 of 3", f"{one.drive_work_J:.1f} J of drive work from start to finish", "your choice cost",
        "of road from start to finish", "Against the best score", "A question to think about",
        "which way would you bend the arms on the kingpins",
    ):  # fmt: skip
        assert part in page.text


@pytest.mark.parametrize(
    ("team", "name"),
    [("../../etc/passwd", "team-007-etc-passwd.html"), ("ÄÖ", "team-007.html"), ("x" * 80, f"team-007-{'x' * 40}.html"),
     ("CON", "team-007-con.html"), (None, "team-007-f-toml.html")],
)  # fmt: skip
def test_sheet_names_are_harmless(team, name):
    assert sheet_name(7, Refused("f.toml", team, "a slip")) == name


# --- the folder -------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_folder_can_be_replayed_and_run_again(written):
    replay = read_run(written)
    assert [one.name for one in replay.drives] == ["ideal steering, no toe", "Wagon", f"A{WILD}", "Straight"]
    assert len(load_scenario(written / "scenario.toml").setup) == 4
    assert not (written / "laps").exists()
    assert {"course.png", "excess.png", "slip.png", "summary.json", MARKER} <= set(content(written))
    assert not (written / "losses.png").exists()  # bars from zero, which all look alike


def test_table(written):
    with open(written / CONTEST_PAGES / "results.csv", encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [(row["status"], row["place"], row["team"]) for row in rows] == [
        ("placed", "1", "Wagon"), ("placed", "1", f"A{WILD}"), ("placed", "3", "Straight"), ("refused", "", "'-1"),
    ]  # fmt: skip
    assert rows[3]["reason"].startswith("'=1+1")


@pytest.mark.slow
def test_same_bytes_twice_and_with_other_files(held, written, tmp_path):
    folder, *_ = held
    for name, workers in (("twice", 1), ("two", 2)):
        write_contest(*contest_result(folder, workers), folder, tmp_path / name)
        assert content(tmp_path / name) == content(written)


@pytest.mark.slow
@pytest.mark.parametrize("before", [True, False])
def test_written_whole_or_not_at_all(held, written, tmp_path, monkeypatch, before):
    folder, result, comparison = held
    out = tmp_path / "run"
    if before:
        write_contest(result, comparison, folder, out)
    write, told = viz.contest.report._write, []

    def failing(path, text):
        told.append(path.name)
        if path.name == "team-003-straight.html":
            raise OSError(28, "No space left on device", str(path))
        write(path, text)

    monkeypatch.setattr(viz.contest.report, "_write", failing)
    with pytest.raises(ValueError, match="no space left on the drive"):
        write_contest(result, comparison, folder, out)
    assert "team-001-wagon.html" in told
    assert content(out) == (content(written) if before else {})
    assert [one.name for one in tmp_path.iterdir()] == (["run"] if before else [])


def test_never_over_the_classs_own_folder(held):
    folder, *_ = held
    with pytest.raises(ValueError, match="holds something that Scrubwise did not write"):
        check_target(folder)


@pytest.mark.slow
@pytest.mark.compiled
def test_course_file_named_like_a_table(tmp_path):
    """The course is copied beside the scenario; the contest's own files stand apart and can't take its name."""
    rules = RULES.replace(RULES[RULES.index("closed = true") : RULES.index("[pace]")], 'file = "results.csv"\n\n')
    folder = make(tmp_path / "class", rules=rules)
    (folder / "results.csv").write_text("x_m,y_m\n0,0\n4,0\n8,0.2\n12,1.2\n15,3\n17,6\n18,10\n18,14\n18,18\n", encoding="utf-8")
    write_contest(*contest_result(folder), folder, tmp_path / "run")
    assert (tmp_path / "run" / "results.csv").read_bytes() == (folder / "results.csv").read_bytes()
    assert read_run(tmp_path / "run").course.length > 20


# --- a whole class ----------------------------------------------------------------------------------------------------


def many(count):
    return {f"{index:03d}.toml": f'team = "Team {index}"\n{ARMS}{index * 40 / count:.3f}\n' for index in range(count)}


@pytest.mark.slow
def test_more_entries_than_a_scenario_holds(tmp_path):
    folder = make(tmp_path / "class", many(MOST_REPLAYED + 5))
    rows = [str(row) for row in range(1, MOST_REPLAYED - 1)]
    result, comparison = contest_result(folder, workers=2, chosen=rows[:-1])
    assert len(result.entries) == MOST_REPLAYED + 5
    shown = [one.team for one in result.entries if one.replayed]
    assert [one.name for one in comparison.results[1:]] == shown
    assert MOST_REPLAYED - 3 <= len(shown) <= MOST_REPLAYED
    assert len(contest_pages(result)) == MOST_REPLAYED + 6
    write_contest(result, comparison, folder, tmp_path / "run")
    assert len(load_scenario(tmp_path / "run" / "scenario.toml").setup) == len(shown) + 1
    with pytest.raises(InputError, match="--replay: these are more teams than a replay holds; choose fewer"):
        contest_result(folder, workers=2, chosen=rows)


@pytest.mark.slow
def test_forty_entries_round_the_quay(tmp_path):
    rules = RULES.replace(RULES[RULES.index("closed = true") : RULES.index("[pace]")], 'file = "quay-loop.csv"\nclosed = true\n\n')
    rules = rules.replace("target_m_per_s = 3.0", "target_m_per_s = 7.0").replace("= 1.5", "= 3.0")
    folder = make(tmp_path / "class", many(40), rules)
    (folder / "quay-loop.csv").write_bytes((shipped_folder() / "quay-loop.csv").read_bytes())
    result, comparison = contest_result(folder, workers=2)
    write_contest(result, comparison, folder, tmp_path / "run")
    assert all(one.finished for one in result.entries)


# --- why one beats another --------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def four(tmp_path_factory):
    """Four entries that differ by their bends, their toe, and both."""
    kinds = {"Kink": "20", "Straight": "0", "Toe": "20\ntoe_in_deg = 1.5", "Both": "0\ntoe_in_deg = 0.6"}
    entries = {f"{team}.toml": f'team = "{team}"\n{ARMS}{arms}\n' for team, arms in kinds.items()}
    return contest_result(make(tmp_path_factory.mktemp("four") / "class", entries))[0]


def of(result, team):
    return next(one for one in result.entries if one.team == team)


def test_what_a_difference_is_made_of_adds_up(four):
    for better, worse in combinations(four.entries, 2):
        found = causes(better, worse)
        assert sum(found) == approx(worse.drive_work_J - better.drive_work_J, rel=0, abs=1e-9)
        assert found.car == 0.0
    kink, toe, both = (of(four, team) for team in ("Kink", "Toe", "Both"))
    assert abs(causes(kink, toe).bends) < 1e-9  # the same arms
    assert min(causes(kink, both)[:2]) > 1
    assert causes(kink, replace(toe, toe_cost_J=None)) is None
    assert why(kink, replace(toe, toe_cost_J=None), four) == ""


def test_why_names_what_the_better_does_otherwise(four):
    kink, straight, toe, both = (of(four, team) for team in ("Kink", "Straight", "Toe", "Both"))
    said = why(kink, straight, four)
    assert re.fullmatch(
        r'"Kink" needs \d+(\.\d)? J less than "Straight", all of it in the bends: there the inner wheel of "Straight" stands 4\.0 degrees '
        r'off ideal \(too little\) on average, that of "Kink" 0\.3\.', said,
    )  # fmt: skip
    said = why(kink, toe, four)
    assert re.fullmatch(
        r'"Kink" needs \d+(\.\d)? J less than "Toe", all of it by toe: each front wheel of "Toe" points 1\.5 degrees inwards, of "Kink" '
        r"straight ahead\.", said,
    )  # fmt: skip
    said = why(kink, both, four)
    assert " J in the bends: " in said
    assert ' J by toe: each front wheel of "Both" points 0.6 degrees inwards' in said
    # One that has better arms and is beaten by its toe.
    said = why(straight, replace(toe, drive_work_J=straight.drive_work_J + 50, toe_cost_J=toe.toe_cost_J), four)
    assert 'Against that "Toe" saves ' in said
    assert said.endswith(" in the bends.")
    turned = why(toe, kink, four)
    assert turned.startswith('By drive work it is the other way round: "Kink" needs ')
    near = why(kink, replace(kink, team="Twin", drive_work_J=kink.drive_work_J + 0.1), four)
    assert near.startswith(
        'The drive work of "Kink" and "Twin" is not told apart (0.1 J lie between them); each front wheel of "Kink" points '
    )
    assert near.endswith("in the bends the inner wheel stands 0.3 and 0.3 degrees off ideal.")
    lean = replace(kink, team="Lean", drive_work_J=kink.drive_work_J + 50)
    assert "though the inner wheel's angle is no further from ideal" in why(kink, lean, four)
    ideal = replace(kink.ideal, drive_work_J=kink.ideal.drive_work_J + 50)
    own = replace(kink, team="Own", drive_work_J=kink.drive_work_J + 50, ideal=ideal, car={"kingpin_track_mm": 800.0})
    assert why(kink, own, four) == '"Kink" needs 50.0 J less than "Own", all of it by the car itself (kingpin track).'


def test_all_of_a_difference_is_all_that_can_be_seen(four):
    """458.4 of 479.5 J were all of it, beside a team in the same table that had the other 21.1 J."""
    kink, toe = of(four, "Kink"), of(four, "Toe")
    assert ", all of it by toe: " in why(kink, replace(toe, drive_work_J=toe.drive_work_J + 0.01), four)
    most = why(kink, replace(toe, drive_work_J=toe.drive_work_J + 1.0), four)
    assert f", most of it, {toe.toe_cost_J:.1f} J, by toe: " in most
    assert f"needs {toe.drive_work_J + 1.0 - kink.drive_work_J:.1f} J less" in most


def test_why_stands_in_the_report_the_page_and_the_sheet(four, capsys):
    sentence = why(of(four, "Kink"), of(four, "Toe"), four)
    assert sentence in printed(four, capsys)
    pages = contest_pages(four)
    assert sentence in Page(pages["index.html"]).text
    assert sentence in Page(next(text for name, text in pages.items() if name.endswith("-toe.html"))).text


# --- what no place tells ----------------------------------------------------------------------------------------------


def test_a_turntable_that_wins_has_its_margin_and_its_kick_in_the_same_line(held):
    result = held[1]
    wagon = next(one for one in result.entries if one.team == "Wagon")
    alone = replace(result, entries=(replace(wagon, place=1, shared=False),), best_score=wagon.score)
    line = finding(alone).split(". ")[0]
    assert line.startswith('"Wagon" wins: ')
    assert (
        f'"Wagon", a turntable axle, would tip over at {wagon.risks.tip_margin_m_per_s2:.1f} m/s2 (the bends ask for at most 1.5)' in line
    )
    assert "has a kick-back lever of 450 mm" in line
    (row,) = [line for line in brief_lines(alone) if "Wagon " in line and line.startswith("1")]
    assert row.split()[-2:] == [f"{wagon.risks.tip_margin_m_per_s2:.1f}", "450"]
    assert "turntable axle, would" not in finding(replace(result, entries=tuple(one for one in result.entries if one is not wagon)))


def brief_lines(result):
    text = StringIO()
    console = Console(file=text, width=80, highlight=False, markup=False, emoji=False)
    for one in contest_brief(result, "run"):
        console.print(one)
    return text.getvalue().splitlines()


def test_the_table_comes_before_remarks_and_refusals(held):
    result = held[1]
    doubt = NameRemark(("a.toml",), "two names look alike")
    lines = brief_lines(replace(result, names=(doubt,)))
    table = next(index for index, line in enumerate(lines) if line.startswith("place"))
    assert table < lines.index("two names look alike.")
    assert table < next(index for index, line in enumerate(lines) if line.startswith("Refused:"))


def test_sheet_tells_where_the_rods_come_in_line(held):
    pages = contest_pages(held[1])
    assert "Fit a stop before the left wheel passes" in Page(pages["team-002-a-script-alert-script.html"]).text
    assert "Your car would tip over at 12." in Page(pages["team-001-wagon.html"]).text
    assert "Fit a stop" not in Page(pages["team-001-wagon.html"]).text


# --- pictures ---------------------------------------------------------------------------------------------------------


def test_excess_adds_up_and_is_drawn_from_ideal_steering_on(held):
    result = held[1]
    for one in result.entries:
        assert excess_parts(one).sum() == approx(one.geometry_cost_J, rel=0, abs=1e-9)
    figure = excess_figure(result)
    (axes,) = figure.axes
    bars = [(bar.get_x(), bar.get_x() + bar.get_width()) for bar in axes.patches]
    right = max(max(ends) for ends in bars)
    costs = [excess_parts(one)[excess_parts(one) > 0].sum() for one in result.entries]
    assert right == approx(max(costs), rel=1e-9, abs=0)
    assert axes.get_xlim()[0] <= 0.0
    labels = [text.get_text() for text in axes.texts]
    assert len(labels) == 3
    # Each as the class's table has it, whatever its parts add up to.
    assert labels == [beyond_words(one, result) for one in result.entries]
    shown = [text.get_text() for text in figure.texts]
    assert {"1 shared", "Wagon", "Straight"} <= set(shown)


def test_excess_without_a_lap_or_an_entry(held):
    result = held[1]
    one = kinked(result)
    unknown = dict.fromkeys(vars(NO_FIGURES))
    out = replace(one, place=None, finished=False, reason="tips over after 2.0 s", score=None, **unknown)
    shown = [text.get_text() for text in excess_figure(replace(result, entries=(one, out))).texts]
    assert "did not finish: tips over after 2.0 s" in shown
    assert excess_figure(replace(result, entries=(out,))).axes[0].axison is False
    excess_figure(replace(result, entries=()))


def test_bars_share_one_zero():
    assert bar_spans([30.0, -10.0, None, 0.0]) == [(25.0, 75.0), (0.0, 25.0), (25.0, 0.0), (25.0, 0.0)]
    assert bar_spans([None, 0.0]) == [(0.0, 0.0), (0.0, 0.0)]
    assert bar_spans([]) == []


def test_beyond_ideal_counts_what_the_rule_counts(held):
    result = held[1]
    one = result.entries[2]
    assert beyond_ideal(one, result) == approx(one.geometry_cost_J, rel=0, abs=1e-9)
    far = replace(one, score=5900.0, ideal=replace(one.ideal, race_distance_m=6000.0))
    assert beyond_ideal(far, replace(result, score_key="race_distance_m")) == 100.0
    assert beyond_ideal(replace(one, score=None), result) is None


# --- names ------------------------------------------------------------------------------------------------------------


def test_a_name_from_right_to_left_leaves_its_sentence_alone():
    name = "\u05d0\u05d1 <b>"
    shown = isolated(f'first "{name}" 20 J, "Kink" 3 J', [name, "Kink"])
    assert shown == "first &#34;<bdi>\u05d0\u05d1 &lt;b&gt;</bdi>&#34; 20 J, &#34;Kink&#34; 3 J"


def test_long_names_are_cut_in_sentences_alone(held):
    one = replace(kinked(held[1]), team="W" * 80)
    assert called(one) == f'"{"W" * 31}\u2026"'
    result = replace(held[1], entries=(one,))
    assert "W" * 80 not in finding(result)
    assert "W" * 80 in Page(contest_pages(result)["index.html"]).text


def test_names_are_told_on_the_page(held):
    result = replace(held[1], names=(NameRemark(("a.toml", "b.toml"), '"A" (a.toml) and "B" (b.toml) look alike'),))
    assert 'Names "A" (a.toml) and "B" (b.toml) look alike.' in Page(contest_pages(result)["index.html"]).text


@pytest.mark.slow
def test_the_page_scrolls_all_forty(held):
    """All stand in the page's one table, whose head stays while it scrolls; the terminal shows what fits and says where the rest is."""
    result = held[1]
    one = kinked(result)
    forty = tuple(replace(one, team=f"Team {index}", place=index, shared=False) for index in range(1, 41))
    page = contest_pages(replace(result, entries=forty))["index.html"]
    table = page[page.index('<div class="scroll"') :].partition("</table>")[0]
    assert all(f"<bdi>Team {index}</bdi></a>" in table for index in range(1, 41))
    assert table.count("<tr>") == 41
    assert ".scroll { max-height: 85vh; overflow: auto;" in page
    assert ".scroll thead th { position: sticky; top: 0;" in page
    assert re.search(r"^and \d+ more rows: the page shows all$", "\n".join(brief_lines(replace(result, entries=forty))), re.M)


def test_what_stands_behind_the_best_is_the_difference_of_what_is_printed(held):
    """A work in whole joules beside a difference in tenths: whoever reckoned it found another one."""
    result = held[1]
    sentence = re.compile(r"needed ([\d.]+) J .* needs ([\d.]+) J: your choice \w+ ([\d.]+) J")

    def printed(value):
        return float(score_words(value, result).split()[0])

    placed = [one for one in result.entries if one.place is not None]
    assert len(placed) >= 2
    for entry in placed:
        behind = score_less(entry.score, result.best_score, result)
        assert printed(behind) == pytest.approx(printed(entry.score) - printed(result.best_score), rel=0, abs=1e-9)
        beyond = float(beyond_words(entry, result).split()[0])
        ideal = printed(getattr(entry.ideal, result.score_key))
        assert abs(beyond) == pytest.approx(abs(printed(entry.score) - ideal), rel=0, abs=1e-9)
        needed, wanted, cost = map(float, sentence.search(sheet_lines(entry, result)[1]).groups())
        assert cost == pytest.approx(abs(needed - wanted), rel=0, abs=1e-9)
