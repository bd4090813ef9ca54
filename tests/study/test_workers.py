"""What a study asks of a cluster, with a scheduler of its own."""

import time

import distributed
import pytest

from sim.errors import InputError
from sim.study.workers import _client

pytestmark = pytest.mark.filterwarnings("ignore")


def test_a_scheduler_may_take_a_moment_to_answer(monkeypatch):
    def slowly(*_, **__):
        time.sleep(0.6)
        return "client"

    monkeypatch.setattr(distributed, "Client", slowly)
    assert _client("tcp://localhost:1") == "client"


def test_what_is_no_scheduler_is_told(monkeypatch):
    def fails(*_, **__):
        raise OSError

    monkeypatch.setattr(distributed, "Client", fails)
    with pytest.raises(InputError, match=r"no scheduler answers at tcp://localhost:1"):
        _client("tcp://localhost:1")
