"""Tables and words that several commands show alike."""

from collections.abc import Sequence

from rich.table import Table

from sim.car.chassis import WHEELS
from sim.judgements import TELL_APART

# Pressure changes the rolling coefficient of a bicycle tyre by a factor of two to three in the range that matters: M. Rothhämel,
# Int. J. Vehicle Systems Modelling and Testing 17 (2023) 67-80, abstract seen.
PRESSURE_FIRST = "Look after tyre pressure first."
WHEEL_WORDS = dict(zip(WHEELS, ("front left", "front right", "rear left", "rear right"), strict=True))


def plain_table(*columns: tuple[str, str]) -> Table:
    """A plain table; a column is its heading and its justification."""
    table = Table(box=None, pad_edge=False, header_style="bold", collapse_padding=True, padding=(0, 2, 0, 0))
    for heading, justify in columns:
        table.add_column(heading, justify=justify, no_wrap=justify == "right", overflow="fold")  # type: ignore[arg-type]
    return table


def listed(parts: Sequence[str]) -> str:
    """Parts of a sentence, as "A", "A and B" or "A, B and C".  parts : at least one."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def listed_first(parts: Sequence[str], most: int) -> str:
    """The same of the first ones, with how many more there are.  parts : at least one; most : that are named."""
    more = len(parts) - most
    return listed([*parts[:most], *([f"{more} more"] if more > 0 else [])])


def share_words(share: float, gap: str = " ") -> str:
    """A difference as a share, as 18 %, 3.4 % or 0.11 %.  share : not below 0 [-]; gap : between figure and sign."""
    return f"{100 * share:.{0 if share >= 0.1 else 1 if share >= TELL_APART else 2}f}{gap}%"


def below_told_apart(share: float) -> str:
    """That a difference in drive work is too small for the model, as a sentence.  share : of the drive work, below TELL_APART [-]."""
    percent, least = 100 * abs(share), f"{100 * TELL_APART:g} %"
    shown = f"{percent:.2f}"
    much = "hardly anything" if percent < 0.005 else f"just under {least}" if float(shown) >= 100 * TELL_APART else f"{shown} %"
    return f"Of the drive work it is {much}, and the model cannot tell apart what differs by less than {least}."
