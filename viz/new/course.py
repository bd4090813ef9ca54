"""The questions of `new --ask` about the car's name, where it drives and how fast it is meant to go; each answer is checked at once."""

import re
import shutil
from os.path import relpath
from pathlib import Path

import tomli_w

from sim.course.centreline import Course
from sim.errors import InputError
from sim.files.text import LARGEST_FILE, plain_bytes
from sim.scenario.file import check_scenario, parse_toml, read_text, shipped_folder
from sim.study.ready import course_of
from viz.new.ask import Interview

# Shipped courses, by the name of the scenario that drives them.
SHIPPED = {
    "first-bend": "one bend of 90 degrees, 53 m", "car-park": "two half circles of 3 m radius, for a walk",
    "quay-loop": "a lap with a hairpin", "recorded-loop": "a lap recorded by satellite",
}  # fmt: skip
FILE_HELP = "The name of a CSV file with the columns x_m,y_m or of a .gpx recording, as it lies beside the scenario. Enter chooses again."
PIECE_HELP = '"30" is a straight of 30 m, "8 left 90" a bend of 8 m radius by 90 degrees. `back` takes the last one out; Enter ends.'
EXAMPLE, OWN_FILE, PIECES = "the example", "a file of your own", "straights and bends, typed in"
_TABLE = re.compile(r"^\[course\].*?(?=^\[)", re.M | re.S)
_TITLE = re.compile(r"^title = .*$", re.M)
_TARGET = re.compile(r"^(target_m_per_s = )\S+(.*)$", re.M)
_FILE = re.compile(r'^file = "([^"]+)"', re.M)
_NUMBER = r"(\d*[.,]?\d+)"
_STRAIGHT = re.compile(rf"(?:straight\s+)?{_NUMBER}\s*m?", re.I)
_BEND = re.compile(rf"{_NUMBER}\s*m?\s+(left|right|l|r)\s+{_NUMBER}\s*(?:deg|degrees|°)?", re.I)


def ask_title(interview: Interview) -> None:
    """Ask what the car is called."""
    interview.say("\nWhat is the team's or the car's name? It stands on every sheet.")
    while True:
        answer = interview.ask("title [Enter: My car]: ", "Any name; it stands on every sheet. Enter takes My car.")
        if not answer:
            return
        text = _with_title(interview.text, answer)
        problem = _problem(text, interview.file)
        if not problem:
            interview.text = text
            interview.write()
            return
        # The remedy is for a file, where a text stands in quotes.
        interview.say(f"  {problem.partition('; ')[0]}; type another name.")


def ask_course(interview: Interview) -> None:
    """Ask where the car drives: a shipped course, a file of one's own, or pieces."""
    names = {EXAMPLE: "two bends, 100 m, not a lap"} | SHIPPED | {OWN_FILE: "CSV with the columns x_m,y_m, or a .gpx recording", PIECES: ""}
    labels = tuple(f"{name}: {words}" if words else name for name, words in names.items())
    while True:
        chosen = list(names)[labels.index(interview.choose("Where does it drive?", labels, labels[0]))]
        if chosen == EXAMPLE:
            return
        done = (_own_file if chosen == OWN_FILE else _pieces if chosen == PIECES else _shipped)(interview, chosen)
        if done:
            interview.write()
            return


def _line(key: str, value: str) -> str:
    return tomli_w.dumps({key: value}).rstrip("\n")


def _with_title(text: str, title: str) -> str:
    return _TITLE.sub(lambda _: _line("title", title), text, count=1)


def _with_course(text: str, table: str) -> str:
    return _TABLE.sub(lambda _: f"{table}\n", text, count=1)


def _problem(text: str, file: Path) -> str:
    """What the whole scenario has against its text, a sentence without its end; empty where nothing."""
    try:
        check_scenario(parse_toml(text, str(file), ""), str(file))
        text.encode()
    except InputError as error:
        return f"{error.problem}; {error.remedy}"
    except UnicodeError:
        return "a sign in it can't be read; leave it out"
    return ""


def _driven(text: str, file: Path) -> Course:
    """The course of a text.  Raises InputError where it cannot be read."""
    return course_of(check_scenario(parse_toml(text, str(file), ""), str(file)), file.parent, str(file))


def _taken(interview: Interview, table: str) -> bool:
    """Take a course, if it can be driven, and say what it is."""
    text = _with_course(interview.text, table)
    problem = _problem(text, interview.file)
    try:
        course = None if problem else _driven(text, interview.file)
    except InputError as error:
        problem = f"{error.problem}; {error.remedy}"
    if problem or course is None:
        interview.say(f"  {problem}.")
        return False
    bend = f", tightest bend {course.smallest_radius:.1f} m" if course.smallest_radius < 1e4 else ", no bends"
    interview.say(f"  {course.length:.0f} m {'a lap' if course.closed else 'from start to finish'}{bend}.")
    interview.text = text
    return True


def _shipped(interview: Interview, name: str) -> bool:
    """A shipped course; its file is laid beside the scenario."""
    source = read_text(shipped_folder() / f"{name}.toml", name)
    found = _TABLE.search(source)
    target = re.search(r"^target_m_per_s = ([\d.]+)", source, re.M)
    assert found  # what is shipped is tested
    assert target
    file = _FILE.search(found[0])
    if file is not None:
        beside = interview.file.parent / file[1]
        try:
            if not beside.exists():
                shutil.copyfile(shipped_folder() / file[1], beside)
                interview.say(f"  Its file {file[1]} now lies beside the scenario.")
            elif plain_bytes(beside, LARGEST_FILE) != (shipped_folder() / file[1]).read_bytes():
                interview.say(f"  There is another {file[1]} beside the scenario; move it, or choose something else.")
                return False
        except OSError as error:
            interview.say(f"  Its file can't be copied ({error.strerror}); check the folder and its rights.")
            return False
    interview.text = _TARGET.sub(rf"\g<1>{target[1]}\g<2>", interview.text, count=1)
    return _taken(interview, found[0].rstrip("\n") + "\n")


def _own_file(interview: Interview, _: str) -> bool:
    while True:
        answer = interview.ask("file, or Enter to choose again: ", FILE_HELP).strip("\"'")
        if not answer:
            return False
        name, folder = Path(answer), interview.file.parent
        if not (folder / name).is_file():
            if not name.is_file():
                interview.say("  There is no such file; check its name and its folder.")
                continue
            name = _from(folder.resolve(), name.resolve())  # typed as it lies from here, not from the scenario
        if _taken(interview, f"[course]\n{_line('file', name.as_posix())}\nclosed = {_closed(interview)}\n"):
            return True


def _from(folder: Path, file: Path) -> Path:
    """Where a file lies as seen from a folder, which is shorter than the whole path and moves with both; whole on another drive."""
    try:
        return Path(relpath(file, folder))
    except ValueError:
        return file


def _closed(interview: Interview) -> str:
    return "true" if interview.choose("Is it a lap, which ends where it begins?", ("yes", "no"), "yes") == "yes" else "false"


def _pieces(interview: Interview, _: str) -> bool:
    interview.say('\nOne piece a line, as it is driven: "30" is a straight of 30 m, "8 left 90" a bend of 8 m radius, to the left by 90 '
                  "degrees. `back` takes the last one out; Enter ends.")  # fmt: skip
    pieces: list[str] = []
    while True:
        answer = interview.ask(f"piece {len(pieces) + 1}: ", PIECE_HELP)
        if answer.casefold() in ("back", "b"):
            pieces = pieces[:-1]
        elif answer:
            piece = _piece(answer)
            problem = "" if piece else 'That is neither "30" nor "8 left 90"'
            problem = problem or _problem(_with_course(interview.text, _segments([*pieces, piece], "false")), interview.file)
            if problem:
                interview.say(f"  {problem}.")
            else:
                pieces.append(piece)
        elif not pieces or _taken(interview, _segments(pieces, _closed(interview))):
            return bool(pieces)


def _piece(answer: str) -> str:
    """A piece as a scenario writes it; empty where the answer is none."""
    straight, bend = _STRAIGHT.fullmatch(answer), _BEND.fullmatch(answer)
    if straight:
        return f"{{straight_m = {_plain(straight[1])}}}"
    if bend:
        sign = "-" if bend[2][0].casefold() == "r" else ""
        return f"{{radius_m = {_plain(bend[1])}, turn_deg = {sign}{_plain(bend[3])}}}"
    return ""


def _plain(number: str) -> str:
    return f"{float(number.replace(',', '.')):.10g}"


def _segments(pieces: list[str], closed: str) -> str:
    lines = "".join(f"    {piece},\n" for piece in pieces)
    return f"[course]\nsegments = [\n{lines}]\nclosed = {closed}\n"
