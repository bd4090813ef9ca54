"""What a lecturer lays over the picture: a black screen, a ring round the pointer, strokes of a pen."""

from itertools import pairwise

from viz.replay.layout import page_point
from viz.replay.looks import CARD, INK
from viz.replay.quiet import pygame

RING, RING_BREADTH, STROKE = 26.0, 4.0, 5.0  # [points]


class Overlay:
    """The state of all three; places are shares of the surface, so that they stay where they are when it grows."""

    def __init__(self) -> None:
        self.black = self.ring = self.writing = self.down = False
        self.at = (0.5, 0.5)  # the pointer
        self.strokes: list[list[tuple[float, float]]] = []

    def write(self) -> None:
        """Begin to write, or wipe off what was written."""
        self.writing, self.down = not self.writing, False
        self.strokes.clear()

    def press(self, x: float, y: float) -> None:
        """The pen touches the picture.  x, y : shares of the surface [-]."""
        self.down = True
        self.strokes.append([(x, y)])

    def move(self, x: float, y: float) -> None:
        """The pointer moves.  x, y : shares of the surface [-]."""
        self.at = (x, y)
        if self.down:
            self.strokes[-1].append((x, y))

    def draw(self, surface: pygame.Surface) -> None:
        """Lay all over a picture.  surface : with the picture."""
        width, height = surface.get_size()
        surface.set_clip(None)
        if self.black:
            surface.fill("#000000")
            return
        p = page_point(width, height)
        # A light rim lets both be seen on dark marks too.
        for colour, breadth in ((CARD, STROKE + 4), (INK, STROKE)):
            thick = max(1, round(breadth * p))
            for stroke in self.strokes:
                places = [(x * width, y * height) for x, y in stroke]
                for a, b in pairwise(places):
                    pygame.draw.line(surface, colour, a, b, thick)
                for place in places:
                    pygame.draw.circle(surface, colour, place, thick / 2)
        if self.ring:
            x, y = self.at[0] * width, self.at[1] * height
            for colour, breadth in ((CARD, RING_BREADTH + 4), (INK, RING_BREADTH)):
                pygame.draw.aacircle(surface, colour, (x, y), (RING + breadth / 2) * p, max(1, round(breadth * p)))
