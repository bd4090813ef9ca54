"""Which set-up a person means: one rule for every command."""

from collections.abc import Sequence
from difflib import get_close_matches

from sim.errors import InputError
from sim.linkages.kind import Kind

MOST_LISTED = 12  # names in a message; of a large class's 40 the first ones
_LONGEST_SHOWN = 80  # signs; no set-up's name is longer


def chosen_setup(names: Sequence[str], wanted: str, source: str, option: str = "--setup", things: str = "set-up") -> int:
    """The set-up that is meant by its name, its number from 1, or a beginning that no other name has.

    names : of all set-ups, in their order, no two alike but for capitals; wanted : as the user wrote it, capitals and blanks around it do
    not matter; source : what holds the set-ups, in messages
    option, things : where it was written, and what the names are of, likewise
    A name wins over a number, and a number over a beginning.  Returns the place in `names`, from 0 [-].
    Raises InputError, with what was probably meant, where nothing or more than one fits.
    """
    key, folded = wanted.strip().casefold(), [name.strip().casefold() for name in names]
    if key in folded:
        return folded.index(key)
    numbers = [str(number) for number in range(1, len(names) + 1)]
    if key in numbers:
        return numbers.index(key)
    shown = "".join(sign if sign.isprintable() else "?" for sign in wanted.strip()[:_LONGEST_SHOWN])
    begun = [index for index, name in enumerate(folded) if key and name.startswith(key)]
    if len(begun) > 1:
        remedy = f"write more of the name or its number: {_listed(names, begun)}"
        raise InputError(source, option, f'{len(begun)} {things}s begin with "{shown}"', remedy)
    if begun:
        return begun[0]
    near = [name for name in folded if key and key in name] or get_close_matches(key, folded, n=1)
    hint = f'did you mean "{names[folded.index(near[0])]}"?' if near else f"choose one of {_listed(names, range(len(names)))}"
    raise InputError(source, option, f'there is no {things} "{shown}"', hint)


def first_built(kinds: Sequence[Kind]) -> int:
    """The set-up that a sheet for the floor is about where nobody names one: the first with rods to set, else the first turntable axle,
    else the first, a rule for angles that names no parts.

    kinds : of all set-ups, in their order.  Returns the place in `kinds`, from 0 [-].
    """
    parts = [index for wanted in ("rods", "axle") for index, kind in enumerate(kinds) if getattr(kind, wanted)]
    return parts[0] if parts else 0


def _listed(names: Sequence[str], places: Sequence[int]) -> str:
    more = len(places) - MOST_LISTED
    listed = ", ".join(f'{place + 1} "{names[place]}"' for place in places[:MOST_LISTED])
    return f"{listed} and {more} more" if more > 0 else listed
