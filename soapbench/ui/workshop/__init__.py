"""The plan workshop: making and changing a plan in the app."""
