"""Scrubwise computes here: no screen, no terminal, no plotting library.

Beside its rooms it offers a few names, each opened when it is first used:

    load, from_text, from_tables : a scenario (`Case`) from a file or shipped name, from TOML text, from keyword arguments
    compare : laps of every set-up; angles : what the front wheels do; corner : one steady turn
    uncertainty : how sure the comparison is, as the command `spread`; improve : the best arms and rods, as the command `search`
    InputError : what all of them raise for input that cannot be used
"""

TYPE_CHECKING = False
if TYPE_CHECKING:
    from sim.errors import InputError
    from sim.surface.case import Case, from_tables, from_text, load
    from sim.surface.laps import angles, compare, corner
    from sim.surface.studies import improve, uncertainty

__all__ = ["Case", "InputError", "angles", "compare", "corner", "from_tables", "from_text", "improve", "load", "uncertainty"]


def __getattr__(name: str) -> object:
    from sim.surface.offered import offered

    return offered(name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
