"""Words of a hold: ours, another machine's, nobody's."""

from __future__ import annotations

import json
import os
import socket
from pathlib import Path

from soapbench.logfile.hold import Holder, hold_path

HERE, BOOT = socket.gethostname(), "boot-a"
MINE = {"pid": os.getpid(), "host": HERE, "boot_id": BOOT}
ELSEWHERE = {"pid": 7, "host": "the other laptop", "boot_id": "boot-x"}
NOBODY_SURE = Holder(0, "", "", sure=False)


def with_words(log: Path, words: dict[str, object] | bytes) -> None:
    text = words if isinstance(words, bytes) else json.dumps(words).encode()
    hold_path(log).write_bytes(text)
