"""Every command's JSON document bears its name and version and is what its JSON Schema, made from the types, says."""

import json
from copy import deepcopy
from dataclasses import dataclass

import pytest
from jsonschema import Draft202012Validator

from sim.scenario.file import shipped_folder
from viz.cli.documents import DOCUMENTS, schema_of
from viz.cli.entry import COMMANDS
from viz.shared.documents import json_schema, schema_name

TURN = ("--radius", "6", "--speed", "4")
BUILT = ("--setup", "drop arm and two rods")
QUICK = [
    ("angles", "first-bend", "--checks"), ("angles", "quay-loop", "--outer", "10,80"), ("corner", "first-bend", *TURN, "--ladder"),
    ("corner", "first-bend", "--radius", "3", "--speed", "20"), ("knock", "first-bend"), ("coast", "coast-down", "--mass", "145"),
    ("new", "mine.toml"), ("manual",), ("manual", "trust"), ("run", "first-bend"),
]  # fmt: skip
LONG = [
    ("bench", "quay-loop", "--plan", "quick", "--setup", "4"),
    ("run", "first-bend", "--paces"), ("run", "race-day"), ("run", "quay-loop", "--model", "rolling-bicycle"), ("run", "recorded-loop"),
    ("corner", "quay-loop", *TURN, "--map-csv", "map.csv"), ("bench", "quay-loop", "bench-readings", *BUILT),
    ("bench", "quay-loop", "floor-readings", *BUILT), ("coast", "coast-down", "--back", "coast-up", "--mass", "145"),
    ("template", "quay-loop", "--out", "a.pdf"), ("template", "first-bend", "--out", "a.pdf", "--setup", "3"),
    ("assemble", "quay-loop", "--out", "a.pdf"), ("measure", "--out", "a.pdf"), ("manual", "--out", "pages"),
    ("spread", "first-bend", "--samples", "16", "--literature"), ("spread", "race-day", "--samples", "16", "--literature", "--sobol"),
    ("search", "car-park"), ("search", "first-bend", "--objective", "drive-work", "--objective", "error"), ("contest", "class-contest"),
]  # fmt: skip


@pytest.fixture(scope="module")
def schema():
    """The JSON Schema of a command, checked to be one."""
    made = {}

    def of(command):
        if command not in made:
            made[command] = schema_of(command)
            Draft202012Validator.check_schema(made[command])
        return Draft202012Validator(made[command])

    return of


def told(fault):
    return f"{fault.json_path}: {fault.message[:200]}"


@pytest.mark.parametrize("words", [*QUICK, *[pytest.param(one, marks=pytest.mark.slow) for one in LONG]], ids=" ".join)
def test_a_document_is_what_its_schema_says(words, scrubwise, schema):
    words = [str(shipped_folder() / f"{word}.csv") if word.startswith("coast-") else word for word in words]
    code, out, _ = scrubwise(*words, "--json")
    assert code == 0
    document = json.loads(out)
    assert next(iter(document)) == "schema"
    assert document["schema"] == schema_name(words[0]) == f"scrubwise.{words[0]}/1"
    assert [told(fault) for fault in schema(words[0]).iter_errors(document)] == []
    first = list(document)[1]
    lacking = {key: value for key, value in document.items() if key != first}
    for broken in (document | {"no_such_key": 1}, document | {"schema": "scrubwise.other/1"}, lacking):
        assert not schema(words[0]).is_valid(broken)


def objects(document):
    """Every object within a document that has keys of its own."""
    if isinstance(document, dict):
        yield document
    for one in document.values() if isinstance(document, dict) else document if isinstance(document, list) else ():
        yield from objects(one)


@pytest.mark.slow
def test_a_figure_too_many_or_of_another_kind_is_seen_however_deep_it_stands(scrubwise, schema):
    document = json.loads(scrubwise("run", "first-bend", "--json")[1])
    missed = []
    for place, one in enumerate(objects(document)):
        for key, value in one.items():
            other = deepcopy(document)
            changed = list(objects(other))[place]
            changed[key] = ["a word"] if value is None or isinstance(value, bool | int | float) else 7.5
            if schema("run").is_valid(other):
                missed.append(key)
    assert missed == []


def test_every_command_that_has_json_has_a_schema():
    assert sorted(DOCUMENTS) == sorted(one.__name__ for one in COMMANDS)


@pytest.mark.parametrize("command", ["run", "manual"])
def test_the_option_prints_it_and_asks_for_nothing_else(command, scrubwise, tmp_path):
    code, out, err = scrubwise(command, "--schema")
    assert (code, err, list(tmp_path.iterdir())) == (0, "", [])
    assert json.loads(out) == schema_of(command)


def test_units_of_the_docstrings_are_told():
    setup = schema_of("run")["$defs"]["SetupSummary"]["properties"]
    assert setup["drive_work_J"]["description"] == "at the driven wheels [J]"
    assert "[deg]" in setup["peak_slip_deg"]["description"]


@pytest.mark.slow
def test_a_run_folder_bears_the_version_too(scrubwise, tmp_path):
    code, out, _ = scrubwise("run", "first-bend", "--out", "made", "--json")
    assert code == 0
    assert json.loads((tmp_path / "made" / "summary.json").read_text(encoding="utf-8")) == json.loads(out)


@dataclass(frozen=True)
class Odd:
    """What no document can hold.

    what : it
    """

    what: complex


def test_a_type_that_has_no_schema_is_refused():
    with pytest.raises(TypeError, match="complex"):
        json_schema("odd", [[Odd]])
