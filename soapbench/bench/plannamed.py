"""One plan found by what a maker calls it: a file, or the title of a plan in the bench."""

from __future__ import annotations

from pathlib import Path

from soapbench.logfile.tomlfile import parse_text, read_text
from soapbench.reading.faults import Fault, FileFaults, nearest
from soapbench.reading.safetext import clean


def plan_named(asked: str, bench: Path) -> Path:
    """The plan ``asked`` means: a path, the title of a plan of the bench, a unique part of it, or
    its file's name (capitals do not matter). Raises FileFaults, the titles named, for none.
    """
    path = Path(asked)
    try:
        if path.exists() or path.suffix == ".toml" or len(path.parts) != 1:
            return path
    except (OSError, ValueError):  # too long for a path, a null byte in it: a title, then
        pass
    titles = _titles(bench)
    wanted = asked.strip().casefold()
    exact = [p for p, title in titles.items() if wanted in (title.casefold(), p.stem.casefold())]
    matches = exact or [p for p, title in titles.items() if wanted and wanted in title.casefold()]
    if len(matches) == 1:
        return matches[0]
    name = clean(asked, 60)
    if matches:
        several = ", ".join(f'"{clean(titles[p], 60)}" ({clean(p.name, 60)})' for p in matches[:8])
        raise FileFaults(
            name, [Fault("", f"{len(matches)} of your plans are called that", several)]
        )
    right = nearest(asked, titles.values()) if titles else "the path of a plan's file"
    raise FileFaults(
        name, [Fault("", "no such file, and none of your plans is called that", right)]
    )


def _titles(bench: Path) -> dict[Path, str]:
    """The plans of the bench with their titles; those that cannot be read go by their file."""
    titles = {}
    for path in sorted((bench / "plans").glob("*.toml")):
        try:
            title = parse_text(read_text(path), path.name).get("title")
        except FileFaults:
            title = None
        titles[path] = title if isinstance(title, str) and title.strip() else path.stem
    return titles
