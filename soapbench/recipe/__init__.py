"""How much of everything: oils, lye, water, pots, colours and fragrance, and what to mind."""
