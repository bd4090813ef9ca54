"""Which set-up is meant: by name, number or unique beginning, in every command alike."""

import json
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import InputError
from sim.scenario.choice import chosen_setup
from sim.scenario.file import find_scenario, load_scenario

NAMES = ["ideal", "Kinked arms, cross rod", "drop arm and two rods", "drop arm, no toe", "2", "3 degrees of toe", "straße"]


@pytest.mark.parametrize(
    ("wanted", "place"),
    [
        ("ideal", 0), ("IDEAL", 0), ("  ideal\t", 0), ("i", 0), ("1", 0), (" 1 ", 0), ("kinked", 1), ("KINKED ARMS,", 1),
        ("drop arm,", 3), ("4", 3), ("2", 4), ("5", 4), ("3", 2), ("3 deg", 5), ("6", 5), ("STRASSE", 6), ("straß", 6),
    ],
)  # fmt: skip
def test_what_is_meant(wanted, place):
    assert chosen_setup(NAMES, wanted, "tried.toml") == place


LIST = ('1 "ideal", 2 "Kinked arms, cross rod", 3 "drop arm and two rods", 4 "drop arm, no toe", 5 "2", 6 "3 degrees of toe", '
        '7 "straße"')  # fmt: skip


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        ("drop", '2 set-ups begin with "drop"; write more of the name or its number: 3 "drop arm and two rods", 4 "drop arm, no toe"'),
        ("idael", 'there is no set-up "idael"; did you mean "ideal"?'),
        (" cross ROD ", 'there is no set-up "cross ROD"; did you mean "Kinked arms, cross rod"?'),
        ("zzz", f'there is no set-up "zzz"; choose one of {LIST}'),
        ("8", f'there is no set-up "8"; choose one of {LIST}'),
        ("0", f'there is no set-up "0"; choose one of {LIST}'),
        ("-1", f'there is no set-up "-1"; choose one of {LIST}'),
        ("", f'there is no set-up ""; choose one of {LIST}'),
        ("   ", f'there is no set-up ""; choose one of {LIST}'),
        ("\x1b[2Jz", f'there is no set-up "?[2Jz"; choose one of {LIST}'),
    ],
)
def test_what_is_refused(wanted, words):
    with pytest.raises(InputError) as fault:
        chosen_setup(NAMES, wanted, "tried.toml")
    assert str(fault.value) == f"tried.toml: --setup: {words}"


def test_nothing_is_not_the_only_set_up():
    with pytest.raises(InputError, match='there is no set-up ""; choose one of 1 "ideal"'):
        chosen_setup(["ideal"], "", "tried.toml")


NAME = st.text(st.characters(exclude_categories=["Cc", "Cs"]), min_size=1, max_size=12).map(str.strip).filter(bool)


@given(st.lists(NAME, min_size=1, max_size=8, unique_by=str.casefold), st.data())
def test_every_set_up_can_be_meant(names, data):
    place = data.draw(st.integers(0, len(names) - 1))
    assert chosen_setup(names, names[place], "t") == place
    assert chosen_setup(names, f" {names[place].casefold()}\t", "t") == place
    if str(place + 1) not in names:
        assert chosen_setup(names, str(place + 1), "t") == place


@given(st.lists(NAME, min_size=1, max_size=8, unique_by=str.casefold), st.text(max_size=200))
def test_any_text_is_a_set_up_or_refused_in_one_line(names, wanted):
    try:
        told = names[chosen_setup(names, wanted, "t")]
    except InputError as fault:
        told = str(fault)
    assert told in names or (told.startswith("t: --setup: ") and "\n" not in told)


# --- the same in every command ----------------------------------------------------------------------------------------


@pytest.fixture
def answer(tmp_path, monkeypatch, capsys):
    """(exit code, standard output, standard error) of a command line, in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sim.kernels.compiled.first_use", lambda kernel: False)
    from viz.cli.entry import main

    def run(*words):
        monkeypatch.setattr(sys, "argv", ["scrubwise", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code, *capsys.readouterr()

    return run


@pytest.fixture(scope="module")
def car_park_run(compiler, tmp_path_factory):
    """The run folder of a scenario."""
    from sim.study.compare import compare
    from viz.run.folder import write_run

    path = find_scenario("car-park")
    folder = tmp_path_factory.mktemp("run") / "car-park-run"
    write_run(compare(load_scenario(path), path.parent, "car-park"), path.parent, folder)
    return folder


@pytest.mark.slow
@pytest.mark.parametrize("wanted", ["3", " KINKED ", "kinked arms, cross rod", "kink"])
def test_every_command_means_the_same(answer, car_park_run, wanted):
    code, out, err = answer("template", "car-park", "--setup", wanted, "--out", "t.pdf", "--json")
    assert (code, err, json.loads(out)["setup"]) == (0, "", "kinked arms, cross rod")
    code, out, err = answer("bench", "car-park", "bench-readings", "--setup", wanted, "--json")
    assert (code, err, json.loads(out)["setup"]) == (0, "", "kinked arms, cross rod")
    code, out, err = answer("watch", car_park_run, "--export", "a.png", "--setup", wanted, "--json")
    assert (code, err) == (0, "")
    code, out, err = answer("coast", "coast-up", "--mass", "145", "--circle-radius", "8", "--scenario", "car-park", "--setup", wanted,
                            "--json")  # fmt: skip
    assert (code, "is left for the bend" in err) == (2, True)  # a straight road's log, which is looked at once the set-up is known


REFUSALS = {
    "template": ("template", "car-park", "--out", "t.pdf"),
    "bench": ("bench", "car-park", "bench-readings"),
    "search": ("search", "car-park"),
    "coast": ("coast", "coast-up", "--mass", "145", "--circle-radius", "8", "--scenario", "car-park"),
    "watch": ("watch", "RUN", "--export", "a.png"),
}


@pytest.mark.slow
@pytest.mark.parametrize("wanted", ["paralel", "9", ""])
def test_every_command_refuses_in_the_same_words(answer, car_park_run, wanted):
    words = set()
    for call in REFUSALS.values():
        code, out, err = answer(*(car_park_run if word == "RUN" else word for word in call), "--setup", wanted)
        assert (code, out) == (2, "")
        words.add(err.partition(": --setup: ")[2])
    assert len(words) == 1
    assert words.pop().startswith(f'there is no set-up "{wanted}"; ')


def test_of_many_names_the_first_are_listed():
    names = [f"Team {index}" for index in range(40)]
    with pytest.raises(InputError) as caught:
        chosen_setup(names, "team", "class", option="--replay", things="team")
    told = str(caught.value)
    assert told.startswith('class: --replay: 40 teams begin with "team"; write more of the name or its number: 1 "Team 0", 2 "Team 1", ')
    assert told.endswith('12 "Team 11" and 28 more')
