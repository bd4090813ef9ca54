"""The window: events in, pictures out."""

import os
import sys
import time
from pathlib import Path

from sim.errors import InputError
from viz.replay.bench.window import Bench
from viz.replay.export import chosen_setups
from viz.replay.layout import BASE
from viz.replay.player import ACTIONS, ZOOM_STEP, Player
from viz.replay.quiet import pygame
from viz.replay.run_data import Replay, read_run
from viz.replay.stage import Stage

FRAMES = 60  # a second
LONGEST_WAIT = 500  # [ms] for an event
LONGEST_STEP = 0.1  # [s] of a moment in which the program was held up
SMALLEST = (960, 600)  # [px]
KEYS = {
    pygame.K_SPACE: "play", pygame.K_UP: "faster", pygame.K_DOWN: "slower", pygame.K_LEFT: "back", pygame.K_RIGHT: "forth",
    pygame.K_COMMA: "step back", pygame.K_PERIOD: "step", pygame.K_HOME: "start", pygame.K_END: "end", pygame.K_EQUALS: "zoom in",
    pygame.K_PLUS: "zoom in", pygame.K_KP_PLUS: "zoom in", pygame.K_MINUS: "zoom out", pygame.K_KP_MINUS: "zoom out",
    pygame.K_F1: "help", pygame.K_QUESTION: "help", pygame.K_F11: "full screen", pygame.K_0: "zoom auto",
} | {getattr(pygame, f"K_{one.key}"): name for name, one in ACTIONS.items() if len(one.key) == 1 and one.key.isalpha()}  # fmt: skip
CHOICES = {getattr(pygame, f"K_{i + 1}"): i for i in range(9)}
REPEATED = ("back", "forth", "step", "step back", "zoom in", "zoom out")  # while their key is held down
BENCH_REPEATED = (pygame.K_LEFT, pygame.K_RIGHT, pygame.K_UP, pygame.K_DOWN, pygame.K_EQUALS, pygame.K_PLUS, pygame.K_MINUS)


def open_display() -> None:
    """Open the display alone: sound would complain on a machine without a card.

    Raises InputError where there is no screen.
    """
    remedy = "use --export FILE.png, FILE.gif or FILE.mp4"
    if sys.platform.startswith("linux") and not any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER")):
        raise InputError("watch", "", "there is no display", remedy)  # asking for one would print complaints
    os.environ.setdefault("SDL_WINDOWS_DPI_AWARENESS", "permonitorv2")  # else a dense screen would show a blurred, enlarged picture
    try:
        pygame.display.init()
        driver = pygame.display.get_driver()
    except pygame.error:
        driver = ""
    # The library falls back to drivers that show nothing; "dummy" is one of them unless it was asked for.
    if driver in ("", "offscreen") or (driver == "dummy" and os.environ.get("SDL_VIDEODRIVER") != "dummy"):
        pygame.display.quit()
        raise InputError("watch", "", "there is no display", remedy)


def watch(run_folder: Path, bench: bool = False, setups: list[str] | None = None) -> None:
    """Show a run in a window until it is closed.

    run_folder : of the run; bench : begin with the steering bench; setups : as for `export`; the bench begins with the first of them
    Raises InputError where the folder is no run of this version, there is no such set-up, or there is no display.
    """
    replay = read_run(run_folder)
    chosen = chosen_setups(replay, setups)
    open_display()
    try:
        Window(replay, bench, chosen).run()
    finally:
        pygame.display.quit()


class Window:
    """A window with a replay and a bench, of which one is seen."""

    def __init__(self, replay: Replay, bench: bool = False, setups: list[int] | None = None) -> None:
        size = _first_size()
        self.window = pygame.Window(f"Scrubwise: {replay.title}", size, resizable=True, allow_high_dpi=True)
        self.window.minimum_size = SMALLEST
        self.player, self.stage = Player.opened(replay, setups), Stage(replay)
        self.first = setups[0] if setups else None  # of the bench, which else chooses one that can be dragged
        self.bench: Bench | None = Bench(replay, first=self.first) if bench else None
        self.replay, self.on_bench, self.full, self.open = replay, bench, False, True
        self.dragging, self.held = "", set[int]()
        pygame.key.set_repeat(350, 40)

    def run(self) -> None:
        """Draw and answer until the window is closed; while nothing moves, wait for the next event."""
        clock, before = pygame.time.Clock(), time.perf_counter()
        self.frame(0.0)
        while self.open:
            # The wait ends now and then, so that an interrupt from the terminal is heard.
            events = pygame.event.get() if self.moving else [pygame.event.wait(LONGEST_WAIT), *pygame.event.get()]
            moved = self.moving
            for event in events:
                self.answer(event)
            if not self.open:
                break
            now = time.perf_counter()
            if moved or any(self._changes(event) for event in events):
                self.frame(min(now - before, LONGEST_STEP) if moved else 0.0)
            before = now
            if self.moving:
                clock.tick(FRAMES)
        self.window.destroy()

    @property
    def moving(self) -> bool:
        """Whether the picture changes by itself."""
        if self.on_bench and self.bench is not None:
            return self.bench.moving
        return self.player.playing

    def _changes(self, event: pygame.event.Event) -> bool:
        """Whether an event can have changed the picture: a mouse that only passes over it has not."""
        if event.type == pygame.MOUSEMOTION:
            return bool(self.dragging) or (self.on_bench and self.bench is not None and self.bench.held is not None)
        return event.type != pygame.NOEVENT

    def frame(self, seconds: float) -> None:
        """Move on and draw one picture.  seconds : since the last one."""
        surface = self.window.get_surface()
        if self.on_bench and self.bench is not None:
            self.bench.advance(seconds)
            self.bench.draw(surface)
        else:
            self.player.advance(seconds)
            self.stage.draw(surface, self.player)
        self.window.flip()

    def answer(self, event: pygame.event.Event) -> None:
        """Answer one event."""
        if event.type in (pygame.QUIT, pygame.WINDOWCLOSE):
            self.open = False
        elif event.type == pygame.KEYDOWN:
            self._key(event, repeated=event.key in self.held)
            self.held.add(event.key)
        elif event.type == pygame.KEYUP:
            self.held.discard(event.key)
        elif event.type == pygame.WINDOWFOCUSLOST:
            self.held.clear()
        elif event.type in (pygame.MOUSEBUTTONDOWN, pygame.MOUSEBUTTONUP, pygame.MOUSEMOTION, pygame.MOUSEWHEEL):
            self._mouse(event)

    def do(self, action: str) -> None:
        """Carry out an action of the player or of the window.  action : its name, or "choose" with an index."""
        if action == "quit":
            self.open = False
        elif action == "full screen":
            self.full = not self.full
            if self.full:
                self.window.set_fullscreen(desktop=True)
            else:
                self.window.set_windowed()
        elif action == "bench":
            self.bench = self.bench or Bench(self.replay, first=self.first)
            self.on_bench = not self.on_bench
        elif action.startswith("choose "):
            self.player.choose(int(action.removeprefix("choose ")))
        else:
            self.player.message = ""
            self.player.do(action)

    def _key(self, event: pygame.event.Event, repeated: bool) -> None:
        action = KEYS.get(event.key, "")
        if repeated and not (action in REPEATED or (self.on_bench and event.key in BENCH_REPEATED)):
            return
        if event.key == pygame.K_ESCAPE:
            self._escape()
            return
        if self.on_bench and self.bench is not None and action not in ("bench", "full screen", "quit"):
            self.bench.key(event)
        elif event.key in CHOICES:
            self.player.choose(CHOICES[event.key])
        elif action:
            self.do(action)

    def _escape(self) -> None:
        """One layer back: the help, the bench, the full screen, the window."""
        if self.on_bench and self.bench is not None:
            if self.bench.help:
                self.bench.help = False
            else:
                self.on_bench = False
        elif self.player.help:
            self.player.help = False
        elif self.full:
            self.do("full screen")
        else:
            self.open = False

    def _mouse(self, event: pygame.event.Event) -> None:
        if event.type == pygame.MOUSEWHEEL:
            if not self.on_bench:
                self.player.zoom_by(ZOOM_STEP**event.y)
            return
        # The mouse counts in the window's units, which on a dense screen hold several pixels.
        surface = self.window.get_surface()
        density = surface.get_width() / max(self.window.size[0], 1)
        x, y = event.pos[0] * density, event.pos[1] * density
        if self.on_bench and self.bench is not None:
            action = self.bench.mouse(event.type, x, y, getattr(event, "button", 1))
            if action:
                self.do(action)
        elif event.type == pygame.MOUSEBUTTONUP:
            self.dragging = ""
        elif event.type == pygame.MOUSEBUTTONDOWN and event.button == 1:
            if self.player.help:
                self.player.help = False
                return
            action, station = self.stage.clicked(x, y)
            if action == "jump":
                self.dragging = action
                self.player.jump(station)
            elif action:
                self.do(action)
        elif event.type == pygame.MOUSEMOTION and self.dragging:
            action, station = self.stage.clicked(x, y)
            if action == "jump":
                self.player.jump(station)


def _first_size() -> tuple[int, int]:
    """A window of the page's own size, as many times larger as fits well on the screen [px]."""
    sizes = pygame.display.get_desktop_sizes()
    wide, high = sizes[0] if sizes else (int(BASE[0]), int(BASE[1]))
    times = max(1.0, min(0.85 * wide / BASE[0], 0.85 * high / BASE[1]))
    return min(round(BASE[0] * times), max(wide, SMALLEST[0])), min(round(BASE[1] * times), max(high, SMALLEST[1]))
