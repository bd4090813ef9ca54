"""The page of test targets cannot go stale: its rows are those of the marks, and quick tests come as near as it says."""

import json
import re
import runpy
import subprocess
import sys
from math import floor, log10
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("targets_page.py")
TOOLS = runpy.run_path(str(SCRIPT))
REACHED = re.compile(r" \| [^|]* (\| [^|]* \|)$", re.M)  # the last cell but one, which only a run of the tests can tell
FIGURE = re.compile(r"(?:(?P<of>.+): )?(?P<below>below )?(?P<figure>[-+\d.e]+)(?: \(.* %\)| for (?P<bound>at .+))")
ROUNDING = 1e-6  # figures below it are mostly rounding's; those of another machine may be ten times as large or as small


def stored():
    return TOOLS["PAGE"].read_text(encoding="utf-8")


def test_every_target_is_shown_by_some_test():
    assert {row.no for row in TOOLS["rows"]()} == set(TOOLS["NUMBERS"]) == {f"T{number}" for number in range(1, 30)}


def test_page_has_a_row_for_each_mark():
    """All but the figures, which `test_quick_figures_are_as_they_come_now` looks at."""
    fresh = TOOLS["page"](TOOLS["rows"](), TOOLS["Listener"]())
    assert REACHED.sub(r"\1", stored()) == REACHED.sub(r"\1", fresh), f"run python {SCRIPT.relative_to(SCRIPT.parents[2])}"
    assert "not run" not in stored()


def alike(one, other):
    """Whether two figures differ by no more than one in their first digit, rounding's by no more than ten times."""
    a, b = FIGURE.fullmatch(one), FIGURE.fullmatch(other)
    if not (a and b):
        return one == other
    if (a["of"], a["bound"]) != (b["of"], b["bound"]):
        return False
    low, high = sorted(abs(float(match["figure"])) for match in (a, b))
    if high < ROUNDING or a["below"] or b["below"]:
        return high <= 10 * low or low == high
    return high - low <= 1.01 * 10.0 ** floor(log10(high))


@pytest.mark.parametrize(("one", "other", "same"), [
    ("3e-13 (30 %)", "9e-13 (90 %)", True),
    ("3e-13 (30 %)", "1e-14 (1 %)", False),
    ("below 1e-15 (0.1 %)", "4e-15 (0.4 %)", True),
    ("below 1e-15 (0.1 %)", "2e-14 (2 %)", False),
    ("steer: 0.00041 (41 %)", "steer: 0.00052 (52 %)", False),
    ("steer: 0.00041 (41 %)", "steer: 0.00049 (49 %)", True),
    ("steer: 0.00041 (41 %)", "gain: 0.00041 (41 %)", False),
    ("order: 4.1 for at least 3.5", "order: 4.8 for at least 3.5", True),
    ("order: 4.1 for at least 3.5", "order: 4.1 for at least 3", False),
    ("0 for at least -1e-12", "0 for at least -1e-12", True),
    ("12 cases pass", "12 cases pass", True), ("12 cases pass", "11 cases pass", False),
])  # fmt: skip
def test_what_counts_as_the_same_figure(one, other, same):
    assert alike(one, other) is same


def test_a_figure_beyond_its_target_or_none_fails(within_target, request):
    """Also what is no number, and what no mark announces."""
    request.applymarker(pytest.mark.target("T0", what="itself", asked="1"))
    within_target([0.5, 0.9], at_most=1.0, of="most")
    within_target(0.7, at_most=1.0, of="most")
    within_target([2.0, 3.0], at_least=2.0, of="least")
    noted = [("T0", "most", "at most", 1.0, 0.9), ("T0", "least", "at least", 2.0, 2.0)]
    assert request.node.user_properties == [("target", one) for one in noted]
    for value, keys in ((1.1, {"at_most": 1.0}), (float("nan"), {"at_most": 1.0}), ([3.0, float("nan")], {"at_least": 2.0})):
        with pytest.raises(AssertionError):
            within_target(value, **keys)
    with pytest.raises(ValueError, match="unpack"):
        within_target(0.5, at_most=1.0, no="T1")


@pytest.mark.slow
def test_quick_figures_are_as_they_come_now(tmp_path):
    """To one digit, rounding's to their order of magnitude; of slow tests each run asks for the bound itself."""
    made = tmp_path / "reached.json"
    done = subprocess.run([sys.executable, str(SCRIPT), str(made)], cwd=SCRIPT.parents[2], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
    known = {tuple(row.split(" | ")[:2]): row.split(" | ")[3] for row in re.findall(r"^\| (T\d.*) \|$", stored(), re.M)}
    fresh = json.loads(made.read_text(encoding="utf-8"))
    assert len(fresh) > 30
    for no, what, words in fresh:
        pairs = list(zip(known[no, what].split("; "), words.split("; "), strict=True))
        assert all(alike(*pair) for pair in pairs), (no, what, pairs)
