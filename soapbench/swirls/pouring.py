"""Stages of the pour itself: each move of a swirl for the pots it is poured from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from soapbench.batter import Trace
from soapbench.plan import Plan
from soapbench.swirls.stage import Need, Stage
from soapbench.swirls.table import Move, SwirlKind, Window
from soapbench.words.acts import (
    sentence,
)


def pouring_stages(
    kinds: Sequence[SwirlKind],
    plan: Plan,
    ml: Mapping[str, float],
    in_mould: Sequence[str] = (),
    in_base: Sequence[str] = (),
) -> list[Stage]:
    """Stages of the swirl steps ``kinds`` for what is not ``in_mould`` yet.

    ``in_base`` are accents already poured into the base's pot: they go where it goes.
    """
    mould = list(in_mould)
    merged = list(in_base)
    made: list[Stage] = []
    volume = dict(ml)
    for pot in merged:
        volume[plan.base.name] += ml[pot]
    for kind in kinds:
        for move in kind.moves:
            for pots in _hands(move, plan, mould, merged):
                made.append(_pour_stage(kind, move, pots, plan, volume, mould))
                if move.puts == "mould":
                    mould += pots
                elif move.puts == "base":
                    merged += pots
                    volume[plan.base.name] += sum(ml[pot] for pot in pots)
    return made


def _hands(
    move: Move, plan: Plan, mould: Sequence[str], merged: Sequence[str]
) -> list[tuple[str, ...]]:
    """The pots of each stage a move becomes; what is poured already takes no part."""
    left = [p.name for p in plan.pots if p.name not in mould and p.name not in merged]
    base = plan.base.name
    if move.pots == "mould":
        return [tuple(mould)]
    if move.pots == "all":
        return [tuple(left)] if left else []
    if move.pots == "base":
        return [(base,)] if base in left else []
    return [(pot,) for pot in left if move.pots == "each pot" or pot != base]


def _pour_stage(
    kind: SwirlKind,
    move: Move,
    pots: tuple[str, ...],
    plan: Plan,
    volume: Mapping[str, float],
    mould: Sequence[str],
) -> Stage:
    needs = []
    if move.pots != "mould":
        needs.append(_need(pots, move.hand))
    if move.base:
        needs.append(_need((plan.base.name,), move.base))
    onto = (mould[-1],) if mould and move.mould_by == "last" else tuple(mould)
    if move.mould_by == "base" and plan.base.name in mould:
        onto = (plan.base.name,)
    if move.mould and mould:
        needs.append(_need(onto, Window(move.mould.earliest)))
        needs.append(_in_mould(move, mould))
    if move.mould and not mould and move.pots == "all":  # filled as it is poured
        needs.append(_in_mould(move, pots))
    one = len(pots) == 1 and move.pots != "mould"
    return Stage(
        id=f"{kind.name}/{move.do}" + (f"/{pots[0]}" if one else ""),
        action=move.do,
        words=sentence(move.do, pots[0] if one and len(plan.pots) > 1 else ""),
        pots=pots,
        median_s=move.handwork.seconds(sum(volume[p] for p in pots), max(len(pots), 1)),
        spread=move.handwork.spread,
        needs=tuple(needs),
        litres=sum(volume[p] for p in pots) / 1000,
        puts=move.puts,
        step=kind.name,
        manner=move.manner,
        onto=onto,
        draws_down=move.draws_down,
    )


def _need(pots: tuple[str, ...], window: Window) -> Need:
    return Need(pots, window.earliest, window.latest, window.in_part)


def _in_mould(move: Move, pots: Sequence[str]) -> Need:
    """How thick ``pots``, in the mould, may be at the end of ``move``."""
    window, drawn = move.mould or Window(), move.mould_drawn
    limits = (drawn.latest, drawn.in_part) if drawn else None
    return Need(tuple(pots), Trace.EMULSION, window.latest, window.in_part, limits)


def left_unpoured(made: Iterable[Stage], plan: Plan) -> tuple[str, ...]:
    """Pots that no stage brings into the mould."""
    merged: set[str] = set()
    mould: set[str] = set()
    for stage in made:
        if stage.puts == "base":
            merged.update(stage.pots)
        elif stage.puts == "mould":
            mould.update(stage.pots)
    if plan.base.name in mould:
        mould |= merged
    return tuple(pot.name for pot in plan.pots if pot.name not in mould)
