"""What the app knows of its bench; every part of it is read when a screen first asks for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from soapbench.advice.known import Known
    from soapbench.aftercare.practice import Practice
    from soapbench.bench.folder import Bench
    from soapbench.bench.learned import Memory
    from soapbench.fragrances.shelf import ShelfFragrance
    from soapbench.settings import Settings
    from soapbench.swirls.table import SwirlTable


class Knowing:
    """The part of the app that remembers."""

    bench: Bench
    settings: Settings
    _memory: Memory | None = None
    _forgot: int = 0
    """How often it was forgotten: what was begun before must not come back afterwards."""

    def memory(self) -> Memory:
        """Fit, pace and tables; worked out when first asked for, and again after a pour."""
        memory = self._memory
        if memory is None:
            from soapbench.bench.learned import remember

            forgot = self._forgot
            memory = remember(self.bench, self.settings.risk)
            if forgot == self._forgot:
                self._memory = memory
        return memory

    def known_anyhow(self) -> Known:
        """What the bench knows; without the maker's own tables when those cannot be read.

        A pour under way must not wait until a table is put right.
        """
        from soapbench.reading.faults import FileFaults

        try:
            return self.memory().known
        except FileFaults:
            from soapbench.bench.learned import remember

            return remember(self.bench, self.settings.risk, own_tables=False).known

    def swirls_anyhow(self) -> SwirlTable:
        """The swirls, as ``known_anyhow`` has them, without the rest."""
        from soapbench.bench.tables import tables_anyhow

        return tables_anyhow(self.bench.folder / "tables").swirls

    def shelf(self) -> dict[str, ShelfFragrance]:
        """Every fragrance known; raises FileFaults for a faulty table of the maker's own."""
        from soapbench.bench.tables import fragrances
        from soapbench.fragrances.shelf import shelf

        memory = self.memory()
        outcomes = [lesson.ended for lesson in memory.lessons if lesson.ended]
        return shelf(fragrances(self.bench.folder / "tables"), memory.known.fit, outcomes)

    def forget(self) -> None:
        """The logs have changed: what they taught is worked out again when next asked for."""
        self._forgot += 1
        self._memory = None

    def practice(self) -> Practice:
        """Common practice after the pour; ours where the maker's own table cannot be read."""
        from soapbench.bench.tables import practice
        from soapbench.reading.faults import FileFaults

        try:
            return practice(self.bench.folder / "tables")
        except FileFaults:
            return practice(None)
