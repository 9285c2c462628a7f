"""Stages of the pour itself: each move of a swirl for the pots it is poured from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from soapbench.batter import Trace
from soapbench.plan import Embed, Plan
from soapbench.reading.safetext import clean
from soapbench.swirls.stage import Need, Stage
from soapbench.swirls.table import Move, SwirlKind, SwirlTable, Window
from soapbench.words.acts import into_mould, lay_in, mould_name, sentence

PLAIN = "plain pour"


@dataclass(frozen=True, slots=True)
class Lot:
    """What is poured together: the pots of a mould, and the base among them."""

    pots: tuple[str, ...]
    base: str
    moulds: tuple[int, ...]
    """By their places in the plan, from 0."""
    name: str = ""
    """Of its mould, where each has pots of its own."""


def lots(plan: Plan) -> tuple[Lot, ...]:
    """All pots as one, or those of each mould, in the order they are poured."""
    if not plan.mould.by_pots:
        (filled,) = plan.filled
        return (Lot(filled.pots, plan.base.name, filled.moulds),)
    return tuple(
        Lot(filled.pots, plan.base_of(filled.pots), filled.moulds, mould_name(filled.moulds))
        for filled in plan.filled
    )


def embeds_in(lot: Lot, plan: Plan) -> tuple[Embed, ...]:
    """Embeds that lie in its moulds, those without a mould of their own included."""
    moulds = {str(i + 1) for i in lot.moulds}
    return tuple(embed for embed in plan.embeds if embed.mould is None or embed.mould in moulds)


def pouring_stages(
    kinds: Sequence[SwirlKind],
    plan: Plan,
    ml: Mapping[str, float],
    table: SwirlTable,
    in_mould: Sequence[str] = (),
    in_base: Sequence[str] = (),
) -> list[Stage]:
    """Stages of the swirl steps ``kinds`` for what is not ``in_mould`` yet, one mould after the
    other where pots are chosen for them.

    ``in_base`` are accents already poured into the base's pot: they go where it goes. Pots too few
    for the swirl are poured plainly, and no tool is drawn through a single colour.
    """
    stages: list[Stage] = []
    for lot in lots(plan):
        own = list(kinds)
        if plan.mould.by_pots and kinds and not kinds[0].cooked:
            own = _for_so_many(own, len(lot.pots), table)
        there = [name for name in in_mould if name in lot.pots]
        merged = [name for name in in_base if name in lot.pots]
        stages += _with_embeds(_stages_of(lot, own, plan, ml, there, merged), lot, plan)
    # Tops wait until the batter holds them: the other moulds are poured meanwhile.
    tops = [stage for stage in stages if table.kinds[stage.step].role == "top"]
    return [*(stage for stage in stages if stage not in tops), *tops]


SET_IN = "set in embeds"
EMBED_S = 20.0
"""To lay in one embed: common practice, no source."""


def _with_embeds(pouring: list[Stage], lot: Lot, plan: Plan) -> list[Stage]:
    """Embeds are laid in once all is in the mould, before any tool, whatever the swirl became."""
    embeds = embeds_in(lot, plan)
    if not embeds:
        return pouring
    last = max((i for i, stage in enumerate(pouring) if stage.puts == "mould"), default=-1)
    names = [clean(embed.name or f"embed {i}", 24) for i, embed in enumerate(embeds, 1)]
    if len(embeds) == 1 and not embeds[0].name:
        names = ["the embed"]
    laying = Stage(
        id=f"{SET_IN}/{lot.name}" if lot.name else SET_IN,
        action=SET_IN,
        words=into_mould(lay_in(names), lot.name),
        median_s=EMBED_S * len(embeds),
        spread=0.4,
        step=pouring[last].step if last >= 0 else plan.swirl.steps[0],
        onto=lot.pots,
        mould=lot.name,
    )
    return [*pouring[: last + 1], laying, *pouring[last + 1 :]]


def _for_so_many(kinds: list[SwirlKind], pots: int, table: SwirlTable) -> list[SwirlKind]:
    pours = [kind for kind in kinds if kind.role == "pour"]
    if all(kind.least_pots <= pots for kind in pours) and pots > 1:
        return kinds
    plain = table.kinds.get(PLAIN)
    return [*([plain] if pours and plain else pours), *(k for k in kinds if k.role == "top")]


def _stages_of(
    lot: Lot,
    kinds: Sequence[SwirlKind],
    plan: Plan,
    ml: Mapping[str, float],
    in_mould: Sequence[str],
    in_base: Sequence[str],
) -> list[Stage]:
    mould = list(in_mould)
    merged = list(in_base)
    stages: list[Stage] = []
    volume = dict(ml)
    for pot in merged:
        volume[lot.base] += ml[pot]
    for kind in kinds:
        for move in kind.moves:
            for pots in _hands(move, lot, mould, merged):
                stages.append(_pour_stage(kind, move, pots, plan, lot, volume, mould))
                if move.puts == "mould":
                    mould += pots
                elif move.puts == "base":
                    merged += pots
                    volume[lot.base] += sum(ml[pot] for pot in pots)
    return stages


def _hands(
    move: Move, lot: Lot, mould: Sequence[str], merged: Sequence[str]
) -> list[tuple[str, ...]]:
    """The pots of each stage a move becomes; what is poured already takes no part."""
    left = [pot for pot in lot.pots if pot not in mould and pot not in merged]
    if move.pots == "mould":
        return [tuple(mould)]
    if move.pots == "all":
        return [tuple(left)] if left else []
    if move.pots == "base":
        return [(lot.base,)] if lot.base in left else []
    return [(pot,) for pot in left if move.pots == "each pot" or pot != lot.base]


def _pour_stage(
    kind: SwirlKind,
    move: Move,
    pots: tuple[str, ...],
    plan: Plan,
    lot: Lot,
    volume: Mapping[str, float],
    mould: Sequence[str],
) -> Stage:
    needs = []
    if move.pots != "mould":
        needs.append(_need(pots, move.hand))
    if move.base:
        needs.append(_need((lot.base,), move.base))
    onto = (mould[-1],) if mould and move.mould_by == "last" else tuple(mould)
    if move.mould_by == "base" and lot.base in mould:
        onto = (lot.base,)
    if move.mould and mould:
        needs.append(_need(onto, Window(move.mould.earliest)))
        needs.append(_in_mould(move, mould))
    if move.mould and not mould and move.pots == "all":  # filled as it is poured
        needs.append(_in_mould(move, pots))
    one = len(pots) == 1 and move.pots != "mould"
    return Stage(
        id="/".join([kind.name, move.do, *([pots[0]] if one else [lot.name] if lot.name else [])]),
        action=move.do,
        words=into_mould(
            sentence(move.do, pots[0] if one and len(plan.pots) > 1 else ""), lot.name
        ),
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
        mould=lot.name,
    )


def _need(pots: tuple[str, ...], window: Window) -> Need:
    return Need(pots, window.earliest, window.latest, window.in_part)


def _in_mould(move: Move, pots: Sequence[str]) -> Need:
    """How thick ``pots``, in the mould, may be at the end of ``move``."""
    window, drawn = move.mould or Window(), move.mould_drawn
    limits = (drawn.latest, drawn.in_part) if drawn else None
    return Need(tuple(pots), Trace.EMULSION, window.latest, window.in_part, limits)


def left_unpoured(stages: Iterable[Stage], plan: Plan) -> tuple[str, ...]:
    """Pots that no stage brings into the mould."""
    merged: set[str] = set()
    mould: set[str] = set()
    for stage in stages:
        if stage.puts == "base":
            merged.update(stage.pots)
        elif stage.puts == "mould":
            mould.update(stage.pots)
    for lot in lots(plan):
        if lot.base in mould:
            mould |= merged.intersection(lot.pots)
    return tuple(pot.name for pot in plan.pots if pot.name not in mould)
