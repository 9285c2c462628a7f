"""The sample plans that come with the program; all of them invented."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path


def samples() -> dict[str, str]:
    """The text of each sample plan by its file name without ending, in order of name.

    A wheel carries them inside the package; a source tree keeps them beside it. Empty when the
    program was installed without them.
    """
    inside = files("soapbench").joinpath("data", "sample_plans")
    plans = [f for f in inside.iterdir() if f.name.endswith(".toml")] if inside.is_dir() else []
    if plans:
        return {f.name[:-5]: f.read_text("utf-8") for f in sorted(plans, key=lambda f: f.name)}
    beside = Path(__file__).parents[2] / "sample_plans"
    return {f.stem: f.read_text("utf-8") for f in sorted(beside.glob("*.toml"))}
