"""A pour without soap: a simulated batter, simulated hands, and how it went."""
