"""How things are said: the texts a maker meets, a module a kind, and figures written one way.

``acts``, ``numbers`` and ``review`` know nothing of the trade, which uses them; the others may.
What makes a whole page of text of the trade's values stands beside those: ``sheet.text``,
``rehearsal.text``, ``fragrances.text``, ``papers.templates``. Texts of cautions, swirls and
materials are in ``data``.
"""
