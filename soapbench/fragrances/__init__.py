"""What each fragrance taught, what is on the shelf, and how far the tool could be believed.

Read it in this order: ``book``, ``score``, ``suited``, ``text``, ``axis``, ``shelf``, ``handon``
and ``asjson``.
"""
