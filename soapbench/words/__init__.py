"""How things are said: the texts a maker meets, a module a kind, and figures written one way.

Nothing in here knows a value of the trade above it; the trade uses ``acts``, ``numbers``, ``ways``
and ``curing`` itself. What is said elsewhere, and why:

* what is wrong with an entry of a file, and how to write it, beside the rule that finds it: each
  rule once (``plan``, ``reading``, the readers of tables in ``swirls``, ``recipe``,
  ``aftercare.practice``, ``settings``);
* a whole page of text of one value of the trade, beside that: ``sheet``, ``rehearsal.text``,
  ``fragrances.text``, ``aftercare.page``, ``papers.templates``; and names that logs or settings
  hold, where they are listed (``batter``, ``log``, ``troubles``, ``desk.keys``);
* cautions, swirls and materials in ``data``.

``tests/test_words.py`` reads all of it, wherever it stands.
"""
