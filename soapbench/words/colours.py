"""Colours as makers name them. The values are ours, by eye: the middle of what bears a name."""

from __future__ import annotations

from collections.abc import Mapping

NAMES: Mapping[str, str] = {
    "white": "#f7f6f2", "milk": "#f3eee0", "cream": "#efe5cc", "ivory": "#f2ead3",
    "oatmeal": "#d9c9a8", "sand": "#d3b98c", "honey": "#d9a441", "butter": "#f0d98a",
    "lemon": "#f2dc4e", "saffron": "#eaa221", "gold": "#c9992e", "ochre": "#bf862f",
    "amber": "#c97a1e", "apricot": "#f0ac78", "peach": "#f2b79b", "orange": "#e07a26",
    "pumpkin": "#cf6a1f", "terracotta": "#b5583c", "rust": "#9c4a26", "brick": "#94392f",
    "red": "#b3272d", "raspberry": "#a52a55", "rose": "#c9657f", "pink": "#e39ab0",
    "blush": "#eac3bb", "plum": "#6d2f56", "wine": "#6a1f33", "violet": "#6a4a94",
    "lavender": "#a99ac6", "lilac": "#c2a5cf", "purple": "#6f3c83", "indigo": "#38356f",
    "night": "#1d2238", "navy": "#1f2f55", "blue": "#2f5fa8", "denim": "#46678f",
    "sky": "#8fb8d9", "ice": "#cfe2e8", "teal": "#23787a", "sea green": "#4f9a86",
    "mint": "#a9d6bb", "sage": "#9aa884", "moss": "#6b7a3a", "olive": "#7a7436",
    "green": "#3f7f45", "forest": "#26512f", "spinach": "#48602c", "chocolate": "#4b2e21",
    "coffee": "#5d4334", "cocoa": "#70503e", "brown": "#6b4423", "tan": "#b48a60",
    "clay": "#b08a72", "stone": "#a8a294", "grey": "#8a8a8a", "silver": "#c3c6c8",
    "slate": "#53616e", "charcoal": "#33373b", "black": "#161616", "turquoise": "#35a7a5",
}  # fmt: skip
SHADES = ("dark", "deep", "light", "pale", "bright", "dusty")
"""Words that go before a name."""
UNKNOWN = 'Don\'t know that colour. Try "dark red", "cream", or #8a2020'
