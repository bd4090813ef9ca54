"""Stills and films without a screen."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import av
import numpy as np
import pytest
from PIL import Image

from sim.errors import InputError
from viz.cli.studies import watch
from viz.replay import export as export_module
from viz.replay.bench import export as bench_export
from viz.replay.bench.export import export_bench
from viz.replay.costs import opening_pair, places_of
from viz.replay.export import GIF_RATE, export, export_story, size_from

SMALL = (1080, 640)


@pytest.mark.target("T26", what="A picture that was exported opens", asked="it opens")
def test_a_still_opens_and_is_the_same_every_time(circle_run, tmp_path):
    for name in ("one.png", "two.PNG"):
        export(circle_run, tmp_path / name, at_m=9.0)
    with Image.open(tmp_path / "one.png") as picture:
        assert picture.size == (1280, 720)
        assert len(picture.getcolors(1 << 20)) > 100
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.PNG").read_bytes()


def test_the_place_and_the_set_ups_matter(circle_run, tmp_path):
    ways = {"a": {"at_m": 9.0}, "b": {"at_m": 9.5}, "c": {"at_m": 9.0, "setups": ["Parallel", "1"]}, "d": {"at_m": 9.0, "setups": ["2"]}}
    for name, keys in ways.items():
        export(circle_run, tmp_path / f"{name}.png", size=SMALL, **keys)
    assert len({(tmp_path / f"{name}.png").read_bytes() for name in ways}) == len(ways)


@pytest.mark.slow
def test_a_film_has_its_pictures(circle_run, tmp_path):
    """1.5 m at 1.5 m/s are a second: 31 pictures with both ends."""
    for name in ("one.mp4", "two.mp4"):
        export(circle_run, tmp_path / name, from_m=6.0, to_m=7.5, size=SMALL)
    with av.open(str(tmp_path / "one.mp4")) as film:
        frames = list(film.decode(video=0))
    pictures = [frame.to_ndarray(format="rgb24") for frame in frames]
    assert len(pictures) == 31
    assert frames[-1].time - frames[0].time == pytest.approx(1.0, rel=0, abs=1e-6)  # as fast as it was driven
    assert pictures[0].shape == (640, 1080, 3)
    assert np.abs(pictures[0].astype(int) - pictures[-1]).max() > 100
    assert (tmp_path / "one.mp4").read_bytes() == (tmp_path / "two.mp4").read_bytes()


def test_a_gif_has_its_pictures(circle_run, tmp_path):
    """0.75 m take half a second, at double speed a quarter: 4 pictures at 12.5 a second."""
    export(circle_run, tmp_path / "one.gif", from_m=6.0, to_m=6.75, speed=2.0, size=SMALL)
    with Image.open(tmp_path / "one.gif") as picture:
        assert picture.n_frames == 4
        assert picture.size == SMALL
        assert picture.info["duration"] == 80


def words_of(monkeypatch, noted, make):
    """All words on the pictures that are made."""
    surfaces = []

    def surface(size):
        surfaces.append(noted(size))
        return surfaces[-1]

    with monkeypatch.context() as patch:
        patch.setattr(export_module.pygame, "Surface", surface)
        make()
    return " ".join(words for one in surfaces for words, _, _ in one.lines)


def test_a_picture_says_what_its_marks_and_figures_mean(circle_run, tmp_path, monkeypatch, noted):
    for size in ((1280, 720), (960, 600)):
        words = words_of(monkeypatch, noted, lambda size=size: export(circle_run, tmp_path / "a.png", at_m=9.0, size=size))
        words = words.replace("\n", " ")
        for part in (
            "Degrees: slip",
            "dashed",
            "arrow, angle drawn 5 times larger",
            "dark and broad where power rubs",
            "the stroke: at the end",
        ):
            assert part in words
        assert "Film" not in words


def test_with_the_largest_letters_the_board_has_both_pictures(car_park_run, tmp_path, monkeypatch, noted):
    """ "ideal", one of the two shown, fell off below what is shown small."""
    words = words_of(monkeypatch, noted, lambda: export(car_park_run, tmp_path / "a.png", text=2.0))
    assert words.count("rubbing") == 2
    assert "202 of 503\u00a0J" in words
    assert "5 of 11\u00a0J" in words


def test_a_picture_says_whether_it_matters(car_park_run, tmp_path, monkeypatch, noted):
    """As large as it is usually: at the board, beside four set-ups."""
    words = words_of(monkeypatch, noted, lambda: export(car_park_run, tmp_path / "a.png"))
    assert 'In a lap "parallel" needs 493\u00a0J (128\u00a0%) more drive work than "ideal": this matters' in words.replace("\n", " ")


def test_a_picture_asks_nobody_to_press_a_key(car_park_run, tmp_path, monkeypatch, noted):
    """A window's page does, so that the words looked for are those that it has; the smallest one hides rows of the board."""
    replay = export_module.read_run(car_park_run)
    player, seen = export_module.Player.opened(replay), []
    for size in ((1280, 720), (960, 600)):
        page = export_module.Stage(replay)
        seen.append(words_of(monkeypatch, noted, lambda size=size, page=page: page.draw(export_module.pygame.Surface(size), player)))
        words = words_of(monkeypatch, noted, lambda size=size: export(car_park_run, tmp_path / "a.png", size=size))
        assert not re.search(r"\bkey \w|turn the\s+wheel here", words), words
    assert re.search(r"\bkey 3", " ".join(seen))
    assert re.search(r"\bkey J", " ".join(seen))


@pytest.mark.slow
def test_json_lists_the_numbered_places(car_park_run, tmp_path):
    """Held against the traces: a mean over a metre lies between the least and the most that they differ by in that metre."""
    replay = export_module.read_run(car_park_run)
    command = [sys.executable, "-m", "viz.cli", "watch", str(car_park_run), "--export", "a.png", "--json"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=True)
    answer = json.loads(done.stdout)
    chosen = export_module.Player.opened(replay).chosen
    assert [one["station_m"] for one in answer["places"]] == places_of(replay, chosen)
    assert len(answer["places"]) == 2
    one, other = (replay.drives[index] for index in chosen)
    for place in answer["places"]:
        near = np.linspace(place["station_m"] - 0.5, place["station_m"] + 0.5, 101)
        apart = np.abs(np.interp(near, one.station, one.total) - np.interp(near, other.station, other.total))
        assert apart.min() <= place["power_W"] <= apart.max()


@pytest.mark.parametrize(("speed", "told"), [(1.0, "Film: as fast as driven"), (2.0, "Film: 2 times as fast as driven")])
def test_a_film_says_how_fast_it_is_and_lasts_as_long_as_that(circle_run, tmp_path, monkeypatch, noted, speed, told):
    """1.2 m at 1.5 m/s."""
    file = tmp_path / "a.gif"
    words = words_of(monkeypatch, noted, lambda: export(circle_run, file, from_m=6.0, to_m=7.2, speed=speed, size=SMALL))
    assert told in words
    with Image.open(file) as picture:
        lasts = (picture.n_frames - 1) * picture.info["duration"] / 1000
    assert lasts == pytest.approx(1.2 / 1.5 / speed, rel=0, abs=0.5 / GIF_RATE)


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (["--bench", "--export", "bench.png", "--at", "3"],
         "scrubwise: --at: the steering bench stands still; leave --at or --bench out\n"),
        pytest.param(
            ["--at", "3"], "scrubwise: --at: a window goes to any place; add --export FILE, or leave --at out\n", marks=pytest.mark.slow
        ),
        pytest.param(
            ["--to", "3"], "scrubwise: --to: a window goes to any place; add --export FILE, or leave --to out\n", marks=pytest.mark.slow
        ),
    ],
    ids=["place of the bench", "place of a window", "end of a window"],
)  # fmt: skip
def test_what_does_not_go_together_is_refused_in_one_line(circle_run, tmp_path, words, line):
    """The bench with --export wrote the ordinary replay without a word."""
    command = [sys.executable, "-m", "viz.cli", "watch", str(circle_run), *words]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (2, "", line)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("options", "problem"),
    [
        ({"speed": 2.0}, "--speed: a window has keys for its speed"), ({"story": Path("a.mp4"), "at": 3.0}, "--at: a story chooses"),
        ({"story": Path("a.mp4"), "export": Path("b.png")}, "--export: a story chooses its own"), ({"size": "big"}, '"big" is no size'),
        ({"place": 2}, "--place: a window goes to any place"), ({"story": Path("a.mp4"), "place": 2}, "--place: a story chooses"),
        ({"export": Path("a.png"), "place": 1, "at": 3.0}, "--place: it says where, and --at does too"),
        ({"export": Path("a.png"), "place": 1, "bench": True}, "--place: the steering bench stands still"),
        ({"text": 3.0}, "text: 3 is not between 1 and 2"), ({"bench": True, "story": Path("a.mp4")}, "--bench: a story chooses its own"),
    ],
)  # fmt: skip
def test_options_that_mean_nothing_together(circle_run, options, problem):
    with pytest.raises(InputError, match=re.escape(problem)):
        watch(circle_run, **options)


REFUSED = {
    "no kind": ("a.bmp", {}, "does not say which kind"),
    "stretch of a still": ("a.png", {"from_m": 1.0}, "a stretch makes an animation"),
    "place of a film": ("a.mp4", {"at_m": 1.0}, "one place makes a still"),
    "beyond the course": ("a.png", {"at_m": 99.0}, "the place 99 m is not on the course"),
    "backwards": ("a.gif", {"from_m": 9.0, "to_m": 3.0}, "the stretch ends before it begins"),
    "tiny": ("a.png", {"size": (640, 360)}, "is too small"),
    "speed": ("a.gif", {"speed": 50.0}, "50 is not between 0.1 and 20"),
    "unknown set-up": ("a.png", {"setups": ["what"]}, 'there is no set-up "what"'),
    "odd": ("a.png", {"size": (1281, 721)}, "1281 x 721 pixels has an odd side; films need even ones, such as 1282 x 722"),
    "speck": ("a.png", {"size": (801, 600)}, "801 x 600 pixels is too small; at least 960 x 600"),
    "wall": ("a.png", {"size": (9000, 720)}, "too large"),
    "small letters": ("a.png", {"text": 0.5}, "0.5 is not between 1 and 2"),
    "five": ("a.png", {"setups": ["1", "2", "3", "4", "5"]}, "5 set-ups are too many"),
    "no such place": ("a.png", {"place": 4}, "there is no place 4: there is one numbered place, no other is worth a number"),
    "place 0 of a film": ("a.mp4", {"place": 0}, "there is no place 0"),
    "no folder": ("nowhere/a.png", {"at_m": 1.0}, "the file can't be written"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_is_refused_in_one_line(circle_run, tmp_path, case):
    name, keys, problem = REFUSED[case]
    with pytest.raises(InputError) as refusal:
        export(circle_run, tmp_path / name, **keys)
    assert problem in str(refusal.value)
    assert "\n" not in str(refusal.value)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("words", ["1920x1080", "1920 X 1080", " 1920×1080 "])
def test_a_size_as_a_person_writes_it(words):
    assert size_from(words) == (1920, 1080)


@pytest.mark.parametrize("words", ["", "1920", "1920x", "-5x7", "1920x1080x3", "1e3x700", "999999x4"])
def test_what_is_no_size_is_refused(words):
    with pytest.raises(InputError, match="write width and height in pixels"):
        size_from(words)


@pytest.mark.slow
def test_the_story_as_a_film(circle_run, tmp_path):
    """All scenes and the stretch once, ten times as fast: a second for every ten, at 30 pictures."""
    export_story(circle_run, tmp_path / "story.mp4", speed=10.0, size=SMALL, text=1.25)
    replay = export_module.read_run(circle_run)
    player = export_module.Player.opened(replay)
    player.tell()
    begin, end = player.story.stretch
    with av.open(str(tmp_path / "story.mp4")) as film:
        frames = [frame.to_ndarray(format="rgb24") for frame in film.decode(video=0)]
    assert len(frames) == round((player.story.seconds + end - begin) / 10.0 * 30)
    assert frames[0].shape == (640, 1080, 3)
    assert np.abs(frames[0].astype(int) - frames[-1]).max() > 100


@pytest.mark.parametrize("name", ["story.png", "story"])
def test_a_story_is_no_still(circle_run, tmp_path, name):
    with pytest.raises(InputError, match="a story is a film"):
        export_story(circle_run, tmp_path / name)


@pytest.mark.target("T26", what="A picture is exported without a screen", asked="the file is there")
def test_no_screen_is_needed_and_nothing_is_printed(circle_run, tmp_path):
    bare = {key: value for key, value in os.environ.items() if key not in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER")}
    script = f"from pathlib import Path; from viz.replay.export import export; export(Path({str(circle_run)!r}), Path('x.png'), at_m=2.0)"
    done = subprocess.run([sys.executable, "-c", script], cwd=tmp_path, env=bare, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert (tmp_path / "x.png").stat().st_size > 10_000


def test_the_bench_as_a_picture(circle_run, tmp_path, monkeypatch, noted):
    """It was refused; the picture has no buttons, says what it is, and is of the set-up that was named."""
    for name, setups in (("a.png", None), ("b.png", None), ("c.png", ["turntable"])):
        words = words_of(monkeypatch, noted, lambda name=name, setups=setups: export_bench(circle_run, tmp_path / name, setups))
        assert "Made by hand: a circle to the left: the turn that the hand wheel sets" in words
        assert "Save S" not in words
        assert ("turntable" if setups else "kinked arms") in words
    with Image.open(tmp_path / "a.png") as picture:
        assert picture.size == (1280, 720)
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()
    assert (tmp_path / "a.png").read_bytes() != (tmp_path / "c.png").read_bytes()
    with pytest.raises(InputError, match="does not say which kind"):
        export_bench(circle_run, tmp_path / "a.bmp")


def test_a_film_of_the_bench_turns_the_hand_wheel_from_stop_to_stop(circle_run, tmp_path, monkeypatch):
    seen = []
    real = bench_export.Bench.draw

    def draw(self, surface):
        seen.append(self.model.hand / self.model.built.steering.lock_left)
        real(self, surface)

    monkeypatch.setattr(bench_export.Bench, "draw", draw)
    monkeypatch.setattr(bench_export, "SWEEP", 1.28)
    export_bench(circle_run, tmp_path / "a.gif", size=(960, 600))
    with Image.open(tmp_path / "a.gif") as picture:
        assert picture.n_frames == len(seen) == 16
    assert seen[0] == 0.0
    assert seen[4] == pytest.approx(1.0, rel=1e-9, abs=0)
    assert seen[8] == pytest.approx(0.0, rel=0, abs=1e-9)
    assert seen[12] < -0.5


def test_a_place_by_its_number_is_the_same_as_by_its_metres(car_park_run, car_park, tmp_path):
    second = places_of(car_park, opening_pair(car_park))[1]
    export(car_park_run, tmp_path / "number.png", place=2, size=SMALL)
    export(car_park_run, tmp_path / "metres.png", at_m=second, size=SMALL)
    export(car_park_run, tmp_path / "first.png", size=SMALL)
    assert (tmp_path / "number.png").read_bytes() == (tmp_path / "metres.png").read_bytes()
    assert (tmp_path / "number.png").read_bytes() != (tmp_path / "first.png").read_bytes()


def test_letters_of_the_bench_too(circle_run, tmp_path):
    """It was refused."""
    for name, text in (("usual", 1.0), ("larger", 1.3)):
        watch(circle_run, export=tmp_path / f"{name}.png", bench=True, text=text, size="1600x1000")
    assert (tmp_path / "usual.png").read_bytes() != (tmp_path / "larger.png").read_bytes()
