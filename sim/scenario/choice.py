"""Which set-up a person means: one rule for every command."""

from collections.abc import Sequence
from difflib import get_close_matches

from sim.errors import InputError

_LONGEST_SHOWN = 80  # signs; no set-up's name is longer


def chosen_setup(names: Sequence[str], wanted: str, source: str, option: str = "--setup") -> int:
    """The set-up that is meant by its name, its number from 1, or a beginning that no other name has.

    names : of all set-ups, in their order, no two alike but for capitals; wanted : as the user wrote it, capitals and blanks around it do
    not matter; source : what holds the set-ups, and option : by which it was asked for, in messages
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
        raise InputError(source, option, f'{len(begun)} set-ups begin with "{shown}"', remedy)
    if begun:
        return begun[0]
    near = [name for name in folded if key and key in name] or get_close_matches(key, folded, n=1)
    hint = f'did you mean "{names[folded.index(near[0])]}"?' if near else f"choose one of {_listed(names, range(len(names)))}"
    raise InputError(source, option, f'there is no set-up "{shown}"', hint)


def _listed(names: Sequence[str], places: Sequence[int]) -> str:
    return ", ".join(f'{place + 1} "{names[place]}"' for place in places)
