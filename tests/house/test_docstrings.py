"""Docstring and signature cannot drift: every public function says what each parameter is, with a unit somewhere."""

import importlib
import inspect
import pkgutil
import re

import numba
import pytest

import sim

BRACKETS = re.compile(r"\[[^\]\s][^\]]*\]")
SELF = {"self", "cls"}


def public_functions():
    """(name, function) of every public function and method that is written in sim, kernels by their Python text."""
    for module_info in pkgutil.walk_packages(sim.__path__, "sim."):
        module = importlib.import_module(module_info.name)
        for name, member in vars(module).items():
            if name.startswith("_"):
                continue
            plain = getattr(member, "py_func", member)
            if inspect.isfunction(plain) and plain.__module__ == module.__name__:
                yield f"{module.__name__}.{name}", plain
            elif inspect.isclass(member) and member.__module__ == module.__name__:
                yield f"{module.__name__}.{name}", member
                for key, method in vars(member).items():
                    if not key.startswith("_") and inspect.isfunction(method):
                        yield f"{module.__name__}.{name}.{key}", method


ALL = dict(public_functions())
FUNCTIONS = {name: one for name, one in ALL.items() if inspect.isfunction(one)}
# A method that fulfils a protocol is described there, once for all who fulfil it.
PROMISED = {
    name.rpartition(".")[2]: inspect.getdoc(one)
    for name, one in FUNCTIONS.items()
    if getattr(ALL.get(name.rpartition(".")[0]), "_is_protocol", False)
}


def text_of(name):
    """The docstring that describes a function, empty where there is none."""
    return inspect.getdoc(FUNCTIONS[name]) or PROMISED.get(name.rpartition(".")[2]) or ""


def test_there_is_something_to_check():
    assert "sim.car.motion.car_motion" in FUNCTIONS
    assert "sim.lap.drive.Lap" in ALL
    assert len(FUNCTIONS) > 80


def without(names, holds):
    """The names for which something does not hold; a test shows all of them at once."""
    return [name for name in names if not holds(name)]


def test_all_have_a_docstring():
    assert without(ALL, lambda name: text_of(name) if name in FUNCTIONS else ALL[name].__doc__) == []


def unnamed(name):
    """Parameters that a function's docstring does not name."""
    text = text_of(name)
    return [
        parameter for parameter in inspect.signature(FUNCTIONS[name]).parameters
        if parameter not in SELF and not parameter.startswith("_") and not re.search(rf"\b{re.escape(parameter)}\b", text)
    ]  # fmt: skip


def test_docstrings_name_each_parameter():
    assert {name: unnamed(name) for name in FUNCTIONS if unnamed(name)} == {}


def numeric(function):
    """Whether a function takes or returns plain numbers or arrays."""
    signature = inspect.signature(function)
    shown = [one.annotation for one in signature.parameters.values()] + [signature.return_annotation]
    # Of a dictionary each key carries its own unit.
    return any(("float" in str(one) or "ndarray" in str(one)) and not str(one).startswith("dict") for one in shown)


def has_unit(name):
    return BRACKETS.search(text_of(name))


def test_docstrings_give_a_unit():
    assert without([name for name, one in FUNCTIONS.items() if numeric(one)], has_unit) == []


KERNELS = [
    f"{module.name}.{name}"
    for module in pkgutil.walk_packages(sim.__path__, "sim.")
    for name, member in vars(importlib.import_module(module.name)).items()
    if hasattr(member, "py_func") and member.py_func.__module__ == module.name and not name.startswith("_")
]


@pytest.mark.skipif(bool(numba.config.DISABLE_JIT), reason="nothing is compiled here")
def test_kernels_docstrings_give_a_unit():
    assert len(KERNELS) > 30
    assert without(KERNELS, has_unit) == []
