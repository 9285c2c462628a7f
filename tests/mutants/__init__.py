"""Whether the tests would notice: see ``python -m tests.mutants --help``."""
