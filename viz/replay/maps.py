"""The two pictures of the whole lap: the course from above, and the strip of power above the reference.  Both keep what does not change."""

from dataclasses import dataclass, field

import numpy as np

from viz.replay.costs import IDEAL, bends_of, places_of, reference_of
from viz.replay.layout import LINE, Type
from viz.replay.looks import CARD, GRID, INK, PAPER, POWER_COLOURS, SOFT, level
from viz.replay.panels import SHADE, box, sign
from viz.replay.pens import Ink, PygamePen, text_width
from viz.replay.player import Player
from viz.replay.quiet import pygame
from viz.replay.run_data import Drive
from viz.replay.view import Rect, View

LANE, LEAST_LANE = 6.0, 2.5  # [points] between the middles of two set-ups' lanes
LEAST_NAME = 4  # letters of a name that stand at its line at least
NUMBER = 0.62  # radius of the disc behind a place's number, in sizes of letters
ABOVE = 8.0  # [points] between the highest power and those discs
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
        for ink in (Ink(SOFT, self.lane * shown + 3), Ink(CARD, self.lane * shown + 1)):
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
            sign(page, player.looks[player.chosen[place]], self.rect.x + across / self.point, self.rect.y + down / self.point, 6.0)

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
    return _Lane(rows, _columns(x - beside * np.sin(heading), y + beside * np.cos(heading)), level(most, top))


@dataclass
class Strip:
    """Power of all wheels above the reference along the lap, a curve for each set-up that is shown large, with a cursor."""

    rect: Rect
    point: float
    view: View
    layer: pygame.Surface
    plot: Rect
    own: bool  # whether the power itself is shown, of a reference alone
    number_size: float  # radius of the disc behind a place's number [points]
    curves: dict[int, np.ndarray]  # of each set-up that is shown, places along the course and power, (n, 2) [m], [W]
    numbers: list[float] = field(default_factory=list)  # where those of the places stand, from the strip's left edge [points]

    @classmethod
    def made(cls, rect: Rect, player: Player, point: float, kind: Type, live: bool = True) -> "Strip":
        """rect : [points]; point : [px]; kind : sizes of letters; live : whether somebody can press the key that it names."""
        replay = player.replay
        reference = reference_of(replay)
        shown = [i for i in player.chosen if i != reference]
        own = not shown
        curves = {i: _above(replay.drives[i], None if own else replay.drives[reference]) for i in shown or player.chosen}
        most = max(float(one[:, 1].max()) for one in curves.values())
        low = min(0.0, min(float(one[:, 1].min()) for one in curves.values()))
        most = most if most > LEAST_TOP else 0.0 if low < -LEAST_TOP else 1.0
        low = low if low < -0.05 * most else 0.0
        # The numbers of the places stand above all curves.
        high = rect.height - 2 * LINE * kind.label - 8
        share = min((2 * NUMBER * kind.label + ABOVE) / high, 0.5)
        top = most + (most - low) * share / (1 - share)
        length, line = replay.course.length, LINE * kind.label
        label = Ink(INK, size=kind.label)
        left = max(text_width(f"{value:g}", label, point) for value in (*_ticks(top, 3), *_ticks(-low or 1.0, 2), 0.0)) + 18
        plot = Rect(left, line + 4, rect.width - left - 12, high)
        view = View.plot(plot, (0.0, length), (low, top), point)
        layer = pygame.Surface((round(rect.width * point), round(rect.height * point)))
        layer.fill(PAPER)
        page, pen = PygamePen(layer, View.page(point)), PygamePen(layer, view)
        box(page, plot, CARD)
        for bend in bends_of(replay):
            if bend.number:
                a, b = bend.begin, bend.end
                pen.path(np.array([(a, low), (b, low), (b, top), (a, top)]), Ink(width=0.0, colour=SHADE, fill=SHADE))
        for value in (0.0, *_ticks(top, 3), *(-one for one in _ticks(-low, 1) if low)):
            pen.line((0.0, value), (length, value), Ink(SOFT if value == 0 else GRID, 1.0))
            across, down = view.screen((0.0, value))
            page.text((across / point - 8, down / point), f"{value:g}", label._replace(anchor="right"))
        for value in _ticks(length, 6):
            words, at = f"{value:g} m", plot.x + plot.width * value / length
            if at + text_width(words, label, point) / 2 < rect.width:
                page.text((at, rect.height - line / 2), words, label._replace(anchor="middle"))
        name = IDEAL if replay.scenario.setup[reference].linkage == IDEAL else replay.drives[reference].name
        words = "Rubbing power of all wheels, W" if own else f"Rubbing power above {name}, W"
        key = " (key J)" if live else ""
        numbers = f"1: {'they differ by' if len(player.chosen) > 1 else 'it loses'} most joules{key}"
        short = "Rubbing power, W" if own else "Power above the reference, W"
        apart = f"1: most joules (watts x seconds){' apart' if len(player.chosen) > 1 else ''}{key}"
        offered = [f"{words}.  {apart}", f"{words}.  {numbers}", f"{words}.  1: most joules{key}", words, short]
        bold, most = label._replace(bold=True), plot.width * 0.45 / len(curves)
        room = plot.width - sum(min(text_width(replay.drives[i].name, bold, point), most) + 36 for i in curves)
        page.text((plot.x, line / 2), next((one for one in offered if text_width(one, label, point) < room), offered[-1]), label)
        made = cls(rect, point, view, layer, Rect(rect.x + plot.x, rect.y + plot.y, plot.width, plot.height), own,
                   NUMBER * kind.label, curves)  # fmt: skip
        for index, curve in reversed(curves.items()):
            look = player.looks[index]
            pen.path(_most_of_each(curve, length, round(plot.width * point)), Ink(look.colour, 2.0, dash=look.dash))
        made._name_lines(page, player, curves, plot, kind)
        made._number_places(page, player, curves, kind)
        return made

    def _name_lines(self, page: PygamePen, player: Player, curves: dict[int, np.ndarray], plot: Rect, kind: Type) -> None:
        """Each curve's sign and name at the right of the title, where no curve is."""
        ink = Ink(INK, size=kind.label, bold=True, anchor="right")
        x, room = plot.x + plot.width, plot.width * 0.45 / len(curves)
        for index in curves:
            name = player.replay.drives[index].name
            while len(name) > LEAST_NAME and text_width(name, ink, self.point) > room:
                name = name.rpartition(" ")[0] if " " in name else name[:-1]
            page.text((x, LINE * kind.label / 2), name, ink)
            x -= text_width(name, ink, self.point) + 14
            sign(page, player.looks[index], x, LINE * kind.label / 2, 7.0)
            x -= 18

    def _number_places(self, page: PygamePen, player: Player, curves: dict[int, np.ndarray], kind: Type) -> None:
        """The numbers of the places to which `J` goes, above all curves, each with a line down to the highest of them there."""
        ink = Ink(CARD, size=kind.label, bold=True, anchor="middle")
        plot, taken = self.plot, self.numbers
        for number, station in enumerate(places_of(player.replay, player.chosen), 1):
            x = plot.x - self.rect.x + plot.width * station / player.replay.course.length
            if any(abs(x - one) < 1.3 * kind.label for one in taken):
                continue  # it lies so near to one before it that both could not be read
            taken.append(x)
            y = plot.y - self.rect.y + NUMBER * kind.label + 1
            power = max(float(np.interp(station, *curve.T)) for curve in curves.values())
            page.line((x, y), (x, self.view.screen((0.0, power))[1] / self.point - 2), Ink(INK, 1.5))
            page.disc((x, y), NUMBER * kind.label, Ink(INK, 0.0, fill=INK))
            page.text((x, y), str(number), ink)

    def draw(self, surface: pygame.Surface, player: Player) -> None:
        """Draw the strip, its cursor, and the loop from A to B where there is one."""
        surface.set_clip(None)
        surface.blit(self.layer, (round(self.rect.x * self.point), round(self.rect.y * self.point)))
        page = PygamePen(surface, View.page(self.point))
        length, plot = player.replay.course.length, self.plot
        x = plot.x + plot.width * player.station / length
        under = any(abs(x - self.rect.x - one) < self.number_size for one in self.numbers)  # else it would cross the number
        top = plot.y + 2 * self.number_size + 1 if under else plot.y - 4
        page.line((x, top), (x, plot.y + plot.height + 4), Ink(INK, 2.5))
        for index, (station, power) in ((index, curve.T) for index, curve in self.curves.items()):
            _, down = self.view.screen((0.0, float(np.interp(player.station, station, power))))
            sign(page, player.looks[index], x, self.rect.y + down / self.point, 6.0)
        for clock in player.loop or ():
            if np.isfinite(clock):
                at = plot.x + plot.width * float(np.interp(clock, player.lead.time, player.lead.station)) / length
                page.line((at, plot.y), (at, plot.y + plot.height), Ink(INK, 2.0, dash=4.0))

    def station_at(self, x: float, length: float) -> float:
        """The place of the course at one on the page [m].  x : [points]; length : of the course [m]."""
        return min(max((x - self.plot.x) / self.plot.width, 0.0), 1.0) * length


def _above(drive: Drive, reference: Drive | None) -> np.ndarray:
    """Places along the course [m] and what a drive rubs there above a reference that came as far, (n, 2) [W]."""
    if reference is None:
        return _columns(drive.station, drive.total)
    got = drive.station <= reference.station[-1]
    station = drive.station[got] if got.sum() > 1 else drive.station[:2]
    return _columns(station, drive.total[: len(station)] - np.interp(station, reference.station, reference.total))


def _columns(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Two columns side by side, (n, 2), each in one piece of memory: a picture looks up one place of each, and would copy them else."""
    return np.array([one, other]).T


def _most_of_each(curve: np.ndarray, length: float, columns: int) -> np.ndarray:
    """A curve over distance with the value of each pixel's column that lies furthest from zero, (n, 2)."""
    station, power = curve.T
    rows = np.unique(np.minimum(np.searchsorted(station, np.linspace(0.0, length, max(columns, 2))), len(station) - 1))
    high, low = np.maximum.reduceat(power, rows), np.minimum.reduceat(power, rows)
    return np.column_stack([station[rows], np.where(high >= -low, high, low)])


def _ticks(top: float, about: int) -> list[float]:
    if top <= 0:
        return []
    rough = top / about
    size = 10 ** np.floor(np.log10(rough))
    step = next(float(one * size) for one in (1, 2, 5, 10) if one * size >= rough)
    return [float(f"{step * i:.6g}") for i in range(1, int(top / step) + 1)]
