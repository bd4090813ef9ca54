"""The two pictures of the whole lap: the course from above, and the strip of power along it.  Both keep what does not change."""

from dataclasses import dataclass, field

import numpy as np

from viz.replay.looks import CARD, FAINT, GRID, INK, PAPER, POWER_COLOURS, SOFT, level
from viz.replay.panels import box, sign
from viz.replay.pens import Ink, PygamePen
from viz.replay.player import Player
from viz.replay.quiet import pygame
from viz.replay.run_data import Drive
from viz.replay.view import Rect, View

LANE, LEAST_LANE = 6.0, 2.5  # [points] between the middles of two set-ups' lanes
BENDY = 1 / 25  # [1/m] from which the strip calls the course a bend
LEAST_TOP = 0.01  # [W] below it nothing rubs, as in a model without slip
LEAST_STEP = 2.0  # [px] between two points of a lane


@dataclass
class _Lane:
    """One set-up's way round the course on the page."""

    rows: np.ndarray  # samples
    pieces: np.ndarray  # (n, 2) [m], beside the line
    levels: np.ndarray  # of each piece between two samples
    drawn: int = 0  # pieces that are on the layer


@dataclass
class CourseMap:
    """The course with a lane for each set-up, coloured as its trails are, by the wheel that rubs most, as far as the car has come."""

    rect: Rect
    point: float
    view: View
    layer: pygame.Surface
    lane: float  # [points]
    lanes: list[_Lane] = field(default_factory=list)
    station: np.ndarray = field(default_factory=lambda: np.zeros(1))
    line: np.ndarray = field(default_factory=lambda: np.zeros((1, 2)))

    @classmethod
    def made(cls, rect: Rect, player: Player, point: float) -> "CourseMap":
        """rect : [points]; point : [px]."""
        course, shown = player.replay.course, len(player.chosen)
        pad = LANE * shown / 2 + 12
        wide, high = (max(float(np.ptp(one)), 1.0) for one in (course.x, course.y))
        scale = min((rect.width - 2 * pad) / wide, (rect.height - 2 * pad) / high)
        centre = ((course.x.min() + course.x.max()) / 2, (course.y.min() + course.y.max()) / 2)
        view = View.ground((rect.width / 2, rect.height / 2), centre, scale, point, np.pi / 2)
        layer = pygame.Surface((round(rect.width * point), round(rect.height * point)))
        # Inside the tightest bend lanes must not run into each other.
        lane = max(min(LANE, 1.6 * course.smallest_radius * scale / shown), LEAST_LANE)
        made = cls(rect, point, view, layer, lane, station=course.station, line=np.column_stack([course.x, course.y]))
        drives = [player.replay.drives[i] for i in player.chosen]
        top, middle = player.replay.top, (shown - 1) / 2
        made.lanes += [_lane(one, (middle - place) * lane / scale, view.scale, top) for place, one in enumerate(drives)]
        made._start(shown, course.closed)
        return made

    def _start(self, shown: int, closed: bool) -> None:
        """Only the road."""
        self.layer.fill(PAPER)
        pen, line = PygamePen(self.layer, self.view), self.line
        if closed:
            line = np.vstack([line, line[:1]])
        for ink in (Ink(FAINT, self.lane * shown + 3), Ink(CARD, self.lane * shown + 1)):
            pen.path(line, ink)
        ahead = line[1] - line[0]
        across = np.array([-ahead[1], ahead[0]]) / np.hypot(*ahead) * (self.lane * shown / 2 + 5) / (self.view.scale / self.point)
        pen.line(tuple(line[0] - across), tuple(line[0] + across), Ink(INK, 3.0))
        for lane in self.lanes:
            lane.drawn = 0

    def draw(self, surface: pygame.Surface, player: Player, rows: list[float]) -> None:
        """Draw what has been driven since the last picture, then the cars."""
        if any(np.searchsorted(lane.rows, row, side="right") - 1 < lane.drawn for lane, row in zip(self.lanes, rows, strict=True)):
            self._start(len(self.lanes), player.replay.course.closed)
        pen = PygamePen(self.layer, self.view)
        for lane, row in zip(self.lanes, rows, strict=True):
            upto = max(int(np.searchsorted(lane.rows, row, side="right")) - 1, 0)
            while lane.drawn < upto:
                one, end = int(lane.levels[lane.drawn]), lane.drawn + 1
                while end < upto and lane.levels[end] == one:
                    end += 1
                breadth = self.lane * (0.3 + 0.7 * one / (len(POWER_COLOURS) - 1))
                pen.path(lane.pieces[lane.drawn : end + 1], Ink(POWER_COLOURS[one], breadth))
                lane.drawn = end
        surface.set_clip(None)
        surface.blit(self.layer, (round(self.rect.x * self.point), round(self.rect.y * self.point)))
        page = PygamePen(surface, View.page(self.point), self.rect)
        for place, (lane, row) in enumerate(zip(self.lanes, rows, strict=True)):
            x, y = (np.interp(row, lane.rows, side) for side in lane.pieces.T)
            across, down = self.view.screen((float(x), float(y)))
            sign(page, player.looks[place], self.rect.x + across / self.point, self.rect.y + down / self.point, 6.0)

    def station_at(self, x: float, y: float) -> float:
        """The place of the course nearest to one on the page [m].  x, y : [points]."""
        place = self.view.world((x - self.rect.x) * self.point, (y - self.rect.y) * self.point)
        return float(self.station[int(np.argmin(np.hypot(*(self.line - place).T)))])


def _lane(drive: Drive, beside: float, scale: float, top: float) -> _Lane:
    """A lane beside the driven line, of points some pixels apart, each with the most power of one wheel up to the next.

    beside : to the left [m]; scale : [px/m]; top : of the colours, that of the trails [W]
    """
    step = LEAST_STEP / scale
    rows = np.unique(np.searchsorted(drive.station, np.arange(0.0, drive.station[-1], step)))
    rows = np.unique(np.append(rows, len(drive.station) - 1))
    x, y, heading = drive.x[rows], drive.y[rows], drive.heading[rows] + drive.curve[rows, 1]
    most = np.maximum.reduceat(drive.power.max(axis=1), rows)
    return _Lane(rows, np.column_stack([x - beside * np.sin(heading), y + beside * np.cos(heading)]), level(most, top))


@dataclass
class Strip:
    """Power of all wheels along the lap, a curve a set-up, with a cursor."""

    rect: Rect
    point: float
    view: View
    layer: pygame.Surface
    plot: Rect

    @classmethod
    def made(cls, rect: Rect, player: Player, point: float) -> "Strip":
        """rect : [points]; point : [px]."""
        replay = player.replay
        drives = [replay.drives[i] for i in player.chosen]
        top = max(float(one.total.max()) for one in drives) * 1.08
        top = top if top > LEAST_TOP else 1.0
        length = replay.course.length
        plot = Rect(62.0, 22.0, rect.width - 76.0, rect.height - 44.0)
        view = View.plot(plot, (0.0, length), (0.0, top), point)
        layer = pygame.Surface((round(rect.width * point), round(rect.height * point)))
        layer.fill(PAPER)
        page, pen = PygamePen(layer, View.page(point)), PygamePen(layer, view)
        box(page, plot, CARD)
        course = replay.course
        bends = np.abs(course.curvature) > BENDY
        edges = np.flatnonzero(np.diff(np.concatenate([[0], bends.astype(int), [0]])))
        for a, b in zip(course.station[edges[::2]], course.station[np.minimum(edges[1::2], len(bends)) - 1], strict=True):
            pen.path(np.array([(a, 0.0), (b, 0.0), (b, top), (a, top)]), Ink(width=0.0, colour="#F0EEE8", fill="#F0EEE8"))
        for value in _ticks(top, 3):
            pen.line((0.0, value), (length, value), Ink(GRID, 1.0))
            page.text((plot.x - 6, plot.y + plot.height * (1 - value / top)), f"{value:g}", Ink(SOFT, size=14.0, anchor="right"))
        for value in _ticks(length, 10):
            page.text((plot.x + plot.width * value / length, rect.height - 10), f"{value:g} m", Ink(SOFT, size=14.0, anchor="middle"))
        words = "Power that the rubbing tyres take, all four wheels [W]. Shaded: bends."
        if plot.width < 1000:
            words = "Rubbing power, all wheels [W]"
        page.text((plot.x, 10), words, Ink(INK, size=14.0))
        _key(page, plot.x + plot.width, 10.0, replay.top)
        for place, one in reversed(list(enumerate(drives))):
            pen.path(_curve(one, length, round(plot.width * point)), Ink(player.looks[place].colour, 2.0, dash=player.looks[place].dash))
        return cls(rect, point, view, layer, Rect(rect.x + plot.x, rect.y + plot.y, plot.width, plot.height))

    def draw(self, surface: pygame.Surface, player: Player, rows: list[float]) -> None:
        """Draw the strip and its cursor."""
        surface.set_clip(None)
        surface.blit(self.layer, (round(self.rect.x * self.point), round(self.rect.y * self.point)))
        page = PygamePen(surface, View.page(self.point))
        x = self.plot.x + self.plot.width * player.station / player.replay.course.length
        page.line((x, self.plot.y - 4), (x, self.plot.y + self.plot.height + 4), Ink(INK, 2.0))
        for place, (index, row) in enumerate(zip(player.chosen, rows, strict=True)):
            now = player.replay.drives[index].at(row)
            across, up = self.view.screen((now.station, float(now.power.sum())))
            sign(page, player.looks[place], self.rect.x + across / self.point, self.rect.y + up / self.point, 5.0)

    def station_at(self, x: float, length: float) -> float:
        """The place of the course at one on the page [m].  x : [points]; length : of the course [m]."""
        return min(max((x - self.plot.x) / self.plot.width, 0.0), 1.0) * length


def _curve(drive: Drive, length: float, columns: int) -> np.ndarray:
    """A drive's power over distance with the most of each pixel's column, (n, 2)."""
    edges = np.linspace(0.0, length, max(columns, 2))
    rows = np.unique(np.minimum(np.searchsorted(drive.station, edges), len(drive.station) - 1))
    return np.column_stack([drive.station[rows], np.maximum.reduceat(drive.total, rows)])


def _key(page: PygamePen, right: float, y: float, top: float) -> None:
    """What a trail's breadth and darkness mean, on the ground and on the map."""
    words = f"{top:.1f} W" if top < 100 else f"{top:.0f} W"
    page.text((right, y), words, Ink(INK, size=14.0, anchor="right"))
    x = right - 62.0 - 18 * len(POWER_COLOURS)
    for step, colour in enumerate(POWER_COLOURS):
        page.line((x + 18 * step, y), (x + 18 * (step + 1), y), Ink(colour, 2.0 + 1.3 * step))
    page.text((x - 8, y), "Trails, one wheel's power (map: the worst wheel)  0", Ink(INK, size=14.0, anchor="right"))


def _ticks(top: float, about: int) -> list[float]:
    rough = top / about
    size = 10 ** np.floor(np.log10(rough))
    step = next(float(one * size) for one in (1, 2, 5, 10) if one * size >= rough)
    return [float(f"{step * i:.6g}") for i in range(1, int(top / step) + 1)]
