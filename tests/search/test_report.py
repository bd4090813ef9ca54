"""What `search` says: whether a gain is worth the work, and where sum and lap disagree; options and the piece of a scenario."""

import io
import json
import re
import tomllib
from dataclasses import replace
from random import Random

import pytest
from rich.console import Console
from rich.table import Table

from sim.errors import InputError
from sim.scenario.file import find_scenario, load_scenario
from sim.scenario.setup import SetupTable
from sim.search.result import Doubt, FreeRow, GainRange, Together
from sim.search.run import search
from viz.search.brief import search_brief
from viz.search.numbers import parse_free, parse_limits, parse_objectives, search_result
from viz.search.plot import write_search_plot
from viz.search.report import search_report
from viz.search.words import finding, three
from viz.shared.brief import MOST_LINES, height


@pytest.fixture(scope="module")
def result(compiler):
    path = find_scenario("car-park")
    return search(load_scenario(path), path.parent, "car-park", free={"arm_angle_deg": (5.0, 30.0)})


def text_of(result):
    assert sum(map(height, search_brief(result, ()))) <= MOST_LINES
    console = Console(width=110, record=True, no_color=True, file=io.StringIO())
    for one in search_report(result):
        console.print(one)
    return console.export_text()


def having(found, values=None, **parts):
    """A found set-up with other figures: sum={...}, lap={...}, more values."""
    changes = {part: replace(getattr(found, part), **figures) for part, figures in parts.items()}
    return replace(found, values=dict(found.values) | (values or {}), **changes)


def with_first_key(result, **changes):
    """The answer with its first free key changed."""
    return replace(result, free=(replace(result.free[0], **changes), *result.free[1:]))


def changed(result, gains, **laps):
    """The answer with other drive work in the laps in time: own, best, and the gains."""
    found = {who: having(getattr(result, who), lap={"drive_work_J": work, "finished": work is not None}) for who, work in laps.items()}
    rows = tuple(replace(row, drive_work_J=gain) for row, gain in zip(result.gains, gains, strict=True))
    return replace(result, gains=rows, **found)


def pasted(result):
    """The piece of a scenario of an answer."""
    return search_result(result)["fragment"]


@pytest.mark.slow
def test_the_answer_is_plain_numbers(result):
    numbers = search_result(result)
    assert json.loads(json.dumps(numbers, allow_nan=False)) == numbers
    assert list(numbers["best"]) == ["values", "sum", "lap"]
    assert numbers["less_change"] is None or list(numbers["less_change"]) == ["values", "sum", "lap"]


def test_a_gain_worth_the_work(result):
    assert "which is worth the work" in finding(result)
    text = text_of(result)
    assert "costs under 1 %" in text
    assert "arm_angle_deg" in text
    assert "the laps in time have the last word" in text


def test_a_small_gain_sends_nobody_to_the_workshop(result):
    small = changed(result, own=400.0, best=399.0, gains=(0.5, 1.0, 1.5))
    assert "which is small" in finding(small)
    assert "pump the tyres first" in finding(small)


def test_a_gain_that_may_be_none_is_none(result):
    none = changed(result, own=400.0, best=399.0, gains=(-0.5, 1.0, 1.5))
    assert finding(none).startswith("Leave the car as it is")


def test_a_best_that_does_not_get_round_is_not_to_be_built(result):
    assert "do not build" in finding(changed(result, best=None, gains=(None, None, None)))


def test_an_own_set_up_that_does_not_get_round(result):
    text = finding(changed(result, own=None, gains=(None, None, None)))
    assert text.endswith("with the values below it does.")
    assert text_of(changed(result, own=None, gains=(None, None, None)))


def test_sum_and_lap_that_disagree_are_named(result):
    text = text_of(changed(result, own=400.0, best=401.0, gains=(-1, -1, -1)))
    assert "Warning: the sum of steady turns and the lap in time disagree" in text


def test_laps_on_a_charge_that_cannot_be_told_apart(result):
    other = replace(result, own=having(result.own, lap={"laps_per_charge": 40.0}), best=having(result.best, lap={"laps_per_charge": 40.1}))
    assert "+0.10 laps of 40.0, less than the 1 % that can be told apart" in finding(other)


def test_shorter_arms_have_their_price(result):
    arm = FreeRow("arm_length_mm", low=60.0, high=150.0, own=110.0, best=60.0, flat_low=60.0, flat_high=150.0, at_bound=True)
    own, best = (having(found, {"arm_length_mm": length}) for found, length in ((result.own, 110.0), (result.best, 60.0)))
    other = replace(result, free=(*result.free, arm), own=own, best=best)
    text = " ".join(text_of(other).split())
    assert "0.5 mm of play in a joint turns a wheel by 0.48 degrees instead of 0.26" in text  # 0.5/60 and 0.5/110 rad, by hand
    assert "edge of the bounds of arm_length_mm" in text


def test_a_trade_off_is_shown_or_said_to_be_none(result):
    other = replace(result, objectives=("drive_work", "error"), front=(result.best,))
    assert "There is nothing to trade" in text_of(other)
    assert "Less of the one costs more of the other" in text_of(replace(other, front=(result.best, result.own)))


def test_the_fragment_reads_back(result):
    table = tomllib.loads(pasted(result))["setup"][0]
    setup = SetupTable.model_validate(table)
    assert setup.linkage == "cross rod"
    assert setup.arm_angle_deg == pytest.approx(result.free[0].best, rel=0, abs=5.1e-4)
    assert setup.arm_length_mm == 110.0
    assert "toe_in_deg" not in table  # only what was written, and what was sought


def kept_limits(result, **more):
    """The answer with another objective, limits or figures of the sum: of own and of best."""
    found = {who: having(getattr(result, who), sum=more.pop(who, {})) for who in ("own", "best")}
    return replace(result, **found, **more)


def test_no_gain_says_first_to_leave_the_car_as_it_is(result):
    none = with_first_key(changed(result, own=400.0, best=401.4, gains=(-0.8, -1.4, -2.0)), at_bound=True)
    text = " ".join(text_of(none).split())
    assert text.startswith(f"{result.title} Leave the car as it is")
    assert "+1.4 J a lap in time, by +0.8 J to +2.0 J over the range of tyres" in text
    assert "wider" not in text
    assert "[[setup]]" not in text
    assert "gains nothing: leave the car as it is" in pasted(none)


def test_no_gain_where_the_car_breaks_a_limit_says_what_keeping_it_costs(result):
    none = kept_limits(changed(result, own=400.0, best=401.4, gains=(-0.8, -1.4, -2.0)), limits={"turning_circle_m": 4.2},
                       own={"turning_circle_m": 4.36}, best={"turning_circle_m": 4.19})  # fmt: skip
    assert finding(none).startswith("No gain: leave the car as it is, unless it has to keep what it breaks now: turning circle at most "
                                    "4.2 m (4.36 as it is).")  # fmt: skip
    assert "[[setup]]" in text_of(none)
    assert "gains nothing, but keeps turning circle at most 4.2 m" in pasted(none)


def test_much_turning_circle_or_lock_is_warned_of(result):
    wide = kept_limits(result, own={"turning_circle_m": 4.856, "lock_deg": 46.239}, best={"turning_circle_m": 11.89, "lock_deg": 15.8})
    text = " ".join(text_of(wide).split())
    assert ("Warning: the best pays with a turning circle of 11.9 m instead of 4.86 and a wheels' lock of 15.8 degrees instead of 46.2. "
            "Hold what you have with --limit turning_circle_m=4.86 --limit lock_deg=46.23.") in text  # fmt: skip
    little = kept_limits(result, own={"turning_circle_m": 4.856, "lock_deg": 46.2}, best={"turning_circle_m": 5.3, "lock_deg": 42.0})
    assert "Warning" not in text_of(little)


def test_prose_quotes_the_laps_in_time(result):
    other = kept_limits(result, objectives=("battery",), own={"battery_Wh": 3.47}, best={"battery_Wh": 3.47})
    other = replace(other, own=having(other.own, lap={"battery_Wh": 3.450}), best=having(other.best, lap={"battery_Wh": 3.3}))
    assert finding(other).startswith("The battery energy goes from 3.45 to 3.30 Wh a lap. ")
    other = replace(other, best=having(other.best, lap={"battery_Wh": 3.451}))
    assert finding(other).startswith("The battery energy stays at 3.45 Wh a lap. ")
    assert "3.47" not in finding(other)


def test_less_rub_for_more_drive_work_is_told_as_it_is(result):
    other = replace(changed(result, own=400.0, best=403.0, gains=(-2.0, -3.0, -4.0)), objectives=("rub",))
    other = replace(other, own=having(other.own, lap={"rub_m": 5.62}), best=having(other.best, lap={"rub_m": 4.0}))
    assert finding(other) == ("The rub of the worst tyre goes from 5.62 to 4.00 m a lap. But the best values change the drive work by "
                              "+3.0 J a lap in time, by +2.0 J to +4.0 J over the range of tyres.")  # fmt: skip


def test_the_smaller_change_is_named_shown_and_written(result):
    arm = replace(result.free[0], key="arm_length_mm", own=110.0, best=66.0, at_bound=True)
    own, best, less = (
        having(found, {"arm_length_mm": length}) for found, length in ((result.own, 110.0), (result.best, 66.0), (result.best, 110.0))
    )
    other = replace(result, free=(*result.free, arm), own=own, best=best, less_change=less)
    text = " ".join(text_of(other).split())
    assert "Changing only arm_angle_deg (to " in text
    assert "does as well to within what can be told apart" in text
    assert "wider" not in text  # nobody needs more room for a key that stays
    assert "as it is: arm_length_mm." in pasted(other)


def test_what_does_as_well_as_the_best_is_left_as_it_is(result):
    level = with_first_key(replace(changed(result, own=400.0, best=399.0, gains=(0.5, 1.0, 1.5)), level=True), at_bound=True)
    text = " ".join(text_of(level).split())
    assert text.startswith(f"{result.title} Leave the car as it is: it does as well as the best")
    assert "wider" not in text
    assert "[[setup]]" not in text
    assert "leave the car as it is" in pasted(level)
    assert "which is worth the work" in finding(replace(result, level=True))  # a gain of a tenth of the rolling resistance


def test_figures_never_have_an_exponent(result):
    other = changed(result, own=12444.8, best=12544.4, gains=(-35.0, -99.6, -120.0))
    assert "+100 J a lap in time, by +35 J to +120 J" in finding(other)
    assert "as much as 250 % of" in finding(changed(result, own=12444.8, best=12444.8 - 2.5 * result.own.lap.rolling_J,
                                                    gains=(1.0, 2.0, 3.0)))  # fmt: skip
    nothing = changed(result, own=400.0, best=400.0 + 5.6e-5, gains=(-1.1e-4, 2.4e-5, -5.6e-5))
    text = text_of(kept_limits(nothing, best={"drive_work_J": nothing.own.sum.drive_work_J - 0.01}))
    assert "change the drive work by 0 J a lap in time." in " ".join(text.split())
    assert not re.search(r"\de[-+]\d|[-+]0\.0\b|[-+]0 J", text)
    assert "disagree" not in text  # about nothing


@pytest.mark.parametrize(
    ("value", "text"),
    [(388.299, "388"), (0.0761976, "0.0762"), (12444.8, "12400"), (999.7, "1000"), (5.62515, "5.63"), (0.0, "0"), (-1e-5, "0"),
     (0.99951, "1.00"), (-35.4, "-35.4")],
)  # fmt: skip
def test_three_digits(value, text):
    assert three(value) == text


def test_a_flat_key_has_its_whole_range(result):
    assert "whole range" in text_of(with_first_key(result, flat_low=5.0, flat_high=30.0))


def front_of(result, pairs, taken, objectives=("drive_work", "error"), keys=("arm_angle_deg",)):
    """The answer with a made trade-off."""
    names = {"drive_work": ("lap", "drive_work_J"), "error": ("sum", "error_deg"), "rub": ("lap", "rub_m")}
    front = []
    for place, pair in enumerate(pairs):
        values = dict.fromkeys(keys, place - 1500.0)
        parts = {names[name][0]: {names[name][1]: value} for name, value in zip(objectives, pair, strict=True)}
        member = having(result.best, **parts)
        front.append(replace(member, values=values, setup=result.best.setup.model_copy(update=values)))
    free = tuple(replace(result.free[0], key=key, low=-1500.0, high=1500.0) for key in keys)
    own = replace(result.own, values=dict.fromkeys(keys, -1500.0))
    return replace(result, objectives=objectives, free=free, own=own, front=tuple(front), best=front[taken])


def test_a_trade_off_below_what_can_be_told_apart_is_said_and_has_three_digits(result):
    text = text_of(front_of(result, [(388.299, 0.12139), (388.87, 0.0830167), (389.717, 0.0761976)], 2))
    words = " ".join(text.split())
    assert "all along it, by laps in time, drive work differs by 0.4 %, less than the 1 % that can be told apart." in words
    assert "error from ideal differs" not in words
    assert "Hardly anything to trade" in words
    assert (
        "The row marked best has the least error from ideal that costs at most 1 % more drive work than the least; no row has less."
        in words
    )
    rows = [line.split() for line in text.splitlines() if re.match(r"\s+38\d |\s+390 ", line)]
    assert rows == [["388", "0.121", "-1500.00"], ["389", "0.0830", "-1499.00"], ["390", "0.0762", "-1498.00", "best"]]


def test_a_trade_off_names_the_end_that_was_taken(result):
    pairs = [(388.0, 0.9), (400.0, 0.5), (420.0, 0.1)]
    words = [" ".join(text_of(front_of(result, pairs, taken)).split()) for taken in range(3)]
    marked = "The row marked best has the least error from ideal that costs at most 1 % more drive work than the least"
    assert f"{marked}; no row has less drive work." in words[0]
    assert f"{marked}. " in words[1]
    assert f"{marked}; no row has less. " in words[2]
    assert all("Less of the one costs more of the other" in one for one in words)
    assert not any("all along it" in one for one in words)


def test_tables_of_two_objectives_fit_in_100_columns(result):
    # The six longest keys of a linkage, at the widest figures that a scenario allows.
    keys = sorted((key for key in SetupTable.model_fields if key.endswith(("_mm", "_deg")) and not key.startswith("rack")), key=len)[-6:]
    other = front_of(result, [(12388.0, 0.9), (12600.0, 0.5), (12800.0, 0.1)], 1, ("rub", "error"), keys)
    other = replace(other, less_change=other.front[2])
    console = Console(width=300, record=True, no_color=True, file=io.StringIO())
    for one in search_report(other):
        if isinstance(one, Table):
            console.print(one)
    lines = [line.rstrip() for line in console.export_text().splitlines()]
    assert sum(key.split("_")[0] in " ".join(lines) for key in keys) == 6
    assert max(map(len, lines)) <= 100


def doubtful(result, best=(20.0, 50.0, 80.0), **changes):
    """The answer with a range of the gain."""
    doubt = Doubt(("car.mass_kg", "car.tyre.friction"), made_to_deg_or_mm=1.0, tries=128,
                  best=GainRange(*best, unfinished=0.0), less_change=None, broken=0.0)  # fmt: skip
    return replace(result, doubt=replace(doubt, **changes))


def test_the_range_of_a_gain_is_that_of_the_scenarios_own_numbers_and_of_the_parts(result):
    words = " ".join(text_of(doubtful(result)).split())
    assert "20 J to 80 J in 95 of 100 tries with the scenario's unsure numbers and new parts made to 1 degree or mm." in words
    assert "the best 20 J to 80 J, in the middle 50 J" in words
    assert "Drawn: car.mass_kg, car.tyre.friction." in words
    tyre = doubtful(result, unsure=("car.tyre.cornering_stiffness_per_rad",), made_to_deg_or_mm=0.5)
    assert "in 95 of 100 tries with the range of tyres and new parts made to 0.5 degrees or mm." in finding(tyre)
    assert "leave the car as it is" in finding(doubtful(result, best=(-1.0, 50.0, 80.0))).lower()
    assert "range of bicycle-size tyres" not in " ".join(map(str, search_brief(doubtful(result), ())))


def test_parts_that_often_break_a_limit_are_warned_of(result):
    who = {"best": "the best", "less_change": "the smaller change"}[result.recommended]
    assert not [line for line in map(str, search_brief(doubtful(result), ())) if "as parts are made" in line]
    text = " ".join(text_of(doubtful(replace(result, limits={"lock_deg": 40.0}), broken=0.5)).split())
    assert f"as parts are made, {who} breaks a limit or does not get round in 50 % of the tries." in text


@pytest.mark.parametrize(
    ("ratio", "text"),
    [(1.0, "only their sum counts"), (-1.0, "only their difference counts"),
     (0.5, "they only count together (1 more of the first does what 0.500 more of the second does)")],
)  # fmt: skip
def test_keys_that_only_count_together_are_said_to(result, ratio, text):
    other = replace(result, together=(Together("toe_in_deg", "rod_turns_left", ratio),))
    assert f"toe_in_deg and rod_turns_left: {text}; so one of the two is enough to change." in " ".join(text_of(other).split())


def test_a_best_at_its_bound_is_said_to_lie_there_even_where_it_stays(result):
    other = replace(with_first_key(result, at_bound=True, own=10.0), less_change=having(result.best, {"arm_angle_deg": 10.0}))
    words = " ".join(text_of(other).split())
    assert f"at the edge of the bounds of arm_angle_deg ({result.free[0].best:.2f}); the smaller change does not need it." in words


def test_the_table_tells_how_flat_what_is_recommended_is(result):
    other = with_first_key(result, flat_low=18.25, flat_high=21.75, flat_low_costs_J=1.52, flat_high_costs_J=None)
    row = next(line for line in text_of(other).splitlines() if line.startswith("arm_angle_deg"))
    assert "18.25 to 21.75" in row
    assert "+1.5, ?" in row
    assert any("18.25 to 21.75" in line for line in printed(search_brief(other, ())).splitlines())


def printed(parts):
    """What a terminal shows."""
    console = Console(width=80, record=True, no_color=True, file=io.StringIO())
    for one in parts:
        console.print(one)
    return console.export_text()


@pytest.mark.parametrize("members", [0, 3])
def test_the_picture_shows_each_valley_and_the_trade_off(result, tmp_path, members):
    pytest.importorskip("matplotlib")
    pairs = [(388.0, 0.9), (400.0, 0.5), (420.0, 0.1)][:members]
    other = front_of(result, pairs, 1) if members else result
    write_search_plot(other, tmp_path / "drawn.png")
    drawn = (tmp_path / "drawn.png").read_bytes()
    assert drawn.startswith(b"\x89PNG")
    width = int.from_bytes(drawn[16:20], "big")
    assert width == pytest.approx(110 * (0.8 + 4.4 * (1 + bool(members))), rel=0, abs=2)  # a picture a key, and one of the trade-off


def brief_of(result, car=None):
    """The plain answer on one line, within one screen."""
    parts = search_brief(result, (), car)
    assert sum(map(height, parts)) <= MOST_LINES
    return " ".join(printed(parts).split())


def test_a_gain_that_may_be_a_loss_is_told_with_its_sign(result):
    unsure = doubtful(changed(result, own=12000.0, best=11962.0, gains=(30.0, 38.0, 45.0)), best=(-23.0, 40.0, 107.0))
    assert finding(unsure).startswith(
        'Leave the car as it is: there is no sure gain over "kinked arms, cross rod"; the best values would save 38 J of drive work '
        "a lap in time, but that is not sure: between 23 J more and 107 J less in 95 of 100 tries with "
    )
    assert "fragment" not in brief_of(unsure)
    assert "gains nothing that is sure: leave the car as it is" in pasted(unsure)
    nothing = changed(result, own=400.0, best=399.0, gains=(0.0, 1.0, 1.5))
    assert "between nothing and 1.5 J less over the range of tyres" in finding(nothing)
    held = kept_limits(unsure, limits={"turning_circle_m": 4.2}, own={"turning_circle_m": 4.36}, best={"turning_circle_m": 4.19})
    assert finding(held).startswith("No sure gain: leave the car as it is, unless it has to keep what it breaks now")
    assert "38 J of drive work" in finding(held)


def test_toe_that_costs_is_set_before_tyres_are_pumped_or_arms_built(result):
    toed = replace(changed(result, own=400.0, best=395.0, gains=(3.0, 5.0, 6.0)), toe_cost_J=4.5)
    assert "The toe of the car as it is costs 4.5 J: a turn of the rod ends cures that" in finding(toed)
    assert "pump the tyres" not in finding(toed)
    assert finding(replace(result, toe_cost_J=60.0)).count("so set the toe first, then search again.") == 1
    searched = with_first_key(replace(result, toe_cost_J=60.0), key="toe_in_deg")
    searched = replace(searched, **{who: having(getattr(searched, who), {"toe_in_deg": 1.0}) for who in ("own", "best")})
    assert "so set the toe first. " in f"{finding(searched)} "
    unsure = replace(changed(result, own=400.0, best=395.0, gains=(-3.0, 5.0, 6.0)), toe_cost_J=4.5)
    assert finding(unsure).endswith("so set the toe first, then search again.")
    little = replace(toed, toe_cost_J=3.9)  # below what can be told apart of 400 J
    assert "pump the tyres first" in finding(little)
    assert "toe" not in finding(replace(toed, toe_cost_J=-20.0))


@pytest.mark.parametrize("objectives", [("drive_work",), ("drive_work", "error")])
def test_no_advice_to_build_what_cannot_be_told_apart(result, objectives):
    tiny = changed(result, own=400.0, best=398.0, gains=(1.0, 2.0, 3.0))
    tiny = replace(tiny, objectives=objectives, front=(tiny.best,) if len(objectives) > 1 else ())
    assert "no reason to rebuild" in finding(tiny)
    assert "--fragment" not in brief_of(tiny)
    assert "[[setup]]" not in text_of(tiny)
    small = changed(result, own=400.0, best=394.0, gains=(5.0, 6.0, 7.0))
    assert "no reason to rebuild" in finding(small)
    assert "What to do: if you build new parts anyway, `--fragment FILE.toml` writes" in brief_of(small)
    assert "What to do: `--fragment" in brief_of(result)


def test_less_rub_is_a_reason_even_where_drive_work_gains_little(result):
    rub = replace(changed(result, own=400.0, best=399.0, gains=(0.5, 1.0, 1.5)), objectives=("rub",))
    rub = replace(rub, own=having(rub.own, lap={"rub_m": 5.62}), best=having(rub.best, lap={"rub_m": 4.0}))
    assert "no reason" not in finding(rub)
    assert "What to do: `--fragment" in brief_of(rub)


def test_a_danger_says_of_which_set_up_it_is(result):
    scenario = load_scenario(find_scenario("car-park"))
    told = brief_of(result, scenario.car)
    who = "the best" if result.less_change is None else "the smaller change"
    assert re.search(rf"Danger: {who} can snap over; stop the left wheel before 4\d\.\d deg left, 3\d\.\d right\.", told)
    assert "Danger: the car as it is can snap over; stop the left wheel before 55.9 deg left, 39.5 right." in told
    leave = changed(result, own=400.0, best=401.0, gains=(-1.0, -1.0, -1.0))
    told = brief_of(leave, scenario.car)
    assert told.index("Danger: the car as it is can") < told.index("Danger: the best can")
    same = replace(result, best=replace(result.best, setup=result.own.setup))
    assert brief_of(same, scenario.car).count("Danger") == 1


@pytest.mark.parametrize(("recommended", "head"), [("own", "around as it is"), ("best", "around the best"),
                                                   ("less_change", "around smaller change")])  # fmt: skip
def test_the_plain_table_says_around_what_it_is_flat(result, recommended, head):
    other = replace(result, recommended=recommended, less_change=result.best if recommended == "less_change" else None)
    lines = printed(search_brief(other, ())).splitlines()
    (place,) = (index for index, line in enumerate(lines) if line.rstrip().endswith(head))
    assert lines[place - 1].rstrip().endswith("costs under 1 % more")
    assert max(map(len, lines)) <= 80


def test_limits_that_parts_break_are_told_with_what_to_search_with_instead(result):
    broken = doubtful(replace(result, limits={"turning_circle_m": 7.0, "lock_deg": 30.0}), broken=0.5,
                      tighter={"turning_circle_m": 6.8765, "lock_deg": 31.2345})  # fmt: skip
    told = brief_of(broken)
    assert "Leave room: search with --limit turning_circle_m=6.87 --limit lock_deg=31.24; this warning then means that limit" in told
    assert "Leave room" not in brief_of(replace(broken, doubt=replace(broken.doubt, tighter={})))
    assert "as parts are made, the best breaks" in brief_of(replace(broken, recommended="own", level=True))


@pytest.mark.parametrize(("own", "low", "high", "said"), [
    (180.0, 150.0, 180.0, "search the other side too: --free arm_angle_deg=-180:-150."),
    (-180.0, -180.0, -160.0, "search the other side too: --free arm_angle_deg=160:180."),
    (5.0, 5.0, 30.0, "the bounds of arm_angle_deg (5.00): only one side of it was searched."),
    (4.0, 5.0, 30.0, None), (12.0, 5.0, 30.0, None),
])  # fmt: skip
def test_a_car_at_the_edge_of_its_bounds_is_said_to_lie_there(result, own, low, high, said):
    other = with_first_key(result, own=own, low=low, high=high)
    told = " ".join(text_of(other).split())
    assert ("As it is, the car lies at the edge of the bounds" in told) == (said is not None)
    assert said is None or said in told


def test_proposed_toe_out_is_told_to_wander(result):
    out = replace(result, best=having(result.best, {"toe_in_deg": -0.4}), less_change=None)
    assert "With toe_in_deg -0.40 the best has toe-out: such a car wanders straight ahead (common practice, no source)." in brief_of(out)
    assert "wanders" not in brief_of(replace(out, best=having(result.best, {"toe_in_deg": 0.4})))
    assert "wanders" not in brief_of(changed(out, own=400.0, best=401.0, gains=(-1.0, -1.0, -1.0)))  # nothing is proposed


def test_the_plain_trade_off_always_shows_the_row_that_was_taken(result):
    pairs = [(388.0 + place, 1.0 - 0.05 * place) for place in range(12)]
    other = front_of(result, pairs, 9)
    rows = [line for line in printed(search_brief(other, ())).splitlines() if line.rstrip().endswith(" best")]
    assert [row.split()[2] for row in rows] == ["-1491.00"]


def test_the_wheels_lock_is_no_hand_angle(result):
    assert "wheels' lock deg" in brief_of(result)
    text = " ".join(text_of(replace(result, limits={"lock_deg": 30.0})).split())
    assert "Wheels' lock: as one wheel in the middle would stand" in text
    assert "wheels' lock at least 30 degrees" in text


@pytest.mark.parametrize(("work", "title"), [((388.0, 389.0), "Along the line drive work can't be told apart"),
                                             ((388.0, 420.0), "Less of the one costs more of the other")])  # fmt: skip
def test_the_picture_says_around_what_and_what_can_be_told_apart(result, tmp_path, monkeypatch, work, title):
    figure = pytest.importorskip("matplotlib.figure")
    saved = []
    monkeypatch.setattr(figure.Figure, "savefig", lambda self, path, **options: saved.append(self))
    write_search_plot(front_of(result, [(work[0], 0.9), (work[1], 0.1)], 1), tmp_path / "drawn.png")
    front, valley = saved[0].axes[:2]
    assert front.get_title(loc="left") == title
    legend = valley.get_legend()
    assert legend.get_texts()[0].get_text() == "costs under 1 % more\naround the best"
    saved[0].canvas.draw()
    assert legend.get_window_extent().y1 <= valley.get_window_extent().y0  # on white ground, not on the grey that it explains


@pytest.mark.slow
def test_any_answer_fits_one_screen_and_advises_only_what_its_finding_does(result):
    car, random = load_scenario(find_scenario("car-park")).car, Random(3)
    for _ in range(60):
        work = random.choice((400.0, 12000.0))
        gain = random.choice((0.0, 1e-3, 0.5, 3.0, 30.0, 100.0, -2.0, -40.0, 250.0))
        one = changed(result, own=work, best=work - gain, gains=(random.uniform(-100, 100), gain, random.choice((None, 40.0))))
        one = replace(one, toe_cost_J=random.choice((None, 1.0, 60.0, -5.0, 400.0)), level=random.random() < 0.2)
        if random.random() < 0.5:
            low = random.uniform(-100, 50)
            one = doubtful(one, best=random.choice(((low, low + 20, low + 80), (None, None, None))), broken=random.choice((0.0, 0.5)),
                           tighter=random.choice(({}, {"turning_circle_m": 4.8, "lock_deg": 33.3})))  # fmt: skip
        if random.random() < 0.5:
            one = kept_limits(one, limits={"turning_circle_m": random.choice((4.2, 7.0)), "lock_deg": 30.0})
        if random.random() < 0.4:
            one = replace(one, less_change=one.best, recommended="less_change")
        told = brief_of(one, car)
        assert max(map(len, printed(search_brief(one, (), car)).splitlines())) <= 80
        advised = "--fragment" in told
        assert not (advised and "Leave the car as it is" in finding(one))
        assert advised == ("[[setup]]" in text_of(one))


def test_options():
    assert parse_free(["arm_angle_deg=5:30", "toe_in_deg=-1:1"]) == {"arm_angle_deg": (5.0, 30.0), "toe_in_deg": (-1.0, 1.0)}
    assert parse_limits(["turning_circle_m=7"]) == {"turning_circle_m": 7.0}
    assert parse_objectives(["drive-work", "battery"]) == ("drive_work", "battery")
    assert parse_objectives(["drive_work"]) == ("drive_work",)
    assert parse_objectives([]) == ("drive_work",)


@pytest.mark.parametrize("text", ["arm_angle_deg", "arm_angle_deg=5", "arm_angle_deg=a:b", "=:"])
def test_free_options_that_are_none(text):
    with pytest.raises(InputError, match="KEY=LOW:HIGH"):
        parse_free([text])


@pytest.mark.parametrize("text", ["lock_deg", "lock_deg=much"])
def test_limit_options_that_are_none(text):
    with pytest.raises(InputError, match="NAME=VALUE"):
        parse_limits([text])


def test_the_picture_of_a_level_valley_has_plain_numbers(result, tmp_path, monkeypatch):
    """Ticks such as 1 to 5 beside "1e-9+3.167e2" were drawn where a key changes nothing."""
    figures = pytest.importorskip("matplotlib.figure")
    (row,) = result.free
    level = replace(row, valley=tuple((value, 316.7 + 1e-9 * place) for place, (value, _) in enumerate(row.valley)))
    kept = []
    monkeypatch.setattr(figures.Figure, "savefig", lambda figure, *_, **__: (figure.draw_without_rendering(), kept.append(figure)))
    pairs = [(3.443 + 1e-12, 0.1), (3.443, 0.1 + 1e-10)]
    for made in (replace(result, free=(level,)), front_of(result, pairs, 1)):
        write_search_plot(made, tmp_path / "drawn.png")
        for axes in kept[-1].axes:
            assert (axes.xaxis.get_offset_text().get_text(), axes.yaxis.get_offset_text().get_text()) == ("", "")
            low, high = axes.get_ylim()
            ticks = [tick.get_text() for place, tick in zip(axes.get_yticks(), axes.get_yticklabels(), strict=True) if low <= place <= high]
            assert len(set(ticks)) == len(ticks) > 1
            assert all(len(tick) <= 8 for tick in ticks)
