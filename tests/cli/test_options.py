"""What a package has: its version, completion by the shell, a list of commands that is not cut, and complete metadata."""

import os
import subprocess
import sys
import tomllib
from importlib.metadata import version
from pathlib import Path

import pytest

from viz.cli.entry import app, main

ROOT = Path(__file__).parents[2]
COMMANDS = [command.callback for command in app.registered_commands]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


@pytest.fixture
def scrubwise(monkeypatch, capsys):
    """Run the command in this process at 80 columns: (exit code, standard output, standard error)."""
    monkeypatch.setenv("COLUMNS", "80")

    def run(*words):
        monkeypatch.setattr(sys, "argv", ["scrubwise", *words])
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code, *capsys.readouterr()

    return run


def test_version(scrubwise):
    assert scrubwise("--version") == (0, f"scrubwise {version('scrubwise')}\n", "")
    assert version("scrubwise") == PROJECT["version"]
    assert scrubwise("--version", "run") == (0, f"scrubwise {version('scrubwise')}\n", "")  # and nothing is run


def test_version_from_a_copy_that_was_never_installed(scrubwise, monkeypatch):
    from importlib.metadata import PackageNotFoundError

    def unknown(name):
        raise PackageNotFoundError(name)

    monkeypatch.setattr("importlib.metadata.version", unknown)
    assert scrubwise("--version") == (0, "scrubwise uninstalled\n", "")


def test_list_of_commands_is_not_cut(scrubwise):
    code, out, err = scrubwise("--help")
    assert (code, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 80
    assert "..." not in out.partition("Commands:")[2]
    told = " ".join(out.split())
    for command in COMMANDS:
        assert f"{command.__name__} {' '.join(command.__doc__.split())}" in told


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_script(shell):
    script = complete("", {"_SCRUBWISE_COMPLETE": f"source_{shell}"})
    assert "_SCRUBWISE_COMPLETE=complete_" + shell in script


def complete(line, more):
    """What the command answers to a shell that asks how a line goes on."""
    env = os.environ | {"PYTHONPATH": str(ROOT), "COMP_WORDS": line, "COMP_CWORD": str(len(line.split()) - (not line.endswith(" ")))} | more
    done = subprocess.run([sys.executable, "-c", "from viz.cli import main; main()"], env=env, capture_output=True, text=True, timeout=60)
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


@pytest.mark.slow
def test_completion_goes_on_with_commands_and_options():
    asked = {"_SCRUBWISE_COMPLETE": "complete_bash"}
    assert complete("scrubwise s", asked).split() == ["search", "spread"]
    assert set(complete("scrubwise ", asked).split()) == {command.__name__ for command in COMMANDS}
    assert complete("scrubwise bench --se", asked).split() == ["--setup"]
    assert complete("scrubwise manual t", asked).split() == ["tour", "trust", "targets"]


def test_metadata_is_complete():
    assert PROJECT["authors"] == [{"name": "The Scrubwise authors"}]
    assert PROJECT["authors"][0]["name"] in (ROOT / PROJECT["license-files"][0]).read_text(encoding="utf-8")
    assert PROJECT.keys() >= {"description", "readme", "license", "keywords", "classifiers", "requires-python"}
    assert "urls" not in PROJECT
    assert {"cluster", "test", "dev"} == PROJECT["optional-dependencies"].keys()


def test_what_is_imported_is_declared():
    import ast

    declared = {line.partition(">")[0] for line in PROJECT["dependencies"]} | {"dask", "distributed"}
    names = {"markdown_it": "markdown-it-py", "pygame": "pygame-ce", "PIL": "pillow", "tomli_w": "tomli-w"}
    for file in sorted((*ROOT.glob("sim/**/*.py"), *ROOT.glob("viz/**/*.py"))):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            found = [one.name for one in node.names] if isinstance(node, ast.Import) else []
            found += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            for name in (name.partition(".")[0] for name in found):
                assert name in {"sim", "viz"} | sys.stdlib_module_names or names.get(name, name) in declared, f"{file}: {name}"
