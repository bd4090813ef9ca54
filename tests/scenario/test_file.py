"""Reading scenario files: what a file can be instead of a scenario, and where shipped scenarios are found."""

import codecs
import os
import sys

import pytest

from sim.errors import InputError
from sim.scenario.file import SCENARIO_BYTES, find_scenario, load_scenario, parse_toml, shipped_folder, shipped_names

TEXT = """\
# The lines of this scenario are counted in the tests below.
title = "My car"
[car]
mass_kg = 145
wheelbase_mm = 1500
front_track_mm = 900
rear_track_mm = 860
kingpin_track_mm = 740
mass_centre_behind_front_axle_mm = 820
mass_centre_height_mm = 330
yaw_inertia_kg_m2 = 38
wheel_radius_mm = 203
drag_area_m2 = 0.20
drive = "one wheel left"
[course]
segments = [{straight_m = 20}, {radius_m = 8, turn_deg = 90}]
[pace]
target_m_per_s = 5.0
[[setup]]
name = "turntable axle"
pivot = "turntable"
"""
NAMES = ["car-park", "first-bend", "quay-loop", "race-day", "recorded-loop", "starter"]
OWN = "or begin your own with `scrubwise new my-car.toml`"


@pytest.fixture
def refusal(tmp_path):
    """The line with which a file of this content is refused."""

    def read(content):
        file = tmp_path / "quay.toml"
        file.write_bytes(content if isinstance(content, bytes) else content.encode())
        with pytest.raises(InputError) as caught:
            load_scenario(file, "quay.toml")
        assert "\n" not in str(caught.value)
        assert str(caught.value).isprintable()
        return str(caught.value)

    return read


@pytest.fixture
def in_folder(tmp_path, monkeypatch):
    """An empty current folder."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def changed(old, new):
    assert TEXT.count(old) >= 1
    return TEXT.replace(old, new, 1)


# --- what is read -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "content",
    [
        TEXT.encode(),
        codecs.BOM_UTF8 + TEXT.encode(),
        TEXT.replace("\n", "\r\n").encode(),
        TEXT.replace("\n", "\r").encode(),
        TEXT.rstrip("\n").encode(),
        TEXT.encode() + b"# " + "größer, 轮胎".encode(),
    ],
    ids=["plain", "byte order mark", "CRLF", "CR", "no last line end", "any UTF-8"],
)
def test_is_read_the_same(tmp_path, content):
    (tmp_path / "plain.toml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "other.toml").write_bytes(content)
    assert load_scenario(tmp_path / "other.toml") == load_scenario(tmp_path / "plain.toml")


def test_whole_numbers_are_taken_for_numbers(tmp_path):
    file = tmp_path / "quay.toml"
    file.write_text(TEXT, encoding="utf-8")
    assert isinstance(load_scenario(file).car.mass_kg, float)
    assert load_scenario(file).car.mass_kg == 145


# --- what is refused --------------------------------------------------------------------------------------------------

NOT_TOML = {
    "empty": ("", ". Also: ".join(f"{key}: this key is missing; add it; `scrubwise new` shows an example"
                                  for key in ("car", "course", "pace", "setup"))),
    "UTF-16": (TEXT.encode("utf-16"), "the file is not text in UTF-8; save it as UTF-8 text"),
    "Latin-1": (changed("My car", "Größe").encode("latin-1"), "the file is not text in UTF-8; save it as UTF-8 text"),
    "binary": (bytes(range(256)) * 8, "the file is not text in UTF-8; save it as UTF-8 text"),
    "huge": ("#" * (SCENARIO_BYTES + 1), "the file is far too large for a scenario; name a scenario file (.toml)"),
    "zero byte": (changed("My car", "My\0car"), "line 2, column 12: this is not TOML: Illegal character '\\x00'; compare with "
                  "`scrubwise new`"),
    "decimal comma": (changed("drag_area_m2 = 0.20", "drag_area_m2 = 0,20"), "line 13, column 17: this is not TOML: '0,20' has a "
                      "comma; write 0.20"),
    "comma in thousands": (changed("mass_kg = 145", "mass_kg = 1,450  # of all"), "line 4, column 12: this is not TOML: '1,450' has a "
                           "comma; write 1.450 or 1450"),
    "unit behind a number": (changed("mass_kg = 145", "mass_kg = 145 kg"), "line 4, column 15: this is not TOML: \"kg\" follows the "
                             "number; leave the unit out, for it stands in the key's name"),
    "unit at a number": (changed("mass_kg = 145", "mass_kg = 145kg  # of all"), "line 4, column 14: this is not TOML: \"kg\" follows the "
                         "number; leave the unit out, for it stands in the key's name"),
    "no quotes": (changed('drive = "one wheel left"', "drive = differential"), "line 14, column 9: this is not TOML: the value can't be "
                  "read; write a number with a decimal point, true, false, or text in quotes"),
    "key twice": (changed("mass_kg = 145", "mass_kg = 145\nmass_kg = 150"), "line 5, column 14: this is not TOML: the key stands twice; "
                  "keep one of them"),
    "table twice": (TEXT + "\n[pace]\nlaps = 3\n", "line 23, column 6: this is not TOML: the table stands twice; join the two; only "
                    "[[setup]] may be repeated"),
    "heading not closed": (changed("[course]", "[course"), "line 15, column 8: this is not TOML: the heading of a table is not closed; "
                           "write it like [car], a set-up's like [[setup]]"),
    "quote not closed": (changed('name = "turntable axle"', 'name = "turntable axle'), "line 20, column 23: this is not TOML: a text "
                         'has no closing quote on its line; close it, as in name = "parallel"'),
    "no key": (changed("mass_kg = 145", "= 145"), "line 4, column 1: this is not TOML: the line does not begin with a key; write "
               "key = value, or # before a remark"),
    "backslash": (changed("My car", "My\\car"), "line 2, column 14: this is not TOML: a text holds a backslash; write / instead"),
    "a course file": ("x_m,y_m\n1,2\n", "line 1, column 4: this is not TOML: a key has no value; write key = value, such as "
                      "mass_kg = 145"),
    "one bracket": (changed("[[setup]]", "[setup]").split("[[setup]]")[0], "setup: a table is not a list; begin each set-up with a line "
                    "[[setup]]"),
    "deep lists": ("a = " + "[" * 5000 + "]" * 5000, "lists or tables stand too deep inside each other; compare with `scrubwise new`"),
    "deep tables": ("a = " + "{a = " * 5000, "lists or tables stand too deep inside each other; compare with `scrubwise new`"),
    "many digits": (changed("mass_kg = 145", "mass_kg = " + "9" * 5000), "a number has thousands of digits; compare with `scrubwise new`"),
    "many hex digits": (changed("mass_kg = 145", "mass_kg = 0x" + "f" * 5000), "car.mass_kg: the number is far too large; give the mass "
                        "in kg with the driver"),
    "infinite": (changed("mass_kg = 145", "mass_kg = 1e999"), "car.mass_kg: inf is not a finite number; give the mass in kg with the "
                 "driver"),
}  # fmt: skip


SEVERAL = {
    "a word processor's quotes": (TEXT.replace('"', "”"), "line 2, column 9: this is not TOML: the quotes are a word processor's (here and "
                                  'in 3 more lines); replace them by plain ones, "'),
    "quotes in pairs": (changed('"My car"', "“My car”"), "line 2, column 9: this is not TOML: the quotes are a word processor's; replace "
                        'them by plain ones, "'),
    "quotes and other slips": (changed('"My car"', "“My car”").replace("mass_kg = 145", "mass_kg = 14,5"), "line 2, column 9: this is not "
                               "TOML: the quotes are a word processor's; replace them by plain ones, \". Also: line 4, column 13: this is "
                               "not TOML: '14,5' has a comma; write 14.5"),
    "a dash for a minus": (changed("mass_kg = 145", "mass_kg = –145"), "line 4, column 11: this is not TOML: the minus sign is a word "
                           "processor's dash; replace it by a plain -"),
    "two slips": (changed("mass_kg = 145", "mass_kg = 145 kg").replace("wheel_radius_mm = 203", "wheel_radius_mm = 203 mm"),
                  ". Also: ".join(f'line {line}, column {column}: this is not TOML: "{unit}" follows the number; leave the unit out, '
                                  "for it stands in the key's name" for line, column, unit in ((4, 15, "kg"), (12, 23, "mm")))),
    "after a heading that is not closed nothing more is told": (
        changed("[course]", "[course").replace("target_m_per_s = 5.0", "target_m_per_s = 5,0"),
        "line 15, column 8: this is not TOML: the heading of a table is not closed; write it like [car], a set-up's like [[setup]]"),
}  # fmt: skip


@pytest.mark.parametrize(("content", "line"), SEVERAL.values(), ids=list(SEVERAL))
def test_slips_of_several_lines_are_told_together(refusal, content, line):
    assert refusal(content) == f"quay.toml: {line}"


def test_fine_quotes_within_plain_ones_are_text(tmp_path):
    (tmp_path / "quay.toml").write_text(changed("My car", "My “own” car – ours"), encoding="utf-8")
    assert load_scenario(tmp_path / "quay.toml").title == "My “own” car – ours"


def test_ten_mistakes_are_told_and_the_rest_is_counted(refusal):
    line = refusal(TEXT.replace("[car]", "[car]\n" + "".join(f"odd{number} = 1\n" for number in range(14))))
    assert line.count("no such key") == 10
    assert line.endswith(". Also: 4 more mistakes")


@pytest.mark.parametrize(("content", "line"), NOT_TOML.values(), ids=list(NOT_TOML))
def test_file_that_is_no_scenario(refusal, content, line):
    assert refusal(content) == f"quay.toml: {line}"


@pytest.mark.parametrize(
    "key", ["a" + ".a" * 100_000, "[a" + ". a" * 100_000 + "]", '"a"' + ".'a'" * 100_000, "mass_kg" + ".a" * 60],
    ids=["bare", "header", "quoted", "short"],
)  # fmt: skip
def test_key_of_many_dots_is_refused_before_it_costs_time_and_memory(refusal, key):
    assert refusal(f"# first line\n{key} = 1\n") == "quay.toml: line 2: a key has far too many dots; compare with `scrubwise new`"


def test_many_unknown_keys_cost_no_time(refusal):
    assert refusal("".join(f"k{i} = 1\n" for i in range(40_000))).startswith("quay.toml: k0: no such key; ")


def test_long_words_without_dots_are_only_an_unknown_key(refusal):
    assert refusal("a" * 400_000 + " = 1").startswith(f"quay.toml: {'a' * 37}...: no such key; known are title, ")


# --- where files are found --------------------------------------------------------------------------------------------


def test_shipped_scenarios_are_found_from_any_folder(in_folder):
    assert shipped_names() == NAMES
    for name in NAMES:
        assert find_scenario(name) == shipped_folder() / f"{name}.toml"
        assert load_scenario(find_scenario(name)).title


def test_a_file_goes_before_a_shipped_scenario_of_its_name(in_folder):
    (in_folder / "starter").write_text(TEXT.replace("My car", "Mine"), encoding="utf-8")
    assert load_scenario(find_scenario("starter")).title == "Mine"


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("frist-bend", "no such file and no shipped scenario of that name; did you mean first-bend?"),
        ("quay-loop.toml", "no such file and no shipped scenario of that name; did you mean quay-loop?"),
        ("wind-tunnel", f"no such file and no shipped scenario of that name; give a path, one of {', '.join(NAMES)}, {OWN}"),
        ("no/such/quay.toml", f"no such file and no shipped scenario of that name; give a path, one of {', '.join(NAMES)}, {OWN}"),
        ("x" * 5000, f"no such file and no shipped scenario of that name; give a path, one of {', '.join(NAMES)}, {OWN}"),
        ("nul\0byte", f"no such file and no shipped scenario of that name; give a path, one of {', '.join(NAMES)}, {OWN}"),
        ("inner", "this is not a file; name a scenario file (.toml)"),
    ],
    ids=["misspelt", "with suffix", "strange", "missing", "too long", "zero byte", "folder"],
)
def test_name_that_is_no_scenario(in_folder, name, line):
    (in_folder / "inner").mkdir()
    with pytest.raises(InputError) as caught:
        find_scenario(name)
    assert str(caught.value) == f"{name}: {line}".replace("\0", "?")


@pytest.mark.skipif(sys.platform == "win32", reason="uses rights and pipes that POSIX systems have")
def test_file_that_cannot_be_read(in_folder):
    os.mkfifo(in_folder / "pipe.toml")
    with pytest.raises(InputError, match=r"^pipe\.toml: this is not a file; "):
        find_scenario("pipe.toml")
    with pytest.raises(InputError) as caught:
        load_scenario(in_folder / "gone.toml", "gone.toml")
    assert str(caught.value) == "gone.toml: the file can't be read (No such file or directory); check its name and its rights"
    with pytest.raises(InputError) as caught:
        load_scenario(in_folder, "inner")
    assert str(caught.value) == "inner: the file can't be read (Is a directory); check its name and its rights"
    if os.geteuid():  # the superuser may read everything
        (in_folder / "locked.toml").write_text(TEXT, encoding="utf-8")
        (in_folder / "locked.toml").chmod(0)
        with pytest.raises(InputError, match=r"^locked\.toml: the file can't be read \(Permission denied\)"):
            load_scenario(find_scenario("locked.toml"), "locked.toml")


@pytest.mark.parametrize(("line", "remedy"), [
    ("wheelbase_mm = 150 cm", "write 1500: wheelbase_mm is in mm"), ("wheelbase_mm = 1.5m  # about", "write 1500: wheelbase_mm is in mm"),
    ("wheelbase_mm = 1500 MM", "leave the unit out, for it stands in the key's name"),
    ("toe_in_deg = 3mm", "toe_in_deg is in deg: give it so, without the unit"),
    ("toe_in_deg = 0.5°", "leave the unit out, for it stands in the key's name"),
    ("mass_kg = 80 kg", "leave the unit out, for it stands in the key's name"),
    ("wheelbase_mm = 1.500.0 cm", "leave the unit out, for it stands in the key's name"),  # no number at all
])  # fmt: skip
def test_a_unit_behind_a_number_is_told_by_what_the_key_is_in(line, remedy):
    """`toe_in_deg = 3mm` was answered by leaving the unit out, and would then have been three degrees."""
    with pytest.raises(InputError) as fault:
        parse_toml(f"title = 'x'\n{line}\n", "tried.toml", "")
    assert fault.value.remedy.startswith(remedy)
