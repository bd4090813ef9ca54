"""The one way in which input is refused."""

import re
from collections.abc import Sequence

# Signs that a person does not see and that change what he reads: control signs (C0, C1), line and paragraph separators, and those that turn
# the direction of what stands beside them (Unicode's property Bidi_Control).
HIDDEN = r"\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069"
_HIDDEN = re.compile(f"[{HIDDEN}]")


def hides(text: str) -> bool:
    """Whether a text holds a control sign or one that changes the direction.  text : any."""
    return _HIDDEN.search(text) is not None


class InputError(ValueError):
    """Something that a person wrote, or pointed at, cannot be used.

    source : file or option that holds it
    place : key, line, point or cell inside the source; empty where the whole source is meant
    problem : what is wrong, in plain words
    remedy : what to do
    The text is one line without hidden signs, whatever the parts hold.
    """

    def __init__(self, source: str, place: str, problem: str, remedy: str):
        parts = [source] + ([place] if place else []) + [f"{problem}; {remedy}"]
        super().__init__(_HIDDEN.sub("?", " ".join(": ".join(parts).split())))
        self.source, self.place, self.problem, self.remedy = source, place, problem, remedy
        self.faults: Sequence[InputError] = (self,)
        self.lines = [str(self)]


class SeveralInputError(InputError):
    """Several things that cannot be used, told together.

    faults : each of them, the first one first; more : how many there are beside those [-]
    The text is one line that begins as that of the first does; `lines` has a line for each.  `told_together` makes one.
    """

    def __init__(self, faults: Sequence[InputError], more: int = 0):
        first = faults[0]
        super().__init__(first.source, first.place, first.problem, first.remedy)
        self.faults, self.more = faults, more
        self.lines = [str(fault) for fault in faults]
        rest = [line.removeprefix(f"{first.source}: ") for line in self.lines[1:]]
        if more:
            rest.append(f"{more} more mistakes" if more > 1 else "one more mistake")
            self.lines.append(f"{first.source}: and {rest[-1]}")
        text = self.lines[0]
        for line in rest:
            text += f"{'' if text.endswith('?') else '.'} Also: {line}"
        self.args = (text,)


def told_together(faults: Sequence[InputError], more: int = 0) -> InputError:
    """The one fault, or several as one.  faults : at least one; more : how many there are beside those [-]."""
    return faults[0] if len(faults) == 1 and not more else SeveralInputError(faults, more)


class NotTomlError(InputError):
    """A file that was to be TOML and is none: a slip of the pen."""
