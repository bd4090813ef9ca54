"""The scales of a template as lines and words, in millimetres about their pivot: to the right, and up (the car's front).

A ruler laid along a wheel does not pass through the kingpin but beside it.  So each degree's mark is not a ray from the
kingpin: it is a piece of the very line on which the ruler then lies.  All marks are the straight-ahead ones turned about
the kingpin.  There are two scales, one at each end of the ruler.  If the ruler lies further out or in than planned, or
the sheet is a little off its place, one end reads too much by what the other reads too little, so their mean still is
the angle: a straight line meets a circle at equal angles at both ends.
"""

import numpy as np

from sim.template.plan import Mark, Protractor
from viz.template.paper import BOLD, FINE, HAIR, Box, Stroke, Word, word_box

TICKS = {10: (10.0, 0.35), 5: (8.0, 0.35), 1: (5.0, 0.18)}  # [mm] length and breadth of the marks of that many degrees
# Along the ruler, from the scale's arc outwards [mm].
NUMBERS_AT = 16.0
PLANNED = (-8.0, -1.0)  # ends of the bold bar
PLANNED_LETTER_AT = -13.0
IDEAL = (-27.0, -19.0)  # ends of the line through the ring
IDEAL_RING_AT, RING = -23.0, 1.8
IDEAL_LETTER_AT = -31.5
RULER_LINE_AT = -37.0  # end of the ruler's line straight ahead
# Read standing: a letter 4 mm high at 1.6 m looks as large as print of 1 mm at reading distance.  Judgement. [pt]
NUMBER_SIZE, LETTER_SIZE, IDEAL_SIZE, PIVOT_SIZE = 13.0, 15.0, 11.0, 11.0
# About the pivot [mm].
RING_AT_PIVOT = 4.0
AXES_TO = 100.0  # of the two lines through the pivot, where nothing else asks for the place
ROUND_STEP = 0.5  # degrees between the points of a drawn arc
ROOM_FOR_WORDS = 60.0  # between the pivot and the ruler's line; else the words stand beyond that line
FAR_ENOUGH = 55.0  # from the pivot to the middle of its words
PAD = 2.0  # around the drawing


def place(scale: Protractor, angle_deg: np.ndarray | float, along: np.ndarray | float) -> np.ndarray:
    """A point of the ruler's edge on the paper.

    scale : Protractor
    angle_deg : to which the ruler is turned (n,) or one [degrees]
    along : from the foot of the pivot's perpendicular, forward (for a scale across, to the left) (n,) or one [mm]
    Returns (n, 2): to the right and up, from the pivot [mm].  Source: derived here: the straight-ahead point
    (along, beside) turned about the pivot.
    """
    turn = np.radians(np.asarray(angle_deg, dtype=float) + scale.along_deg)
    ahead = along * np.cos(turn) - scale.beside_mm * np.sin(turn)
    left = along * np.sin(turn) + scale.beside_mm * np.cos(turn)
    return np.stack(np.broadcast_arrays(-left, ahead), axis=-1)


def _piece(scale: Protractor, angle_deg: float, end: float, outwards: tuple[float, float], width: float) -> Stroke:
    """A piece of the ruler's edge at one end (1 or -1), between two distances outwards from the scale's arc."""
    return Stroke(place(scale, angle_deg, end * (scale.scale_at_mm + np.array(outwards))), width)


def _word(scale: Protractor, text: str, angle_deg: float, end: float, outwards: float, size: float, weight: str = "normal") -> Word:
    right, up = place(scale, angle_deg, end * (scale.scale_at_mm + outwards))
    return Word(text, float(right), float(up), size, weight)


def drawing(scale: Protractor) -> tuple[list[Stroke], list[Word], Box]:
    """A scale with its marks, the lines through its pivot, and the words beside them.

    scale : Protractor
    Returns lines, words and the box around them [mm] about the pivot.
    """
    strokes, words = [], []
    for end in (1.0, -1.0):
        for angle in range(scale.low_deg, scale.high_deg + 1):
            length, width = next(look for step, look in TICKS.items() if angle % step == 0)
            strokes.append(_piece(scale, angle, end, (0.0, length), width))
            if angle % 5 == 0:
                words.append(_word(scale, f"{angle}".replace("-", "\N{MINUS SIGN}"), angle, end, NUMBERS_AT, NUMBER_SIZE))
        arc = np.arange(scale.low_deg, scale.high_deg + ROUND_STEP / 2, ROUND_STEP)
        strokes.append(Stroke(place(scale, arc, end * scale.scale_at_mm), FINE))
        for mark in scale.planned:
            strokes.append(_piece(scale, mark.angle_deg, end, PLANNED, BOLD))
            words.append(_word(scale, mark.letter, mark.angle_deg, end, PLANNED_LETTER_AT, LETTER_SIZE, "bold"))
        for mark in scale.ideal:
            strokes += _ideal(scale, mark, end)
            words.append(_word(scale, mark.letter, mark.angle_deg, end, IDEAL_LETTER_AT, IDEAL_SIZE))
    box = _around(strokes, words)
    if scale.beside_mm:  # else it is the line through the pivot
        reach = scale.scale_at_mm + RULER_LINE_AT
        strokes.append(Stroke(place(scale, 0.0, np.array([-reach, reach])), HAIR, (4.0, 2.0)))
    strokes += _pivot(box)
    words += _pivot_words(scale)
    return strokes, words, box


def _ideal(scale: Protractor, mark: Mark, end: float) -> list[Stroke]:
    """A ring with a line through it, where the ideal angle is."""
    turns = np.radians(np.arange(0.0, 361.0, 15.0))
    middle = place(scale, mark.angle_deg, end * (scale.scale_at_mm + IDEAL_RING_AT))
    ring = middle + RING * np.stack([np.cos(turns), np.sin(turns)], axis=-1)
    return [_piece(scale, mark.angle_deg, end, IDEAL, FINE), Stroke(ring, FINE)]


def _around(strokes: list[Stroke], words: list[Word]) -> Box:
    boxes = [word_box(word) for word in words]
    corners = [np.array([(box.left, box.bottom), (box.right, box.top)]) for box in boxes]
    points = np.concatenate([*(stroke.points for stroke in strokes), *corners])
    (left, bottom), (right, top) = points.min(axis=0) - PAD, points.max(axis=0) + PAD
    return Box(float(left), float(bottom), float(right), float(top))


def _pivot(box: Box) -> list[Stroke]:
    """The pivot's point, the line forward with its arrow, and the line across."""
    ends = [max(-AXES_TO, box.left), min(AXES_TO, box.right)]
    arrow = [(-3.0, AXES_TO - 8.0), (0.0, AXES_TO), (3.0, AXES_TO - 8.0)]
    lines = [[(ends[0], 0.0), (ends[1], 0.0)], [(0.0, -AXES_TO), (0.0, AXES_TO)], arrow]
    turns = np.radians(np.arange(0.0, 361.0, 10.0))
    circle = RING_AT_PIVOT * np.stack([np.cos(turns), np.sin(turns)], axis=-1)
    return [*(Stroke(np.array(line), FINE) for line in lines), Stroke(circle, FINE)]


def _pivot_words(scale: Protractor) -> list[Word]:
    """What the lines about the pivot are; all of it in the clear middle, inside the scales."""
    outwards = -1.0 if scale.beside_mm > 0 else 1.0  # on paper
    beside = abs(scale.beside_mm)
    middle = outwards * (min(beside / 2, FAR_ENOUGH) if beside > ROOM_FOR_WORDS else beside + ROOM_FOR_WORDS)
    words = [
        Word(scale.pivot, middle, -5.0, PIVOT_SIZE, "bold"),
        Word(f"of the {scale.name}", middle, -10.5, PIVOT_SIZE),
        Word("square across the car", middle, 4.0, PIVOT_SIZE),
        Word("forward, along the car", -outwards * 4.0, 28.0, PIVOT_SIZE, turn=90.0),
    ]
    if scale.along_deg == 0:
        words.append(Word(f"ruler straight ahead: {beside:.0f} mm", outwards * (beside + 4.0), -32.0, PIVOT_SIZE, turn=90.0))
    return words
