"""Advice: which way to finish is worth most, and what would help. Read it in this order:

``ways`` (every way to finish from here), ``switching`` (until when a backup can wait), ``reasons``
(why, and how to pour now), ``known`` and ``moment`` (what all this goes by), ``advise`` (a pour
from where it stands), ``foreseen`` (a plan before it is poured), then ``levers`` (one change of a
plan) and ``changes`` (the smallest set of them that helps).
"""
