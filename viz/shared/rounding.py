"""Numbers as they are printed, and sums and differences of them that a reader finds by reckoning with what is printed."""

from collections.abc import Iterable

TENTHS = 1  # decimals of works and powers that stand beside their differences: joules and watts to a tenth


def shown(value: float, digits: int = TENTHS) -> float:
    """A number as it is printed with so many decimals; what rounds to nothing has no sign.  value : finite; digits : decimals."""
    return round(float(value), digits) + 0.0


def shown_less(more: float, less: float, digits: int = TENTHS) -> float:
    """The difference of two numbers as they are printed, so that who takes one from the other finds it.  digits : decimals of both."""
    return shown(shown(more, digits) - shown(less, digits), digits)


def shown_sum(values: Iterable[float], digits: int = TENTHS) -> float:
    """The sum of numbers as they are printed, so that who adds them up finds it.  values : finite; digits : decimals of each."""
    return shown(sum(shown(value, digits) for value in values), digits)


def tenths(value: float) -> str:
    """A number to a tenth, as works and powers stand beside their differences.  value : finite"""
    return f"{shown(value):.{TENTHS}f}"
