"""Optional, by hand where atheris installs: bytes grown towards code not reached yet.

python tests/fuzz/coverage_guided.py plan -max_total_time=300 -rss_limit_mb=1000 -timeout=20

The kinds: plan, log, record, quantity, photograph, word (a fragrance as another maker found it),
additive, form (a plan's), materials (forms of own materials), spoken. What each
must do is in targets.py.
"""

from __future__ import annotations

import sys
from pathlib import Path

import atheris

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[2])]

with atheris.instrument_imports(include=["soapbench"]):
    from targets import TARGETS


if __name__ == "__main__":
    wanted = sys.argv.pop(1)
    atheris.Setup(sys.argv, TARGETS[wanted])
    atheris.Fuzz()
