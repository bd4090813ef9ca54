"""The `--json` of every command on every shipped scenario, this checkout against another:  python tests/benchmarks/same_answers.py OTHER_CHECKOUT

Both run with this Python, each with its own `sim` and `viz` and in a folder of its own.  Prints the ratio of the processor times in this one run and each answer that
differs in a byte; ends with 1 if one does.  A command that one of the two has not is told, not counted.
"""

import difflib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parents[2]
SCENARIOS = sorted(path.stem for path in (HERE / "scenarios").glob("*.toml"))
# What each command is asked.  Small numbers of draws and keys: the question is whether the answers are the same, not how good they are.
QUESTIONS = [
    ["run", "{}"], ["run", "{}", "--paces"], ["angles", "{}"], ["angles", "{}", "--checks"], ["corner", "{}", "--radius", "5", "--speed", "3"],
    ["corner", "{}", "--radius", "5", "--speed", "3", "--ladder"], ["corner", "{}", "--radius", "5", "--speed", "3", "--map", "map.pdf"], ["knock", "{}"],
    ["spread", "{}", "--samples", "16", "--literature"], ["search", "{}", "--free", "toe_in_deg=-0.5:0.5"],
    ["template", "{}", "--out", "sheet.pdf"], ["assemble", "{}", "--out", "sheet.pdf"],
]  # fmt: skip
OTHERS = [
    ["bench", "car-park", "bench-readings.csv"], ["coast", "coast-down.csv", "--mass", "140"],
    ["coast", "coast-down.csv", "--mass", "140", "--back", "coast-up.csv"],
    ["contest", "class-contest"], ["run", "no-such-file.toml"],
]  # fmt: skip


def answer(checkout: Path, words: list[str], folder: Path) -> tuple[int, str, str, float]:
    """Exit code, standard output, standard error and processor time [s] of a command of a checkout."""
    before = os.times()
    script = f"import sys; sys.path.insert(0, {str(checkout)!r}); sys.argv[0] = 'scrubwise'; from viz.cli import main; main()"
    ended = subprocess.run([sys.executable, "-c", script, *words], cwd=folder, capture_output=True, text=True, check=False)
    after = os.times()
    spent = after.children_user + after.children_system - before.children_user - before.children_system
    # a shipped file is told with its place
    out, error = (text.replace(str(checkout), "CHECKOUT") for text in (ended.stdout, ended.stderr))
    return ended.returncode, out, error, spent


def main() -> None:
    other = Path(sys.argv[1]).resolve()
    spent, differ, same = [0.0, 0.0], 0, 0
    asked = [[word.format(name) for word in question] for name in SCENARIOS for question in QUESTIONS] + OTHERS
    for words in [[*one, "--json"] for one in asked]:
        with tempfile.TemporaryDirectory() as mine, tempfile.TemporaryDirectory() as theirs:
            answers = [answer(checkout, words, Path(folder)) for checkout, folder in ((HERE, mine), (other, theirs))]
        for place in (0, 1):
            spent[place] += answers[place][3]
        if answers[0][:2] == answers[1][:2] and (answers[0][0] == 0 or answers[0][2] == answers[1][2]):
            same += 1
            continue
        differ += 1
        print(f"DIFFERS: scrubwise {' '.join(words)}: exit {answers[0][0]} here, {answers[1][0]} there")
        for line in list(difflib.unified_diff(answers[1][1].splitlines(), answers[0][1].splitlines(), "there", "here", lineterm="", n=0))[
            :12
        ]:
            print("   ", line[:150])
        for code, _, error, _ in answers:
            if code:
                print("   ", error.strip()[-300:])
    print(f"{same} answers are equal byte for byte, {differ} differ; processor time here / there {spent[0] / spent[1]:.2f}")
    sys.exit(1 if differ else 0)


if __name__ == "__main__":
    main()
