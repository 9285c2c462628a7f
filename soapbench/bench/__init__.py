"""The bench: the maker's folder of plans, batches and tables, and what it all taught."""
