"""Said things aloud by what the machine has, or by a command of the maker's own.

A newer word replaces an older one: what is being said is cut short and nothing queues. Said
returns at once, whatever the command does; one that hangs is ended, and one that cannot be run is
told once and not tried again.
"""

from __future__ import annotations

import contextlib
import os
import shlex
import shutil
import subprocess
import sys
import threading
from collections.abc import Callable, Mapping, Sequence

from soapbench.settings import Sound
from soapbench.words.dialogs import VOICE_MISSING, cannot_speak, speaks_too_long, speech_failed

LONGEST_S = 20.0
"""No sentence of ours takes longer: after this the command hangs and is ended (ours)."""
OWN = "SOAPBENCH_VOICE"
"""The maker's own command, from the environment: a bench may come from somebody else, and a file
in it must not choose what this computer runs."""
TEXT = "{}"
"""Where in a command the words go; at its end without it."""

_WINDOWS = (
    "Add-Type -AssemblyName System.Speech;"
    "(New-Object System.Speech.Synthesis.SpeechSynthesizer).Speak([Console]::In.ReadToEnd())"
)
MACHINES: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("spd-say", ("spd-say", "--wait", "--", TEXT)),
    ("espeak-ng", ("espeak-ng", "--", TEXT)),
    ("say", ("say", "--", TEXT)),
    ("powershell", ("powershell", "-NoProfile", "-Command", _WINDOWS)),
)
"""What machines have that speaks, the likeliest first. The last takes its words from its input:
on a command line they would be taken for a program."""


def command_of(
    own: str, which: Callable[[str], str | None] = shutil.which
) -> tuple[str, ...] | None:
    """The command that speaks: the maker's own, else what the machine has; None for neither.

    Raises ValueError for a command whose quotes do not close.
    """
    if own.strip():
        return tuple(shlex.split(own, posix=os.name != "nt"))
    return next((words for name, words in MACHINES if which(name)), None)


def with_text(command: Sequence[str], text: str) -> tuple[list[str], bytes | None]:
    """The command line that says ``text``, and what goes to its input."""
    if _WINDOWS in command:
        return list(command), text.encode()
    if any(TEXT in word for word in command):
        return [word.replace(TEXT, text) for word in command], None
    return [*command, text], None


class Voice:
    """One voice. ``say`` never waits; the newest words win; ``close`` ends what is being said."""

    def __init__(self, command: Sequence[str], longest_s: float = LONGEST_S) -> None:
        self._command = tuple(command)
        self._longest_s = longest_s
        self._lock = threading.Condition()
        self._next: str | None = None
        self._saying: subprocess.Popen[bytes] | None = None
        self._closed = self._busy = False
        self._thread: threading.Thread | None = None
        self.fault = ""
        """Why nothing is heard; empty while all is well."""

    def say(self, text: str) -> None:
        """Say this now, in place of whatever is being said. Returns at once."""
        if not text or self.fault:
            return
        with self._lock:
            if self._closed:
                return
            self._next, self._busy = text, True
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="voice", daemon=True)
                self._thread.start()
            self._end(self._saying)
            self._lock.notify()

    def close(self) -> None:
        with self._lock:
            self._closed, self._next = True, None
            self._end(self._saying)
            self._lock.notify()

    def silent_within(self, timeout_s: float) -> bool:
        """Whether the thread that speaks has nothing more to say within ``timeout_s``."""
        with self._lock:
            return self._lock.wait_for(lambda: not self._busy, timeout_s)

    # ---- on its own thread

    def _run(self) -> None:
        while not self.fault:
            with self._lock:
                self._lock.wait_for(lambda: self._closed or self._next is not None)
                if self._closed:
                    self._busy = False
                    self._lock.notify_all()
                    return
                text, self._next = self._next or "", None
            self._speak(text)

    def _speak(self, text: str) -> None:
        words, given = with_text(self._command, text)
        saying = self._start(words, given)  # not under the lock: a slow disk starts it slowly
        fault = self.fault
        if saying:
            with self._lock:
                self._saying = saying
                if self._newer():
                    self._end(saying)
            fault = self._wait(saying, given)
        with self._lock:
            self._saying = None
            self._busy = self._next is not None
            self.fault = "" if self._newer() else fault
            self._lock.notify_all()

    def _newer(self) -> bool:
        """Whether what is being said is to be cut short."""
        return self._closed or self._next is not None

    def _start(self, words: list[str], given: bytes | None) -> subprocess.Popen[bytes] | None:
        try:
            return subprocess.Popen(
                words,
                stdin=subprocess.DEVNULL if given is None else subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=sys.platform != "win32",
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or str(error)
            self.fault = cannot_speak(words[0], why)
            return None

    def _wait(self, saying: subprocess.Popen[bytes], given: bytes | None) -> str:
        """What went wrong; "" for nothing."""
        try:
            saying.communicate(given, timeout=self._longest_s)
        except subprocess.TimeoutExpired:
            self._end(saying)
            saying.wait()
            return speaks_too_long(self._command[0], self._longest_s)
        except OSError:
            saying.wait()
        failed = saying.returncode > 0
        return speech_failed(self._command[0], saying.returncode) if failed else ""

    def _end(self, saying: subprocess.Popen[bytes] | None) -> None:
        if saying is None or saying.poll() is not None:
            return
        with contextlib.suppress(OSError):
            if sys.platform == "win32":
                saying.kill()
            else:  # a shell's own children too
                os.killpg(saying.pid, 9)


def voice_of(sound: Sound, environ: Mapping[str, str]) -> tuple[Voice | None, str]:
    """The voice asked for, and why there is none although one was."""
    if sound != "voice":
        return None, ""
    try:
        command = command_of(environ.get(OWN, ""))
    except ValueError as error:
        return None, f"{OWN}: {error}"
    if not command:
        return None, VOICE_MISSING.format(name=OWN)
    return Voice(command), ""
