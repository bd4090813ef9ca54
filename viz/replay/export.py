"""Stills and animations without a screen, through the same drawing as the window."""

import re
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, cast

import numpy as np

from sim.errors import InputError
from sim.scenario.choice import chosen_setup
from viz.replay.costs import numbered_places, places_of
from viz.replay.looks import CARD, FAINT, GRID, HUES, INK, MOST_NAMED, PAPER, POWER_COLOURS, SOFT, TEXT_SIZES
from viz.replay.player import Player
from viz.replay.quiet import pygame
from viz.replay.run_data import Replay, read_run
from viz.replay.stage import Stage
from viz.shared.files import write_file

if TYPE_CHECKING:
    from PIL.Image import Image

SIZE = (1280, 720)  # [px]
LEAST_SIZE, MOST_PIXELS = (960, 600), 4096
FILM_RATE, GIF_RATE = 30, 12.5  # pictures a second; a GIF counts in hundredths of a second
BEFORE, AFTER = 3.0, 5.0  # [s] around the most telling place, where no stretch is given
LONGEST = 600.0  # [s] of film; a longer one is a slip of the stretch
SUFFIXES = (".png", ".gif", ".mp4")
GIF_COLOURS = 200
FIXED_COLOURS = (*POWER_COLOURS, *HUES, PAPER, CARD, INK, SOFT, FAINT, GRID)  # of any palette


def export(
    run_folder: Path, file: Path, at_m: float | None = None, from_m: float | None = None, to_m: float | None = None,
    setups: list[str] | None = None, speed: float = 1.0, size: tuple[int, int] = SIZE, text: float = 1.0, place: int = 1,
) -> list[tuple[float, float]]:  # fmt: skip
    """Write a still (.png) or an animation (.gif, .mp4) of a run; gives its numbered places, 1 first: (station [m], power [W]).

    run_folder, file : to read, to write or replace; at_m : place of a still; from_m, to_m : stretch of an animation, along the course [m].
    Left out, they lie at the numbered place, or around it.
    setups : up to four, by name, number from 1 or a name's beginning, the first two shown large; None for the reference and the costliest
    speed : of the animation, 1 is as fast as it was driven; size : of a picture, even numbers [px]; text : how much larger its letters are
    place : number of a place, from 1, which is the story's
    The same run gives the same pictures.  Raises InputError where the run can't be read, something is out of range, or the file can't be
    written.
    """
    suffix = file.suffix.lower()
    check_kind(file)
    if suffix == ".png" and (from_m is not None or to_m is not None):
        problem = "a stretch makes an animation, but .png is a still"
        raise InputError(str(file), "", problem, "give one place, or end the name in .gif or .mp4")
    if suffix != ".png" and at_m is not None:
        problem = "one place makes a still, but this name is an animation's"
        raise InputError(str(file), "", problem, "give a stretch, or end the name in .png")
    check_look(speed, size, text)
    replay = read_run(run_folder)
    player = Player.opened(replay, chosen_setups(replay, setups))
    player.playing, player.speed, player.text = True, speed, text
    length = replay.course.length
    for name, where in (("place", at_m), ("beginning", from_m), ("end", to_m)):
        if where is not None and not 0 <= where <= length:
            raise InputError(str(file), "", f"the {name} {where:g} m is not on the course", f"it goes from 0 to {length:.1f} m")
    places = places_of(replay, player.chosen)
    if not 1 <= place <= len(places):
        told = "there is one numbered place" if len(places) == 1 else f"there are {len(places)} numbered places"
        alone = "no other is worth a number" if len(player.chosen) > 1 else "elsewhere its tyres lose little"
        remedy = "give 1" if len(places) == 1 else f"give 1 to {len(places)}"
        raise InputError("place", "", f"there is no place {place}: {told}, {alone}", f"{remedy}, or --at M for any place")
    if suffix == ".png":
        player.jump(places[place - 1] if at_m is None else at_m)
        save_picture(_drawn(replay, player, size), file)
    else:
        begin, end = _stretch(player, from_m, to_m, places[place - 1], file)
        write_frames(file, size, lambda rate: _frames(replay, player, begin, end, size, rate))
    return numbered_places(replay, player.chosen)


def write_frames(file: Path, size: tuple[int, int], frames: Callable[[float], Iterator[pygame.Surface]]) -> None:
    """Write pictures as a still (.png) or an animation (.gif, .mp4).

    file : to write or replace, as `check_kind` allows it; size : of the pictures [px]
    frames : from pictures a second, 0 for a still, to the pictures
    Raises InputError where the file can't be written.
    """
    suffix = file.suffix.lower()
    if suffix == ".png":
        save_picture(next(frames(0.0)), file)
    elif suffix == ".gif":
        write_file(file, suffix, lambda made: _write_gif(made, frames(GIF_RATE)))
    else:
        write_file(file, suffix, lambda made: _write_film(made, frames(FILM_RATE), size))


def check_kind(file: Path) -> None:
    """Raise InputError where a name does not say which kind of picture it is.  file : to write."""
    if file.suffix.lower() not in SUFFIXES:
        raise InputError(str(file), "", "the name does not say which kind of picture", "end it in .png, .gif or .mp4")


def check_look(speed: float, size: tuple[int, int], text: float) -> None:
    """Refuse what makes no picture.  speed : of a film [-]; size : [px]; text : how much larger its letters are [-].

    Raises InputError.
    """
    if size[0] < LEAST_SIZE[0] or size[1] < LEAST_SIZE[1]:
        raise InputError(
            "size", "", f"a picture of {size[0]} x {size[1]} pixels is too small", f"at least {LEAST_SIZE[0]} x {LEAST_SIZE[1]}"
        )
    if size[0] % 2 or size[1] % 2:
        even = f"{size[0] + size[0] % 2} x {size[1] + size[1] % 2}"
        raise InputError("size", "", f"a picture of {size[0]} x {size[1]} pixels has an odd side", f"films need even ones, such as {even}")
    if max(size) > MOST_PIXELS:
        raise InputError("size", "", f"a picture of {size[0]} x {size[1]} pixels is too large", f"at most {MOST_PIXELS} either way")
    if not 0.1 <= speed <= 20:
        raise InputError("speed", "", f"{speed:g} is not between 0.1 and 20", "1 is as fast as it was driven")
    if not TEXT_SIZES[0] <= text <= TEXT_SIZES[-1]:
        raise InputError("text", "", f"{text:g} is not between {TEXT_SIZES[0]:g} and {TEXT_SIZES[-1]:g}", "1 is the usual size of letters")


def size_from(words: str) -> tuple[int, int]:
    """The size of a picture as a person writes it, such as 1920x1080.  words : written.

    Returns (width, height) [px].  Raises InputError.
    """
    found = re.fullmatch(r"\s*(\d{1,5})\s*[xX×]\s*(\d{1,5})\s*", words)
    if found is None:
        raise InputError("size", "", f'"{words}" is no size of a picture', "write width and height in pixels, such as 1920x1080")
    return int(found[1]), int(found[2])


def export_story(
    run_folder: Path, file: Path, setups: list[str] | None = None, speed: float = 1.0, size: tuple[int, int] = SIZE, text: float = 1.0
) -> None:  # fmt: skip
    """Write the story that a window opens with as a film (.mp4) or an animation (.gif), and after it once the stretch that it tells of.

    Arguments as for `export`; the first two set-ups are the story's
    Raises InputError as `export` does.
    """
    suffix = file.suffix.lower()
    if suffix not in SUFFIXES[1:]:
        raise InputError(str(file), "", "a story is a film, and the name does not say which kind", "end it in .mp4 or .gif")
    check_look(speed, size, text)
    replay = read_run(run_folder)
    player = Player.opened(replay, chosen_setups(replay, setups))
    player.speed, player.text = speed, text
    player.tell()
    write_frames(file, size, lambda rate: _told(replay, player, size, rate))


def _told(replay: Replay, player: Player, size: tuple[int, int], rate: float) -> Iterator[pygame.Surface]:
    """The pictures of the story, on one surface that the next picture overwrites."""
    surface, stage, story = pygame.Surface(size), Stage(replay, buttons=False), player.story
    if story is None:
        return
    begin, end = story.stretch
    for index in range(round((story.seconds + end - begin) / player.speed * rate)):
        player.told = index / rate * player.speed
        player.clock = story.clock_at(player.told)
        stage.draw(surface, player)
        yield surface


def save_picture(surface: pygame.Surface, file: Path) -> None:
    """Write what is on a surface as a picture.  file : .png, to write or replace.  Raises InputError where it can't be written."""
    write_file(file, ".png", lambda made: _picture(surface).save(made, "PNG"))


def chosen_setups(replay: Replay, setups: list[str] | None) -> list[int] | None:
    """Indices of the set-ups that the user named, None where none was named.

    setups : names, numbers from 1, or beginnings of names
    Raises InputError where there is no such set-up, or too many.
    """
    if not setups:
        return None
    names = [one.name for one in replay.drives]
    found = list(dict.fromkeys(chosen_setup(names, wanted, str(replay.folder)) for wanted in setups))
    if len(found) > MOST_NAMED:
        raise InputError(str(replay.folder), "", f"{len(found)} set-ups are too many for one picture", f"choose up to {MOST_NAMED}")
    return found


def _stretch(player: Player, from_m: float | None, to_m: float | None, place: float, file: Path) -> tuple[float, float]:
    """The lead's time at both ends of the film [s].  place : around which it lies where no end is given [m]."""
    lead = player.lead
    station, clock = lead.station, lead.time
    telling = float(np.interp(place, station, clock))
    begin = float(np.interp(from_m, station, clock)) if from_m is not None else None
    end = float(np.interp(to_m, station, clock)) if to_m is not None else None
    if begin is None:
        begin = max(0.0, telling - BEFORE if end is None else end - BEFORE - AFTER)
    if end is None:
        end = min(float(clock[-1]), telling + AFTER if from_m is None else begin + BEFORE + AFTER)
    if end <= begin:
        raise InputError(str(file), "", "the stretch ends before it begins, or beyond where the cars came", "give a later end")
    lasts = (end - begin) / player.speed
    if lasts > LONGEST:
        raise InputError(str(file), "", f"the film would last {lasts:.0f} s", "choose a shorter stretch or more speed")
    return begin, end


def _drawn(replay: Replay, player: Player, size: tuple[int, int]) -> pygame.Surface:
    surface = pygame.Surface(size)
    Stage(replay, buttons=False).draw(surface, player)
    return surface


def _frames(
    replay: Replay, player: Player, begin: float, end: float, size: tuple[int, int], rate: float
) -> Iterator[pygame.Surface]:  # fmt: skip
    """The pictures of a film, on one surface that the next picture overwrites."""
    surface, stage = pygame.Surface(size), Stage(replay, buttons=False, film=True)
    for index in range(max(1, round((end - begin) / player.speed * rate)) + 1):
        player.clock = min(begin + index / rate * player.speed, end)
        stage.draw(surface, player)
        yield surface


def _picture(surface: pygame.Surface) -> "Image":
    from PIL import Image

    return Image.frombytes("RGB", surface.get_size(), pygame.image.tobytes(surface, "RGB"))


def _write_gif(path: Path, frames: Iterator[pygame.Surface]) -> None:
    """One palette for all pictures, so that nothing flickers."""
    from PIL import Image

    pictures = [_picture(frame) for frame in frames]
    known = [pygame.Color(colour)[:3] for colour in FIXED_COLOURS]
    found = pictures[len(pictures) // 2].quantize(GIF_COLOURS - len(known), dither=Image.Dither.NONE).getpalette() or []
    palette = Image.new("P", (1, 1))
    palette.putpalette([part for colour in known for part in colour] + found)
    flat = [one.quantize(palette=palette, dither=Image.Dither.NONE) for one in pictures]
    flat[0].save(path, "GIF", save_all=True, append_images=flat[1:], duration=round(1000 / GIF_RATE), loop=0, optimize=False)


def _write_film(path: Path, frames: Iterator[pygame.Surface], size: tuple[int, int]) -> None:
    import av

    codec = "libx264" if "libx264" in av.codecs_available else "mpeg4"
    with av.open(str(path), "w") as film:
        stream = cast(av.VideoStream, film.add_stream(codec, rate=Fraction(FILM_RATE)))
        stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
        stream.thread_count = 1  # so that the same run gives the same bytes
        if codec == "libx264":
            stream.options = {"crf": "20", "preset": "veryfast"}
        else:
            stream.bit_rate = 4_000_000
        for frame in frames:
            picture = av.VideoFrame.from_ndarray(np.ascontiguousarray(pygame.surfarray.array3d(frame).transpose(1, 0, 2)), format="rgb24")
            film.mux(stream.encode(picture))
        film.mux(stream.encode())
