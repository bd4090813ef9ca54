"""`new`: a scenario of each kind that runs as it is, and questions whose answers are checked at once and never lost."""

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import tomllib
from contextlib import suppress
from math import radians, sin
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.errors import InputError
from sim.keys import Key
from sim.scenario.doubts import file_doubts
from sim.scenario.file import MARK, check_scenario, examples_in, load_scenario, shipped_folder
from sim.study.doubts import run_doubts
from sim.study.ready import course_of
from viz.cli.entry import INTERRUPTED, main
from viz.new.ask import Interview, read_number
from viz.new.course import SHIPPED, ask_course, ask_title
from viz.new.measure import letters_of, measure_result
from viz.new.text import filled, find_kind, offered_kinds, open_lines, scenario_text

COMMAND = [sys.executable, "-m", "viz.cli"]
KINDS = list(offered_kinds())


@pytest.fixture
def scrubwise(tmp_path, monkeypatch, capsys):
    """Run the command in this process in an empty folder: (exit code, standard output, standard error)."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sim.kernels.compiled.first_use", lambda kernel: False)

    def run(*words, answers=None):
        monkeypatch.setattr(sys, "argv", ["scrubwise", *map(str, words)])
        if answers is not None:
            lines = iter(answers)
            monkeypatch.setattr("builtins.input", lambda: next(lines, None) or stopped())
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code, *capsys.readouterr()

    def stopped():
        raise EOFError

    return run


def process(*words, cwd, answers):
    return subprocess.run([*COMMAND, *words], cwd=cwd, input="\n".join(answers), capture_output=True, text=True, timeout=120, check=False)


# --- the text ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_a_scenario_of_each_kind_is_whole_and_draws_no_doubt(kind):
    text = scenario_text(find_kind(kind))
    scenario = check_scenario(tomllib.loads(text), "new.toml")
    assert run_doubts(scenario) == ()
    assert [setup.kind.name for setup in scenario.setup] == ["ideal", kind]
    assert max(map(len, text.splitlines())) < 220
    # Every number of its front end that can be measured stands in it, or what people measure in its place.
    keys = {one.key.name for one in open_lines(text)}
    wanted = {key.name for key in find_kind(kind).keys if key.needed and not key.name.startswith("arm_")}
    assert wanted <= keys
    assert {"front_axle_load_kg", "rear_axle_load_kg", "three_wheel_turns_mm", "wheelbase_mm", "front_track_mm"} <= keys
    assert "yaw_inertia_kg_m2" not in scenario.car.model_fields_set


@pytest.mark.parametrize("kind", KINDS)
def test_every_number_can_be_filled_in(kind):
    text = scenario_text(find_kind(kind))
    for one in open_lines(text):
        low, high = one.key.common or (one.key.low, one.key.high)
        value = f"{one.key.usual or (low + high) / 2:.6g}"
        text = filled(text, one, value)
        assert re.search(rf"^{one.key.name} = {re.escape(value)} +# (?!{MARK})", text, re.M)
    assert open_lines(text) == []
    assert file_doubts(check_scenario(tomllib.loads(text), "new.toml")) == ()


@pytest.mark.parametrize("wanted", ["centre arm", "Centre Arm", "centre-arm", "ce", " centre  arm ", "center arm"])
def test_a_kind_is_meant_by_name_or_beginning(wanted):
    assert find_kind(wanted).name == "centre arm"


@pytest.mark.parametrize("wanted", ["", "c", "fraction", "ideal", "ropes", "\x1b[31m"])
def test_no_such_kind(wanted):
    with pytest.raises(InputError, match=r"^--like: .* is no kind of steering that can be built; choose one of cross rod, centre arm, "):
        find_kind(wanted)


# --- what is refused --------------------------------------------------------------------------------------------------


def test_a_name_that_would_stand_in_a_shipped_scenarios_way_is_refused(scrubwise, tmp_path):
    """`run starter` would have driven the new file for ever after."""
    assert scrubwise("new", "starter") == (2, "", "scrubwise: starter: the name does not end in .toml; call it starter.toml\n")
    assert scrubwise("new", "a.txt", "--ask") == (2, "", "scrubwise: a.txt: the name does not end in .toml; call it a.toml\n")
    assert os.listdir(tmp_path) == []


def test_what_is_there_is_left_alone(scrubwise, tmp_path):
    assert scrubwise("new", "mine.toml", "--like", "rack")[0] == 0
    before = (tmp_path / "mine.toml").read_bytes()
    there = "scrubwise: mine.toml: there is something of this name already; choose another name\n"
    assert scrubwise("new", "mine.toml", "--like", "rack") == (2, "", there)
    with_kind = "mine.toml: the file is there already, with its own front end; leave --like out to go on with it"
    assert scrubwise("new", "mine.toml", "--like", "rack", "--ask") == (2, "", f"scrubwise: {with_kind}\n")
    (tmp_path / "done.toml").write_text("title = 'x'\n", encoding="utf-8")
    done = f"done.toml: there is something of this name already, and no line of it has {MARK}; choose another name"
    assert scrubwise("new", "done.toml", "--ask") == (2, "", f"scrubwise: {done}\n")
    assert (tmp_path / "mine.toml").read_bytes() == before


# --- the questions ----------------------------------------------------------------------------------------------------


def test_answers_are_checked_at_once_and_kept(scrubwise, tmp_path):
    answers = ["centre arm", "solid axle", " ", " ", "70 kg", "81,5", "15", "1.52 m", "abc", "900", "860", "back", "850", "72", "720"]
    code, out, err = scrubwise("new", "mine.toml", "--ask", answers=answers)
    assert (code, err) == (0, "")
    told = " ".join(out.split())
    assert "15 is below 500; give the wheelbase in millimetres" in told
    assert "That is not a number; type digits" in told
    assert "Is this right? kingpin_track_mm = 72 is unusual (300 to 1300 is usual); did you mean 720?" in told
    assert "still to measure. Go on: scrubwise new mine.toml --ask" in told
    car = load_scenario(tmp_path / "mine.toml").car
    assert (car.mass_kg, car.wheelbase_mm, car.front_track_mm, car.rear_track_mm) == (151.5, 1520, 900, 850)
    assert (car.kingpin_track_mm, car.drive) == (720, "solid axle")
    before = len(open_lines((tmp_path / "mine.toml").read_text(encoding="utf-8")))
    code, out, _ = scrubwise("new", "mine.toml", "--ask", answers=["340", "3800"])  # goes on where it stopped
    assert f"1 of {before} (G): Ground to the middle of all weight" in out
    again = load_scenario(tmp_path / "mine.toml").car
    assert again.mass_centre_height_mm == 340
    assert again.kingpin_track_mm == 720


def toe_of(tmp_path, kind, *answers):
    """What the question of the toe makes of answers: (toe-in as it is kept [deg], what was said)."""
    said, lines = [], iter(answers)
    text = scenario_text(find_kind(kind))
    interview = Interview(tmp_path / "mine.toml", text, said.append, lambda prompt: next(lines))
    (one,) = (one for one in open_lines(text) if one.key.name == "toe_in_deg")
    return float(interview._one(one)[0]), " ".join(said)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("answer", "wider_mm"), [("3 mm", 3.0), ("3mm", 3.0), ("-2,5 mm", -2.5), ("−2.5 MM", -2.5), ("0.4 cm", 4.0), ("0 mm", 0.0)]
)
def test_toe_is_taken_as_a_tape_shows_it(tmp_path, kind, answer, wider_mm):
    """People measure millimetres between the rims; they were told to type degrees and not how to find them."""
    radius = check_scenario(tomllib.loads(scenario_text(find_kind(kind))), "").car.wheel_radius_mm
    toe, said = toe_of(tmp_path, kind, answer)
    # Two wheels that point inwards by the toe stand this much further apart behind: twice the rim times the sine.
    assert 2 * (0.8 * 2 * radius) * sin(radians(toe)) == pytest.approx(wider_mm, rel=0, abs=0.06)
    assert (
        f"{wider_mm:g} mm, taken over {0.8 * 2 * radius:.0f} mm of each rim, four fifths of the wheel: {toe:.2f} degrees a wheel." in said
    )
    assert "That is" not in said  # it was said back twice


def test_toe_by_tape_is_checked_like_any_toe(tmp_path):
    toe, said = toe_of(tmp_path, "rack", "5000 mm", "300 mm", "60 mm", "60 mm")
    assert "The unit 'mm' is not known here; type the number alone, in degrees" in said  # no wheels stand so
    assert "27.52 is above 10; give each wheel's toe-in in degrees" in said
    assert said.count("Is this right? toe_in_deg = 5.3 is unusual (-2 to 2 is usual)") == 1
    assert toe == pytest.approx(5.3, rel=0, abs=0.005)
    assert toe_of(tmp_path, "rack", "0.5")[0] == 0.5


def test_the_question_of_the_toe_says_so(scrubwise, tmp_path):
    text = scenario_text(find_kind("rack"))
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    before = [one.key.name for one in open_lines(text)].index("toe_in_deg")
    _, out, _ = scrubwise("new", "mine.toml", "--ask", answers=[" "] * before)
    asked = " ".join(out.split())
    assert (
        "Or by tape: how much further apart the rims are behind the axle than in front, at hub height, with its unit, such as 3 mm."
        in asked
    )
    assert asked.count("Or by tape") == 1


BEGUN = ["rack", "1"]


def test_name_and_shipped_course_are_asked_for(scrubwise, tmp_path):
    code, out, err = scrubwise("new", "mine.toml", "--ask", answers=[*BEGUN, "x" * 81, 'Heron "II"', "quay"])
    assert (code, err) == (0, "")
    assert "the text is longer than 80 signs; type another name." in " ".join(out.split())
    assert "Its file quay-loop.csv now lies beside the scenario." in out
    assert re.search(r"  48\d m a lap, tightest bend \d\.\d m\.", out)
    made = load_scenario(tmp_path / "mine.toml")
    assert (made.title, made.course.file, made.course.closed, made.pace.target_m_per_s) == ('Heron "II"', "quay-loop.csv", True, 7.0)
    assert (tmp_path / "quay-loop.csv").read_bytes() == (shipped_folder() / "quay-loop.csv").read_bytes()
    # Another file of that name is nobody's to write over.
    (tmp_path / "quay-loop.csv").write_text("x_m,y_m\n", encoding="utf-8")
    code, out, _ = scrubwise("new", "other.toml", "--ask", answers=[*BEGUN, " ", "quay", "1"])
    assert "There is another quay-loop.csv beside the scenario" in out
    assert (tmp_path / "quay-loop.csv").read_text(encoding="utf-8") == "x_m,y_m\n"
    if hasattr(os, "mkfifo"):  # it waited at a pipe
        (tmp_path / "quay-loop.csv").unlink()
        os.mkfifo(tmp_path / "quay-loop.csv")
        code, out, err = scrubwise("new", "third.toml", "--ask", answers=[*BEGUN, " ", "quay", "1"])
        assert "Its file can't be copied (it is not a plain file)" in " ".join(out.split()), err


@pytest.mark.slow
def test_every_shipped_course_can_be_chosen(scrubwise, tmp_path):
    for name in SHIPPED:
        _, out, _ = scrubwise("new", f"of-{name}.toml", "--ask", answers=[*BEGUN, " ", name])
        made = load_scenario(tmp_path / f"of-{name}.toml")
        given = load_scenario(shipped_folder() / f"{name}.toml")
        assert (made.course, made.pace.target_m_per_s) == (given.course, given.pace.target_m_per_s)
        assert "tightest bend" in out


def test_a_course_of_ones_own_is_looked_at_at_once(scrubwise, tmp_path):
    (tmp_path / "bad.csv").write_text("x_m,y_m\n0,0\n1,a\n", encoding="utf-8")
    shutil.copy(shipped_folder() / "quay-loop.csv", tmp_path / "own.csv")
    answers = [*BEGUN, " ", "a file", "none.csv", "bad.csv", "no", "own.csv", "yes", "66"]
    _, out, _ = scrubwise("new", "mine.toml", "--ask", answers=answers)
    told = " ".join(out.split())
    assert "There is no such file" in told
    assert "1,a" in told or "a is not a number" in told or "not a number" in told
    course = load_scenario(tmp_path / "mine.toml").course
    assert (course.file, course.closed) == ("own.csv", True)
    (tmp_path / "inner").mkdir()  # typed as it lies from here, kept as the scenario finds it
    scrubwise("new", "inner/mine.toml", "--ask", answers=[*BEGUN, " ", "a file", "own.csv", "yes"])
    assert Path(load_scenario(tmp_path / "inner" / "mine.toml").course.file) == Path("..", "own.csv")


def test_a_course_is_typed_piece_by_piece(scrubwise, tmp_path):
    typed = ["30", "8 left 90", "8 across 90", "0.1 r 90", "9", "back", "10,5 r 60", " ", "yes", " ", "no"]
    _, out, _ = scrubwise("new", "mine.toml", "--ask", answers=[*BEGUN, " ", "straights", *typed])
    told = " ".join(out.split())
    assert 'That is neither "30" nor "8 left 90".' in told
    assert "0.1 is below 0.5; give the bend's radius in metres" in told
    assert "the course is closed but misses its start" in told
    course = load_scenario(tmp_path / "mine.toml").course
    assert [one.model_dump() for one in course.segments] == [
        {"straight_m": 30}, {"radius_m": 8, "turn_deg": 90}, {"radius_m": 10.5, "turn_deg": -60},
    ]  # fmt: skip
    assert not course.closed


def test_speed_is_asked_in_words_and_in_any_unit(scrubwise, tmp_path):
    text = scenario_text(find_kind("rack"))
    (tmp_path / "mine.toml").write_text("\n".join(
        line.replace(f"# {MARK} ", "# ") if "target_m_per_s" not in line else line for line in text.splitlines()
    ), encoding="utf-8")  # fmt: skip
    _, out, _ = scrubwise("new", "mine.toml", "--ask", answers=["27 m/s", "60 km/h", "60 km/h"])
    assert "How fast you mean to drive on the straights (5 m/s is 18 km/h), in metres per second. Usual: 1 to 12." in " ".join(out.split())
    assert "27 is above 20" in out
    assert "target_m_per_s = 16.6667 is unusual" in out
    assert load_scenario(tmp_path / "mine.toml").pace.target_m_per_s == pytest.approx(60 / 3.6, rel=1e-9, abs=0)


def test_a_doubted_number_that_is_typed_again_is_kept(scrubwise, tmp_path):
    answers = ["rack", "1", " ", " ", "66", "79", "1500", "900", "860", "299", "299"]
    scrubwise("new", "mine.toml", "--ask", answers=answers)
    assert load_scenario(tmp_path / "mine.toml").car.kingpin_track_mm == 299


def test_numbers_that_do_not_go_together_are_told_and_can_be_mended(scrubwise, tmp_path):
    """The wheels may be asked for before the kingpins that then lie outside of them; the file is gone on with all the same."""
    code, out, _ = scrubwise("new", "mine.toml", "--ask", answers=["cross rod", "1", " ", " ", "66", "79", "1500", "500", "500"])
    assert code == 0
    assert "Not yet right: car.kingpin_track_mm: the kingpin track (740 mm) is wider than the front track (500 mm)" in out
    code, out, _ = scrubwise("new", "mine.toml", "--ask", answers=["640", "420"])
    assert "the kingpin track (640 mm) is wider than the front track (500 mm)" in " ".join(out.split())
    assert load_scenario(tmp_path / "mine.toml").car.kingpin_track_mm == 420


@pytest.mark.slow
def test_json_is_alone_on_standard_output(tmp_path):
    done = process("new", "mine.toml", "--ask", "--like", "turntable", "--json", cwd=tmp_path, answers=["1", "", "", "70", "80"])
    assert done.returncode == 0
    told = json.loads(done.stdout)
    assert (told["written"], told["answered"]) == ("mine.toml", 2)
    assert told["to_measure"] == len(open_lines((tmp_path / "mine.toml").read_text(encoding="utf-8"))) > 5
    assert "1 of " in done.stderr


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="uses the signals of POSIX systems")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL], ids=["Ctrl-C", "killed"])
def test_nothing_that_was_answered_is_lost(tmp_path, how):
    env = os.environ | {"PYTHONUNBUFFERED": "1"}
    asked = subprocess.Popen([*COMMAND, "new", "mine.toml", "--ask"], cwd=tmp_path, env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                             stderr=subprocess.PIPE, text=True)  # fmt: skip
    asked.stdin.write("rack\n1\n\n\n61\n83\n1490\n")
    asked.stdin.flush()
    seen = ""
    while "front_track_mm [" not in seen:
        part = asked.stdout.read(1)
        assert part, seen
        seen += part
    time.sleep(0.1)
    asked.send_signal(how)
    out, err = asked.communicate(timeout=60)
    assert os.listdir(tmp_path) == ["mine.toml"]
    car = load_scenario(tmp_path / "mine.toml").car
    assert (car.mass_kg, car.wheelbase_mm) == (144, 1490)
    if how == signal.SIGINT:
        assert asked.returncode == INTERRUPTED
        assert "Kept 3 answers in mine.toml" in out
        assert "Traceback" not in err


NUMBERS = [
    ("110", "110"), ("13,9", "13.9"), (" 13.9 ", None), ("11 cm", "110"), ("0.11 m", "110"), ("110mm", "110"), ("–5", "-5"), ("1e2", "100"),
    (".5", "0.5"),
]  # fmt: skip


@pytest.mark.parametrize(("answer", "value"), NUMBERS)
def test_numbers_as_people_type_them(answer, value):
    found, problem = read_number(answer.strip(), Key("a_mm", -600, 600, "give it"))
    assert (found, problem) == (value or "13.9", "")


@pytest.mark.parametrize(("answer", "end"), [("90", "; did you mean 900?"), ("9", "; give it"), ("90 mm", "; give it")])
def test_a_length_in_centimetres_is_asked_about(answer, end):
    key = Key("front_track_mm", 200, 2000, "give it", common=(450, 1400))
    assert read_number(answer, key)[1].endswith(end)


def test_a_name_with_a_blank_is_quoted_in_the_next_command(scrubwise, tmp_path):
    assert 'scrubwise run "d\u00ebs auto.toml"' in " ".join(scrubwise("new", "d\u00ebs auto.toml")[1].split())


def test_numbers_that_are_still_examples_are_told_of(scrubwise, tmp_path):
    """A sheet said "This car's numbers" of a car that nobody had measured."""
    scrubwise("new", "car.toml", "--like", "centre arm")
    loaded = load_scenario(tmp_path / "car.toml")
    text = (tmp_path / "car.toml").read_text(encoding="utf-8")
    written = [one for one in open_lines(text) if one.value]
    assert loaded.examples == examples_in(text) == len(written) > 15
    assert file_doubts(loaded)[0].startswith(f"{len(written)} numbers are still examples, not measured")
    fewer = filled(text, written[0], written[0].value)
    assert examples_in(fewer) == len(written) - 1
    for one in written:
        text = filled(text, one, one.value)
    assert examples_in(text) == 0
    assert loaded.model_copy(update={"title": "other"}).examples == loaded.examples


ANSWERS = st.one_of(st.text(max_size=12), st.floats().map(str), st.sampled_from(["", "back", "1", "500", "1.5 m", "nan"]))


COURSES = st.one_of(ANSWERS, st.sampled_from(
    ["7", "30", "8 left 90", "8 r 1e9", "first", "car-park", "no", "yes", "6", "\ud800", "\x7f", "3 l 180"]
))  # fmt: skip


@pytest.mark.slow
@settings(max_examples=100, deadline=None)
@given(answers=st.lists(COURSES, max_size=30), kind=st.sampled_from(KINDS))
def test_whatever_is_answered_about_name_and_course_can_be_driven(tmp_path_factory, answers, kind):
    folder, lines = tmp_path_factory.getbasetemp(), iter(answers)

    def hear(prompt):
        answer = next(lines, None)
        if answer is None:
            raise EOFError
        return answer

    interview = Interview(folder / "drawn.toml", scenario_text(find_kind(kind)), lambda text: None, hear)
    with suppress(EOFError):
        ask_title(interview)
        ask_course(interview)
    course_of(check_scenario(tomllib.loads(interview.text), "drawn.toml"), folder, "drawn.toml")


@pytest.mark.slow
@settings(max_examples=400, deadline=None)
@given(answers=st.lists(ANSWERS, max_size=80), kind=st.sampled_from(KINDS))
def test_whatever_is_answered_the_text_stays_a_scenario(answers, kind):
    said, lines = [], iter(answers)

    def hear(prompt):
        answer = next(lines, None)
        if answer is None:
            raise EOFError
        return answer

    interview = Interview(None, scenario_text(find_kind(kind)), said.append, hear)
    interview.write = lambda: None
    with suppress(EOFError):
        interview.numbers()
    tomllib.loads(interview.text)
    try:
        check_scenario(tomllib.loads(interview.text), "mine.toml")
    except InputError as error:
        misfit = str(error)
        assert "is wider than" in misfit or "outside the wheelbase" in misfit or "it makes " in misfit


# --- letters, help, and a file that is finished -----------------------------------------------------------------------


def test_a_finished_file_is_said_to_be_finished(scrubwise, tmp_path):
    text = scenario_text(find_kind("centre arm"))
    for one in open_lines(text):
        text = filled(text, one, one.value)
    (tmp_path / "done.toml").write_text(text, encoding="utf-8")
    code, out, err = scrubwise("new", "done.toml", "--ask")
    assert (code, out) == (2, "")
    assert err.startswith("scrubwise: done.toml: nothing is left to ask: every number of this car has been given, and the file stays")
    assert "scrubwise angles done.toml" in err
    assert (tmp_path / "done.toml").read_text(encoding="utf-8") == text


@pytest.mark.parametrize("name", ["drop arm", "Drop-arm", "drop"])
def test_a_drop_arm_is_a_centre_arm(name):
    assert find_kind(name).name == "centre arm"


def test_questions_bear_the_letters_of_the_sheet_and_help(scrubwise):
    code, out, _ = scrubwise("new", "mine.toml", "--ask", answers=["drop arm", "?", "1", "?", "Otters", "1", "?", "60", "90"])
    said = " ".join(out.split())
    assert code == 0
    assert '`scrubwise measure --like "centre arm" --out measure.pdf`' in said
    assert "Type the number before a line" in said
    assert "Any name; it stands on every sheet." in said
    assert "1 of 26 (A): The scale under the front axle" in said
    assert "front_axle_load_kg: the scale under the front axle: level floor, driver on board. In kilograms; from" in said
    sheet = {line.key: line.letter for line in measure_result(None, None, "", None, "centre arm", "a4").lines}
    assert letters_of(find_kind("centre arm")) == sheet


@pytest.mark.slow
def test_measure_names_the_file_at_hand(scrubwise):
    scrubwise("new", "mine.toml", "--like", "rack")
    assert "then: scrubwise new mine.toml --ask" in scrubwise("measure", "mine.toml", "--out", "m.pdf")[1]
    assert 'scrubwise new my-car.toml --like "rack" --ask' in scrubwise("measure", "--like", "rack", "--out", "m.pdf")[1]


def asked_of(tmp_path, key, text, *answers):
    """What the question of a number makes of answers: (its value, what was said)."""
    said, lines = [], iter(answers)
    interview = Interview(tmp_path / "mine.toml", text, said.append, lambda prompt: next(lines))
    (one,) = (one for one in open_lines(text) if one.key.name == key)
    return interview._one(one)[0], " ".join(said)


def test_a_number_that_does_not_go_with_the_others_is_asked_about_at_once(tmp_path):
    """A wrong minus behind the axle, and a stop past the place where the steering snaps over, were taken without a word."""
    text = scenario_text(find_kind("centre arm"))
    value, said = asked_of(tmp_path, "drop_arm_behind_front_axle_mm", text, "-108", "108")
    assert value == "108"
    assert "Is this right?" in said
    assert "look at drop_arm_behind_front_axle_mm and at how far the arms' joints stand behind the axle" in said
    value, said = asked_of(tmp_path, "hand_wheel_limit_deg", text, "88", "88")
    assert value == "88"
    assert "Is this right? Danger: fit a stop before the hand wheel passes" in said
    assert "your stop at 88.0 deg stands past" in said
    assert asked_of(tmp_path, "hand_wheel_limit_deg", text, "5", "50") == ("50", "  Is this right? hand_wheel_limit_deg = 5 is unusual (10 "
        "to 450 is usual); did you mean 50?   Type it again to keep it, or another number.")  # fmt: skip


def test_a_number_typed_in_another_unit_is_said_back(tmp_path):
    text = scenario_text(find_kind("rack"))
    assert asked_of(tmp_path, "wheelbase_mm", text, "152 cm") == ("1520", "  That is 1520 millimetres.")
    assert asked_of(tmp_path, "wheelbase_mm", text, "1520 mm") == ("1520", "")


def test_whoever_writes_a_file_of_a_kind_is_told_to_measure_first(scrubwise):
    """It sent people to `run` with numbers that are nobody's."""
    code, out, _ = scrubwise("new", "our rack.toml", "--like", "rack")
    assert code == 0
    assert re.match(r"Wrote our rack.toml. To measure still: \d\d numbers, marked MEASURE:\n", out)
    assert out.index('scrubwise measure "our rack.toml"') < out.index('new "our rack.toml" --ask') < out.index('run "our rack.toml"')
    assert max(map(len, out.splitlines())) <= 80
