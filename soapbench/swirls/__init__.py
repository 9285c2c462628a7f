"""Swirls: how they are poured. Read it in this order:

``table`` (kinds of swirl, move by move), ``stage`` (one timed piece of handwork), ``pouring`` (the
moves of a pour as stages), ``stages`` (a plan's, from lye to top), ``cooking`` (hot process) and
``moves`` (what can be left out or put together while pouring).
"""
