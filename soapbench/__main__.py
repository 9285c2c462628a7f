"""``python -m soapbench``."""

import sys

from soapbench.cli import main

sys.exit(main())
