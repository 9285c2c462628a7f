"""soapbench: pour multi-coloured cold-process soap while it can still be poured."""

__version__ = "0.1.0"
