"""The plan sheet: a plan with all that is known of it, and how that is said.

Read it in this order: ``weighing``, ``plansheet``, ``front``, ``text``, ``screenlines``,
``setout``, ``actwords`` and ``asjson``.
"""
