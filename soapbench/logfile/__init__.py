"""What must never be lost: the log of a batch, durable before a screen says so.

Read it in this order: ``records``, ``batchlog``, ``durable``, ``hold``, ``clock``, ``slowdisk``,
``patience``, ``door``, ``tomlfile`` and ``tomltext``.
"""
