"""Plain output fits one screen, without the words of specialists; --explain prints all."""

import os
import re
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import sim.kernels.compiled
from sim.scenario.file import shipped_folder, shipped_names
from viz.cli.entry import main
from viz.shared.brief import FEWEST_ROWS, MOST_LINES, WIDTH, Rows, brief, height
from viz.shared.words import below_told_apart

# What only --explain says.
EXPLAINED = re.compile(r"Saltelli|\bdraws\b|in sign|equivalent steer|Sampling error|No uncertainty|correlation|chi-square", re.I)
COAST = [("coast", *words, "--mass", "145") for words in (("coast-down.csv",), ("coast-down.csv", "--back", "coast-up.csv"))]
SLOW = {
    "run": ("race-day", "quay-loop", "recorded-loop", "car-park", "starter"), "contest": ("class-contest",),
    "knock": ("quay-loop", "race-day", "recorded-loop", "car-park"),
    "search": ("car-park", "recorded-loop", "race-day", "quay-loop", "starter"),
    "spread": tuple(shipped_names()),
}  # fmt: skip
LINES = [
    *[(command, name) for name in shipped_names() for command in ("run", "angles", "search", "knock")],
    *[("spread", name, "--literature") for name in shipped_names()],
    *[("angles", name, "--setup", setup) for name in shipped_names() for setup in ("1", "2", "3")],
    *[("bench", "quay-loop", *words, "--setup", "drop arm and two rods") for words in (("bench-readings",), ("floor-readings",))],
    *[("bench", "quay-loop", "--plan", plan, "--setup", setup) for plan in ("quick", "full") for setup in ("4", "6")],
    *[("corner", name, "--radius", "6", "--speed", "4", *more) for name in shipped_names() for more in ((), ("--ladder",))],
    ("corner", "quay-loop", "--radius", "-3", "--speed", "4.5", "--map-csv", "map.csv", "--ladder"),
    ("contest", "class-contest"), *COAST, ("search", "car-park", "--objective", "drive-work", "--objective", "error"),
]  # fmt: skip
# What each command said before it fitted one screen: tables by a heading, and its closing notes.
SAID = {
    ("run", "race-day"): (
        "off line", "rubber dragged m", "own best", "what the battery gave and where it went agree", "each put on the car with",
        "The form of the tyre is part of the doubt", "Points were smoothed", "Model: slipping four wheels. Energy ledger:",
        "No uncertainty has been computed",
    ),
    ("angles", "car-park"): (
        "hand left right ideal inner error", "(hand wheel limit assumed, not yours: hand_wheel_limit_deg is not given)", "(assumed too)",
        "steering ratio 1.00 to 1", "kingpin washers stick until",
        "wall to wall", "From the middle of one joint", "Danger: with the left wheel at", "By the tyre's law:", "-35.00 -30.84 -40.24",
    ),
    ("corner", "quay-loop", "--radius", "6", "--speed", "6", "--ladder"): (
        "needs most drive force", "Warning: tyres slip up to 3.3 degrees", "scrub 253.3 W, aligning", "Hand torque: ", "front left",
        "rung of the ladder deg deg deg W",
    ),
    ("search", "first-bend"): (
        "costs under 1 %", "wheels' lock [deg]", "as one wheel in the middle would stand",
        "drive work, steady turns [J]", "tyre's cornering stiffness [1/rad]",
        "candidates by the sum of steady turns; the laps in time have the last word.", "Kept: it can be built",
    ),
    ("spread", "first-bend", "--literature"): (
        "beats \"parallel\" in all 256 draws", "The drive work itself:", "in sign", "share of the largest", "car.tyre.friction",
        "each with the same car, tyres and air for all set-ups; 768 laps driven; seed 0.", "Speed on the straights: 5.00 m/s",
        "Sampling error of the largest gain", "A gain is the middle of the differences", "Told apart in sign:", "A range is drawn evenly.",
        "Half of the draws have the linear law", "The course and the driver's line are the same in every draw",
    ),
    ("contest", "class-contest"): ("rub, all", "at most", "alone, with a driver who never tires.", "No uncertainty is given"),
    COAST[0]: (
        "correlation", "start value", "bound hit", "left out: 7 at rest, 19 driven or pushed, 10 braked.", "reduced chi-square",
        "Not in the intervals:", "Each +- is a 95 % interval", "with the wheels' spin 145 kg; air density 1.225 kg/m3.",
    ),
}  # fmt: skip


@pytest.fixture
def printed(tmp_path, monkeypatch, capsys):
    """What a command prints into a pipe, in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    monkeypatch.setattr(sim.kernels.compiled, "first_use", lambda kernel: False)

    def run(*words):
        monkeypatch.setattr(
            sys, "argv", ["scrubwise", *(str(shipped_folder() / word) if word.startswith("coast-") else word for word in words)]
        )
        with pytest.raises(SystemExit) as ended:
            main()
        out, err = capsys.readouterr()
        assert (ended.value.code, err) == (0, "")
        return out

    return run


def marked(lines):
    longer = [one[1] in SLOW.get(one[0], ()) or "--map-csv" in one for one in lines]
    return [pytest.param(one, marks=[pytest.mark.slow] if slow else [], id=" ".join(one)) for one, slow in zip(lines, longer, strict=True)]


@pytest.mark.compiled
@pytest.mark.parametrize("words", marked(LINES))
def test_plain_output_fits_one_screen(words, printed):
    out = printed(*words)
    lines = out.splitlines()
    assert len(lines) <= MOST_LINES
    assert max(map(len, lines)) <= WIDTH
    assert not EXPLAINED.search(out)
    told = " ".join(out.split())
    assert "add --explain." in told
    assert (len(words) > 2 and words[0] == "angles") or "Doubt: " in told


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize("words", marked(SAID))
def test_explain_says_all(words, printed):
    told = " ".join(printed(*words, "--explain").split())
    assert not [part for part in SAID[words] if part not in told]


@pytest.mark.parametrize("words", [("spread", "--help"), ("search", "--help")])
def test_help_speaks_plainly(words, printed):
    assert not EXPLAINED.search(printed(*words))


def test_chosen_setups_have_a_table_each(printed):
    out = printed("angles", "car-park", "--setup", "kink", "--setup", "1", "--setup", "kinked arms, cross rod")
    heads = [line for line in out.splitlines() if line.split() == ["hand", "left", "right", "ideal", "inner", "error"]]
    assert len(heads) == 2  # each once, in the order asked for
    assert out.index("\nkinked arms, cross rod\n") < out.index("\nideal\n")
    assert "Fit a stop" in " ".join(out.split())
    whole = printed("angles", "car-park", "--setup", "kink", "--explain")
    assert "turntable" not in whole
    assert "-35.00" in whole
    shown = re.findall(r"^ *(-?\d+\.\d\d)(?: +-?\d+\.\d\d){4}$", out.partition("\nideal\n")[2], re.M)
    assert shown[0] == "-60.00"
    assert shown[-1] == "60.00"
    assert "0.00" in shown


def test_rows_that_were_asked_for_are_all_shown(printed):
    out = printed("angles", "car-park", "--outer", "10,20,50")
    assert len(re.findall(r"(?: +-?\d+\.\d\d){5}$", out, re.M)) == 11
    assert '"kinked arms, cross rod": outer 50 deg: beyond the lock' in out


@pytest.mark.parametrize(("share", "words"), [
    (0.0084, "it is 0.84 %, and"), (0.00999, "it is just under 1 %, and"), (0.00994, "it is 0.99 %, and"),
    (1e-6, "it is hardly anything, and"),
])  # fmt: skip
def test_a_difference_is_never_shown_as_large_as_what_it_lies_below(share, words):
    assert words in below_told_apart(share)
    assert below_told_apart(share).endswith("differs by less than 1 %.")


sentences = st.lists(st.integers(1, 40), min_size=0, max_size=25).map(lambda counts: ["word " * count for count in counts])


@pytest.mark.slow
@settings(max_examples=150, deadline=None)
@given(
    warnings=sentences,
    rows=st.lists(st.text("abc d", min_size=1, max_size=80), max_size=60),
    below=st.booleans(),
    gap=st.integers(1, 2),
    danger=st.sampled_from((None, ("Danger: in many words. " * 12, "Danger: in short."))),
)
def test_any_report_fits_one_screen(warnings, rows, below, gap, danger):
    table = Rows(
        (("set-up", "left"), ("drive\nwork J", "right"), ("lap\ntime s", "right")), [[name, "12345", "67.8"] for name in rows], gap=gap
    )
    report = brief(
        "Title", ["A finding of some words. " * 8], warnings, table, ["Do this.", "Doubt: that."], "much", ["folder"], below, danger
    )
    assert sum(map(height, report)) <= MOST_LINES
    texts = [str(one) for one in report]
    kept = [one for one in report if not isinstance(one, str) and hasattr(one, "row_count")]
    shown = kept[0].row_count if kept else 0
    assert bool(rows) == bool(kept)
    assert shown == len(rows) or f"and {len(rows) - shown} more row{'s' if len(rows) - shown > 1 else ''}: --explain shows all" in texts
    told = [one for one in texts if one.startswith("word ")]
    assert told == warnings[: len(told)]
    assert (danger is not None) == any(one in (danger or ()) for one in texts)  # told in full or in short, never left out
    left = len(warnings) - len(told)
    assert not left or f"and {left} more remark{'s' if left > 1 else ''}: --explain shows all" in texts
    assert shown >= min(len(rows), FEWEST_ROWS) or max(map(len, rows)) > WIDTH // 2


def test_a_full_screen_keeps_the_danger_in_short():
    danger = ("Danger: in many words. " * 12, "Danger: in short.")
    rows = Rows((("set-up", "left"),), [[str(row)] for row in range(30)], gap=1)
    full = list(map(str, brief("Title", ["Finding."], ["word " * 400], rows, ["Doubt: that."], "much", danger=danger)))
    assert danger[1] in full
    assert "and 1 more remark: --explain shows all" in full
    assert danger[0] in list(map(str, brief("Title", ["Finding."], [], None, ["Doubt: that."], "much", danger=danger)))


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize(
    "command", [pytest.param("run", marks=pytest.mark.slow), "angles", pytest.param("knock", marks=pytest.mark.slow), "corner"]
)
@pytest.mark.parametrize("word", ["a name of many words ", "anameofonewordonly"])
def test_many_setups_with_long_names_fit_one_screen(command, word, printed, tmp_path):
    yard = (Path(__file__).parents[1] / "scenarios" / "yard.toml").read_text(encoding="utf-8")
    head = yard.partition("[[setup]]")[0]
    kinds = ('linkage = "parallel"', 'linkage = "cross rod"\narm_length_mm = 110\narm_angle_deg = 13.9')
    setups = [f'[[setup]]\nname = "{place} {word * 3}"\npivot = "stub axles"\n{kinds[place % 2]}\n' for place in range(24)]
    (tmp_path / "many.toml").write_text(head + "\n".join(setups), encoding="utf-8")
    out = printed(command, "many.toml", *(("--radius", "6", "--speed", "4") if command == "corner" else ()))
    assert len(out.splitlines()) <= MOST_LINES
    assert max(map(len, out.splitlines())) <= WIDTH
    assert re.search(r"^and \d+ more rows: --explain shows all", out, re.M)
    assert command in ("run", "corner") or "Danger: " in out


@pytest.mark.slow
@pytest.mark.parametrize("words", [("run",), ("angles",), ("angles", "--setup", "1"), ("angles", "--setup", "1", "--setup", "2")],
                         ids=" ".join)  # fmt: skip
def test_a_file_full_of_slips_fits_one_screen(words, printed, tmp_path):
    yard = (Path(__file__).parents[1] / "scenarios" / "yard.toml").read_text(encoding="utf-8")
    head = yard.partition("[[setup]]")[0]
    kind = 'linkage = "cross rod"\narm_length_mm = 45\narm_angle_deg = -14\ntoe_in_deg = 4\nrod_turns_left = 12'
    setups = [f'[[setup]]\nname = "{place} {"a name of many words " * 3}"\npivot = "stub axles"\n{kind}\n' for place in range(12)]
    (tmp_path / "slips.toml").write_text(head + "\n".join(setups), encoding="utf-8")
    out = printed(words[0], "slips.toml", *words[1:])
    assert len(out.splitlines()) <= MOST_LINES + (MOST_LINES if words.count("--setup") > 1 else 0)
    assert max(map(len, out.splitlines())) <= WIDTH
    assert out.count("Is this right?") == 2
    assert re.search(r"^And \d+ more like that: add --explain\.$", out, re.M)
    assert printed(words[0], "slips.toml", *words[1:], "--explain").count("Is this right?") >= 48


@pytest.mark.slow
@pytest.mark.compiled
def test_pipe_is_a_screen_wide(printed, monkeypatch):
    monkeypatch.setitem(os.environ, "COLUMNS", "200")  # of the terminal, not of the pipe
    assert max(map(len, printed("run", "first-bend").splitlines())) <= WIDTH
