"""Figures as a page shows them: with as many digits as they deserve and their unit, which no line break parts from them."""

from math import isfinite

from sim.car.chassis import GRAVITY
from viz.shared.rounding import shown_less

GAP = "\N{NO-BREAK SPACE}"
MOST_DECIMALS = 6  # smaller figures are nothing
MINUS = "\N{MINUS SIGN}"


def number(value: float, digits: int) -> str:
    """A number with so many decimals; what rounds to nothing has no sign.  value : finite."""
    if not isfinite(value):
        raise ValueError("a page shows finite figures")
    return f"{round(value, digits) + 0.0:.{digits}f}".replace("-", MINUS)


def figure(value: float, least: int = 2) -> str:
    """A number with at least so many digits that count: 134, 57.8, 0.66.  value : finite; least : from 1 on."""
    size = abs(value)
    if size < 0.5 * 10.0**-MOST_DECIMALS:
        return "0"
    before = 0 if size == 0 else len(str(int(size))) if size >= 1 else 0
    digits = max(0, least - before) if size >= 1 else least
    while 0 < size < 1 and digits < MOST_DECIMALS and round(size * 10**digits) < 10 ** (least - 1):
        digits += 1
    return number(value, digits)


def with_unit(value: float, unit: str, least: int = 2) -> str:
    """A figure and its unit.  value, least : as for `figure`; unit : as it is written."""
    return f"{figure(value, least)}{GAP}{unit}"


def closing_digits(more: float, less: float, difference: float) -> int:
    """How many decimals show two numbers and their difference so that the sum comes out.  more, less, difference : that belong together."""
    return next((digits for digits in (3, 4, 2) if shown_less(more, less, digits) == round(difference, digits)), 2)


def on_scale(force: float) -> str:
    """A force as a luggage scale shows it, in kilograms, and in newtons.  force [N]."""
    return f"{number(force / GRAVITY, 2)}{GAP}kg ({newtons(force)})"


def joules(value: float) -> str:
    return with_unit(value, "J", 3)


def tenth_of_joules(value: float) -> str:
    """Work to a tenth, where differences of it are to be seen.  value [J]."""
    return f"{number(value, 1)}{GAP}J"


def newtons(value: float) -> str:
    return with_unit(value, "N", 3)


def metres(value: float) -> str:
    return f"{number(value, 2)}{GAP}m"


def millimetres(value: float) -> str:
    return f"{number(value, 0)}{GAP}mm" if abs(value) >= 10 else f"{number(value, 1)}{GAP}mm"


def degrees(value: float, digits: int = 1) -> str:
    return f"{number(value, digits)}{GAP}{'degree' if number(value, digits) == '1' else 'degrees'}"


def percent(share: float, least: int = 2) -> str:
    """A share of 1 in per cent.  share : 0.0084 is 0.84 %; least : as for `figure`."""
    return f"{figure(100 * share, least)}{GAP}%"


def times(ratio: float) -> str:
    """How many times one is of another.  ratio : above 0."""
    return f"{figure(ratio)}{GAP}times"


def speed(value: float) -> str:
    """A speed in m/s.  value [m/s]."""
    return f"{value:g}{GAP}m/s"


def kilometres_per_hour(value: float) -> str:
    """The same speed as people say it.  value [m/s]."""
    return f"{number(3.6 * value, 0)}{GAP}km/h"
