"""A study on a real scheduler and worker processes of this machine: the same figures, also when a worker is killed in the middle."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from itertools import count
from pathlib import Path

import numpy as np
import pytest

import sim.study.jobs
import sim.study.workers
from sim.errors import InputError
from sim.scenario.file import load_scenario
from sim.spread.run import spread
from sim.study.jobs import Job, drive_jobs
from sim.study.ready import course_of
from sim.study.workers import Cluster, Workers
from viz.cli.entry import main

pytestmark = pytest.mark.slow
YARD = Path(__file__).parents[1] / "scenarios" / "yard.toml"
STARTED_WITHIN = 60  # [s]; the machine may be busy


def dask(*words):
    return [sys.executable, "-m", "dask", *words]


@contextmanager
def running(*words):
    """A process that is ended with its block."""
    process = subprocess.Popen(dask(*words), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        yield process
    finally:
        process.kill()
        process.wait()


@pytest.fixture
def scheduling(tmp_path):
    """(address, process) of a scheduler on the loopback interface."""
    file = tmp_path / "scheduler.json"
    with running("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", str(file)) as process:
        until = time.monotonic() + STARTED_WITHIN
        while not file.exists() or not file.read_text():
            if time.monotonic() > until:
                pytest.fail("the scheduler does not start")
            time.sleep(0.1)
        yield json.loads(file.read_text())["address"], process


@pytest.fixture
def scheduler(scheduling):
    return scheduling[0]


def worker(address):
    return running("worker", address, "--host", "127.0.0.1", "--nthreads", "1", "--no-nanny", "--no-dashboard")


@pytest.fixture
def two_workers(scheduler):
    """(address of the scheduler, both worker processes)."""
    from distributed import Client

    with worker(scheduler) as first, worker(scheduler) as second:
        with Client(scheduler) as client:
            client.wait_for_workers(2, timeout=STARTED_WITHIN)
        yield scheduler, (first, second)


@pytest.fixture(scope="module")
def jobs():
    scenario = load_scenario(YARD)
    masses = np.linspace(120, 170, 60)
    cars = [scenario.car.model_copy(update={"mass_kg": float(mass)}) for mass in masses]
    return [Job(scenario.model_copy(update={"car": car}), setup, 3.0) for car in cars for setup in range(len(scenario.setup))]


@pytest.fixture(scope="module")
def course():
    return course_of(load_scenario(YARD), YARD.parent, "yard.toml")


@pytest.fixture
def small_blocks(monkeypatch):
    monkeypatch.setattr(sim.study.jobs, "BLOCK", 10)


@pytest.mark.target("T23", what="Many laps by one process or by two others", asked="equal")
@pytest.mark.usefixtures("small_blocks")
def test_figures_of_a_cluster_are_those_of_this_process(two_workers, course, jobs):
    address, _ = two_workers
    alone = drive_jobs(course, jobs, Workers())
    with Workers(cluster=Cluster(address)) as workers:
        np.testing.assert_array_equal(drive_jobs(course, jobs, workers), alone)
        np.testing.assert_array_equal(drive_jobs(course, jobs, workers), alone)  # again over the same connection


def test_a_study_of_uncertainty_by_a_cluster_is_that_of_this_process(two_workers):
    """Its blocks travel as numbers, and are made ready there."""
    scenario = load_scenario(YARD).model_copy(update={"uncertainty": {"car.mass_kg": 7.0}})
    alone = spread(scenario, YARD.parent, "yard.toml", samples=32)
    with Workers(cluster=Cluster(two_workers[0])) as workers:
        assert spread(scenario, YARD.parent, "yard.toml", samples=32, workers=workers) == alone


@pytest.mark.usefixtures("small_blocks")
def test_a_worker_killed_in_the_middle_costs_nothing(two_workers, course, jobs, tmp_path):
    address, (first, second) = two_workers
    seen, calls = [], count()

    def kill_one(done, of):
        seen.append(done)
        if next(calls) == 2:  # the first call tells of what is kept, then each of a block
            os.kill(first.pid, signal.SIGKILL if hasattr(signal, "SIGKILL") else signal.SIGTERM)

    with Workers(cluster=Cluster(address)) as workers:
        rows = drive_jobs(course, jobs, workers, kill_one, tmp_path / "kept")
    assert first.wait(timeout=STARTED_WITHIN) != 0
    assert second.poll() is None
    assert seen == list(range(0, len(jobs) + 1, 10))  # each block once, and none left out
    np.testing.assert_array_equal(rows, drive_jobs(course, jobs, Workers()))
    assert len(list((tmp_path / "kept").glob("block-*.npy"))) == len(jobs) // 10


@pytest.mark.usefixtures("small_blocks")
def test_a_scheduler_killed_in_the_middle_is_told_in_one_line(two_workers, scheduling, course, jobs, tmp_path, capfd):
    address, _ = two_workers
    many = [Job(job.scenario, job.setup, 3.0 - 0.01 * number) for number in range(20) for job in jobs]
    seen = []

    def kill_it(done, of):
        seen.append(done)
        if len(seen) == 3:
            scheduling[1].kill()

    with Workers(cluster=Cluster(address)) as workers, pytest.raises(InputError) as fault:
        drive_jobs(course, many, workers, kill_it, tmp_path / "kept")
    assert str(fault.value) == (
        f"--cluster: the scheduler at {address} was lost on the way; start the cluster again; with --resume the finished laps are kept"
    )
    assert capfd.readouterr() == ("", "")
    assert len(list((tmp_path / "kept").glob("block-*.npy"))) * 10 == seen[-1] > 0


def test_a_scheduler_that_was_lost_before_the_laps_is_told_in_one_line(scheduling, course, jobs):
    """Between the first check and the laps lies a search's long look at candidates; the connection is the same one."""
    address, process = scheduling
    with Workers(cluster=Cluster(address)) as workers:
        process.kill()
        until = time.monotonic() + STARTED_WITHIN
        while workers.cluster.client.status == "running":
            if time.monotonic() > until:
                pytest.fail("the loss is not seen")
            time.sleep(0.1)
        with pytest.raises(InputError) as fault:
            drive_jobs(course, jobs, workers)
    assert str(fault.value).startswith(f"--cluster: the scheduler at {address} was lost on the way; ")


def test_a_study_connects_to_its_cluster_once(two_workers, monkeypatch, tmp_path, capsys):
    import distributed

    made = []

    class Counted(distributed.Client):
        def __init__(self, *words, **keys):
            made.append(words)
            super().__init__(*words, **keys)

    monkeypatch.setattr(distributed, "Client", Counted)
    monkeypatch.chdir(tmp_path)
    words = ["search", str(YARD), "--free", "toe_in_deg=-0.5:0.5", "--cluster", two_workers[0], "--json"]
    monkeypatch.setattr(sys, "argv", ["scrubwise", *words])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 0
    assert json.loads(capsys.readouterr().out)["best"]["lap"]["finished"]
    assert len(made) == 1


def test_spread_prints_the_same_on_a_cluster(two_workers, tmp_path):
    address, _ = two_workers
    text = YARD.read_text().replace("[[setup]]", '[uncertainty]\n"car.mass_kg" = 10\n[[setup]]', 1)
    (tmp_path / "unsure.toml").write_text(text)
    printed = []
    for words in (["--workers", "2"], ["--cluster", address]):
        command = [sys.executable, "-m", "viz.cli", "spread", "unsure.toml", "--samples", "16", "--json", *words]
        done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
        assert (done.returncode, done.stderr) == (0, "")
        printed.append(done.stdout)
    assert printed[0] == printed[1]


NO_WORKER = "start workers, then try again; with --resume the finished laps are kept"


def test_a_cluster_without_workers_is_refused(scheduler, course, jobs, monkeypatch):
    monkeypatch.setattr(sim.study.workers, "WORKER_WITHIN", 2)
    with Workers(cluster=Cluster(scheduler)) as workers, pytest.raises(InputError) as fault:
        drive_jobs(course, jobs, workers)
    assert str(fault.value) == f"--cluster: the scheduler at {scheduler} has no worker; {NO_WORKER}"


@pytest.mark.usefixtures("small_blocks")
def test_a_cluster_whose_last_worker_dies_is_not_waited_for_without_end(two_workers, course, jobs, tmp_path, monkeypatch):
    address, workers = two_workers
    many = [Job(job.scenario, job.setup, 3.0 - 0.01 * number) for number in range(20) for job in jobs]
    monkeypatch.setattr(sim.study.workers, "WORKER_WITHIN", 4)
    seen = []

    def kill_both(done, of):
        seen.append(done)
        if len(seen) == 3:
            for worker in workers:
                worker.kill()

    with Workers(cluster=Cluster(address)) as who, pytest.raises(InputError) as fault:
        drive_jobs(course, many, who, kill_both, tmp_path / "kept")
    assert str(fault.value) == f"--cluster: the scheduler at {address} has no worker; {NO_WORKER}"
    assert len(list((tmp_path / "kept").glob("block-*.npy"))) * 10 == seen[-1] > 0


def test_what_takes_a_connection_and_never_speaks_is_no_scheduler(monkeypatch):
    monkeypatch.setattr(sim.study.workers, "ANSWER_WITHIN", 1)
    with socket.create_server(("127.0.0.1", 0)) as mute:
        address = f"tcp://127.0.0.1:{mute.getsockname()[1]}"
        with pytest.raises(InputError) as fault:
            Cluster(address)
    assert str(fault.value) == f"--cluster: no scheduler answers at {address}; start one, or check the address (tcp://HOST:PORT)"


def test_workers_of_another_version_are_refused(two_workers, course, jobs, monkeypatch):
    monkeypatch.setattr(sim.study.workers, "source_digest", lambda: "another")
    with Workers(cluster=Cluster(two_workers[0])) as workers, pytest.raises(InputError) as fault:
        drive_jobs(course, jobs, workers)
    assert str(fault.value) == "--cluster: a worker runs another version of scrubwise, or none; install the same on every machine"


def test_a_scheduler_that_is_not_there_is_refused(monkeypatch):
    monkeypatch.setattr(sim.study.workers, "ANSWER_WITHIN", 1)
    with pytest.raises(InputError) as fault:
        Cluster("tcp://127.0.0.1:9")
    assert str(fault.value) == ("--cluster: no scheduler answers at tcp://127.0.0.1:9; start one, or check the address (tcp://HOST:PORT)")
