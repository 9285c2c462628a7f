"""How much of everything: oils, lye, water, pots, colours and fragrance, and what to mind.

Read it in this order: ``oils``, ``lye``, ``alkali``, ``oilamounts``, ``fats``, ``superfat``,
``batch``, ``additives``, ``colourants``, ``fragrances``, ``pots``, ``amounts``, ``warmth``,
``browning``, ``severity``, ``problems`` and ``cautions``.
"""
