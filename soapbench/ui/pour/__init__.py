"""The pour: set-out before it, the pour itself, and the summary after it."""
