"""The bench: the maker's folder of plans, batches and tables, and what it all taught.

Read it in this order: ``folder``, ``tables``, ``planfile``, ``planfaults``, ``planedit``,
``plannamed``, ``batchfile``, ``index``, ``summary``, ``readers``, ``helpers``, ``learned``,
``settingsfile``, ``owntable``, ``samples``, ``joining``, ``keptsheets``, ``photofile`` and
``handonfile``.
"""
