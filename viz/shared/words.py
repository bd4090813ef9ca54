"""Tables and words that several commands show alike."""

from rich.table import Table

from sim.car.chassis import WHEELS

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
