"""The trade stands without screens and files, and starting up stays light."""

from __future__ import annotations

import subprocess
import sys

import pytest


def loaded_by(statement: str) -> set[str]:
    code = f"import sys; {statement}; print('\\n'.join(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


@pytest.mark.parametrize(
    "statement",
    [
        "import soapbench.sheet.text, soapbench.lessons, soapbench.sheet.setout",
        "import soapbench.thickening.fitting, soapbench.thickening.in_hand",
        "import soapbench.barface",
    ],
)
def test_the_trade_loads_no_screen_and_no_files(statement: str) -> None:
    assert not {"textual", "rich", "sqlite3", "tomlkit"} & loaded_by(statement)
    files_and_screens = ("ui", "desk", "papers", "bench", "logfile")
    parts = {name.split(".")[1] for name in loaded_by(statement) if name.startswith("soapbench.")}
    assert not parts & set(files_and_screens)


def test_the_app_starts_without_the_model() -> None:
    heavy = {"PIL", "numpy", "pint", "pydantic", "jinja2", "icalendar", "tomlkit"}
    assert not heavy & loaded_by("import soapbench.ui.app")


def test_import_contracts_are_kept() -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
    assert "8 kept, 0 broken" in done.stdout
