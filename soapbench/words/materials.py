"""What the screens say of the maker's own oils, colours, fragrances, swirls and additives."""

from __future__ import annotations

YOUR_OWN = "Your own: "
MOVE_STAYS = "A move keeps its values; edit them"
SAVED = "Saved"


def name_of(kind: str, new: bool) -> str:
    return f"Name of a new {kind}" if new else f"Name of the {kind}"


def there_already(name: str) -> str:
    return f"{name} is there already"


def like_which(name: str, kind: str) -> str:
    return f"{name}: like which {kind}?"


def needs(name: str, what: str) -> str:
    return f"Not saved: {name} needs its {what}"


def new_one(kind: str) -> str:
    return f"+ {kind}"
