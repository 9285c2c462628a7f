"""Bytes from a terminal made into messages. Whatever they are, the next key is heard.

The toolkit's own input thread (Textual 8.2) ends the app, or goes deaf, at bytes that are not
UTF-8, at key codes no character has (``chr`` of 0x110000 and above, or of half a surrogate
pair), at numbers of thousands of digits, and it takes the rest of a torn report for keys: of a
mouse report cut short, "1" would be a tap on emulsion. Here that is mended, in one place.
"""

from __future__ import annotations

import time
from codecs import getincrementaldecoder
from collections.abc import Callable, Iterable, Iterator
from unicodedata import category

from textual import events
from textual._xterm_parser import XTermParser
from textual.geometry import Size
from textual.message import Message

MOST_COLUMNS, MOST_ROWS = 2000, 1000
"""No terminal is larger; drawing one that says so would take all there is of memory."""
PASTE_S = 1.0
"""A paste whose end never comes is over after so long without a byte."""
LONGEST_PASTE = 100_000
_PASTE, _PASTED = "\x1b[200~", "\x1b[201~"
_CSI_OF_8_BITS = "\x9b"
_PARAMETERS = frozenset("0123456789;:<=>?$ ")


class Keyboard:
    """What a terminal sends, in order. ``clock``: seconds, for pastes that never end."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._decode = getincrementaldecoder("utf-8")("replace").decode
        self._parser = XTermParser()
        self._clock = clock
        self._heard = clock()
        self._tail = ""
        self._pasting = 0
        self._dropping = False
        self._report = ""

    def feed(self, data: bytes) -> Iterator[Message]:
        """The messages that ``data`` completes."""
        self._heard = self._clock()
        for character in self._decode(data):
            yield from self._take(character)

    def tick(self) -> Iterator[Message]:
        """What is complete because nothing followed; to be called some times a second."""
        if self._pasting and self._clock() - self._heard > PASTE_S:
            yield from self.feed(_PASTED.encode())
        events = self._guarded(self._parser.tick)
        if not _torn(events):
            yield from fit(events)

    def _take(self, character: str) -> Iterator[Message]:
        if self._dropping:  # what is left of a report too long to be one
            self._dropping = character in _PARAMETERS
            return
        if character == _CSI_OF_8_BITS and not self._pasting:
            yield from self._take("\x1b")
            character = "["
        self._tail = (self._tail + character)[-len(_PASTE) :]
        if self._tail in (_PASTE, _PASTED):
            self._pasting = int(self._tail == _PASTE)
        elif self._pasting:
            self._pasting += 1
            if self._pasting > LONGEST_PASTE and character != "\x1b" and "\x1b" not in self._tail:
                return
        events = self._guarded(lambda: self._parser.feed(character))
        if _torn(events):
            self._dropping = _is_key(events[1], "left_square_bracket") and character in _PARAMETERS
            return
        yield from fit(events)
        if not self._pasting and self._ends_a_report(character):
            # The toolkit waits for more of what is whole, and would take the next key for it.
            self._anew()

    def _ends_a_report(self, character: str) -> bool:
        """Whether this is the end of a report that the toolkit knows nothing of."""
        if character == "\x1b":
            self._report = character
        elif self._report == "\x1b":
            self._report = self._report + character if character == "[" else ""
        elif self._report:
            begun = len(self._report) == 2 and character in "[M"  # these two have something after
            whole = not begun and "@" <= character <= "~"
            self._report = "" if whole else (self._report + character)[:40]
            return whole and self._parser._timeout_time is not None
        return False

    def _anew(self) -> None:
        """Begin afresh; what is known of the terminal stays."""
        old, self._parser, self._report = self._parser, XTermParser(), ""
        for known in ("mouse_pixels", "terminal_size", "terminal_pixel_size", "last_x", "last_y"):
            setattr(self._parser, known, getattr(old, known))

    def _guarded(self, parse: Callable[[], Iterable[Message]]) -> list[Message]:
        try:
            return list(parse())
        except Exception:  # noqa: BLE001  # the toolkit's: any of them, and none may end a pour
            self._anew()
            return []


def _torn(events: list[Message]) -> bool:
    """Whether these are a report cut short or too long, given back letter by letter."""
    begins = ("circumflex_accent", "left_square_bracket", "right_square_bracket")
    return len(events) > 1 and any(_is_key(events[0], name) for name in begins)


def _is_key(message: Message, name: str) -> bool:
    return isinstance(message, events.Key) and message.key == name


def fit(sent: Iterable[Message]) -> Iterator[Message]:
    """Those that mean something, with nothing in them that could steer a terminal."""
    for message in sent:
        if isinstance(message, events.Paste):
            message.text = shown(message.text)
            yield message
        elif isinstance(message, events.Key):
            if (key := _fit_key(message)) is not None:
                yield key
        elif isinstance(message, events.Resize):
            if fits(message.size):
                yield message
        elif isinstance(message, events.MouseEvent):
            if message.screen_x < MOST_COLUMNS and message.screen_y < MOST_ROWS:
                yield message
        else:
            yield message


def fits(size: Size) -> bool:
    """Whether a terminal can have this size."""
    return 0 < size.width <= MOST_COLUMNS and 0 < size.height <= MOST_ROWS


def _fit_key(key: events.Key) -> events.Key | None:
    character = key.character
    if character is None or character.isprintable() or (character.isascii() and len(character) < 2):
        return key
    return events.Key("space", " ") if category(character[0]) == "Zs" else None


def shown(text: str) -> str:
    """``text`` without what no widget should draw: controls, marks of direction, half characters.

    Ends of lines stay, since a field takes only the first line.
    """
    return "".join(
        c if c.isprintable() or c == "\n" else " " if c.isspace() and c != "\r" else ""
        for c in text.replace("\r\n", "\n").replace("\r", "\n")
    )
