"""In a run of pictures words, board and buttons stay for a tenth of a second; whoever stops the replay sees it as it is."""

import pygame
import pytest

from viz.replay import stage as stage_module
from viz.replay.player import Player
from viz.replay.stage import HELD, Stage

SIZE = (1280, 720)


@pytest.fixture
def playing(car_park):
    """A player in a bend, beyond its story."""
    player = Player.opened(car_park)
    player.playing, player.shows = True, {"lines", "trails", "slip", "loads", "numbers"}
    return player


@pytest.mark.slow
def test_the_board_is_drawn_ten_times_a_second(car_park, playing, monkeypatch):
    counted = []
    real = stage_module.draw_board
    monkeypatch.setattr(stage_module, "draw_board", lambda *args: counted.append(args) or real(*args))
    stage, surface = Stage(car_park), pygame.Surface(SIZE)
    for _ in range(60):
        stage.draw(surface, playing)
        playing.advance(1 / 60)
    assert 9 <= len(counted) <= 12
    assert any(action.startswith("choose") for _, action in stage.hits)  # clicks mean what they did


def test_words_stay_beside_what_they_name(car_park, playing, noted):
    """A figure at a wheel is not left behind by it, and none is lost."""
    stage, words = Stage(car_park), []
    for _ in range(int(60 * HELD)):
        surface = noted(SIZE)
        stage.draw(surface, playing)
        words.append([(text, rect.center) for text, rect, _ in surface.lines if text.endswith("°")])
        playing.advance(1 / 60)
    assert len(words[0]) >= 4
    for later in words[1:]:
        assert len(later) == len(words[0])
        for (_, there), (_, here) in zip(words[0], later, strict=True):
            assert abs(there[0] - here[0]) + abs(there[1] - here[1]) < 12


def test_whoever_stops_or_changes_something_sees_it_as_it_is(car_park, playing):
    stage, surface = Stage(car_park), pygame.Surface(SIZE)
    for change in ({"playing": False}, {"zoom": 1.3}, {"rubber": True}, {"text": 1.25}):
        for _ in range(4):
            stage.draw(surface, playing)
            playing.advance(1 / 60)
        for name, value in change.items():
            setattr(playing, name, value)
        stage.draw(surface, playing)
        fresh = pygame.Surface(SIZE)
        Stage(car_park).draw(fresh, playing)
        board = stage.layout.board
        for part in ((0, 0, round(board.width), round(board.y + board.height)), (round(stage.layout.cards[0].x), 0, 600, 400)):
            assert pygame.image.tobytes(surface.subsurface(part), "RGB") == pygame.image.tobytes(fresh.subsurface(part), "RGB"), change
        playing.playing = True


def test_nothing_older_stays_between_the_parts(car_park, playing):
    """What a lecturer laid over a picture is gone in the next one, in a run of pictures too."""
    left = pygame.Color("#FF00FF")
    for size in (SIZE, (803, 601), (1366, 768), (2560, 1440)):
        for board in (True, False):
            playing.board = board
            stage, surface = Stage(car_park), pygame.Surface(size)
            stage.draw(surface, playing)
            playing.clock += 1e-3
            surface.fill(left)
            stage.draw(surface, playing)
            assert stage.count == 1  # it was one of the run
            assert not (pygame.surfarray.array2d(surface) == surface.map_rgb(left)).any(), (size, board)
