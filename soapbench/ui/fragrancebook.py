"""The fragrance book: a list of fragrances, and all that is known of the one in hand."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.style import Style
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.widgets import Static

from soapbench.reading.safetext import clean
from soapbench.ui.basescreen import BaseScreen, failure_words, in_background
from soapbench.ui.keyline import KeyLine
from soapbench.ui.rows import Rows
from soapbench.ui.ways import ToBench
from soapbench.words.dialogs import BOOK_READING, BOOK_TITLE

if TYPE_CHECKING:
    from soapbench.fragrances.book import FragranceBook


class FragranceBookScreen(BaseScreen[None]):
    """``name``: the fragrance to open the book at; empty: the first."""

    AUTO_FOCUS = "#list"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("d", "details", "details", id="fragrances.details"),
        Binding("escape", "back", "bench", id="fragrances.back"),
    ]

    class Opened(Message):
        """The book has been worked out."""

        def __init__(self, book: FragranceBook) -> None:
            self.book = book
            super().__init__()

    class Told(Message):
        """What is known of the line ``at``."""

        def __init__(self, at: int, text: str) -> None:
            self.at, self.text = at, text
            super().__init__()

    def __init__(self, name: str = "") -> None:
        super().__init__()
        self._wanted = name
        self.book: FragranceBook | None = None
        self._told: dict[int, str] = {}
        self._details = False

    def compose(self) -> ComposeResult:
        yield Static(BOOK_TITLE, id="title", markup=False, classes="strong")
        yield Static(id="head", markup=False, classes="quiet")
        yield Rows(id="list")
        yield Static(BOOK_READING, id="detail", markup=False)
        yield KeyLine([("up down", "choose")])

    def on_mount(self) -> None:
        self._open()

    # ---- working out, on other threads

    @in_background("book")
    def _open(self) -> None:
        from soapbench.bench.tables import fragrances
        from soapbench.fragrances.book import fragrance_book

        memory = self.app.memory()
        own = fragrances(self.app.bench.folder / "tables")
        self.post_message(self.Opened(fragrance_book(memory.known, memory.lessons, own)))

    @in_background("entry")
    def _work_out(self, book: FragranceBook, at: int, width: int) -> None:
        from soapbench.fragrances.book import each_batch
        from soapbench.fragrances.suited import swirls_for
        from soapbench.fragrances.text import entry_text, told_lines, word_lines

        if at < len(book.entries):
            entry, known = book.entries[at], self.app.memory().known
            dots = each_batch(entry, known)
            text = entry_text(entry, swirls_for(entry, book.usual, known), known, width, dots)
        elif at == len(book.entries):
            text = "\n".join(word_lines(book.words, width))
        else:
            text = "\n".join(told_lines(book, width, self._details))
        self.post_message(self.Told(at, text))

    def failed(self, error: BaseException) -> None:
        self._show(failure_words(error))

    # ---- showing

    def on_fragrance_book_screen_opened(self, message: Opened) -> None:
        book = self.book = message.book
        if not book.entries:
            self._wanted = ""
        found = book.matches(self._wanted)
        at = book.entries.index(found[0]) if found else 0
        self.query_one("#list", Rows).fill([False] * (len(book.entries) + 2), self._line, at)
        self._head()
        self._choose(at)

    def _head(self) -> None:
        from soapbench.fragrances.text import head_line

        if self.book:
            width = self.query_one("#list", Rows).size.width - 2
            self.query_one("#head", Static).update(f"  {head_line(width)}")

    @property
    def _width(self) -> int:
        return max(60, self.size.width - 3)

    def _line(self, row: int, width: int) -> Text:
        from soapbench.fragrances.text import PREDICTIONS, SUPPLIERS, entry_line

        book = self.book
        if book is None or row >= len(book.entries):
            last = book is not None and row > len(book.entries)
            return Text(PREDICTIONS if last else SUPPLIERS, Style(italic=True))
        return Text(entry_line(book.entries[row], width))

    def on_rows_moved(self, message: Rows.Moved) -> None:
        self._choose(message.index)

    def _choose(self, at: int) -> None:
        if self.book is None:
            return
        if at in self._told:
            self._show(self._told[at])
        else:
            self._work_out(self.book, at, self._width)

    def on_fragrance_book_screen_told(self, message: Told) -> None:
        self._told[message.at] = message.text
        if message.at == self.query_one("#list", Rows).at:
            self._show(message.text)

    def _show(self, text: str) -> None:
        lines = [clean(line) for line in text.splitlines()]
        if self.book is not None and not self.book.entries:
            from soapbench.fragrances.text import EMPTY

            lines = [EMPTY, "", *lines]
        self.query_one("#detail", Static).update("\n".join(lines))

    def on_resize(self) -> None:
        self._told.clear()
        self._head()
        self._choose(self.query_one("#list", Rows).at)

    def action_details(self) -> None:
        """Intervals and scores beside the predictions, or away again."""
        self._details = not self._details
        self.on_resize()

    def action_back(self) -> None:
        self.go(ToBench())
