"""Swirls: how they are poured. Read it in this order:

``table`` (kinds of swirl, move by move), ``stages`` (a plan's swirl as timed steps of handwork),
``cooking`` (hot process) and ``moves`` (what can be left out or put together while pouring).
"""
