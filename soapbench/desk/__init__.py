"""The desk: a pour, its start, rehearsals and drafts, without a screen."""
