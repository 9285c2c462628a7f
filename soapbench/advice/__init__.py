"""Advice: which way to finish is worth most, and what would help. Read it in this order:

``ways`` (every way to finish from here), ``switching`` (until when a backup can wait), ``reasons``
(why, and how to pour now), ``advise`` (all of it for a plan or a pour), then ``levers`` (one change
of a plan) and ``changes`` (the smallest set of them that helps).
"""
