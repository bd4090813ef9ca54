"""What commands find: every figure's unit stands in its type's docstring, and values are of the types that are promised."""

import ast
import json
import re
import tomllib
import types
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from math import isfinite
from pathlib import Path
from typing import Any, Union, get_args, get_origin, get_type_hints

import pytest

from sim.assemble.figures import AssembleResult
from sim.bench.result import BenchResult, PlanResult
from sim.contest.results import ContestResult
from sim.contest.rules import find_contest
from sim.contest.run import contest_result
from sim.scenario.file import find_scenario, load_scenario
from sim.study.angles import AnglesResult, angles_result
from sim.study.compare import compare, compare_paces
from sim.study.corner import CornerResult, LadderTurn, corner_result
from sim.study.knock import KnockResult, knock_result
from sim.study.maps import MapResult
from sim.study.ready import entries_of
from sim.study.summary import PaceSummary, RunSummary, pace_summary, summary
from sim.template.result import TemplateResult
from viz.assemble.numbers import assemble_result
from viz.shared.plain import plain
from viz.template.numbers import template_result

ROOT = Path(__file__).resolve().parents[2]
RESULTS = (
    RunSummary, PaceSummary, AnglesResult, CornerResult, LadderTurn, MapResult, KnockResult, TemplateResult, AssembleResult, ContestResult,
    BenchResult, PlanResult,
)  # fmt: skip
ENTRY = re.compile(r"(?:^|; )((?:\w+, )*\w+) : ", re.M)  # "left_deg, right_deg : angles of both wheels [deg]"
KERNEL_MARKS = {"kernel", "inlined", "no_refcount", "inlined_no_refcount"}


def parts_of(hint):
    """All types that an annotation names."""
    return {hint}.union(*map(parts_of, get_args(hint)))


def types_within(roots):
    """The result types that some hold, and what these are made of."""
    found, left = [], list(roots)
    while left:
        kind = left.pop()
        if kind not in found:
            found.append(kind)
            left += [base for base in kind.__bases__ if is_dataclass(base)]
            left += [part for hint in get_type_hints(kind).values() for part in parts_of(hint) if is_dataclass(part)]
    return found


def told_units(kind):
    """Fields that a docstring names, to whether it gives a unit in brackets."""
    text = "\n".join(line.strip() for line in kind.__doc__.splitlines())
    entries = list(ENTRY.finditer(text))
    ends = [entry.start() for entry in entries[1:]] + [len(text)]
    return {
        name: "[" in text[entry.end() : end] for entry, end in zip(entries, ends, strict=True) for name in entry[1].split(", ")
    }  # fmt: skip


@pytest.mark.parametrize("kind", sorted(types_within(RESULTS), key=lambda kind: kind.__name__), ids=lambda kind: kind.__name__)
def test_each_figure_has_its_unit_in_the_docstring(kind):
    assert kind.__dataclass_params__.frozen
    units, hints = told_units(kind), get_type_hints(kind)
    own = [name for name in vars(kind).get("__annotations__", {})]
    assert [name for name in own if name not in units] == []
    figures = [name for name in own if parts_of(hints[name]) & {float, int}]
    assert [name for name in figures if not units[name]] == []


def faults(value, hint, place):
    """Where a value is not of the type that its annotation promises, or is no finite number."""
    kinds = get_args(hint) if get_origin(hint) in (Union, types.UnionType) else (hint,)
    if len(kinds) > 1:
        if value is None:
            return [] if type(None) in kinds else [place]
        (hint,) = (kind for kind in kinds if kind is not type(None))
    if hint is Any:
        return []
    if is_dataclass(hint):
        told = get_type_hints(type(value))
        inner = [fault for one in fields(value) for fault in faults(getattr(value, one.name), told[one.name], f"{place}.{one.name}")]
        return inner if isinstance(value, hint) else [place]
    if get_origin(hint) is tuple:
        inner = [fault for index, one in enumerate(value) for fault in faults(one, get_args(hint)[0], f"{place}[{index}]")]
        return inner if isinstance(value, tuple) else [place]
    if get_origin(hint) is Mapping:
        inner = [fault for key, one in value.items() for fault in faults(one, get_args(hint)[1], f"{place}[{key}]")]
        return inner if isinstance(value, Mapping) else [place]
    if hint is float:
        return [] if isinstance(value, float) and isfinite(value) else [place]
    return [] if isinstance(value, hint) and (hint is bool or not isinstance(value, bool)) else [place]


@pytest.fixture(scope="module")
def bend():
    return load_scenario(find_scenario("first-bend"))


@pytest.fixture(scope="module")
def found(bend, tmp_path_factory):
    """Results of every command on shipped input, some of it with set-ups that do not finish."""
    entries = entries_of(bend, "first-bend")
    comparison = compare(bend, find_scenario("first-bend").parent, "first-bend")
    paper = tmp_path_factory.mktemp("paper") / "sheet.pdf"
    return {
        RunSummary: summary(comparison),
        tuple[PaceSummary, ...]: pace_summary(compare_paces(bend, "first-bend", comparison), comparison.course.length),
        AnglesResult: angles_result(bend, entries, [10.0, 85.0], 8.0, 3.0),
        CornerResult: corner_result(bend, entries, 6.0, 9.0, True),
        KnockResult: knock_result(bend, "first-bend", 20.0, 3.0),
        AssembleResult: assemble_result(bend, "first-bend", None, paper, "a4"),
        TemplateResult: template_result(bend, "first-bend", None, paper, "a4"),
        ContestResult: contest_result(find_contest("class-contest"))[0],
    }


@pytest.mark.slow
def test_values_are_what_the_types_promise(found):
    assert [fault for kind, result in found.items() for fault in faults(result, kind, getattr(kind, "__name__", "paces"))] == []
    assert faults(7, float, "a whole number") == ["a whole number"]
    assert faults(found[KnockResult], AnglesResult, "another type") == ["another type"]


@pytest.mark.slow
def test_json_has_the_fields_in_their_order_and_nothing_that_json_lacks(found):
    for result in found.values():
        told = plain(result)
        assert json.loads(json.dumps(told, allow_nan=False)) == told
    assert list(plain(found[KnockResult])) == ["title", "step_mm", "speed_m_per_s", "grip_m_per_s2", "setups"]
    # Those that several commands share stand in the middle.
    assert list(plain(found[AnglesResult])["setups"][0])[:4] == ["name", "rods", "stop_left_deg", "dead_centre_left_deg"]
    assert list(plain(found[ContestResult])["entries"][0])[6:10] == ["reason", "score", "drive_work_J", "scrub_J"]
    assert list(plain(found[CornerResult])["setups"][0])[-2:] == ["hand_torque_by_law_N_m", "ladder"]


def modules_without_types():
    (override,) = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["mypy"]["overrides"]
    return override["module"]


@pytest.mark.parametrize("module", modules_without_types())
def test_of_a_module_with_kernels_they_alone_are_without_types(module):
    functions = [one for one in ast.walk(ast.parse((ROOT / f"{module.replace('.', '/')}.py").read_text(encoding="utf-8")))
                 if isinstance(one, ast.FunctionDef)]  # fmt: skip
    kernels = [one for one in functions if {ast.unparse(mark).partition("(")[0] for mark in one.decorator_list} & KERNEL_MARKS]
    assert kernels
    for one in functions:
        untyped = [word.arg for word in (*one.args.args, *one.args.kwonlyargs) if word.annotation is None and word.arg != "self"]
        assert one in kernels or (one.returns is not None and not untyped), one.name
