"""What a scenario's own checks refuse is typed: its parts reach the message whole, whatever signs they hold."""

import pytest
from pydantic import ValidationError

from sim.errors import InputError
from sim.scenario.file import check_scenario
from sim.scenario.setup import SetupTable
from sim.scenario.tables import TableError


def test_a_table_says_what_is_wrong_in_parts():
    with pytest.raises(ValidationError) as refused:
        SetupTable.model_validate({"name": "a|b", "pivot": "turntable", "linkage": "rack"})
    fault = refused.value.errors()[0]["ctx"]["error"]
    assert isinstance(fault, TableError)
    assert (fault.key, fault.problem, fault.remedy) == (
        "linkage", "a turntable axle has no linkage between its wheels", "leave the key out",
    )  # fmt: skip
    assert str(fault) == "linkage: a turntable axle has no linkage between its wheels; leave the key out"


def test_a_fault_of_the_whole_table_names_no_key():
    assert str(TableError("", "there is neither", "write one of the two")) == "there is neither; write one of the two"


@pytest.mark.parametrize("name", ["n|m", "|", "a | b | c"])
def test_bars_in_a_name_part_nothing(name):
    """A fault's key, problem and remedy once were one text with bars between, so that a name's own bar was shown as "?"."""
    with pytest.raises(InputError) as refused:
        check_scenario({"setup": [{"name": name, "toe_in_deg": {"plus_minus": 1}}]}, "mine.toml")
    assert str(refused.value) == (
        f"mine.toml: setup.{name}.toe_in_deg: there is no value; write a plain number, or {{value = 12.0, plus_minus = 3.0}}"
    )
