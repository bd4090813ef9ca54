"""Docstring and signature cannot drift: every public function says what each parameter is, with a unit somewhere."""

import importlib
import inspect
import pkgutil
import re

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


@pytest.mark.parametrize("name", ALL)
def test_has_a_docstring(name):
    text = text_of(name) if name in FUNCTIONS else ALL[name].__doc__
    assert text, f"{name} has no docstring"


@pytest.mark.parametrize("name", FUNCTIONS)
def test_docstring_names_each_parameter(name):
    function = FUNCTIONS[name]
    text = text_of(name)
    missing = [
        parameter for parameter in inspect.signature(function).parameters
        if parameter not in SELF and not parameter.startswith("_") and not re.search(rf"\b{re.escape(parameter)}\b", text)
    ]  # fmt: skip
    assert not missing, f"{name}: docstring does not name {', '.join(missing)}"


def numeric(function):
    """Whether a function takes or returns plain numbers or arrays."""
    signature = inspect.signature(function)
    shown = [one.annotation for one in signature.parameters.values()] + [signature.return_annotation]
    # Of a dictionary each key carries its own unit.
    return any(("float" in str(one) or "ndarray" in str(one)) and not str(one).startswith("dict") for one in shown)


@pytest.mark.parametrize("name", [name for name, one in FUNCTIONS.items() if numeric(one)])
def test_docstring_gives_a_unit(name):
    assert BRACKETS.search(text_of(name)), f"{name}: no unit in brackets"


KERNELS = [
    f"{module.name}.{name}"
    for module in pkgutil.walk_packages(sim.__path__, "sim.")
    for name, member in vars(importlib.import_module(module.name)).items()
    if hasattr(member, "py_func") and member.py_func.__module__ == module.name and not name.startswith("_")
]


@pytest.mark.parametrize("name", KERNELS)
def test_kernel_docstring_gives_a_unit(name):
    assert BRACKETS.search(text_of(name)), f"{name}: no unit in brackets"
