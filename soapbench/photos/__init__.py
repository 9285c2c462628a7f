"""Photographs of cut bars, measured: how much of the face each colour covers, and how far down."""
