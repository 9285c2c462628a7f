"""The fragrance book: a list of fragrances, and all that is known of the one in hand."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.style import Style
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.widgets import Static

from soapbench.reading.faults import FileFaults
from soapbench.reading.safetext import clean
from soapbench.ui.basescreen import BaseScreen, failure_words, in_background
from soapbench.ui.dialogs import Words
from soapbench.ui.keyline import KeyLine
from soapbench.ui.rows import Rows
from soapbench.ui.ways import ToBench
from soapbench.words.commands import NEW_WORD, OLD_WORD, written
from soapbench.words.dialogs import (
    BOOK_KEYS,
    BOOK_READING,
    BOOK_TITLE,
    HANDED_ON,
    NO_FRAGRANCE,
    TAKE_IN,
)

if TYPE_CHECKING:
    from soapbench.fragrances.book import FragranceBook


class FragranceBookScreen(BaseScreen[None]):
    """``name``: the fragrance to open the book at; empty: the first."""

    AUTO_FOCUS = "#list"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("h", "hand_on", BOOK_KEYS["hand_on"], id="fragrances.hand_on"),
        Binding("t", "take_in", BOOK_KEYS["take_in"], id="fragrances.take_in"),
        Binding("d", "details", BOOK_KEYS["details"], id="fragrances.details"),
        Binding("escape", "back", BOOK_KEYS["back"], id="fragrances.back"),
    ]

    class Opened(Message):
        """The book has been worked out."""

        def __init__(self, book: FragranceBook) -> None:
            self.book = book
            super().__init__()

    class Described(Message):
        """What is known of the line ``at``."""

        def __init__(self, at: int, text: str) -> None:
            self.at, self.text = at, text
            super().__init__()

    class Handed(Message):
        """A file was written or taken in; ``taken``: the fragrance it was about, if it changed."""

        def __init__(self, text: str, taken: str = "") -> None:
            self.text, self.taken = text, taken
            super().__init__()

    def __init__(self, name: str = "") -> None:
        super().__init__()
        self._wanted = name
        self.book: FragranceBook | None = None
        self._texts: dict[int, str] = {}
        self._details = False
        self._handed = ""
        self._handed_at: int | None = None
        """The line it was said at; None: where the book opens next."""

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
        self.post_message(self.Described(at, text))

    @in_background("hand on")
    def _write(self, name: str) -> None:
        from soapbench.bench.handonfile import file_name, text_of
        from soapbench.fragrances.handon import NothingLearned, word_of, words
        from soapbench.logfile.durable import make_folder, write_new

        entry = next(e for e in self.book.entries if e.name == name) if self.book else None
        if entry is None:
            return
        try:
            word = word_of(self.app.memory().known.fit, entry.name, entry.reputation)
        except NothingLearned as why:
            self.post_message(self.Handed(f"! {why}"))
            return
        folder = self.app.bench.folder / "reports"
        make_folder(folder)
        file = folder / file_name(word)
        write_new(file, text_of(word, self.app.clock.read().at.date()).encode(), over=True)
        reply = f"{words(word)}\n{HANDED_ON}\n{written(str(file))}"
        self.post_message(self.Handed(reply))

    @in_background("take in")
    def _take(self, typed: str) -> None:
        from soapbench.bench.handonfile import read_word, take_in
        from soapbench.bench.photofile import typed_path
        from soapbench.fragrances.handon import words

        try:
            word = read_word(typed_path(typed))
            older = take_in(self.app.bench.folder, word)
        except FileFaults as refused:
            lines = [fault.words(refused.file) for fault in refused.faults]
            self.post_message(self.Handed("\n".join(f"! {line}" for line in lines)))
            return
        except ValueError as why:  # no path at all
            self.post_message(self.Handed(f"! {why}"))
            return
        reply = f"{words(word)}\n{OLD_WORD if older else NEW_WORD}"
        self.post_message(self.Handed(reply, word.name))

    def failed(self, error: BaseException) -> None:
        self._show(failure_words(error))

    # ---- showing

    def on_fragrance_book_screen_opened(self, message: Opened) -> None:
        book = self.book = message.book
        if not book.entries:
            self._wanted = ""
        matches = book.matches(self._wanted)
        at = book.entries.index(matches[0]) if matches else 0
        if self._handed_at is None:
            self._handed_at = at
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
        if self.query_one("#list", Rows).at != self._handed_at:
            self._handed = ""
        if self.book is None:
            return
        if at in self._texts:
            self._show(self._texts[at])
        else:
            self._work_out(self.book, at, self._width)

    def on_fragrance_book_screen_described(self, message: Described) -> None:
        self._texts[message.at] = message.text
        if message.at == self.query_one("#list", Rows).at:
            self._show(message.text)

    def _show(self, text: str) -> None:
        lines = [clean(line) for line in f"{self._handed}{text}".splitlines()]
        if self.book is not None and not self.book.entries:
            from soapbench.fragrances.text import EMPTY

            lines = [EMPTY, "", *lines]
        self.query_one("#detail", Static).update("\n".join(lines))

    def on_resize(self) -> None:
        self._texts.clear()
        self._head()
        self._choose(self.query_one("#list", Rows).at)

    def on_fragrance_book_screen_handed(self, message: Handed) -> None:
        """What came of it, above the entry until another is chosen."""
        self._handed = f"{message.text}\n\n"
        self._handed_at = self.query_one("#list", Rows).at
        if message.taken:
            self.app.forget()
            self._wanted, self._handed_at = message.taken, None
            self._texts.clear()
            self._open()
        else:
            self._choose(self._handed_at)

    def action_hand_on(self) -> None:
        at = self.query_one("#list", Rows).at
        if self.book is None or at >= len(self.book.entries):
            self.post_message(self.Handed(f"! {NO_FRAGRANCE}"))
        else:
            self._write(self.book.entries[at].name)

    def action_take_in(self) -> None:
        self.app.push_screen(Words(TAKE_IN), self._named)

    def _named(self, typed: str | None) -> None:
        if typed:
            self._take(typed)

    def action_details(self) -> None:
        """Intervals and scores beside the predictions, or away again."""
        self._details = not self._details
        self.on_resize()

    def action_back(self) -> None:
        self.go(ToBench())
