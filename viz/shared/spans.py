"""Bars of a page: where they begin and how wide they are."""


def bar_spans(values: list[float | None]) -> list[tuple[float, float]]:
    """Where bars begin and how wide they are, in per cent of the room for the longest to each side.

    values : lengths, below 0 to the left of the common zero; None for no bar, which gets no width
    """
    known = [value for value in values if value is not None]
    low, high = min([0.0, *known]), max([0.0, *known])
    room = (high - low) or 1.0
    return [(100 * (min(value or 0.0, 0.0) - low) / room, 100 * abs(value or 0.0) / room) for value in values]
