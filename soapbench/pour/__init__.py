"""A pour under way. Read it in this order:

``state`` (where every pot and stage stands), ``events`` (what each event of the log does to it),
``bytaps`` (how it came out, by its taps) and ``history`` (what may be learned from it).
"""
