"""Papers: record, report, charts, calendar and spreadsheets of a batch.

Read it in this order: ``record``, ``materials``, ``report``, ``charts``, ``chartsvg``,
``calendar``, ``spreadsheets``, ``batchsheet``, ``saponified``, ``label`` and ``commands``.
"""
