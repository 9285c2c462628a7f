"""From the spray to the end of the cure: what rests, what is due, how the cut came out.

Read it in this order: ``resting``, ``soapkind``, ``practice``, ``windows``, ``cure``, ``due``,
``dates``, ``cutreview`` and ``page``.
"""
