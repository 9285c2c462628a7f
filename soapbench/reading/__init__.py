"""What is read from files of the maker's own: quantities, entries of tables, and their faults.

Read it in this order: ``units``, ``kitchen``, ``faults``, ``entries`` and ``safetext``.
"""
