"""The house is in order: style, types, and a wheel that works on its own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from tests.mutants.equivalent import EQUIVALENT

ROOT = Path(__file__).parent.parent


def run(*command: str | Path) -> subprocess.CompletedProcess[str]:
    words = [str(part) for part in command]
    return subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)


def test_style() -> None:
    done = run(sys.executable, "-m", "ruff", "check", "--output-format", "concise", ".")
    assert done.returncode == 0, done.stdout


def test_format() -> None:
    done = run(sys.executable, "-m", "ruff", "format", "--check", ".")
    assert done.returncode == 0, done.stdout


def test_types() -> None:
    done = run(sys.executable, "-m", "mypy")
    assert done.returncode == 0, done.stdout
    assert "no issues found" in done.stdout


def test_the_top_level_is_what_it_should_be() -> None:
    listed = run("git", "ls-files").stdout.split("\n")
    top = {name.split("/")[0] for name in listed if name}
    assert top <= {
        ".ci", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "pyproject.toml",
        "requirements.lock", "sample_plans", "soapbench", "tests",
    }  # fmt: skip


def test_no_file_is_too_long_to_read_in_one_sitting() -> None:
    long = {
        str(path.relative_to(ROOT)): n
        for path in (ROOT / "soapbench").rglob("*.py")
        if (n := len(path.read_text("utf-8").splitlines())) > 340
    }
    assert not long


def test_the_wheel_works_in_an_environment_of_its_own(tmp_path: Path) -> None:
    """Built, unpacked away from the sources, and asked for a plan's amounts."""
    built = run(
        sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation",
        "-w", tmp_path, ROOT,
    )  # fmt: skip
    assert built.returncode == 0, built.stderr
    (wheel,) = tmp_path.glob("soapbench-*.whl")
    site = tmp_path / "site"
    unpacked = run(
        sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--target", site, wheel
    )  # fmt: skip
    assert unpacked.returncode == 0, unpacked.stderr
    plan = ROOT / "sample_plans" / "harbour_at_dusk.toml"
    code = (
        "import sys, soapbench; from soapbench.cli import main;"
        f"assert soapbench.__file__.startswith({str(site)!r}), soapbench.__file__;"
        f"sys.exit(main(['check', {str(plan)!r}]))"
    )
    env = {**os.environ, "PYTHONPATH": str(site)}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, env=env,
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "Harbour at Dusk" in done.stdout


def test_what_a_mutant_is_excused_for_still_stands_in_the_code() -> None:
    lines = {
        module: {line.strip() for line in (ROOT / "soapbench" / module).read_text().splitlines()}
        for module in {module for module, *_ in EQUIVALENT}
    }
    assert EQUIVALENT
    gone = [place for place in EQUIVALENT if place[1] not in lines[place[0]]]
    assert not gone
