"""Where the names are defined that `import sim` offers; a module is opened when its name is first used."""

from difflib import get_close_matches
from importlib import import_module

WHERE = {
    "InputError": "sim.errors",
    "Case": "sim.surface.case", "from_tables": "sim.surface.case", "from_text": "sim.surface.case", "load": "sim.surface.case",
    "angles": "sim.surface.laps", "compare": "sim.surface.laps", "corner": "sim.surface.laps",
    "improve": "sim.surface.studies", "uncertainty": "sim.surface.studies",
}  # fmt: skip


def offered(name: str) -> object:
    """What `sim` has under a name, for its `__getattr__`.  name : as written.  Raises AttributeError for any other."""
    if name not in WHERE:
        near = get_close_matches(name, WHERE, n=1)
        hint = "" if name.startswith("_") else f"; did you mean {near[0]}?" if near else f"; it offers {', '.join(sorted(WHERE))}"
        raise AttributeError(f"module 'sim' has no attribute {name!r}{hint}")
    return getattr(import_module(WHERE[name]), name)
