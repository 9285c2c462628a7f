"""The screens. They show the trade and pass keys on; no rule of the trade lives here."""
