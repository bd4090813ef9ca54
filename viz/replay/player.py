"""What the watcher has chosen, and how the replay moves on.  No drawing here."""

from dataclasses import dataclass, field

import numpy as np

from viz.replay.costs import by_cost, opening_pair, places_of
from viz.replay.looks import TEXT_SIZES, Look, looks_of
from viz.replay.run_data import Drive, Replay
from viz.replay.story import Scene, Story, story_of

SPEEDS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
ZOOM_STEP, LEAST_ZOOM, MOST_ZOOM = 1.2, 0.3, 6.0
LEAD_IN = 2.5  # [s] before the most telling place at which a replay opens
SAME_PLACE = 0.01  # [m]
JUMP = 1.0  # [m]
LARGER = (1.0, 5.0, 10.0)  # how much larger than life a slip angle is drawn

DISTANCE, TIME = "distance", "time"


class Action:
    """One thing that the watcher can do: its keys' names, its button's words, and what the help says, empty where another line says it."""

    def __init__(self, key: str, label: str, words: str) -> None:
        self.key, self.label, self.words = key, label, words


ACTIONS = {
    "play": Action("Space", "Play", "play or pause"),
    "slower": Action("↓", "−", "slower, down to a tenth"),
    "faster": Action("↑", "+", "faster, up to twenty times"),
    "back": Action("←", "", "a metre back (Shift: one sample)"),
    "forth": Action("→", "", "a metre on (Shift: one sample)"),
    "step back": Action("Shift ←", "", ""),
    "step": Action("Shift →", "", ""),
    "start": Action("Home", "", "to the start"),
    "end": Action("End", "", "to the end"),
    "telling": Action("J", "Next place", "to numbered place 1, then 2 …"),
    "story": Action("E F5", "Story", "tell the story from its start"),
    "next scene": Action("Page ↓", "", "next scene of the story"),
    "last scene": Action("Page ↑", "", "the scene before"),
    "leave story": Action("Enter", "", "leave the story"),
    "next set-up": Action("Tab", "", "next set-up (Shift: before)"),
    "set-up before": Action("Shift Tab", "", ""),
    "loop": Action("G", "", "loop: set A, set B, end it"),
    "in step": Action("D", "", "in step by distance or time"),
    "lines": Action("A", "Axle lines", "axle lines, where they meet"),
    "trails": Action("R", "Trails", "trails of rubbed rubber"),
    "slip": Action("S", "Slip", "where wheels point and move"),
    "larger": Action("X", "", "slip angles true, 5, 10 times"),
    "loads": Action("L", "Loads", "load on each wheel"),
    "numbers": Action("N", "Figures", "figures at the wheels"),
    "rubber": Action("M", "", "metres of rubber on the board"),
    "board": Action("O", "", "hide or show the board"),
    "zoom in": Action("+ =", "", "closer"),
    "zoom out": Action("−", "", "further away"),
    "zoom auto": Action("0", "", "let the picture choose"),
    "text": Action("T", "", "size of the text"),
    "black": Action(".", "", "black out; any key: back"),
    "pointer": Action("P", "", "ring round the pointer"),
    "write": Action("W", "", "write with the mouse; again: clear"),
    "keep": Action("K", "", "keep this picture as a file"),
    "full screen": Action("F F11", "", "full screen and back"),
    "second screen": Action("V", "", "full on the second screen"),
    "bench": Action("B", "Bench", "steering bench: try arms"),
    "help": Action("H F1", "Help", "this help"),
    "quit": Action("Q", "", "close the window"),
}
SHOWS = ("lines", "trails", "slip", "loads", "numbers")
MOVES = ("back", "forth", "step back", "step", "start", "end", "telling")  # with which the watcher takes over from the story


@dataclass
class Player:
    """The state of a replay.

    chosen : indices of the one or two set-ups that are shown large
    within : indices of all that can be seen, the costliest first
    clock : time of the lead, the first that is shown [s]
    story, told : the story that is told, and for how long it has been [s]; held : the scene that is told again and again, -1 for none
    loop : clock at A and at B, NaN where not yet set, None without a loop [s]
    text : how much larger than usual the letters are [-]
    scroll : first row of the board that is seen
    """

    replay: Replay
    chosen: list[int]
    within: list[int] = field(default_factory=list)
    clock: float = 0.0
    playing: bool = True
    speed: float = 1.0
    in_step: str = DISTANCE
    shows: set[str] = field(default_factory=lambda: {"lines", "trails", "slip", "numbers"})
    larger: float = 5.0
    zoom: float = 1.0
    help: bool = False
    asking: bool = False
    message: str = ""
    story: Story | None = None
    told: float = 0.0
    held: int = -1
    loop: tuple[float, float] | None = None
    text: float = 1.0
    board: bool = True
    rubber: bool = False
    scroll: int = 0

    @classmethod
    def opened(cls, replay: Replay, setups: list[int] | None = None) -> "Player":
        """A replay as it opens: a little before the most telling place.  replay : Replay; setups : indices, None for all."""
        player = cls(replay, opening_pair(replay, setups), by_cost(replay, setups))
        player.jump(places_of(replay, player.chosen)[0])
        player._go(player.clock - LEAD_IN)
        return player

    @property
    def looks(self) -> tuple[Look, ...]:
        """How each set-up is told from the others, in the order of the scenario."""
        return looks_of(len(self.replay.drives), tuple(self.chosen))

    @property
    def lead(self) -> Drive:
        """The set-up whose time is the clock: of those that are shown large, the one that got furthest."""
        return max((self.replay.drives[i] for i in self.chosen), key=lambda one: float(one.station[-1]))

    @property
    def station(self) -> float:
        """Where the lead is [m]."""
        return float(np.interp(self.clock, self.lead.time, self.lead.station))

    def row(self, index: int) -> float:
        """The row at which a set-up stands, with a fraction.  index : of the set-up."""
        drive = self.replay.drives[index]
        if self.in_step == TIME:
            return drive.row_at(drive.time, self.clock)
        return drive.row_at(drive.station, self.station)

    @property
    def rows(self) -> list[float]:
        """For each set-up that is shown large, the row at which it stands, with a fraction."""
        return [self.row(index) for index in self.chosen]

    @property
    def others(self) -> list[int]:
        """The set-ups that are shown small, the costliest first."""
        return [index for index in self.within if index not in self.chosen]

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

    @property
    def scene(self) -> Scene | None:
        """The scene of the story that is told, None without one and while its stretch is driven again and again."""
        if self.story is None:
            return None
        index, _ = self.story.scene_at(self.told)
        return self.story.scenes[index] if index < len(self.story.scenes) else None

    @property
    def words(self) -> str:
        """What is said over the pictures; the finding stays while its stretch is driven again and again."""
        if self.story is None:
            return ""
        return self.scene.words if self.scene is not None else self.story.finding

    def tell(self) -> None:
        """Begin the story from its start."""
        self.in_step, self.loop, self.held, self.told, self.playing = DISTANCE, None, -1, 0.0, True
        self.story = story_of(self.replay, self.chosen, self.lead)
        self._go(self.story.clock_at(0.0))

    def leave(self) -> None:
        """End the story; the replay goes on from where it stands."""
        self.story, self.held = None, -1

    def advance(self, seconds: float) -> None:
        """Move on.  seconds : that have passed in front of the screen."""
        if not self.playing:
            return
        if self.story is not None:
            self.told += seconds * self.speed
            if self.held >= 0:
                begin = self.story.begins(self.held)
                self.told = begin + (self.told - begin) % self.story.scenes[self.held].seconds
            self._go(self.story.clock_at(self.told))
            return
        self._go(self.clock + seconds * self.speed)
        if self.loop is not None and self.clock >= self.loop[1]:
            self._go(self.loop[0])
        self.playing = not self.ended

    def jump(self, station: float) -> None:
        """Go to a place of the course.  station : [m]."""
        self.leave()
        lead = self.lead
        self._go(float(np.interp(station, lead.station, lead.time)))

    def choose(self, index: int, place: int = -1) -> None:
        """Show a set-up large.

        index : in the scenario; one that is large already changes its place with the other
        place : that it takes, 0 on the left, -1 on the right
        """
        if not 0 <= index < len(self.replay.drives) or len(self.chosen) < 1:
            return
        station, telling = self.station, self.story is not None
        if len(self.chosen) == 1 and index not in self.chosen:
            self.chosen = [self.chosen[0], index] if place else [index, self.chosen[0]]
        elif index in self.chosen:
            self.chosen = self.chosen[::-1]
        else:
            self.chosen[place] = index
        if index not in self.within:
            self.within = by_cost(self.replay, [*self.within, index])
        self.loop = None
        if telling:
            self.tell()
        else:
            self.jump(station)

    def zoom_by(self, factor: float) -> None:
        """Closer or further away.  factor : above 1 is closer."""
        self.zoom = min(max(self.zoom * factor, LEAST_ZOOM), MOST_ZOOM)

    def do(self, action: str) -> None:
        """Carry out one of ACTIONS.  action : its name; those of the window itself do nothing here."""
        if self.story is not None and (action in MOVES or (action == "play" and self.scene is None)):
            self.leave()
        if action in MOVES:
            self._move(action)
        elif action == "play":
            if not self.playing and self.ended and self.story is None:
                self.clock = 0.0
            self.playing = not self.playing
        elif action in ("slower", "faster"):
            at = SPEEDS.index(self.speed) + (1 if action == "faster" else -1)
            self.speed = SPEEDS[min(max(at, 0), len(SPEEDS) - 1)]
        elif action == "story":
            self.tell()
        elif action in ("next scene", "last scene"):
            self._turn_page(1 if action == "next scene" else -1)
        elif action == "leave story":
            self.leave()
        elif action in ("next set-up", "set-up before"):
            self._next_setup(1 if action == "next set-up" else -1)
        elif action == "loop":
            self._set_loop()
        elif action == "in step":
            self.leave()
            self.in_step = TIME if self.in_step == DISTANCE else DISTANCE
        elif action in SHOWS:
            self.shows ^= {action}
        elif action == "larger":
            self.larger = LARGER[(LARGER.index(self.larger) + 1) % len(LARGER)]
        elif action in ("zoom in", "zoom out"):
            self.zoom_by(ZOOM_STEP if action == "zoom in" else 1 / ZOOM_STEP)
        elif action == "zoom auto":
            self.zoom = 1.0
        elif action == "text":
            self.text = next((one for one in TEXT_SIZES if one > self.text + 1e-9), TEXT_SIZES[0])
        elif action in ("rubber", "board", "help"):
            setattr(self, action, not getattr(self, action))

    def _move(self, action: str) -> None:
        """Go where the watcher wants to be."""
        lead = self.lead
        if action in ("back", "forth"):
            self.jump(self.station + (JUMP if action == "forth" else -JUMP))
        elif action in ("step", "step back"):
            self.playing = False
            row = lead.row_at(lead.time, self.clock)
            row = np.floor(row + 1e-6) + 1 if action == "step" else np.ceil(row - 1e-6) - 1
            self._go(float(np.interp(row, np.arange(len(lead.time)), lead.time)))
        elif action == "telling":
            self.playing = False  # or the place would pass before it is seen
            places = places_of(self.replay, self.chosen)
            here = [i for i, place in enumerate(places) if abs(place - self.station) < SAME_PLACE]
            self.jump(places[(here[0] + 1) % len(places)] if here else places[0])
        else:
            self._go(0.0 if action == "start" else self.last)

    def _turn_page(self, step: int) -> None:
        """To the next scene, or the one before, which is then told until the page is turned again; beyond the last, its stretch."""
        if self.story is None:
            self.tell()
            step = 0 if step > 0 else len(self.story.scenes) if self.story else 0
        if self.story is None:
            return
        index, _ = self.story.scene_at(self.told)
        index = min(max(index + step, 0), len(self.story.scenes))
        self.held = index if index < len(self.story.scenes) else -1
        self.told, self.playing = self.story.begins(index), True
        self._go(self.story.clock_at(self.told))

    def _next_setup(self, step: int) -> None:
        """Show the next set-up, in the order of the board, in place of the one on the right."""
        kept = self.chosen[:1] if len(self.chosen) > 1 else []
        row = [index for index in self.within if index not in kept]
        if len(row) > 1:
            index = row[(row.index(self.chosen[-1]) + step) % len(row)]
            if kept:
                self.choose(index)
            else:
                self.chosen = [index]
                self.jump(self.station)
            self.scroll = max(self.within.index(index) - 1, 0)

    def _set_loop(self) -> None:
        """A, then B, then no loop."""
        self.leave()
        if self.loop is None:
            self.loop = (self.clock, float("nan"))
            self.message = "Loop: A is here; go on and press G for B"
        elif np.isnan(self.loop[1]) and self.clock != self.loop[0]:
            self.loop = (min(self.loop[0], self.clock), max(self.loop[0], self.clock))
            self.playing = True
        else:
            self.loop = None

    def _go(self, clock: float) -> None:
        self.clock = min(max(clock, 0.0), self.last)
