"""After the pour: spray, gel, unmould, cut and cure of a batch, folded from its events.

``resting_of`` gives one plain value that an index can keep; what is due when follows from it alone
(``soapbench.aftercare.due``). Times of day are aware datetimes; those not yet known are None.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime
from typing import Any

from soapbench.aftercare.cutreview import ASH, MOST_BARS
from soapbench.aftercare.practice import FINISHES
from soapbench.aftercare.soapkind import makeup
from soapbench.figures import Figures
from soapbench.log import Event, Kind, Standing
from soapbench.plan import Plan
from soapbench.plan.tables import GELS
from soapbench.reading.entries import between
from soapbench.recipe.severity import Caution
from soapbench.swirls.table import SwirlTable

AFTER_KINDS = (
    Kind.SPRAY, Kind.GEL_SEEN, Kind.GEL_CHOSEN, Kind.UNMOULD, Kind.CUT, Kind.WEIGHING,
    Kind.CUT_SEEN, Kind.VERDICT, Kind.CURED, Kind.FINISH_WISHED, Kind.FINISH_DONE,
)  # fmt: skip
"""What happens after the pour: nobody watches a pot by then."""
GEL_REACHES = ("none", "the middle only", "half way", "to the edges")
LEAST_G, MOST_G = 0.1, 1e6
"""What bars of one batch can weigh; anything else was no weighing."""
GEL_TROUBLES = ("cracking", "overheating")
HEATS = ("oven", "heating mat", "wrapped, its own heat")
"""What keeps a forced gel warm."""


@dataclass(frozen=True, slots=True)
class Resting:
    """A batch after its pour."""

    batch: str
    title: str
    poured: datetime
    """When the pour ended."""
    gel: str
    """Chosen: one of ``plan.tables.GELS``."""
    saturated: float
    concentration: float
    water_share: float
    """Of the batter as poured; what can dry off at most."""
    cooked: bool = False
    paste: bool = False
    """KOH alone: it stays soft and is never cut."""
    lauric: float = 0.0
    """Share of the oils, as ``soapkind.Makeup`` has it."""
    olive: float = 0.0
    salt: float = 0.0
    heats: tuple[str, ...] = ()
    """Additives by which the loaf heats itself."""
    sprayed: tuple[datetime, ...] = ()
    heat: str = ""
    """What keeps a forced gel warm, one of ``HEATS``; empty: not said."""
    gel_reached: str = ""
    """The furthest seen, one of ``GEL_REACHES``; empty: nobody looked."""
    gel_trouble: str = ""
    unmoulded: datetime | None = None
    cut: datetime | None = None
    weighed: tuple[tuple[datetime, float], ...] = ()
    """When and g, of the same bars; an earlier set of bars is left out."""
    weighed_bars: int = 0
    """How many bars are weighed each time; 0: not said."""
    reviewed: bool = False
    verdict: str = ""
    ash: str = ""
    """The most seen at the cut, as the cut review has it; empty: not looked for."""
    wished: tuple[str, ...] = ()
    """Finishing touches wanted, of ``practice.FINISHES``."""
    finished: tuple[tuple[str, datetime], ...] = ()
    """Those done, and when."""
    cured: datetime | None = None
    """The maker has put it away."""
    set_aside: bool = False
    """Nothing is to be learned from it."""


def resting_of(
    batch: str,
    plan: Plan,
    foreseen: Figures,
    facts: Standing,
    poured: Sequence[str],
    swirls: SwirlTable,
) -> Resting | None:
    """The batch after its pour, by its plan, its header's figures and the steps it was poured in;
    None while the pour has not ended.

    A header without the water's share sets no bound to what may dry off.
    """
    ended = facts.last(Kind.POUR_ENDED)
    if ended is None:
        return None
    kinds = [swirls.kinds[name] for name in poured if name in swirls.kinds]
    made_up = makeup(plan, foreseen.salt)
    start = Resting(
        batch,
        plan.title,
        ended.at,
        plan.conditions.gel,
        saturated=1.0 if foreseen.mix is None else foreseen.mix.saturated,
        concentration=plan.lye.strength,
        water_share=1.0 if foreseen.water_share is None else foreseen.water_share,
        cooked=any(kind.cooked for kind in kinds),
        paste=plan.lye.alkali == "KOH",
        lauric=made_up.lauric,
        olive=made_up.olive,
        salt=made_up.salt,
        heats=foreseen.heats,
    )
    return after_pour(start, facts)


def after_pour(start: Resting, facts: Iterable[Event]) -> Resting:
    """``start``, as the pour ended, after ``facts``: a choice made later goes before the plan's."""
    batch = start
    for event in facts:
        batch = _after(batch, event)
    return batch


def _after(was: Resting, event: Event) -> Resting:
    values, at = event.values, event.at
    match event.kind:
        case Kind.SPRAY:
            return replace(was, sprayed=(*was.sprayed, at))
        case Kind.GEL_CHOSEN if values.get("gel") in GELS:
            heat = str(values.get("heat", ""))
            return replace(was, gel=str(values["gel"]), heat=heat if heat in HEATS else "")
        case Kind.GEL_SEEN:
            return _gel_seen(was, str(values.get("reach", "")), str(values.get("trouble", "")))
        case Kind.UNMOULD:
            return replace(was, unmoulded=was.unmoulded or at)
        case Kind.CUT:
            return replace(was, cut=was.cut or at)
        case Kind.WEIGHING:
            g = values.get("g")
            if not isinstance(g, int | float) or not between(g, LEAST_G, MOST_G):
                return was
            before = () if values.get("other_bars") is True else was.weighed
            count, so_far = values.get("count"), was.weighed_bars if before else 0
            bars = count if isinstance(count, int) and 1 <= count <= MOST_BARS else so_far
            return replace(was, weighed=(*before, (at, float(g))), weighed_bars=bars)
        case Kind.CUT_SEEN:
            ash = str(values.get("ash", ""))
            worst = max((a for a in (was.ash, ash) if a in ASH), key=ASH.index, default="")
            return replace(was, reviewed=True, ash=worst)
        case Kind.VERDICT:
            return replace(was, verdict=str(values.get("verdict", "")))
        case Kind.CURED:
            return replace(was, cured=at)
        case Kind.SET_ASIDE:
            return replace(was, set_aside=values.get("aside") is not False)
        case Kind.FINISH_WISHED | Kind.FINISH_DONE if values.get("act") in FINISHES:
            return _finish(was, str(values["act"]), at if event.kind is Kind.FINISH_DONE else None)
        case _:
            return was


def _finish(was: Resting, act: str, done: datetime | None) -> Resting:
    if done is None:
        return replace(was, wished=tuple(dict.fromkeys((*was.wished, act))))
    return replace(was, finished=(*was.finished, (act, done)))


def _gel_seen(was: Resting, reach: str, trouble: str) -> Resting:
    if trouble in GEL_TROUBLES:
        was = replace(was, gel_trouble=trouble)
    if reach not in GEL_REACHES:
        return was
    so_far = GEL_REACHES.index(was.gel_reached) if was.gel_reached else -1
    return replace(was, gel_reached=GEL_REACHES[max(so_far, GEL_REACHES.index(reach))])


# ---------------------------------------------------------------- cautions

CAUTIONS = (
    "spray-fire", "spray-then-heat", "gel-heat", "fresh-soap-gloves", "zap-no-proof",
    "dry-is-not-safe", "after-local-rules",
)  # fmt: skip
"""Ids in the table of cautions that are said after the pour."""


def after_cautions(
    batch: Resting, heat_wait_s: float, table: Mapping[str, Mapping[str, str]]
) -> tuple[Caution, ...]:
    """What to mind now. ``heat_wait_s``: s until the alcohol has gone, 0 or below if it has."""
    if batch.cut is not None:
        sprayed = ["spray-fire"] if heat_wait_s > 0 else []  # bars burn as a loaf does
        ids = [*sprayed, "fresh-soap-gloves", "zap-no-proof", "dry-is-not-safe"]
    elif batch.unmoulded is not None:
        ids = [*(["spray-fire"] if heat_wait_s > 0 else []), "fresh-soap-gloves"]
    else:
        ids = ["spray-fire"]
        if batch.gel == "force":
            ids = ["spray-then-heat", *ids] if heat_wait_s > 0 else [*ids, "gel-heat"]
        elif batch.gel_trouble:
            ids.append("gel-heat")
        ids.append("fresh-soap-gloves")
    return cautions_of(tuple(dict.fromkeys([*ids, "after-local-rules"])), table)


def cautions_of(ids: Sequence[str], table: Mapping[str, Mapping[str, str]]) -> tuple[Caution, ...]:
    """The cautions of these ids, whose texts take no words."""
    return tuple(
        Caution(id_, table[id_]["text"], table[id_]["source"], table[id_]["verified"])
        for id_ in ids
    )


# ---------------------------------------------------------------- for the index


def as_data(batch: Resting) -> dict[str, Any]:
    """Plain values that JSON holds."""
    return {field.name: _plain(getattr(batch, field.name)) for field in fields(batch)}


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat()
    return [_plain(v) for v in value] if isinstance(value, tuple | list) else value


def from_data(data: Mapping[str, Any]) -> Resting:
    """A batch from ``as_data``'s values. Raises KeyError, TypeError or ValueError otherwise."""
    times = {
        key: datetime.fromisoformat(data[key]) if data[key] else None
        for key in ("poured", "unmoulded", "cut", "cured")
    }
    sprayed = tuple(datetime.fromisoformat(at) for at in data["sprayed"])
    weighed = tuple((datetime.fromisoformat(at), float(g)) for at, g in data["weighed"])
    finished = tuple((str(act), datetime.fromisoformat(at)) for act, at in data["finished"])
    events = {"sprayed": sprayed, "weighed": weighed, "finished": finished}
    return Resting(
        **{
            **data,
            **times,
            **events,
            "wished": tuple(data["wished"]),
            "heats": tuple(data["heats"]),
        }
    )
