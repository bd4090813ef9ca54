"""What the watcher has chosen, and how the replay moves on.  No drawing here."""

from dataclasses import dataclass, field

import numpy as np

from viz.replay.looks import MOST_SHOWN, Look, looks_of
from viz.replay.run_data import Drive, Replay

SPEEDS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
ZOOM_STEP, LEAST_ZOOM, MOST_ZOOM = 1.2, 0.3, 6.0
LEAD_IN = 2.5  # [s] before the most telling place at which a replay opens
SAME_PLACE = 0.01  # [m]
JUMP = 1.0  # [m]
LARGER = (1.0, 5.0, 10.0)  # how much larger than life a slip angle is drawn

DISTANCE, TIME = "distance", "time"


class Action:
    """One thing that the watcher can do: its key's name, its button's words, and what the help says."""

    def __init__(self, key: str, label: str, words: str) -> None:
        self.key, self.label, self.words = key, label, words


ACTIONS = {
    "play": Action("space", "Play", "play or pause"),
    "slower": Action("down", "-", "slower, down to a tenth"),
    "faster": Action("up", "+", "faster, up to twenty times"),
    "back": Action("left", "", "one metre back"),
    "forth": Action("right", "", "one metre on"),
    "step back": Action(",", "", "one stored sample back"),
    "step": Action(".", "", "one stored sample on"),
    "start": Action("home", "", "to the start"),
    "end": Action("end", "", "to the end"),
    "telling": Action("j", "", "where the set-ups differ most; again: next"),
    "in step": Action("d", "", "keep the cars in step by distance or by time"),
    "lines": Action("a", "Axle lines", "axle lines and where they meet"),
    "trails": Action("t", "Trails", "rubbed trails on the ground"),
    "slip": Action("s", "Slip", "where each wheel points and where it moves"),
    "larger": Action("x", "", "draw slip angles true, 5 or 10 times larger"),
    "loads": Action("l", "Loads", "load on each wheel"),
    "numbers": Action("n", "Figures", "figures at the wheels"),
    "zoom in": Action("=", "", "closer"),
    "zoom out": Action("-", "", "further away"),
    "zoom auto": Action("0", "", "let the picture choose how close"),
    "full screen": Action("f", "", "full screen and back"),
    "bench": Action("b", "Bench", "steering bench: try arms and rods yourself"),
    "help": Action("h", "Help", "this help"),
    "quit": Action("q", "", "close the window"),
}
SHOWS = ("lines", "trails", "slip", "loads", "numbers")


@dataclass
class Player:
    """The state of a replay.

    chosen : indices of the set-ups that are shown, in the order of the scenario
    clock : time of the lead, the first that is shown [s]
    """

    replay: Replay
    chosen: list[int]
    clock: float = 0.0
    playing: bool = True
    speed: float = 1.0
    in_step: str = DISTANCE
    shows: set[str] = field(default_factory=lambda: {"lines", "trails", "slip", "numbers"})
    larger: float = 5.0
    zoom: float = 1.0
    help: bool = False
    message: str = ""

    @classmethod
    def opened(cls, replay: Replay, setups: list[int] | None = None) -> "Player":
        """A replay as it opens: a little before the most telling place.  replay : Replay; setups : indices, None for the first four."""
        player = cls(replay, list(setups) if setups is not None else list(range(min(len(replay.drives), MOST_SHOWN))))
        player.jump(replay.telling(player.chosen)[0])
        player._go(player.clock - LEAD_IN)
        return player

    @property
    def looks(self) -> list[Look]:
        """How each set-up that is shown is told from the others."""
        return looks_of(self.chosen)

    @property
    def lead(self) -> Drive:
        """The set-up whose time is the clock: of those that are shown, the one that got furthest."""
        return max((self.replay.drives[i] for i in self.chosen), key=lambda one: float(one.station[-1]))

    @property
    def station(self) -> float:
        """Where the lead is [m]."""
        return float(np.interp(self.clock, self.lead.time, self.lead.station))

    @property
    def rows(self) -> list[float]:
        """For each set-up that is shown, the row at which it stands, with a fraction."""
        drives = [self.replay.drives[i] for i in self.chosen]
        if self.in_step == TIME:
            return [one.row_at(one.time, self.clock) for one in drives]
        station = self.station
        return [one.row_at(one.station, station) for one in drives]

    @property
    def ended(self) -> bool:
        """Whether the last sample is reached."""
        return self.clock >= self.last

    @property
    def last(self) -> float:
        """The clock at the end [s]."""
        if self.in_step == TIME:
            return max(float(self.replay.drives[i].time[-1]) for i in self.chosen)
        return float(self.lead.time[-1])

    def advance(self, seconds: float) -> None:
        """Move on.  seconds : that have passed in front of the screen."""
        if self.playing:
            self._go(self.clock + seconds * self.speed)
            self.playing = not self.ended

    def jump(self, station: float) -> None:
        """Go to a place of the course.  station : [m]."""
        lead = self.lead
        self._go(float(np.interp(station, lead.station, lead.time)))

    def choose(self, index: int) -> None:
        """Show a set-up, or hide it; one always stays.  index : in the scenario."""
        if not 0 <= index < len(self.replay.drives):
            return
        station, self.message = self.station, ""
        if index in self.chosen:
            if len(self.chosen) > 1:
                self.chosen.remove(index)
        elif len(self.chosen) >= MOST_SHOWN:
            self.message = f"No more than {MOST_SHOWN} at once: hide one first"
        else:
            self.chosen = sorted([*self.chosen, index])
        self.jump(station)

    def zoom_by(self, factor: float) -> None:
        """Closer or further away.  factor : above 1 is closer."""
        self.zoom = min(max(self.zoom * factor, LEAST_ZOOM), MOST_ZOOM)

    def do(self, action: str) -> None:
        """Carry out one of ACTIONS.  action : its name; those of the window itself do nothing here."""
        lead = self.lead
        if action == "play":
            if not self.playing and self.ended:
                self.clock = 0.0
            self.playing = not self.playing
        elif action in ("slower", "faster"):
            at = SPEEDS.index(self.speed) + (1 if action == "faster" else -1)
            self.speed = SPEEDS[min(max(at, 0), len(SPEEDS) - 1)]
        elif action in ("back", "forth"):
            self.jump(self.station + (JUMP if action == "forth" else -JUMP))
        elif action in ("step", "step back"):
            self.playing = False
            row = lead.row_at(lead.time, self.clock)
            row = np.floor(row + 1e-6) + 1 if action == "step" else np.ceil(row - 1e-6) - 1
            self._go(float(np.interp(row, np.arange(len(lead.time)), lead.time)))
        elif action == "start":
            self._go(0.0)
        elif action == "end":
            self._go(self.last)
        elif action == "telling":
            self.playing = False  # or the place would pass before it is seen
            places = self.replay.telling(self.chosen)
            here = [i for i, place in enumerate(places) if abs(place - self.station) < SAME_PLACE]
            self.jump(places[(here[0] + 1) % len(places)] if here else places[0])
        elif action == "in step":
            self.in_step = TIME if self.in_step == DISTANCE else DISTANCE
        elif action in SHOWS:
            self.shows ^= {action}
        elif action == "larger":
            self.larger = LARGER[(LARGER.index(self.larger) + 1) % len(LARGER)]
        elif action in ("zoom in", "zoom out"):
            self.zoom_by(ZOOM_STEP if action == "zoom in" else 1 / ZOOM_STEP)
        elif action == "zoom auto":
            self.zoom = 1.0
        elif action == "help":
            self.help = not self.help

    def _go(self, clock: float) -> None:
        self.clock = min(max(clock, 0.0), self.last)
