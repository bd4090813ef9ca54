"""The manual's page on Python is a notebook whose cells run, one after the other, and show what they show.

`pytest tests/manual/test_python.py --store-answers` writes what they show anew.
"""

import ast
import io
import re
from contextlib import redirect_stdout

import pandas as pd
import pytest

import sim
from viz.manual.pages import FOLDER

PAGE = FOLDER / "python.md"
CELL = re.compile(r"^```python\n(.*?)^```\n(?:\n```\n(.*?)^```\n)?", re.M | re.S)
NUMBER = re.compile(r"(?<![\w.])[-+]?\d+(?:\.\d+)?(?![\w]|\.\d)")
WIDTH = 78


def shown_by(code, names):
    """What a cell prints, and the value of its last line."""
    tree, out = ast.parse(code), io.StringIO()
    last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
    with redirect_stdout(out), pd.option_context("display.width", WIDTH, "display.max_columns", 20):
        exec(compile(tree, "cell", "exec"), names)
        value = None if last is None else eval(compile(ast.Expression(last.value), "cell", "eval"), names)
        text = "" if value is None else f"{value if isinstance(value, pd.DataFrame | pd.Series) else repr(value)}\n"
    return out.getvalue() + "".join(f"{line.rstrip()}\n" for line in text.splitlines())


@pytest.mark.slow
def test_cells_show_what_they_show(tmp_path, monkeypatch, request):
    monkeypatch.chdir(tmp_path)
    text, names = PAGE.read_text(encoding="utf-8"), {}
    cells = [(match[1], match[2] or "", shown_by(match[1], names)) for match in CELL.finditer(text)]
    if request.config.getoption("--store-answers"):
        made = iter(cells)

        def told(match):
            code, _, now = next(made)
            return f"```python\n{code}```\n" + (f"\n```\n{now}```\n" if now else "")

        PAGE.write_text(CELL.sub(told, text), encoding="utf-8")
        pytest.skip("written anew")
    assert len(cells) >= 8
    for code, shown, now in cells:
        # Figures may differ by one in their last digit, as another system rounds.
        assert NUMBER.sub("#", shown) == NUMBER.sub("#", now), code
        for one, other in zip(NUMBER.findall(shown), NUMBER.findall(now), strict=True):
            last = 10.0 ** -len(one.partition(".")[2])
            assert float(other) == pytest.approx(float(one), rel=0, abs=1.01 * last), code


def test_cells_fit_a_page():
    """A line that the terminal breaks cannot be copied."""
    for match in CELL.finditer(PAGE.read_text(encoding="utf-8")):
        ast.parse(match[1])
        assert max(map(len, match[1].splitlines())) <= WIDTH
        assert max(map(len, (match[2] or "").splitlines()), default=0) <= WIDTH


def test_cells_can_be_copied_from_a_terminal(scrubwise, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    code, out, _ = scrubwise("manual", "python")
    assert code == 0
    shown = "\n".join(line.strip() for line in out.splitlines())
    for match in CELL.finditer(PAGE.read_text(encoding="utf-8")):
        assert "\n".join(line.strip() for line in match[1].splitlines()) in shown


def test_every_name_is_on_the_page():
    text = PAGE.read_text(encoding="utf-8")
    assert [name for name in sim.__all__ if name != "Case" and f"sim.{name}" not in text] == []
    offered = [name for name in vars(sim.Case) if not name.startswith("_") and callable(getattr(sim.Case, name))]
    assert [name for name in offered if name not in ("place_of",) and not re.search(rf"\b{name}\b", text)] == []
