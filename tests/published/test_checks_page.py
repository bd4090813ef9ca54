"""The page of outside checks cannot go stale: it says what the tests say, as close as they come now."""

import re
import runpy
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("checks_page.py")
TOOLS = runpy.run_path(str(SCRIPT))
NUMBER = re.compile(r"(?<![\w.])[-+]?\d+(?:\.\d+)?(?:e[-+]\d+)?(?![\w]|\.\d)")
CLOSENESS = re.compile(r" \| [^|]* \|$", re.M)  # the last cell of a row, which only a run of the tests can tell


@pytest.mark.target("T28", what="Every published check names what it is held against, and how that is known", asked="all")
def test_every_check_names_what_it_is_held_against():
    marks, lacking = TOOLS["all_declared"]()
    assert lacking == []
    assert len(marks) > 70


def test_page_lists_every_check():
    """All but the figures, which `test_page_is_as_close_as_it_says` looks at."""
    stored = TOOLS["PAGE"].read_text(encoding="utf-8")
    fresh = TOOLS["page"](TOOLS["all_declared"]()[0], TOOLS["Listener"]())
    assert CLOSENESS.sub("", stored) == CLOSENESS.sub("", fresh), f"run python {SCRIPT.relative_to(SCRIPT.parents[2])}"


@pytest.mark.target("T28", what="Every printed figure keeps to the rule of its last digit, without a tolerance by hand", asked="all of it")
@pytest.mark.slow
def test_page_is_as_close_as_it_says(tmp_path, request, within_target):
    """The same words, and figures that differ by no more than one in their last digit: what another system may round otherwise."""
    made = tmp_path / "checks.md"
    done = subprocess.run([sys.executable, str(SCRIPT), str(made)], cwd=SCRIPT.parents[2], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
    if request.config.getoption("--store-answers"):
        TOOLS["PAGE"].write_text(made.read_text(encoding="utf-8"), encoding="utf-8")
        pytest.skip("written anew")
    stored, fresh = (file.read_text(encoding="utf-8") for file in (TOOLS["PAGE"], made))
    within_target([int(share) for share in re.findall(r"\((\d+) % of it used\)", fresh)], at_most=100, of="used up [%]")
    assert NUMBER.sub("#", stored) == NUMBER.sub("#", fresh)
    for one, other in zip(NUMBER.findall(stored), NUMBER.findall(fresh), strict=True):
        last = float(f"1e{one.partition('e')[2] or 0}") * 10.0 ** -len(one.partition("e")[0].partition(".")[2])
        assert float(other) == pytest.approx(float(one), rel=0, abs=1.01 * last), (one, other)
