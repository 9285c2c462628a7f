"""Photographs of cut bars, measured: how much of the face each colour covers, and how far down.

Read it in this order: ``colour``, ``finding``, ``lighting``, ``measure`` and ``upright``.
"""
