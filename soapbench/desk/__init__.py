"""The desk: a pour, its start, rehearsals and drafts, without a screen.

Read it in this order: ``pourlog``, ``pourdesk``, ``keys``, ``onebutton``, ``voice``, ``starting``,
``rehearsing``, ``openbench``, ``benchlist``, ``prefetch``, ``draft``, ``draftanswer``,
``plankeys``, ``planchanges``, ``rows``, ``planlayout``, ``materials``, ``colournames`` and
``photographs``.
"""
