"""The plan sheet: a plan with all that is known of it, and how that is said."""
