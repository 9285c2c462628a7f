"""Moves: what can be left out or put together while pouring, and the swirl stays the wish.

Each changes the stages ahead and nothing else, so that it is foreseen, logged and undone like a
way of its own. A move is written as its name and the pots it means, "together/rust/night".
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from soapbench.batter import Trace
from soapbench.swirls.stage import Need, Stage
from soapbench.words import ways as said
from soapbench.words.acts import COLOUR, LOW_AND_CLOSE, POUR_OFF

UNSCENTED, UNCOLOURED, TOGETHER = "rest unscented", "uncoloured", "together"
UNSCENTED_AT_ONCE = "unscented"
"""As it stands in older logs: it left out the fragrance in hand, too."""
LOW, WIRE_NOW = "low and close", "hanger at once"

Ahead = tuple[Stage, ...]


def moves_open(ahead: Sequence[Stage], scented: bool, dropped: bool) -> tuple[str, ...]:
    """Moves that change something of ``ahead``.

    ``scented``: some pot has its fragrance, so that leaving the others without is a move and not
    another soap; ``dropped``: something has been dropped into the base already.
    """
    moves = []
    scented = scented or any(stage.fragrance_into for stage in ahead[:1])
    if scented and any(stage.fragrance_into for stage in ahead[1:]):
        moves.append(UNSCENTED)
    uncoloured = [stage.pots[0] for stage in ahead[1:] if stage.action == COLOUR]
    if uncoloured:
        moves.append(f"{UNCOLOURED}/{uncoloured[0]}")
    moves += [f"{TOGETHER}/{one}/{other}" for one, other in _pairs(ahead)[:1]]
    if any(need.drawn for stage in ahead for need in stage.needs):
        moves.append(LOW)
    wire = next((i for i, stage in enumerate(ahead) if stage.draws_down), 0)
    if dropped and any(stage.drops for stage in ahead[1:wire]):
        moves.append(WIRE_NOW)
    return tuple(moves)


def _pairs(ahead: Sequence[Stage]) -> list[tuple[str, str]]:
    """Accents that have both still to be coloured and dropped: the last two to be coloured."""
    dropped = {stage.pots[0] for stage in ahead if stage.drops and len(stage.pots) == 1}
    coloured = [s.pots[0] for s in ahead[1:] if s.action == COLOUR and s.pots[0] in dropped]
    return [(coloured[-2], coloured[-1])] if len(coloured) > 1 else []


def moved(ahead: Sequence[Stage], move: str) -> Ahead | None:
    """The stages ahead after ``move``; None where it changes nothing or is unknown."""
    name, *pots = move.split("/")
    make = MOVES.get(name)
    rest = make(tuple(ahead), tuple(pots)) if make else None
    return rest if rest != tuple(ahead) else None


def words(move: str) -> str:
    """As it is offered."""
    name, *pots = move.split("/")
    if name in (UNSCENTED, UNSCENTED_AT_ONCE):
        return said.REST_UNSCENTED
    if name == UNCOLOURED:
        return said.no_colour(pots)
    if name == TOGETHER:
        return said.in_one_cup(pots)
    return {LOW: said.LOW_AND_CLOSE, WIRE_NOW: said.HANGER_NOW}.get(name, move)


def _unscented(ahead: Ahead, pots: tuple[str, ...]) -> Ahead:
    """What is in hand may be in its pot already: it stays."""
    return (*ahead[:1], *_unscented_at_once(ahead[1:], pots))


def _unscented_at_once(ahead: Ahead, pots: tuple[str, ...]) -> Ahead:
    return tuple(stage for stage in ahead if not stage.fragrance_into)


def _uncoloured(ahead: Ahead, pots: tuple[str, ...]) -> Ahead:
    return tuple(s for s in ahead if not (s.action == COLOUR and s.pots == pots))


def _together(ahead: Ahead, pots: tuple[str, ...]) -> Ahead | None:
    """The second pot's batter goes into the first's cup: one colour, one fragrance, one drop."""
    if len(pots) != 2:
        return None
    one, other = pots
    alone = [s for s in ahead if s.pots == (other,)]
    if not any(s.drops for s in alone):
        return None

    def both(stage: Stage) -> Stage:
        if stage.pots != (one,):
            return stage
        needs = tuple(
            replace(need, pots=pots) if need.pots == (one,) else need for need in stage.needs
        )
        fragrance_into = pots if stage.fragrance_into else ()
        more = next((s.median_s for s in alone if s.action == stage.action), 0.0)
        longer = stage.median_s + (0.3 * more if stage.drops else 0.1 * more)
        return replace(
            stage, pots=pots, fragrance_into=fragrance_into, needs=needs, median_s=longer,
            words=stage.words.replace(one, " and ".join(pots)),
        )  # fmt: skip

    kept = (s for s in ahead if s.pots != (other,) or s.action == POUR_OFF)
    return tuple(both(stage) for stage in kept)


def _low(ahead: Ahead, pots: tuple[str, ...]) -> Ahead:
    """Poured low and close a drop lies tidily on a base of medium trace: in part."""

    def lower(need: Need) -> Need:
        if not need.drawn:
            return need
        return replace(need, in_part=max(need.limits()[1], Trace.MEDIUM))

    return tuple(
        replace(
            s, needs=tuple(lower(n) for n in s.needs), words=LOW_AND_CLOSE.format(words=s.words)
        )
        if any(need.drawn for need in s.needs)
        else s
        for s in ahead
    )


def _wire_now(ahead: Ahead, pots: tuple[str, ...]) -> Ahead:
    """The wire right after what is in hand; what is dropped after it lies on top."""
    wires = tuple(s for s in ahead[1:] if s.draws_down)
    rest = tuple(s for s in ahead[1:] if not s.draws_down)
    return (*ahead[:1], *wires, *rest)


MOVES: dict[str, Callable[[Ahead, tuple[str, ...]], Ahead | None]] = {
    UNSCENTED: _unscented,
    UNSCENTED_AT_ONCE: _unscented_at_once,
    UNCOLOURED: _uncoloured,
    TOGETHER: _together,
    LOW: _low,
    WIRE_NOW: _wire_now,
}
