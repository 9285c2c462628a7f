"""What must never be lost: the log of a batch, durable before a screen says so."""
