"""What the pen is asked to draw at three instants, against a stored list.

After a change that is meant: pytest tests/replay/test_recorded.py --store-answers
"""

import json
from pathlib import Path

import pytest

from viz.replay import scene
from viz.replay.cards import draw_close_up
from viz.replay.layout import Type
from viz.replay.pens import NotePen
from viz.replay.player import Player

STORED = Path(__file__).parent / "stored" / "pen_calls.json"
INSTANTS = {"start, ideal": (0, 0.0), "a quarter, parallel": (1, 210.5), "late, turntable": (3, 700.0)}
LAST_DIGIT = 1.5e-4  # [m]: the pen notes four decimals, and another machine may round one of them the other way


def plain(calls):
    """As JSON holds them."""
    return json.loads(json.dumps(calls))


def alike(one, other):
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(alike, one, other))
    if isinstance(one, float | int) and isinstance(other, float | int):
        return abs(one - other) <= LAST_DIGIT
    return one == other


@pytest.fixture(scope="module")
def recorded(replay):
    calls = {}
    for name, (index, row) in INSTANTS.items():
        player = Player.opened(replay)
        player.shows |= {"loads"}
        pen = NotePen()
        now = replay.drives[index].at(row)
        scene.draw_ground(pen, (now.x, now.y), 3.0, replay.marks)
        draw_close_up(pen, player, index, row, Type.enlarged(1.0))
        calls[name] = plain(pen.calls)
    return calls


@pytest.mark.target("T26", what="What the replay's pen draws at three instants, against a stored list", asked="equal")
@pytest.mark.parametrize("name", INSTANTS)
def test_the_pen_draws_what_it_drew(recorded, name, request):
    if request.config.getoption("--store-answers"):
        STORED.parent.mkdir(exist_ok=True)
        lines = [f"{json.dumps(one)}: [\n" + ",\n".join(json.dumps(call) for call in calls) + "\n]" for one, calls in recorded.items()]
        STORED.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8", newline="\n")
    stored = json.loads(STORED.read_text(encoding="utf-8"))
    assert len(recorded[name]) == len(stored[name])
    for got, wanted in zip(recorded[name], stored[name], strict=True):
        assert alike(got, wanted), (got, wanted)


def test_every_verb_is_used(recorded):
    assert {call[0] for call in recorded["a quarter, parallel"]} == {"line", "path", "disc", "wheel", "text"}
