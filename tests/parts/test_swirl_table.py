"""The swirl table at its bounds: what is read, what is a fault, what is left out."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from soapbench.swirls.table import (
    Handwork,
    Manner,
    Move,
    SwirlKind,
    SwirlTable,
    Window,
    WireLed,
    swirl_table,
)


def read(move: dict[str, Any] | None = None, **swirl: Any) -> tuple[SwirlTable, list[str]]:
    written = {"do": "ladle", "median_s": 30, **(move or {})}
    swirls = {"ladles": {"says": "Ladle.", "moves": [written], **swirl}}
    table, faults = swirl_table({"source": "a test", "verified": "no", "swirl": swirls})
    return table, [fault.key for fault in faults]


@pytest.mark.parametrize(
    ("key", "least", "most"),
    [("median_s", 1, 36_000), ("spread", 0.02, 2), ("volume_power", 0, 1)],
)
def test_times_are_read_between_their_bounds(key: str, least: float, most: float) -> None:
    """From a second to ten hours; spread .02 to 2; no work grows faster than its litres (ours)."""
    for value, sound in ((least, True), (most, True), (least - 0.01, False), (most + 0.01, False)):
        _, faults = read({key: value})
        assert faults == ([] if sound else [f"swirl.ladles.moves[1].{key}"])


@pytest.mark.parametrize(
    ("least", "most", "faults"),
    [
        (1, 12, []), (12, 12, []), (2, 2, []),
        (0, 12, ["least_pots"]), (13, 12, ["least_pots"]),
        (3, 2, ["most_pots"]), (1, 13, ["most_pots"]), (1, 0, ["most_pots"]),
    ],
)  # fmt: skip
def test_pots_of_a_swirl_are_one_to_twelve(least: int, most: int, faults: list[str]) -> None:
    _, wrong = read(least_pots=least, most_pots=most)
    assert wrong == [f"swirl.ladles.{key}" for key in faults]


def test_what_a_swirl_does_not_say() -> None:
    table, faults = read()
    kind = table.kinds["ladles"]
    assert faults == []
    assert (kind.least_pots, kind.most_pots, kind.cooked, kind.saves) == (1, 12, False, False)
    assert (kind.mind, kind.source, kind.verified) == ("", "a test", "no")
    assert not kind.draws_down
    (move,) = kind.moves
    assert move.handwork == Handwork(30.0, 0.3, 0.0, per_pot=False)
    assert (move.pots, move.mould_by, move.manner) == ("each pot", "base", Manner.FILL)
    bare = SwirlKind("x", "", "pour", ("pots",), (Move("x", "all", Handwork(1.0, 0.3)),))
    assert (bare.least_pots, bare.most_pots, bare.cooked, bare.saves) == (1, 12, False, False)
    assert (bare.draws_down, bare.moves[0].hand) == (False, Window())


def test_a_swirl_draws_down_where_one_of_its_moves_does_and_no_pot_named_is_one() -> None:
    work = Handwork(30.0, 0.3, per_pot=True)
    still = Move("comb", "mould", work)
    moves = (still, replace(still, draws_down=True))
    assert SwirlKind("x", "", "tool", ("mould",), moves).draws_down
    assert not SwirlKind("x", "", "tool", ("mould",), moves[:1]).draws_down
    assert (work.seconds(1000.0), work.seconds(1000.0, 2)) == (30.0, 60.0)


def test_without_a_time_nothing_is_taken_for_one() -> None:
    table, faults = swirl_table(
        {"source": "a test", "verified": "no", "handwork": {"ladle": {"spread": 0.3}}}
    )
    assert [fault.key for fault in faults] == ["handwork.ladle.median_s"]
    assert table.handwork["ladle"].median_s == -1.0, "as it says itself: no time"


def test_a_tool_is_led_and_a_pour_is_poured() -> None:
    tool, _ = read({"draws_down": True}, role="tool")
    assert tool.kinds["ladles"].moves[0].manner is WireLed.UP_DOWN
    assert tool.kinds["ladles"].draws_down
    assert read({"manner": "loops"}, role="tool")[1] == []
    assert read({"manner": "loops"})[1] == ["swirl.ladles.moves[1].manner"]
    assert read({"manner": "embed"})[1] == ["swirl.ladles.moves[1].manner"]


def test_only_pours_are_pours_and_a_swirl_with_a_fault_is_none() -> None:
    assert [k.name for k in read()[0].pours] == ["ladles"]
    assert read(role="top")[0].pours == ()
    assert read({"puts": "mould"})[0].kinds["ladles"].moves[0].puts == "mould"
    assert read({"puts": "floor"})[0].kinds == {}
    two = {"says": "x", "moves": [{"do": "a", "median_s": 5}, {"do": "", "median_s": 5}]}
    _, faults = swirl_table({"source": "s", "verified": "no", "swirl": {"x": two}})
    assert [fault.key for fault in faults] == ["swirl.x.moves[2].do"]
