"""What several of these tests begin with."""

from __future__ import annotations

from soapbench.outlook.finishing import Outlook

NONE = Outlook(
    chance=1.0, chance_in_part=0.0, worth=1.0, minutes=0.0, to_spare_s=0.0, in_part=False,
    saves=False, stages=(), tightest=None, fragrance_in_s={}, time_left_from_fragrance_s={},
    room_s={}, window_s={},
)  # fmt: skip
"""Of a pour of which nothing is left to do."""
