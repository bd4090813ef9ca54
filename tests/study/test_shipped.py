"""Every shipped scenario: all set-ups finish near the line, the ledger closes, and the answers are the stored ones.

The stored answers guard against a change that nobody meant.  Where one is meant, `pytest tests/study/test_shipped.py --store-answers`
writes them anew, and the change log says why.
"""

import json
from functools import cache
from pathlib import Path

import pytest

from sim.lap.ladder import Model
from sim.scenario.file import find_scenario, load_scenario, shipped_names
from sim.study.compare import compare
from sim.study.summary import summary
from viz.shared.plain import plain

STORED = Path(__file__).parents[1] / "stored"
RUNGS = [Model.SLIPPING_BICYCLE, Model.SLIPPING_FOUR_WHEELS]
RESIDUAL = 1e-6  # of the drive work: what any lap may leave unexplained
# Seen: within 0.10 m of the line everywhere and within 0.05 m by root mean square, both in the tightest bends at a walk.
FARTHEST, ROOT_MEAN_SQUARE = 0.12, 0.06  # [m]
RELATIVE = 1e-9  # what another processor's last bits may grow to
# In a figure's own unit; of energies: as a share of the drive work, and of laps more: of the laps that they are more than, since some
# of these are small differences of large ones.
ABSOLUTE = 1e-9
# Not stored: what is left of a balance is rounding, and what a loss is worth elsewhere follows from the loss.
LEFT_OUT = {"ledger_residual", "residual", "equivalents"}
SLOW = {"race-day"}  # seeks its pace over many laps
CASES = [
    pytest.param(name, rung, id=f"{name}-{rung.label}", marks=[pytest.mark.slow] if name in SLOW else [])
    for name in shipped_names()
    for rung in RUNGS
]


@cache
def driven(name, rung):
    path = find_scenario(name)
    return compare(load_scenario(path), path.parent, name, rung)


def figures(part, energy, place=""):
    """All figures of a summary: (place, value, absolute tolerance).  energy : drive work of the set-up [J], 0 outside one."""
    if isinstance(part, dict):
        energy = part.get("drive_work_J") or energy
        for key, value in part.items():
            if key not in LEFT_OUT:
                yield from figures(value, energy, f"{place}.{key}".lstrip("."))
    elif isinstance(part, list):
        for index, value in enumerate(part):
            yield from figures(value, energy, f"{place}[{index}]")
    else:
        in_joules = "_J." in place or place.endswith("_J")  # a figure, or one of several under one key
        yield place, part, ABSOLUTE * (energy if in_joules else 100.0 if place.endswith("more_in_100_laps") else 1.0)


@pytest.mark.compiled
@pytest.mark.target("T10", what="Any lap's ledger leaves open, sliding, braking and hills included", asked="1e-6")
@pytest.mark.parametrize(("name", "rung"), CASES)
def test_is_driven_as_planned(name, rung, within_target):
    comparison = driven(name, rung)
    for result in (*comparison.results, comparison.reference):
        assert result.finished, f"{result.name}: {result.reason}"
        within_target(abs(result.ledger.residual), at_most=RESIDUAL)
        assert result.error_max <= FARTHEST, result.name
        assert result.error_rms <= ROOT_MEAN_SQUARE, result.name
        assert result.ledger.lateral.min() >= -1e-12  # [J]: a slipping tyre gives nothing back
        assert result.ledger.longitudinal.min() >= -1e-12


@pytest.mark.compiled
@pytest.mark.target(
    "T24", what="Every figure of every shipped scenario against its stored answer",
    asked="1e-9 relative, 1e-9 of its unit or of the drive work",
)  # fmt: skip
@pytest.mark.parametrize(("name", "rung"), CASES)
def test_answers_are_the_stored_ones(name, rung, request, within_target):
    file = STORED / f"{name}-{rung.label.replace(' ', '-')}.json"
    now = json.loads(json.dumps(plain(summary(driven(name, rung)))))
    if request.config.getoption("--store-answers"):
        STORED.mkdir(exist_ok=True)
        file.write_text(json.dumps(now, indent=1) + "\n", encoding="utf-8")
        pytest.skip("stored anew")
    assert file.is_file(), f"{file.name} is not stored; run pytest tests/study/test_shipped.py --store-answers"
    stored = json.loads(file.read_text(encoding="utf-8"))
    found = {place: (value, tolerance) for place, value, tolerance in figures(now, 0.0)}
    expected = {place: value for place, value, _ in figures(stored, 0.0)}
    assert found.keys() == expected.keys()
    moved = []
    for place, (value, tolerance) in found.items():
        exact = value is None or isinstance(value, bool | str)
        same = value == expected[place] if exact else expected[place] is not None and value == pytest.approx(
            expected[place], rel=RELATIVE, abs=tolerance
        )  # fmt: skip
        if not same:
            moved.append(f"{place}: {value!r}, stored {expected[place]!r}")
    assert not moved, "\n".join([f"{len(moved)} of {len(found)} answers have changed:", *moved[:20]])
    numbers = {place: pair for place, pair in found.items() if pair[0] is not None and not isinstance(pair[0], bool | str)}
    gaps = [abs(value - expected[place]) / max(RELATIVE * abs(expected[place]), tolerance) for place, (value, tolerance) in numbers.items()]
    within_target(gaps, at_most=1.0, of="largest part of what may move")


def test_nothing_is_stored_for_a_scenario_that_is_gone():
    known = {f"{name}-{rung.label.replace(' ', '-')}.json" for name in shipped_names() for rung in RUNGS}
    assert {file.name for file in STORED.glob("*")} <= known
