"""Invented worlds in which batters thicken, richer than the model that must foresee them."""
