"""A pour without soap: a simulated batter, simulated hands, and how it went.

Read it in this order: ``rehearsal``, ``hands``, ``lateness``, ``report`` and ``text``.
"""
