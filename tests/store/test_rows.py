"""Numbers of a study on the drive: what is written is what is read, and a full drive is told in one line."""

import os
import tempfile
from contextlib import closing

import numpy as np
import pytest

import sim.store.rows
from sim.errors import InputError
from sim.store.rows import Shelf, keep_rows, kept_rows


def test_what_is_written_in_runs_is_read_in_others():
    numbers = np.random.default_rng(0).normal(size=1000)
    with closing(Shelf(1000)) as shelf:
        assert not shelf.get(0, 1000).any()
        for start in (600, 0, 300, 900):
            shelf.put(start, numbers[start : start + 300])
        np.testing.assert_array_equal(shelf.get(0, 1000), numbers)
        np.testing.assert_array_equal(shelf.get(299, 303), numbers[299:602])
        shelf.put(10, np.asfortranarray(numbers[:12].reshape(3, 4)))  # row by row, however it lies in memory
        np.testing.assert_array_equal(shelf.get(10, 12), numbers[:12])


class Full:
    """A file on a drive with room for so many more bytes."""

    def __init__(self, stream, room):
        self.stream, self.room = stream, room

    def __getattr__(self, name):
        return getattr(self.stream, name)

    def write(self, run):
        if self.room == 0:
            raise OSError(28, "No space left on device")
        taken = min(self.room, len(run))
        self.room -= taken
        return self.stream.write(run[:taken])


def test_a_full_drive_is_told_and_short_writes_are_gone_on_with(monkeypatch):
    original = tempfile.TemporaryFile
    monkeypatch.setattr(sim.store.rows, "TemporaryFile", lambda **options: Full(original(**options), 100))
    with closing(Shelf(1000)) as shelf:
        shelf.put(0, np.ones(8))
        with pytest.raises(InputError) as caught:
            shelf.put(8, np.ones(8))
        assert list(shelf.get(0, 9)) == [1.0] * 9
    assert str(caught.value) == (
        f"{tempfile.gettempdir()}: the figures of the study can't be kept there (No space left on device); make room in it, or set TMPDIR "
        "to another folder"
    )


def test_rows_whose_bytes_have_changed_are_none(tmp_path):
    """A changed bit inside the figures was taken for a lap's figures."""
    file, rows = tmp_path / "block.npy", np.arange(12.0).reshape(3, 4)
    keep_rows(file, rows, "laps")
    np.testing.assert_array_equal(kept_rows(file), rows)
    whole = file.read_bytes()
    for place in range(0, len(whole), 7):
        file.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        assert kept_rows(file) is None
    for content in (b"", whole[:-1], whole[:100], whole + b"x", b"PK\x03\x04" + whole):
        file.write_bytes(content)
        assert kept_rows(file) is None
    with open(file, "wb") as stream:
        np.save(stream, rows)  # without the sum
    assert kept_rows(file) is None


def test_a_folder_under_the_name_of_kept_rows_is_none(tmp_path):
    (tmp_path / "block.npy").mkdir()
    assert kept_rows(tmp_path / "block.npy") is None


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes are files on POSIX systems")
def test_a_pipe_under_the_name_of_kept_rows_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "block.npy")
    assert kept_rows(tmp_path / "block.npy") is None


def test_what_is_far_larger_than_kept_rows_is_not_read(tmp_path):
    with open(tmp_path / "block.npy", "wb") as stream:
        stream.truncate(10**12)
    assert kept_rows(tmp_path / "block.npy") is None
