"""Scrubwise with linkages of one's own:  python own_linkages.py FOLDER QUESTIONS

FOLDER holds their files.  They are entered in the catalogue's list and nothing else is done; the program's own files stay as they are.
QUESTIONS is a JSON list of command lines.  Prints a JSON object: what each command line ended with and printed, and what the steering
bench made of each kind.
"""

import io
import json
import os
import sys
from contextlib import redirect_stderr, redirect_stdout
from importlib.util import module_from_spec, spec_from_loader
from pathlib import Path

os.environ["SDL_VIDEODRIVER"] = "dummy"
FOLDER = Path(sys.argv[1])
NAMES = sorted(file.stem for file in FOLDER.glob("*.py"))


def enter():
    """The catalogue with one more entry a file, before anything reads it."""
    import sim.linkages

    file = Path(sim.linkages.__file__).with_name("catalogue.py")
    before, entry, after = file.read_text(encoding="utf-8").partition('    "turntable",\n')
    text = before + entry + "".join(f'    "{name}",\n' for name in NAMES) + after
    module = module_from_spec(spec_from_loader("sim.linkages.catalogue", loader=None, origin=str(file)))
    sim.linkages.__path__.append(str(FOLDER))
    sys.modules["sim.linkages.catalogue"] = sim.linkages.catalogue = module
    exec(compile(text, str(file), "exec"), module.__dict__)


def asked(words):
    """(exit code, standard output, standard error) of a command line."""
    from viz.cli.entry import main

    sys.argv = ["scrubwise", *words]
    code, out, err = 0, io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            main()
        except SystemExit as end:
            code = end.code or 0
    return code, out.getvalue(), err.getvalue()


def benches(run):
    """What the window's steering bench shows of each kind with a file in FOLDER, turned to the left and drawn."""
    import numpy as np

    from sim.linkages.catalogue import KINDS
    from viz.replay.bench.scene import draw_plan
    from viz.replay.bench.window import Bench
    from viz.replay.pens import NotePen
    from viz.replay.quiet import pygame
    from viz.replay.run_data import read_run

    replay = read_run(run)
    bench = Bench(replay, FOLDER)
    seen = {}
    for _ in range(len(KINDS)):
        bench.key(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_TAB, mod=0))
        model = bench.model
        model.turn_hand(0.3 - model.hand)
        bench.draw(pygame.Surface((1280, 720)))
        pose, pen = model.pose(), NotePen()
        draw_plan(pen, pose, bench.body, model.kind == "turntable", None)
        turn = model.turn.own
        model.turn_dial(model.dials[0], 2.0)
        changed = model.value(model.dials[0])
        model.start_over()
        if pose.joints is not None:
            place = model.pose().joints[0]
            model.arm_to(0, tuple(place + np.array([-0.02, 0.0])))
        saved = model.save(FOLDER, "saved").read_text(encoding="utf-8")
        seen[model.kind] = {
            "problem": model.problem, "dials": [dial.label for dial in model.dials], "changed": changed, "saved": saved,
            "steer": np.degrees(pose.steer).tolist(), "calls": len(pen.calls), "converged": bool(turn.converged),
            "joints": None if pose.joints is None else pose.joints.tolist(),
            "rods": [[end.tolist() for end in rod] for rod in pose.rods], "bars": [[end.tolist() for end in bar] for bar in pose.bars],
        }  # fmt: skip
    return seen


def round_trip(path):
    """Whether a scenario that is written and read back is the same."""
    import tomllib

    from sim.scenario.file import check_scenario, dump_scenario, load_scenario

    scenario = load_scenario(Path(path))
    return check_scenario(tomllib.loads(dump_scenario(scenario)), "again") == scenario


if __name__ == "__main__":
    enter()
    questions = json.loads(sys.argv[2])
    answers = [asked(words) for words in questions]
    scenario = next(words[1] for words in questions if words[0] == "run")
    run = next(words[words.index("--out") + 1] for words in questions if words[0] == "run")
    sys.stdout.write(json.dumps({"answers": answers, "same": round_trip(scenario), "benches": benches(Path(run))}))
