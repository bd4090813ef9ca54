"""`contest --copy`: the shipped contest in a folder of one's own, or one line that says why not."""

import errno
import json
import os
import shlex
from pathlib import Path

import pytest

from sim.contest.rules import find_contest
from sim.errors import InputError
from viz.contest.copy import SHIPPED, copy_contest

FILES = {one.name: one.read_text(encoding="utf-8") for one in find_contest(SHIPPED).iterdir() if one.is_file()}


def held(folder):
    return {one.name: one.read_text(encoding="utf-8") for one in folder.iterdir()}


@pytest.mark.parametrize("name", ["our-contest", "our contest", "a-name-that-is-rather-long-" * 4])
def test_a_copy_is_whole_and_its_next_command_is_one_line(name, scrubwise, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    code, out, err = scrubwise("contest", "--copy", name)
    assert (code, err) == (0, "")
    assert held(tmp_path / name) == FILES
    assert out.splitlines()[-1] == f"scrubwise contest {shlex.quote(name)}"
    assert all(one in out for one in FILES)
    code, out, err = scrubwise("contest", "--copy", name)
    assert (code, out) == (2, "")
    assert err == f"scrubwise: {name}: this folder holds something already; give the name of a new folder\n"
    assert held(tmp_path / name) == FILES


def test_an_empty_folder_is_filled_and_json_is_one_document(scrubwise, tmp_path):
    empty = tmp_path / "empty"
    empty.mkdir()
    code, out, _ = scrubwise("contest", "--copy", str(empty), "--json")
    assert code == 0
    told = json.loads(out)
    assert (told["schema"], told["written"], set(told["files"])) == ("scrubwise.contest/1", str(empty), set(FILES))
    assert held(empty) == FILES
    assert list(tmp_path.iterdir()) == [empty]


@pytest.mark.parametrize(("words", "line"), [
    ((), "contest: FOLDER: no folder is named; name one, or begin your own: scrubwise contest --copy our-contest"),
    (("class-contest", "--copy", "new"), "--copy: it writes files and runs nothing; leave FOLDER out"),
    (("--copy", "new", "--out", "there"), "--copy: it writes files and runs nothing; leave --out out"),
    (("--copy", "file"), "file: there is a file of this name; give the name of a new folder"),
    (("--copy", "none/new"), "none/new: there is no folder {here}/none to put it in; make that folder first"),
    (("--copy", "."), ".: this folder is the current one or holds it; give the name of a new folder"),
])  # fmt: skip
def test_what_is_no_copy_is_refused_in_one_line(words, line, scrubwise, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file").write_text("mine")
    code, out, err = scrubwise("contest", *words)
    assert (code, out, err) == (2, "", f"scrubwise: {line}\n".replace("{here}", str(tmp_path)))
    assert held(tmp_path) == {"file": "mine"}


@pytest.mark.parametrize("there", [False, True])
@pytest.mark.parametrize(("how", "told", "words"), [
    (OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)), InputError, "no space left"), (KeyboardInterrupt(), KeyboardInterrupt, None),
], ids=["full", "Ctrl-C"])  # fmt: skip
def test_a_copy_that_ends_half_way_leaves_nothing_behind(there, how, told, words, tmp_path, monkeypatch):
    done, real = [], Path.write_text
    new = tmp_path / "new"

    def fails(path, *args, **keys):
        assert not held(new) if there else not new.exists()
        if len(done) == 3:
            raise how
        done.append(path)
        return real(path, *args, **keys)

    if there:
        new.mkdir()
    monkeypatch.setattr(Path, "write_text", fails)
    with pytest.raises(told, match=words):
        copy_contest(new)
    assert len(done) == 3
    assert list(tmp_path.rglob("*")) == ([new] if there else [])


def test_what_comes_into_the_folder_in_the_meantime_stays(tmp_path, monkeypatch):
    new, real = tmp_path / "new", Path.write_text

    def another(path, text, **keys):
        new.mkdir(exist_ok=True)
        real(new / "mine.toml", "mine")
        return real(path, text, **keys)

    monkeypatch.setattr(Path, "write_text", another)
    with pytest.raises(InputError, match="holds something already"):
        copy_contest(new)
    assert held(new) == {"mine.toml": "mine"}
    assert list(tmp_path.iterdir()) == [new]
