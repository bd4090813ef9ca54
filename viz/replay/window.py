"""The window: events in, pictures out."""

import os
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from sim.errors import InputError
from viz.replay.export import chosen_setups, save_picture
from viz.replay.layout import BASE
from viz.replay.lecture import Overlay
from viz.replay.player import ZOOM_STEP, Player
from viz.replay.quiet import pygame
from viz.replay.run_data import Replay, read_run
from viz.replay.stage import Stage

if TYPE_CHECKING:
    from viz.replay.bench.window import Bench

FRAMES = 60  # a second
LONGEST_WAIT = 500  # [ms] for an event
LONGEST_STEP = 0.1  # [s] of a moment in which the program was held up
SMALLEST = (800, 600)  # [px]
NO_SCREEN = "use --export FILE.png, FILE.gif or FILE.mp4"
KEYS = {
    pygame.K_SPACE: "play", pygame.K_UP: "faster", pygame.K_DOWN: "slower", pygame.K_LEFT: "back", pygame.K_RIGHT: "forth",
    pygame.K_HOME: "start", pygame.K_END: "end", pygame.K_j: "telling", pygame.K_e: "story", pygame.K_F5: "story",
    pygame.K_PAGEDOWN: "next scene", pygame.K_PAGEUP: "last scene", pygame.K_RETURN: "leave story", pygame.K_KP_ENTER: "leave story",
    pygame.K_TAB: "next set-up", pygame.K_g: "loop", pygame.K_d: "in step", pygame.K_a: "lines", pygame.K_r: "trails",
    pygame.K_s: "slip", pygame.K_x: "larger", pygame.K_l: "loads", pygame.K_n: "numbers", pygame.K_m: "rubber", pygame.K_o: "board",
    pygame.K_EQUALS: "zoom in", pygame.K_PLUS: "zoom in", pygame.K_KP_PLUS: "zoom in", pygame.K_MINUS: "zoom out",
    pygame.K_KP_MINUS: "zoom out", pygame.K_0: "zoom auto", pygame.K_t: "text", pygame.K_PERIOD: "black", pygame.K_p: "pointer",
    pygame.K_w: "write", pygame.K_k: "keep", pygame.K_f: "full screen", pygame.K_F11: "full screen", pygame.K_v: "second screen",
    pygame.K_b: "bench", pygame.K_h: "help", pygame.K_F1: "help", pygame.K_q: "quit",
}  # fmt: skip
SHIFTED = {pygame.K_LEFT: "step back", pygame.K_RIGHT: "step", pygame.K_TAB: "set-up before"}
CHOICES = {getattr(pygame, f"K_{i + 1}"): i for i in range(9)} | {getattr(pygame, f"K_KP{i + 1}"): i for i in range(9)}
REPEATED = ("back", "forth", "step", "step back", "zoom in", "zoom out", "next set-up", "set-up before")  # while their key is held down
CENTRED_ON = 0x2FFF0000  # plus the number of a screen: the library's mark for "in the middle of that screen"
BENCH_REPEATED = (pygame.K_LEFT, pygame.K_RIGHT, pygame.K_UP, pygame.K_DOWN, pygame.K_EQUALS, pygame.K_PLUS, pygame.K_MINUS)


def open_display() -> None:
    """Open the display alone: sound would complain on a machine without a card.

    Raises InputError where there is no screen, or one that is too small.
    """
    if sys.platform.startswith("linux") and not any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER")):
        raise InputError("watch", "", "there is no display", NO_SCREEN)  # asking for one would print complaints
    os.environ.setdefault("SDL_WINDOWS_DPI_AWARENESS", "permonitorv2")  # else a dense screen would show a blurred, enlarged picture
    try:
        pygame.display.init()
        driver = pygame.display.get_driver()
    except pygame.error:
        driver = ""
    # The library falls back to drivers that show nothing; "dummy" is one of them unless it was asked for.
    if driver in ("", "offscreen") or (driver == "dummy" and os.environ.get("SDL_VIDEODRIVER") != "dummy"):
        pygame.display.quit()
        raise InputError("watch", "", "there is no display", NO_SCREEN)
    wide, high = pygame.display.get_desktop_sizes()[0]
    if wide < SMALLEST[0] or high < SMALLEST[1]:
        pygame.display.quit()
        problem = f"the screen has {wide} x {high} pixels, and the window needs {SMALLEST[0]} x {SMALLEST[1]}"
        raise InputError("watch", "", problem, f"take a larger screen, or {NO_SCREEN}")


def watch(
    run_folder: Path, bench: bool = False, setups: list[str] | None = None, size: tuple[int, int] | None = None, text: float = 1.0
) -> None:  # fmt: skip
    """Show a run in a window until it is closed.

    run_folder : of the run; bench : begin with the steering bench; setups : as for `export`; the bench begins with the first of them
    size : of the window, None for one that suits the screen [px]; text : how much larger its letters are [-]
    Raises InputError where the folder is no run of this version, there is no such set-up, or there is no display.
    """
    replay = read_run(run_folder)
    chosen = chosen_setups(replay, setups)
    open_display()
    try:
        try:
            window = Window(replay, bench, chosen, size, text)
        except pygame.error as error:
            raise InputError("watch", "", f"the display opens no window ({error})", NO_SCREEN) from None
        window.run()
    finally:
        pygame.display.quit()


class Window:
    """A window with a replay and a bench, of which one is seen."""

    def __init__(
        self, replay: Replay, bench: bool = False, setups: list[int] | None = None, size: tuple[int, int] | None = None, text: float = 1.0
    ) -> None:  # fmt: skip
        self.window = pygame.Window(f"Scrubwise: {replay.title}", size or _first_size(), resizable=True, allow_high_dpi=True)
        self.window.minimum_size = SMALLEST
        self.player, self.stage = Player.opened(replay, setups), Stage(replay)
        self.first = setups[0] if setups else None  # of the bench, which else chooses one that can be dragged
        self.replay, self.on_bench, self.full, self.open = replay, bench, False, True
        self.bench: Bench | None = self._made_bench() if bench else None
        self.dragging, self.held = "", set[int]()
        self.overlay, self.folder = Overlay(), Path.cwd()
        self.player.text = text
        if self.bench is not None:
            self.bench.text = text
        self.player.tell()
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
            if self.dragging or self.overlay.ring or self.overlay.down:
                return True
            return self.on_bench and self.bench is not None and self.bench.held is not None
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
        self.overlay.draw(surface)
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
        elif action == "second screen":
            self._second_screen()
        elif action == "black":
            self.overlay.black = True
        elif action == "pointer":
            self.overlay.ring = not self.overlay.ring
        elif action == "write":
            self.overlay.write()
            self.player.playing = self.player.playing and not self.overlay.writing
        elif action == "keep":
            self._keep_picture()
        elif action == "bench":
            self.bench = self.bench or self._made_bench()
            self.bench.text = self.player.text
            self.on_bench = not self.on_bench
        elif action.startswith("choose "):
            self.player.choose(int(action.removeprefix("choose ")))
        else:
            self.player.do(action)
            if self.overlay.writing and self.player.playing:
                self.overlay.write()  # what was written belongs to a picture that is no more

    def _made_bench(self) -> "Bench":
        from viz.replay.bench.window import Bench  # a replay opens sooner without it

        return Bench(self.replay, first=self.first)

    def _second_screen(self) -> None:
        """Full on the second screen, where there is one."""
        if pygame.display.get_num_displays() < 2:
            self.player.message = "There is no second screen"
            return
        self.window.set_windowed()
        self.window.position = (CENTRED_ON + 1, CENTRED_ON + 1)
        self.window.set_fullscreen(desktop=True)
        self.full = True

    def _keep_picture(self) -> None:
        """Write the picture, as it is seen, beside earlier ones."""
        stem = self.replay.folder.resolve().name
        for number in range(1, 1000):
            path = self.folder / f"{stem}-picture-{number:03d}.png"
            if not path.exists():
                try:
                    save_picture(self.window.get_surface(), path)
                    self.player.message = f"Kept as {path.name}"
                except InputError as error:
                    self.player.message = f"Not kept: {error.problem}"
                return
        self.player.message = f"Not kept: there are 999 files {stem}-picture already"

    def _key(self, event: pygame.event.Event, repeated: bool) -> None:
        shift = bool(event.mod & pygame.KMOD_SHIFT)
        action = (SHIFTED.get(event.key) if shift else None) or KEYS.get(event.key, "")
        if self.on_bench and self.bench is not None:
            action = KEYS.get(event.key, "")
        if repeated and not (action in REPEATED or (self.on_bench and event.key in BENCH_REPEATED)):
            return
        if self.overlay.black:
            self.overlay.black = False
            return
        if self.player.asking:
            self.player.asking = False
            self.open = not (action == "quit" or event.key in (pygame.K_RETURN, pygame.K_KP_ENTER))
            return
        self.player.message = ""
        if event.key == pygame.K_ESCAPE:
            self._escape()
            return
        if self.on_bench and self.bench is not None and action not in ("bench", "full screen", "quit"):
            self.bench.key(event)
            self.player.text = self.bench.text
        elif event.key in CHOICES:
            self.player.choose(CHOICES[event.key], 0 if shift else -1)
        elif action:
            self.do(action)

    def _escape(self) -> None:
        """One layer back: the help, the bench, the pen, the story, the full screen; then it asks whether to close."""
        if self.on_bench and self.bench is not None:
            if self.bench.help:
                self.bench.help = False
            else:
                self.on_bench = False
        elif self.player.help:
            self.player.help = False
        elif self.overlay.writing:
            self.overlay.write()
        elif self.player.story is not None:
            self.player.leave()
        elif self.full:
            self.do("full screen")
        else:
            self.player.asking = True

    def _mouse(self, event: pygame.event.Event) -> None:
        surface = self.window.get_surface()
        if event.type == pygame.MOUSEWHEEL:
            at = self.overlay.at
            if self.on_bench:
                return
            if self.player.board and self.stage.on_board(at[0] * surface.get_width(), at[1] * surface.get_height()):
                self.player.scroll = max(self.player.scroll - event.y, 0)
            else:
                self.player.zoom_by(ZOOM_STEP**event.y)
            return
        # The mouse counts in the window's units, which on a dense screen hold several pixels.
        density = surface.get_width() / max(self.window.size[0], 1)
        x, y = event.pos[0] * density, event.pos[1] * density
        share = x / surface.get_width(), y / surface.get_height()
        self.overlay.move(*share)
        if event.type == pygame.MOUSEBUTTONDOWN and self.overlay.black:
            self.overlay.black = False
        elif self.on_bench and self.bench is not None:
            action = self.bench.mouse(event.type, x, y, getattr(event, "button", 1))
            if action:
                self.do(action)
        elif event.type == pygame.MOUSEBUTTONUP:
            self.dragging, self.overlay.down = "", False
        elif event.type == pygame.MOUSEBUTTONDOWN and event.button in (1, 3):
            self._click(x, y, share, event.button)
        elif event.type == pygame.MOUSEMOTION and self.dragging:
            action, station = self.stage.clicked(x, y)
            if action == "jump":
                self.player.jump(station)

    def _click(self, x: float, y: float, share: tuple[float, float], button: int) -> None:
        """Answer a press of a button of the mouse.  x, y : [px]; share : of the surface [-]; button : 1 left, 3 right."""
        player = self.player
        player.message = ""
        if player.help or player.asking:
            player.help = player.asking = False
            return
        action, station = self.stage.clicked(x, y)
        if action.startswith("choose "):
            player.choose(int(action.removeprefix("choose ")), 0 if button == 3 else -1)
        elif button == 3:
            return
        elif self.overlay.writing and self.stage.on_picture(x, y):
            self.overlay.press(*share)
        elif action == "jump":
            self.dragging = action
            player.jump(station)
        elif action:
            self.do(action)


def _first_size() -> tuple[int, int]:
    """A window of the page's own size, as many times larger as fits well on the screen [px]."""
    sizes = pygame.display.get_desktop_sizes()
    wide, high = sizes[0] if sizes else (int(BASE[0]), int(BASE[1]))
    times = max(1.0, min(0.85 * wide / BASE[0], 0.85 * high / BASE[1]))
    return min(round(BASE[0] * times), max(wide, SMALLEST[0])), min(round(BASE[1] * times), max(high, SMALLEST[1]))
