"""A driven session: key presses and clicks under the library's dummy driver, and real ones under a virtual X server."""

import json
import os
import shutil
import subprocess
import sys
import time

import numpy as np
import pygame
import pytest

from sim.errors import InputError
from viz.replay import window as window_module
from viz.replay.bench.help import KEYS as KEYS_OF_BENCH
from viz.replay.player import ACTIONS
from viz.replay.window import KEYS, SHIFTED, Window, open_display, watch

HERE = {key: value for key, value in os.environ.items() if key not in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER")}


@pytest.fixture
def window(replay, monkeypatch):
    """A window that shows nothing, its clock standing at the start."""
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    open_display()
    made = Window(replay)
    made.player.do("start")
    made.player.playing = False
    made.frame(0.0)
    yield made
    made.window.destroy()
    pygame.display.quit()


class Screen:
    """A window in whose units the mouse counts, and a surface with `density` pixels for each of them."""

    def __init__(self, size, density):
        self.size, self.surface = size, pygame.Surface((round(density * size[0]), round(density * size[1])))

    def get_surface(self):
        return self.surface

    def flip(self):
        pass

    def destroy(self):
        pass


def tap(window, *keys):
    """Press and let go each key, with a picture after each."""
    for key in keys:
        window.answer(pygame.event.Event(pygame.KEYDOWN, key=key, mod=0))
        window.answer(pygame.event.Event(pygame.KEYUP, key=key, mod=0))
        window.frame(0.0)


def click(window, x, y, kind=pygame.MOUSEBUTTONDOWN, button=1):
    """x, y : points of the page."""
    point = window.stage.layout.point * window.window.size[0] / window.window.get_surface().get_width()
    window.answer(pygame.event.Event(kind, pos=(x * point, y * point), button=button, buttons=(1, 0, 0)))
    window.frame(0.0)


def press(window, key, mod=0):
    """One key with what is held down beside it."""
    window.answer(pygame.event.Event(pygame.KEYDOWN, key=key, mod=mod))
    window.answer(pygame.event.Event(pygame.KEYUP, key=key, mod=mod))
    window.frame(0.0)


def test_a_session(window):
    tap(window, pygame.K_SPACE, pygame.K_UP)
    window.frame(0.5)
    assert window.player.clock == pytest.approx(1.0, rel=1e-12, abs=0)
    tap(window, pygame.K_SPACE, pygame.K_DOWN)
    press(window, pygame.K_RIGHT, pygame.KMOD_LSHIFT)
    assert not window.player.playing
    assert window.player.speed == 1.0
    assert window.player.clock == pytest.approx(1.02, rel=0, abs=1e-9)
    tap(window, pygame.K_a, pygame.K_3, pygame.K_d, pygame.K_x, pygame.K_EQUALS)
    press(window, pygame.K_5, pygame.KMOD_RSHIFT)
    assert "lines" not in window.player.shows
    assert window.player.chosen == [4, 2]
    assert window.player.in_step == "time"
    assert window.player.zoom > 1
    tap(window, pygame.K_h)
    assert window.player.help
    tap(window, pygame.K_ESCAPE, pygame.K_b)
    assert not window.player.help
    assert window.on_bench
    tap(window, pygame.K_LEFT)
    assert window.bench.model.hand > 0
    tap(window, pygame.K_ESCAPE)
    assert not window.on_bench
    tap(window, pygame.K_END, pygame.K_HOME)
    assert window.player.clock == 0.0
    tap(window, pygame.K_q)
    assert not window.open


def test_it_opens_with_the_story_and_escape_asks(replay, monkeypatch):
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    open_display()
    made = Window(replay)
    made.frame(0.0)
    assert made.player.scene.name == "approach"
    tap(made, pygame.K_PAGEDOWN, pygame.K_PAGEDOWN, pygame.K_PAGEUP)
    assert made.player.scene.name == "lines appear"
    tap(made, pygame.K_ESCAPE)
    assert made.player.story is None
    tap(made, pygame.K_ESCAPE)
    assert made.player.asking
    tap(made, pygame.K_UP)  # any other key goes back, and does nothing else
    assert not made.player.asking
    assert made.open
    assert made.player.speed == 1.0
    tap(made, pygame.K_ESCAPE, pygame.K_RETURN)
    assert not made.open
    made.window.destroy()
    pygame.display.quit()


def test_black_out_until_any_key(window):
    """On a surface of its own: a driver may give a window another one between two looks at it."""
    window.window.destroy()
    window.window = Screen((1280, 720), 1.0)
    window.frame(0.0)
    before = pygame.surfarray.array3d(window.window.get_surface())
    tap(window, pygame.K_PERIOD)
    assert window.overlay.black
    assert not pygame.surfarray.array3d(window.window.get_surface()).any()
    tap(window, pygame.K_END)
    assert not window.overlay.black
    assert window.player.clock == 0.0  # the key does nothing else
    changed = np.argwhere((pygame.surfarray.array3d(window.window.get_surface()) != before).any(axis=2))
    assert len(changed) == 0, (changed.min(axis=0), changed.max(axis=0))


def test_a_ring_follows_the_pointer(window):
    tap(window, pygame.K_p)
    for x, y in ((400, 300), (900, 350)):
        moved = pygame.event.Event(pygame.MOUSEMOTION, pos=(x, y), rel=(1, 0), buttons=(0, 0, 0))
        assert window._changes(moved)
        window.answer(moved)
        window.frame(0.0)
        point = window.stage.layout.point
        assert window.window.get_surface().get_at((round(x + 28 * point), y))[:3] == (26, 26, 26)
    tap(window, pygame.K_p)
    assert not window.overlay.ring


def test_a_pen_on_a_frozen_frame(window):
    """What is written stays while the picture stands, and goes when it moves on."""
    window.player.playing = True
    tap(window, pygame.K_w)
    assert not window.player.playing
    before = pygame.surfarray.array3d(window.window.get_surface())
    picture = window.stage.pictures[0]
    x, y = picture.x + 40, picture.y + 60
    click(window, x, y)
    click(window, x + 60, y + 5, pygame.MOUSEMOTION)
    click(window, x + 60, y + 5, pygame.MOUSEBUTTONUP)
    click(window, x + 90, y + 90, pygame.MOUSEMOTION)
    changed = (pygame.surfarray.array3d(window.window.get_surface()) != before).any(axis=2)
    assert 150 < changed.sum() < 1500
    assert window.player.station == 0.0
    tap(window, pygame.K_SPACE)
    assert not window.overlay.writing
    assert window.overlay.strokes == []


def test_a_loop_by_keys(window):
    tap(window, pygame.K_RIGHT, pygame.K_RIGHT, pygame.K_g, pygame.K_RIGHT, pygame.K_g)
    assert window.player.loop == pytest.approx((2 / 1.5, 2.0), rel=0, abs=1e-6)
    assert window.player.playing
    tap(window, pygame.K_g)
    assert window.player.loop is None


def test_the_board_hides_and_shows_rubber(window):
    wide = window.stage.layout.cards[0].width
    tap(window, pygame.K_m)
    assert window.player.rubber
    tap(window, pygame.K_o)
    assert window.stage.layout.cards[0].width > wide + 100
    tap(window, pygame.K_o)
    assert window.stage.layout.cards[0].width == wide


def test_a_picture_is_kept_beside_earlier_ones(window, tmp_path):
    window.folder = tmp_path
    tap(window, pygame.K_k, pygame.K_k)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["circle-picture-001.png", "circle-picture-002.png"]
    assert "circle-picture-002.png" in window.player.message
    window.folder = tmp_path / "nowhere"
    tap(window, pygame.K_k)
    assert window.player.message.startswith("Not kept: the file can't be written")


def test_the_second_screen(window, monkeypatch):
    tap(window, pygame.K_v)
    assert window.player.message == "There is no second screen"
    assert not window.full
    monkeypatch.setattr(window_module.pygame.display, "get_num_displays", lambda: 2)
    tap(window, pygame.K_v)
    assert window.full


def test_every_key_is_answered(window):
    for key in KEYS:
        if KEYS[key] not in ("quit", "full screen", "second screen", "keep"):
            tap(window, key)
            tap(window, pygame.K_ESCAPE if window.on_bench else pygame.K_COMMA)  # back from the bench; from the black screen
    assert window.open


def test_a_held_key_toggles_once_but_goes_on_and_on(window):
    for key in (pygame.K_r, pygame.K_RIGHT):
        for _ in range(5):
            window.answer(pygame.event.Event(pygame.KEYDOWN, key=key, mod=0))
    assert "trails" not in window.player.shows
    assert window.player.station == pytest.approx(5.0, rel=0, abs=1e-6)
    window.answer(pygame.event.Event(pygame.KEYUP, key=pygame.K_r, mod=0))
    tap(window, pygame.K_r)
    assert "trails" in window.player.shows


def test_click_and_drag_on_the_strip(window):
    plot, length = window.stage.strip.plot, window.replay.course.length
    click(window, plot.x + 0.25 * plot.width, plot.y + 20)
    assert window.player.station == pytest.approx(0.25 * length, rel=0, abs=0.1)
    click(window, plot.x + 0.5 * plot.width, plot.y + 20, pygame.MOUSEMOTION)
    assert window.player.station == pytest.approx(0.5 * length, rel=0, abs=0.1)
    click(window, plot.x + 0.5 * plot.width, plot.y + 20, pygame.MOUSEBUTTONUP)
    click(window, plot.x + 0.7 * plot.width, plot.y + 20, pygame.MOUSEMOTION)
    assert window.player.station == pytest.approx(0.5 * length, rel=0, abs=0.1)


def test_click_on_the_course(window):
    """The circle begins at its lowest point and runs to the left: half way round is its top."""
    rect = window.stage.layout.course
    click(window, rect.x + rect.width / 2, rect.y + 15)
    assert window.player.station == pytest.approx(0.5 * window.replay.course.length, rel=0.05, abs=0)


def test_click_on_buttons_and_set_ups(window):
    for action in ("play", "faster", "slip", "in step", "help"):
        rect = next(rect for rect, name in window.stage.hits if name == action)
        click(window, rect.x + rect.width / 2, rect.y + rect.height / 2)
    assert window.player.playing
    assert window.player.speed == 2.0
    assert "slip" not in window.player.shows
    assert window.player.help
    click(window, 400, 300)
    assert not window.player.help
    for button, chosen in ((1, [0, 3]), (3, [2, 3])):
        wanted = chosen[1] if button == 1 else chosen[0]
        rect = next(rect for rect, name in window.stage.hits if name == f"choose {wanted}")
        click(window, rect.x + 20, rect.y + 10, button=button)
        assert window.player.chosen == chosen


def test_mouse_wheel_zooms(window):
    window.answer(pygame.event.Event(pygame.MOUSEWHEEL, y=2))
    assert window.player.zoom == pytest.approx(1.44, rel=1e-9, abs=0)


def test_mouse_wheel_scrolls_a_long_board(window):
    window.player.text = 1.5
    window.frame(0.0)
    board = window.stage.layout.board
    seen = {name for _, name in window.stage.hits if name.startswith("choose ")}
    assert len(seen) < 5
    for _ in range(6):
        click(window, board.x + 30, board.y + 80, pygame.MOUSEMOTION)
        window.answer(pygame.event.Event(pygame.MOUSEWHEEL, y=-1))
        window.frame(0.0)
        rows = {name for _, name in window.stage.hits if name.startswith("choose ")}
        assert {f"choose {i}" for i in window.player.chosen} <= rows
        seen |= rows
    assert seen == {f"choose {i}" for i in range(5)}
    assert window.player.zoom == 1.0


def test_another_size_of_window(window):
    for size in ((1600, 1000), (960, 600)):
        window.window.size = size
        pygame.event.pump()
        window.frame(0.0)
        assert window.window.get_surface().get_size() == size
        assert window.stage.layout.page.width == pytest.approx(size[0] / window.stage.layout.point, rel=1e-12, abs=0)


def test_full_screen_and_back(window):
    tap(window, pygame.K_f)
    assert window.full
    tap(window, pygame.K_ESCAPE)
    assert not window.full
    assert window.open


def test_closing_the_window_ends_watch(circle_run, monkeypatch):
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    pictures = []

    def closed_after(count):
        def frame(self, seconds):
            pictures.append(seconds)
            if len(pictures) == count:
                pygame.event.post(pygame.event.Event(pygame.QUIT))

        return frame

    for bench, count in ((False, 3), (True, 1)):  # the bench draws no second picture of its own accord
        pictures.clear()
        monkeypatch.setattr(Window, "frame", closed_after(count))
        watch(circle_run, bench=bench)
        assert len(pictures) == count
    assert not pygame.display.get_init()
    assert pygame.mixer is None or not pygame.mixer.get_init()


def test_a_window_in_which_nothing_moves_waits(window, monkeypatch):
    """Paused, it drew sixty times a second the picture that was there already."""
    pictures, waits = [], []
    passing = pygame.event.Event(pygame.MOUSEMOTION, pos=(500, 300), rel=(1, 0), buttons=(0, 0, 0))
    coming = [pygame.event.Event(pygame.NOEVENT)] * 3 + [passing, pygame.event.Event(pygame.KEYDOWN, key=pygame.K_h, mod=0)]
    coming += [pygame.event.Event(pygame.QUIT)]

    def wait(longest):
        waits.append(longest)
        return coming.pop(0)

    monkeypatch.setattr(window_module.pygame.event, "wait", wait)
    monkeypatch.setattr(window, "frame", pictures.append)
    pygame.event.clear()
    window.run()
    assert len(waits) == 6
    assert pictures == [0.0, 0.0]  # the first, and the one with the help
    assert window.player.help


def test_a_pause_is_not_made_up_for(window, monkeypatch):
    """The replay goes on from where it stood, however long it waited."""
    coming = [pygame.event.Event(pygame.NOEVENT), pygame.event.Event(pygame.KEYDOWN, key=pygame.K_SPACE, mod=0)]
    pictures = []

    def frame(seconds):
        pictures.append(seconds)
        if len(pictures) == 3:
            pygame.event.post(pygame.event.Event(pygame.QUIT))

    def wait(longest):
        time.sleep(0.3)
        return coming.pop(0)

    monkeypatch.setattr(window_module.pygame.event, "wait", wait)
    monkeypatch.setattr(window, "frame", frame)
    pygame.event.clear()
    window.run()
    assert pictures[:2] == [0.0, 0.0]
    assert 0 < pictures[2] < 0.3


def test_the_set_ups_that_were_asked_for_are_shown(replay, monkeypatch):
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    open_display()
    made = Window(replay, bench=True, setups=[2, 4])
    assert made.player.chosen == [2, 4]
    assert made.bench.model.built.setup.name == "kinked arms"
    made.window.destroy()
    pygame.display.quit()


def test_help_on_the_bench(window):
    tap(window, pygame.K_b)
    without = pygame.image.tobytes(window.window.get_surface(), "RGB")
    for key in (pygame.K_h, pygame.K_F1, pygame.K_QUESTION):
        tap(window, key)
        assert window.bench.help
        assert pygame.image.tobytes(window.window.get_surface(), "RGB") != without
        tap(window, pygame.K_ESCAPE)
        assert not window.bench.help
        assert window.on_bench
    assert pygame.image.tobytes(window.window.get_surface(), "RGB") == without


NAMES = {"← →": (pygame.K_LEFT, pygame.K_RIGHT), "↑ ↓": (pygame.K_UP, pygame.K_DOWN), "+ −": (pygame.K_PLUS, pygame.K_MINUS),
         "Tab": (pygame.K_TAB,), "Esc": (pygame.K_ESCAPE,)}  # fmt: skip


@pytest.mark.parametrize("name", [name for name, _ in KEYS_OF_BENCH])
def test_each_key_that_the_bench_names_does_something(window, tmp_path, name):
    def state():
        bench = window.bench
        return (window.open, window.full, window.on_bench, bench.help, bench.row, bench.message, bench.model.hand, bench.model.built,
                bench.text)  # fmt: skip

    tap(window, pygame.K_b)
    window.bench.folder = tmp_path
    window.bench.model.choose_kind("cross rod")
    window.bench.model.change({"arm_length_mm": 120.0})
    window.bench.model.turn_hand(0.2)
    for key in NAMES.get(name) or (getattr(pygame, f"K_{name.lower()}"),):
        before = state()
        window.answer(pygame.event.Event(pygame.KEYDOWN, key=key, mod=0))
        assert state() != before
    assert bool(list(tmp_path.iterdir())) == (name == "S")


@pytest.mark.slow
def test_no_display_is_one_line(circle_run):
    script = f"""
import sys
from pathlib import Path
from sim.errors import InputError
from viz.replay.window import watch
try:
    watch(Path({str(circle_run)!r}))
except InputError as error:
    sys.exit(f"refused: {{error}}")
"""
    for extra in ({}, {"SDL_VIDEODRIVER": "offscreen"}):
        done = subprocess.run([sys.executable, "-c", script], env=HERE | extra, capture_output=True, text=True, check=False)
        assert done.stdout == ""
        assert done.stderr == "refused: watch: there is no display; use --export FILE.png, FILE.gif or FILE.mp4\n"


def test_the_driver_that_shows_nothing_is_no_display(monkeypatch):
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    monkeypatch.setattr(window_module.pygame.display, "get_driver", lambda: "offscreen")
    with pytest.raises(InputError, match="there is no display"):
        open_display()


SESSION = """
import json, sys
from pathlib import Path
from viz.replay import window
from viz.replay.run_data import read_run

window.open_display()
made = window.Window(read_run(Path(sys.argv[1])), size=(int(sys.argv[2]), int(sys.argv[3])))
made.player.do("start")
made.player.playing = False
draw, first = made.frame, []


def frame(seconds):
    draw(seconds)
    if not first:
        plot, card, point = made.stage.strip.plot, made.stage.layout.cards[0], made.stage.layout.point
        left, top = made.window.position
        places = [(plot.x + 0.25 * plot.width, plot.y + 0.5 * plot.height), (card.x + 0.5 * card.width, card.y + 0.5 * card.height)]
        first.append(print(json.dumps([[round(left + x * point), round(top + y * point)] for x, y in places]), flush=True))


made.frame = frame
made.run()
player = made.player
print(json.dumps({"speed": player.speed, "shows": sorted(player.shows), "chosen": player.chosen, "station": player.station,
                  "zoom": player.zoom, "story": player.story is not None, "kind": made.bench.model.kind, "hand": made.bench.model.hand}))
"""


def real_session(run, size, pause):
    """What a window on a virtual screen was told by real keys and a real mouse; `pause` [s] between them."""
    read, write = os.pipe()
    command = ["Xvfb", "-displayfd", str(write), "-screen", "0", f"{size}x24"]
    server = subprocess.Popen(command, pass_fds=[write], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    os.close(write)
    session = None
    try:
        with os.fdopen(read) as answer:
            env = HERE | {"DISPLAY": f":{answer.readline().strip()}"}
        session = subprocess.Popen([sys.executable, "-c", SESSION, str(run), *size.split("x")], env=env, stdout=subprocess.PIPE, text=True)
        strip, picture = json.loads(session.stdout.readline())

        def act(*words):
            # A key that is let go at once, before the window has drawn, is still an event of its own.
            subprocess.run(["xdotool", *map(str, words)], env=env, check=True, timeout=120)
            time.sleep(pause)

        delay = ("--delay", round(300 * pause))
        act("key", *delay, "Up", "Up", "a", "3", "e", "Page_Down", "Return", "space")
        act("mousemove", *strip, "click", "1")
        act("mousemove", *picture, "click", "4")
        act("key", *delay, "Right", "Right", "b", "Tab", "Left", "Left")
        act("key", *delay, "b", "h", "Escape", "Escape", "space", "Escape", "Return")
        return json.loads(session.communicate(timeout=120)[0])
    finally:
        for process in (session, server):
            if process is not None and process.poll() is None:
                process.kill()
                process.wait()


@pytest.mark.slow
@pytest.mark.skipif(not shutil.which("Xvfb"), reason="the virtual X server Xvfb is not installed")
@pytest.mark.skipif(not shutil.which("xdotool"), reason="xdotool, which presses real keys, is not installed")
@pytest.mark.parametrize("size", ["800x600", "1280x720", "2560x1440"])
def test_real_keys_and_a_real_mouse_on_a_real_screen(circle_run, size):
    """Speed, lines, another set-up, the story and out of it; a click on the strip and a turn of the wheel; the bench; the way out."""
    told = real_session(circle_run, size, 0.2)
    if told["kind"] != "centre arm" or not told["hand"] > 0:  # the last of them came before a busy machine's window was there
        told = real_session(circle_run, size, 1.0)
    assert told["speed"] == 5.0
    assert "lines" not in told["shows"]
    assert told["chosen"] == [0, 2]
    assert not told["story"]
    assert told["station"] == pytest.approx(0.25 * 2 * np.pi * 4.0 + 2.0, rel=0, abs=0.25)
    assert told["zoom"] > 1.0
    assert told["kind"] == "centre arm"  # the one after the cross rod, with which the bench begins
    assert told["hand"] > 0


def test_help_names_every_key():
    """Also a second key for the same, and those with Shift."""
    names = {pygame.K_SPACE: "Space", pygame.K_UP: "↑", pygame.K_DOWN: "↓", pygame.K_LEFT: "←", pygame.K_RIGHT: "→",
             pygame.K_PAGEDOWN: "Page ↓", pygame.K_PAGEUP: "Page ↑", pygame.K_RETURN: "Enter", pygame.K_KP_ENTER: "Enter",
             pygame.K_MINUS: "−", pygame.K_KP_MINUS: "−", pygame.K_KP_PLUS: "+"}  # fmt: skip
    for key, action in KEYS.items():
        assert names.get(key, pygame.key.name(key)).lower() in ACTIONS[action].key.lower(), action
    for key, action in SHIFTED.items():
        assert "Shift" in ACTIONS[action].key
        assert "Shift" in ACTIONS[KEYS[key]].words


def test_a_screen_that_is_too_small_says_the_least_size(circle_run, monkeypatch):
    """The window was larger than the screen, its buttons out of reach."""
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    monkeypatch.setattr(window_module.pygame.display, "get_desktop_sizes", lambda: [(640, 480)])
    with pytest.raises(InputError) as refusal:
        watch(circle_run)
    assert str(refusal.value) == (
        "watch: the screen has 640 x 480 pixels, and the window needs 800 x 600; "
        "take a larger screen, or use --export FILE.png, FILE.gif or FILE.mp4"
    )
    monkeypatch.setattr(window_module.pygame.display, "get_desktop_sizes", lambda: [(800, 600)])
    open_display()
    assert window_module._first_size() == (800, 600)
    pygame.display.quit()


def test_a_display_that_opens_no_window_is_one_line(circle_run, monkeypatch):
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")

    def broken(*_, **__):
        raise pygame.error("no visual")

    monkeypatch.setattr(window_module.pygame, "Window", broken)
    with pytest.raises(InputError, match=r"^watch: the display opens no window \(no visual\); use --export [^\n]*$"):
        watch(circle_run)
    assert not pygame.display.get_init()


@pytest.mark.parametrize(("size", "density"), [((800, 600), 1.0), ((1280, 720), 1.0), ((1280, 720), 2.0), ((2560, 1440), 1.0)])
def test_a_session_at_the_bench(window, tmp_path, size, density):
    """Keys, mouse and wheel as they come, on usual and on dense screens: what is grabbed is what the pointer is over."""
    window.window.destroy()
    window.window = Screen(size, density)

    def mouse(kind, place, button=1):
        """place : [px of the surface]"""
        pos = place[0] / density, place[1] / density
        window.answer(pygame.event.Event(kind, pos=pos, button=button, rel=(1, 1), buttons=(1, 0, 0)))
        window.frame(0.0)

    tap(window, pygame.K_b)
    bench, model = window.bench, window.bench.model
    bench.folder = tmp_path
    assert model.built.setup.kind.rods
    hand, radius = model.hand, model.radius
    tap(window, pygame.K_RIGHT, pygame.K_RIGHT)
    assert model.hand < hand
    assert model.radius > radius
    x, y = (bench.point * one for one in bench.hand_centre)
    mouse(pygame.MOUSEBUTTONDOWN, (x, y - 45 * bench.point))
    assert bench.held == "hand"
    hand = model.hand
    mouse(pygame.MOUSEMOTION, (x + 45 * bench.point, y))
    assert model.hand == pytest.approx(max(hand - np.pi / 2, model.built.steering.lock_right), rel=0, abs=0.02)
    mouse(pygame.MOUSEBUTTONUP, (x, y))
    tap(window, pygame.K_0)
    length = model.built.setup.arm_length_mm
    joint = bench.plan_view.screen(tuple(model.pose().joints[0]))
    mouse(pygame.MOUSEBUTTONDOWN, joint)
    assert bench.held == 0
    mouse(pygame.MOUSEMOTION, (joint[0], joint[1] + 0.02 * bench.plan_view.scale))
    assert model.built.setup.arm_length_mm == pytest.approx(length + 20, rel=0, abs=4)
    mouse(pygame.MOUSEBUTTONUP, joint)
    window.answer(pygame.event.Event(pygame.MOUSEWHEEL, y=1))
    window.frame(0.0)
    for action, key in (("undo", pygame.K_r), ("next kind", pygame.K_TAB)):
        rect = next(rect for rect, name in bench.hits if name == action)
        before = model.built
        mouse(pygame.MOUSEBUTTONDOWN, ((rect.x + rect.width / 2) * bench.point, (rect.y + rect.height / 2) * bench.point))
        assert model.built is not before
        tap(window, key)
    rect = next(rect for rect, name in bench.hits if name == "save")
    mouse(pygame.MOUSEBUTTONDOWN, ((rect.x + 5) * bench.point, (rect.y + 5) * bench.point))
    assert [one.name for one in tmp_path.iterdir()] == ["circle-bench-01.toml"]
    tap(window, pygame.K_h, pygame.K_ESCAPE, pygame.K_ESCAPE)
    assert not window.on_bench


@pytest.mark.slow
def test_the_bench_moves_by_itself_while_its_joint_pulses(window):
    tap(window, pygame.K_b)
    assert window.moving
    for _ in range(100):
        window.frame(0.1)
    assert not window.moving


@pytest.mark.parametrize("density", [1.0, 1.5, 2.0])
def test_a_click_on_a_dense_screen_means_what_is_under_it(window, density):
    """The mouse counts in the window's units, the page in pixels; letters grow with these, so that they look alike."""
    window.window.destroy()
    window.window = Screen((1280, 720), density)
    window.frame(0.0)
    stage, player = window.stage, window.player
    assert stage.layout.point == pytest.approx(density)
    rect = next(rect for rect, action in stage.hits if action == "loads")
    click_at = ((rect.x + rect.width / 2), (rect.y + rect.height / 2))  # a point is a unit of this window
    window.answer(pygame.event.Event(pygame.MOUSEBUTTONDOWN, pos=click_at, button=1))
    assert "loads" in player.shows
    plot = stage.strip.plot
    window.answer(pygame.event.Event(pygame.MOUSEBUTTONDOWN, pos=(plot.x + plot.width / 4, plot.y + 10), button=1))
    assert player.station == pytest.approx(player.replay.course.length / 4, rel=0, abs=0.2)
