"""What each fragrance taught, what is on the shelf, and how far the tool could be believed."""
