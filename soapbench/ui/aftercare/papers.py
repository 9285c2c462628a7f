"""A batch's report and calendar, or its batch sheet and label, written from its aftercare."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from soapbench.reading.safetext import clean
from soapbench.words import aftercare as words

if TYPE_CHECKING:
    from soapbench.desk.pourlog import Log


def written(bench: Path, log: Log, now: datetime, to_sell: bool = False) -> str:
    """Write them; where they are, or why not, in words for the maker."""
    from soapbench.bench.batchfile import NoSuchBatch
    from soapbench.papers.commands import papers, selling_papers
    from soapbench.reading.faults import FileFaults

    path = getattr(log, "path", None)
    if path is None:
        return words.NOTHING_SAVED
    try:
        files = (selling_papers if to_sell else papers)(bench, path, now)
    except NoSuchBatch as why:
        return words.not_written(clean(str(why), 160))
    except FileFaults as refused:
        return words.not_written(f"{clean(refused.file, 60)} {clean(refused.faults[0].wrong, 100)}")
    except OSError as error:
        return words.not_written(str(error.strerror or error))
    return words.written(clean(str(files[0].parent), 120), [clean(p.name) for p in files])
