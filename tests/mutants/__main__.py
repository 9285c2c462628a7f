"""Whether the tests would notice: mutants drawn at random, and the tests that run them.

    python -m tests.mutants --draw 300 --seed 1 [--only outlook]

A mutant is one small change of one place: a comparison, a sign, a bound, a constant, a condition.
Each is written into a copy of the tree, and the tests that run its line do so there until the
first that fails. What survives is printed with its change, to be judged: equivalent, or a test is
missing. ``equivalent.py`` keeps those judged to change nothing that can be noticed.
"""

from __future__ import annotations

import argparse
import contextlib
import gc
import hashlib
import os
import pickle
import re
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Sequence
from itertools import accumulate, groupby
from pathlib import Path
from zlib import crc32

import pytest

from tests.mutants.drawn import Mutant, drawn, mutants
from tests.mutants.equivalent import reason
from tests.mutants.touching import Map, Touching, file_of

ROOT = Path(__file__).resolve().parent.parent.parent
MUTATED = {
    "soapbench/thickening": "thickening/",
    "soapbench/outlook": "parts/test_outlook|test_outlook|test_looks|test_pourchart",
    "soapbench/advice": "parts/test_advice|test_ways|offers|test_switching",
    "soapbench/swirls": "parts/test_swirl|test_swirl_parts|test_stages|test_moves",
    "soapbench/recipe/amounts.py": "amounts/",
    "soapbench/logfile": "files/test_each_",
}
"""What is mutated, and the tests that are run first of those that run it."""
TESTS = (
    "tests/files", "tests/parts", "tests/safety/test_hung_disk.py",
    *(f"tests/thickening/test_{name}.py" for name in (
        "derivatives", "draws_values", "evidence", "evidence_bounds", "evidence_rows", "exposure",
        "exposure_values", "fitting_values", "floors", "fragrance_values", "importance_values",
        "in_hand_values", "likelihood_values", "live", "parts", "priors_seen", "profile_values",
        "sightings_values", "solver_against_libraries", "solving_values", "trade",
    )),
    *(f"tests/amounts/test_{name}.py" for name in (
        "additives", "amounts", "each_amount", "whole_parts",
    )),
    *(f"tests/test_{name}.py" for name in (
        "advice", "check", "hot_process", "looks", "moves", "offers", "outlook", "pour",
        "pour_seen", "pourchart", "stages", "steady_offers", "swirl_parts", "switching",
        "together", "trade_advice", "ways",
    )),
)  # fmt: skip
"""Tests of these parts, but for those that judge by hundreds of fits; of them, each mutant meets
the ones that run its line."""
PATIENCE, LEAST_S = 5.0, 60.0
"""A mutant has so many times as long as its tests take, and this at the least."""
BROKEN = 99
NOT_RUN = (pytest.ExitCode.USAGE_ERROR, pytest.ExitCode.NO_TESTS_COLLECTED)
RUN = (pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED)
QUIET = ("-q", "-n0", "-p", "no:cacheprovider")


class Only:
    """A plugin of pytest that runs ``tests`` alone, in their order."""

    def __init__(self, tests: Sequence[str]) -> None:
        self.place = {test: i for i, test in enumerate(tests)}

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        kept = [item for item in items if item.nodeid in self.place]
        items[:] = sorted(kept, key=lambda item: self.place[item.nodeid])


def forked(work: Callable[[], int], log: Path, longest_s: float) -> int | None:
    """What ``work`` answers in a process of its own; None if it does not end."""
    child = os.fork()
    if not child:
        os.setsid()
        out = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        for stream in (1, 2):
            os.dup2(out, stream)
        try:
            answer = int(work())
            sys.stdout.flush()
        except BaseException:  # noqa: BLE001 - it must end here, whatever it was
            traceback.print_exc()
            answer = BROKEN
        os._exit(answer)
    ends = time.monotonic() + longest_s
    while time.monotonic() < ends:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.02)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


def measured(tree: Path, files: Sequence[Path]) -> Touching:
    """Runs each of ``files`` once, and not again until it, a kit of tests or the program changes;
    tests that fail as it is are left out, and named."""
    stands = hashlib.sha256()
    for path in sorted([*tree.rglob("*.py"), *tree.rglob("*.toml")]):
        if not path.name.startswith("test_") and "mutants" not in path.parts:
            stands.update(path.read_bytes())
    whole = Touching()
    for file in files:
        of_file = stands.copy()
        of_file.update(file.read_bytes())
        kept = Path(tempfile.gettempdir()) / f"soapbench-mutants-{of_file.hexdigest()[:20]}"

        def work(file: Path = file, kept: Path = kept) -> int:
            noting = Map(tree)
            code = pytest.main([*QUIET, str(file)], plugins=[noting])
            kept.write_bytes(pickle.dumps(noting.measured))
            return code

        log = tree.parent / "measuring.log"
        if not kept.exists() and forked(work, log, 3600) not in RUN:
            raise RuntimeError(log.read_text()[-2000:])
        whole.add(pickle.loads(kept.read_bytes()))
    for test in sorted(whole.failed):
        print(f"left out, fails without any mutant: {test}")
        del whole.lines[test], whole.seconds[test]
    return whole


def within(tests: Sequence[str], touching: Touching, budget_s: float) -> list[str]:
    """The first of ``tests``, as many as were run within ``budget_s`` when measured."""
    ends = accumulate(touching.seconds[test] for test in tests)
    return [test for test, end in zip(tests, ends, strict=True) if end <= budget_s]


def killed(mutant: Mutant, tree: Path, touching: Touching, budget_s: float) -> bool:
    """Whether a test that runs it fails on it (or does not end)."""
    tests = touching.tests(mutant.path, None if mutant.of_module else mutant.lines)
    if not tests and mutant.of_module:  # values alone: nothing in there is ever called
        tests = [test for test in touching.seconds if not touching.slow(test)]
    first = next(tests for start, tests in MUTATED.items() if mutant.path.startswith(start))
    tests.sort(key=lambda test: (touching.slow(test), not re.search(first, test)))
    tests = within(tests, touching, budget_s)
    if not tests:
        return False
    path = tree / mutant.path
    text, times = path.read_bytes(), path.stat()
    changed = mutant.into(text)
    path.write_bytes(changed)
    os.utime(
        path, (crc32(changed),) * 2
    )  # bytecode of one as long, made in this second, is not its
    log = tree.parent / "mutant.log"

    def work() -> int:
        for file, of_file in groupby(tests, key=file_of):
            if code := pytest.main(["-x", *QUIET, file], plugins=[Only(list(of_file))]):
                return code
        return 0

    try:
        code = forked(work, log, LEAST_S + PATIENCE * sum(touching.seconds[test] for test in tests))
    finally:
        path.write_bytes(text)
        os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))  # its bytecode is good again
    if code in NOT_RUN:
        raise LookupError(f"no tests were run on {mutant}: {log.read_text()[-500:]}")
    return code != 0


CONTROLS = ("thickening/exposure.py", "swirls/stages.py", "logfile/records.py")


def controlled(tree: Path, touching: Touching, budget_s: float) -> None:
    """Nothing changed kills nothing. Raises RuntimeError where the tests fail all the same, in
    the order and the processes that mutants meet them in."""
    for module in CONTROLS:
        path = f"soapbench/{module}"
        nothing = Mutant(path, 0, 0, "", 1, (1, 1), "", 0, "", of_module=True)
        if killed(nothing, tree, touching, budget_s):
            raise RuntimeError((tree.parent / "mutant.log").read_text()[-2000:])


def move_into(tree: Path) -> None:
    """What is imported from here on comes from ``tree``; other packages are loaded already."""
    os.chdir(tree)
    os.environ.update(PYTHONPATH=str(tree), OMP_NUM_THREADS="1", PYTHONDONTWRITEBYTECODE="1")
    sys.path[:] = [str(tree), *(p for p in sys.path if p and Path(p).resolve() != ROOT)]
    forget(ROOT)


def forget(folder: Path) -> None:
    """Lets every module below ``folder`` be imported anew, but for this program's own."""
    for name, module in list(sys.modules.items()):
        file = getattr(module, "__file__", None) or ""
        ours = name == "__main__" or name.startswith(__package__)
        if file.startswith(f"{folder}/") and "/.venv/" not in file and not ours:
            del sys.modules[name]


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("--draw", type=int, default=300)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--only", default="", help="modules with this in their path")
    options.add_argument("--among", type=Path, help="only what this earlier output names")
    options.add_argument("--but", type=Path, help="not again what this output says is killed")
    options.add_argument("--budget", type=float, default=60.0, help="seconds of tests a mutant")
    options.add_argument("--tests", nargs="+", default=TESTS, help="the tests to run")
    asked = options.parse_args()
    among = asked.among.read_text() if asked.among else ""
    but = asked.but.read_text() if asked.but else ""
    files = [
        path
        for start in MUTATED
        for path in (
            [ROOT / start] if start.endswith(".py") else sorted((ROOT / start).rglob("*.py"))
        )
        if asked.only in path.as_posix()
    ]
    every = [m for path in files for m in mutants(path, ROOT) if not among or m.change in among]
    chosen = drawn(every, asked.draw, asked.seed)
    began, survived, equivalent = time.monotonic(), 0, 0
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder).resolve() / "tree"
        shutil.copytree(ROOT, tree, ignore=shutil.ignore_patterns(".git", ".venv", "__pycache__"))
        move_into(tree)
        with open(os.devnull, "w") as nowhere, contextlib.redirect_stdout(nowhere):
            pytest.main([*QUIET, "--collect-only", *asked.tests])
        forget(tree)
        gc.freeze()
        sys.dont_write_bytecode = True
        touching = measured(
            tree,
            [
                file
                for given in asked.tests
                for file in (
                    [tree / given] if given.endswith(".py") else (tree / given).glob("test_*.py")
                )
            ],
        )
        spent = time.monotonic() - began
        print(f"{len(touching.lines)} tests measured, {spent:.0f} s", flush=True)
        controlled(tree, touching, asked.budget)
        for i, mutant in enumerate(chosen, 1):
            if why := reason(mutant):
                equivalent += 1
                print(f"equivalent  {mutant}\n    {why}", flush=True)
            elif f"killed  {mutant}" in but or killed(mutant, tree, touching, asked.budget):
                print(f"killed  {mutant}", flush=True)
            else:
                survived += 1
                print(f"survived  {mutant}", flush=True)
            if i % 20 == 0:
                spent = time.monotonic() - began
                print(f"{i} of {len(chosen)}, {survived} survived, {spent:.0f} s", flush=True)
    judged = len(chosen) - equivalent
    print(
        f"{len(chosen)} drawn of {len(every)}, {equivalent} equivalent, {survived} survived: "
        f"{judged - survived} of {judged} killed, {1 - survived / max(judged, 1):.1%}"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
