"""A dial for the hand wheel or its column, to cut out: lines and words in millimetres about its middle, to the right and up.

It turns with the hand wheel below a fixed pointer.  What comes to the pointer when the hand wheel goes to the left, anticlockwise as the
driver sees it, is what stood clockwise of it; so left turns stand clockwise of S.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from sim.template.plan import SheetPlan
from viz.shared.dangers import stop_places
from viz.template.paper import BOLD, FINE, HAIR, Box, Stroke, Word, word_box

CUT_AT, NUMBERS_AT, SCALE_AT = 83.0, 76.5, 66.0  # [mm] from the middle: where it is cut out, its numbers, the feet of its marks
TICKS = {10: (5.0, 0.35), 5: (3.5, 0.35), 1: (2.0, 0.18)}  # [mm] length outwards and breadth of the marks of that many degrees
NUMBER_SIZE, LETTER_SIZE, WORD_SIZE = 10.0, 15.0, 11.0  # [pt] of numbers, letters, and words of more than two signs
BAR = (1.0, 5.0)  # [mm] ends of a mark's bold bar, inwards from the scale
LETTERS_TO, STEP_IN, INMOST = 60.0, 1.0, 24.0  # [mm] where letters end, and how far further in they stand where others are in their way
COLUMNS_AT = (10.0, 12.5, 15.0, 20.0)  # [mm] circles to cut along for columns of 20 to 40 mm
APART, LEADER_STEP = 0.8, 0.25  # [mm] between two words; how finely a leader is cut where words are in its way
HALF_TURN = 180.0
ROUND = np.radians(np.arange(0.0, 361.0, 2.0))


@dataclass(frozen=True)
class Setting:
    """Where a reading of the plan has the hand wheel.

    mark : on the dial; hand_deg : there, positive to the left
    """

    mark: str
    hand_deg: float

    @property
    def words(self) -> str:
        """What to do, in words."""
        if not self.hand_deg:
            return f"{self.mark}: straight ahead"
        return f"{self.mark}: {abs(self.hand_deg):.1f} deg {'left' if self.hand_deg > 0 else 'right'}"


def settings_of(hands_deg: Sequence[float]) -> tuple[Setting, ...]:
    """Marks for the settings of a plan: S straight ahead, L and R the farthest to each side, LL and RR nearer ones, and so on.

    hands_deg : hand angles, positive to the left [degrees]
    """
    found = [Setting("S", 0.0)] if 0.0 in hands_deg else []
    for sign, letter in ((1, "L"), (-1, "R")):
        sizes = sorted({sign * hand for hand in hands_deg if sign * hand > 0}, reverse=True)
        found += [Setting(letter * number, sign * size) for number, size in enumerate(sizes, start=1)]
    return tuple(found)


def place(hand_deg: np.ndarray | float, radius: np.ndarray | float) -> np.ndarray:
    """A point of the dial: hand angles to the left stand clockwise.  hand_deg (n,) or one [degrees]; radius [mm].  Returns (n, 2) [mm]."""
    turn = np.radians(np.asarray(hand_deg, dtype=float))
    return np.stack(np.broadcast_arrays(radius * np.sin(turn), radius * np.cos(turn)), axis=-1)


def dial_drawing(plan: SheetPlan, settings: Sequence[Setting]) -> tuple[list[Stroke], list[Word], Box]:
    """The dial with its marks.

    plan : SheetPlan; settings : of the readings
    Returns lines, words and the box around them [mm] about its middle.
    """
    low, high = scale_ends(plan)
    strokes = [Stroke(place(np.degrees(ROUND), CUT_AT), HAIR, (4.0, 2.0)), Stroke(place(np.arange(low, high + 0.5), SCALE_AT), FINE)]
    strokes += [Stroke(place(np.degrees(ROUND), radius), HAIR, (4.0, 2.0)) for radius in COLUMNS_AT]
    strokes.append(Stroke(place(HALF_TURN, np.array([COLUMNS_AT[0], CUT_AT])), HAIR, (4.0, 2.0)))  # to slip it over the column
    words = []
    for angle in range(low, high + 1):
        length, width = next(look for step, look in TICKS.items() if angle % step == 0)
        strokes.append(Stroke(place(angle, np.array([SCALE_AT, SCALE_AT + length])), width))
        if angle % 10 == 0 and abs(angle) < HALF_TURN:  # there is the slit
            words.append(_word(f"{angle}".replace("-", "\N{MINUS SIGN}"), angle, NUMBERS_AT, NUMBER_SIZE))
    taken: list[Box] = []
    for mark, hand in _marks(plan, settings):
        # Beyond half a turn a place on the dial has two meanings, so its angle stands beside the letter.
        text = mark if abs(hand) <= HALF_TURN else f"{mark} {hand:.0f}".replace("-", "\N{MINUS SIGN}")
        word = _free_place(text, hand, taken)
        strokes.append(Stroke(place(hand, SCALE_AT - np.array(BAR)), BOLD))
        strokes += [Stroke(part, HAIR) for part in _leader(word, hand, taken)]
        taken.append(word_box(word))
        words.append(word)
    return strokes, words, Box(-CUT_AT, -CUT_AT, CUT_AT, CUT_AT)


def scale_ends(plan: SheetPlan) -> tuple[int, int]:
    """Where the scale ends: at the locks to the next 10 degrees, and once round where they lie further.  plan : SheetPlan.  [degrees]"""
    low, high = plan.hand_range_deg
    return max(-180, -10 * ceil(-low / 10)), min(180, 10 * ceil(high / 10))


def _marks(plan: SheetPlan, settings: Sequence[Setting]) -> list[tuple[str, float]]:
    """Names and hand angles of all that is marked, what must be found first of all."""
    sign = {"left": 1.0, "right": -1.0}
    stops = [("stop", sign[side] * float(stop)) for side, stop in stop_places(plan.dangers)]
    marks = [("S", 0.0), *((one.mark, one.hand_deg) for one in settings if one.hand_deg), *stops]
    return marks + [(pair.letter, pair.hand_deg) for pair in plan.pairs]


def _word(text: str, hand: float, radius: float, size: float, weight: str = "normal") -> Word:
    right, up = place(hand, radius)
    return Word(text, float(right), float(up), size, weight)


def _free_place(text: str, hand: float, taken: Sequence[Box]) -> Word:
    """A mark's word on its ray, as far out as the scale and others leave it room."""
    size = LETTER_SIZE if len(text) <= 2 else WORD_SIZE
    for radius in np.arange(LETTERS_TO, INMOST, -STEP_IN):
        word = _word(text, hand, float(radius), size, "bold")
        box = word_box(word)
        farthest = np.hypot(max(abs(box.left), abs(box.right)), max(abs(box.bottom), abs(box.top)))
        if farthest <= LETTERS_TO and not any(_meet(box, one) for one in taken):
            break
    return word


def _meet(box: Box, other: Box) -> bool:
    across = box.left < other.right + APART and other.left < box.right + APART
    return across and box.bottom < other.top + APART and other.bottom < box.top + APART


def _leader(word: Word, hand: float, taken: Sequence[Box]) -> list[np.ndarray]:
    """The line from a mark's bar to its word, without what would run through words."""
    steps = np.arange(np.hypot(word.right, word.up), SCALE_AT - BAR[1], LEADER_STEP)
    points = place(hand, steps)
    boxes = [word_box(word), *taken]
    free = np.array([not any(_meet(Box(x, y, x, y), box) for box in boxes) for x, y in points])
    ends = np.flatnonzero(np.diff(np.concatenate([[0], free.astype(int), [0]])))
    return [points[[start, end - 1]] for start, end in zip(ends[::2], ends[1::2], strict=True) if end - start > 1]
