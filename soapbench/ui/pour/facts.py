"""What the pour screen shows at one moment, as one value; no widget in here."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from soapbench.batter import Trace
from soapbench.desk.keys import OUTCOME_KEYS, Act, shown
from soapbench.desk.onebutton import HOW_IT_WENT, Gesture
from soapbench.log import Outcome
from soapbench.outlook.chart import PourChart, chart
from soapbench.pour.state import no_batter
from soapbench.reading.safetext import clean
from soapbench.settings import Settings
from soapbench.sheet.actwords import act_amount
from soapbench.words import pouring as words
from soapbench.words.chances import chances_words, clock, counted_chance
from soapbench.words.lines import Line
from soapbench.words.pouring import NAG_S, WAIT_S, Said

if TYPE_CHECKING:
    from soapbench.advice.advise import Live
    from soapbench.desk.pourdesk import Desk
    from soapbench.plan import Plan
    from soapbench.pour.state import PotState, PourState
    from soapbench.swirls.stage import Stage

GAUGE_LETTERS = "ELMTS"
"""Emulsion, light, medium, thick, set up."""
WHERE = {"pot": " ", "mould": "⊔", "base": "⊃"}
"""Sign of batter that is in the mould, or in the base's pot."""


@dataclass(frozen=True, slots=True)
class PotFact:
    """One pot as its row shows it."""

    name: str
    look: str
    trace: Trace
    where: str
    """ "pot", "mould" or "base"."""
    old: bool
    """Nobody has looked for a while: its trace state may be another."""
    trouble: str = ""
    """What goes wrong in it."""


@dataclass(frozen=True, slots=True)
class ActFact:
    """An act as it is shown: its words, how much, and what ends it."""

    saying: Said
    amount: str
    then: str = ""
    far: tuple[str, ...] = ()
    """For large letters, longest first, where the amount is no figure to be cut to."""


@dataclass(frozen=True, slots=True)
class Backup:
    """The other way on offer."""

    key: str
    words: str
    decide_s: float | None
    warns: bool


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything on the pour screen but the key line. Times in s."""

    title: str
    since: str
    step: tuple[int, int]
    act: ActFact
    step_s: float
    usual_s: float | None
    overdue: bool
    """It has taken longer than nine of ten such steps."""
    blender: str
    """The lamp's words while it runs; empty when it is off."""
    spare_s: float | None
    spare_known: bool
    running: bool
    pots: tuple[PotFact, ...]
    hand: int
    """The pot in hand, by its place."""
    chart: PourChart | None
    look: str
    nag: str
    ahead: tuple[ActFact, ...]
    chance: str
    why: str
    backup: Backup | None
    reply: str
    alarm: bool
    """``reply`` is of something wrong."""
    head: str = ""
    """A line above all: practice, view only."""
    mould: tuple[Line, ...] = ()
    watching: bool = False
    """Another window writes this pour."""


def facts(
    desk: Desk,
    now: float,
    hand: str,
    keys: Mapping[str, Act],
    settings: Settings,
    reply: tuple[str, bool],
    head: str = "",
    mould: tuple[Line, ...] = (),
    asks: bool = False,
) -> Facts:
    """What to show of ``desk`` at ``now``. ``reply``: a line to say, and whether it is an alarm;
    ``asks``: how it came out is asked now.
    """
    state, live = desk.state, desk.live
    key = _pressed(keys, settings)
    left = state.left_alone(now)
    fresh = live if live and state.ended is None and not left else None
    looks = state.last_look
    total = len(state.done) + len(state.ahead)
    spare = fresh.outlook.to_spare_s if fresh else math.inf
    look, nag = ("", "") if left else _looks(desk, hand, now)
    return Facts(
        title=clean(desk.plan.title),
        since=words.SINCE_LYE.format(time=clock(now)) if state.begun else "",
        step=(min(len(state.done) + 1, total), total),
        act=_act_now(desk, fresh, key, now, settings, asks),
        step_s=_step_s(state, now),
        usual_s=state.stage.median_s if state.stage and state.stage.blend_to is None else None,
        overdue=desk.overdue_s > 0 and not left,
        blender=_blender(state, now, key["blender"]),
        spare_s=spare if math.isfinite(spare) else None,
        spare_known=live is not None,
        running=state.begun and state.ended is None and not left,
        pots=tuple(_pot(desk.plan, p, looks.get(p.name, 0.0), now) for p in state.pots.values()),
        hand=list(state.pots).index(hand),
        chart=chart(desk.plan.pots, fresh.outlook, state, now if state.begun else None, looks)
        if fresh
        else None,
        look=look,
        nag=nag,
        ahead=() if left else _ahead(desk, settings),
        chance=counted_chance(fresh.outlook) if fresh else "…",
        why=_why(fresh),
        backup=_backup(fresh, state, key["rescue"], now, settings.pedal == "one button"),
        reply=reply[0],
        alarm=reply[1],
        head=head,
        mould=mould,
        watching=desk.watching,
    )


def _blender(state: PourState, now: float, key: str) -> str:
    if state.blender_on is None:
        return ""
    usual_s = state.stage.blend_s if state.stage else 0.0
    return words.blender_label(now - state.blender_on, usual_s, key)


def _pot(plan: Plan, pot: PotState, last_look: float, now: float) -> PotFact:
    colour, late = plan.pot(pot.name).colour, last_look + NAG_S < now
    return PotFact(clean(pot.name), colour, pot.trace, pot.where, late, pot.trouble or "")


def _ahead(desk: Desk, settings: Settings) -> tuple[ActFact, ...]:
    """The next three acts; none once it is over."""
    state = desk.state
    if state.ended is not None:
        return ()
    return tuple(
        ActFact(words.saying(stage), act_amount(stage, desk.plan, desk.amounts, settings))
        for stage in (state.ahead[1:] if state.stage else state.ahead)[:3]
    )


def _pressed(keys: Mapping[str, Act], settings: Settings) -> dict[str, str]:
    """How each act is keyed, as told beside it."""
    key = {act.name: shown(pressed).upper() for pressed, act in keys.items()}
    if settings.pedal == "one button":
        twice = words.TWICE.format(key=key["done"])
        key |= {f"trace{int(trace) + 1}": twice for trace in Trace}
        key["rescue"] = words.HELD.format(key=key["done"])
    return key


def _outcomes(key: Mapping[str, str], settings: Settings) -> Mapping[str, Outcome]:
    if settings.pedal != "one button":
        return OUTCOME_KEYS
    keyed = dict(zip(Gesture, (key["done"], key["trace1"], key["rescue"]), strict=True))
    return {keyed[gesture]: outcome for gesture, outcome in HOW_IT_WENT.items()}


def _step_s(state: PourState, now: float) -> float:
    if state.stage is None:
        return state.ended if state.ended is not None else 0.0
    return now - int(state.stage_begun)


def _act_now(
    desk: Desk,
    live: Live | None,
    key: Mapping[str, str],
    now: float,
    settings: Settings,
    asks: bool,
) -> ActFact:
    state = desk.state
    if not state.begun:
        return ActFact(words.READY, words.READY_AMOUNT.format(key=key["done"]))
    if state.ended is not None and asks:
        asked = words.outcome_keys(_outcomes(key, settings))
        return ActFact(words.HOW_WAS_IT, asked, far=(asked.upper().replace(" · ", "\n"),))
    if state.ended is not None:
        over = words.OVER[bool(state.finished)]
        return ActFact(over, words.OVER_AMOUNT.format(key=key["done"]))
    if state.left_alone(now):
        amount = "" if desk.watching else words.LEFT_AMOUNT.format(key=key["end"])
        return ActFact(words.left_alone(now), amount)
    stage = state.stage
    if stage is None:
        return ActFact(words.NOTHING_LEFT, "", words.THEN.format(key=key["done"]))
    saying = words.saying(stage)
    if (wait := awaited(state)) is not None:
        pot, trace = wait
        left = _waits_s(stage, live, now)
        large, amount = words.wait_words(
            pot, trace, left, saying.sentence, key[f"trace{int(trace) + 1}"]
        )
        pressed = key[f"trace{int(trace) + 1}"]
        return ActFact(large, amount, far=words.wait_large(trace, pressed))
    amount = act_amount(stage, desk.plan, desk.amounts, settings)
    return ActFact(saying, amount, words.THEN.format(key=key["done"]))


def awaited(state: PourState) -> tuple[str, Trace] | None:
    """The pot and trace state that the stage in hand still waits for; None: hands can begin."""
    if state.stage is None or state.hands_began is not None:
        return None
    for pot, trace in state.stage.waits:
        if max(state.pots[pot].trace, state.pots[pot].together) < trace:
            return pot, trace
    return None


def _waits_s(stage: Stage, live: Live | None, now: float) -> float:
    if live and live.outlook.stages and live.outlook.stages[0].stage.id == stage.id:
        return max(0.0, live.outlook.stages[0].begins_s.p50 - now)
    return WAIT_S


def _looks(desk: Desk, hand: str, now: float) -> tuple[str, str]:
    """When somebody last looked, and the pot to be looked at where a look is wanted."""
    state = desk.state
    if state.stage is None:
        return "", ""
    looks = state.last_look
    last = max(looks, key=lambda pot: looks[pot], default=None)
    since = words.look_words(last, now - looks[last] if last else None)
    if wanted := desk.look_wanted:
        return since, words.nag_words(wanted)
    pots = [pot for pot in _matters(state) if now - looks.get(pot, 0.0) >= NAG_S]
    if not pots or not any(pot.fragrance_in is not None for pot in state.pots.values()):
        return since, ""
    asked = hand if hand in pots else min(pots, key=lambda pot: looks.get(pot, 0.0))
    return since, words.nag_words(asked)


def _matters(state: PourState) -> Sequence[str]:
    """Pots whose thickening still decides something, and can be looked at."""
    pots = {pot for stage in state.ahead for need in stage.needs for pot in need.pots}
    return [name for name in state.pots if name in pots and not no_batter(state, name)]


def _why(live: Live | None) -> str:
    """What is tightest, and by how much; how much faster it thickens where that tells."""
    tight = live.outlook.tightest if live else None
    if live is None or tight is None:
        return ""
    needed = {pot for need in tight.stage.needs for pot in need.pots}
    pots = sorted(needed & set(live.outlook.room_s), key=lambda p: live.outlook.room_s[p].p50)
    faster = max((q.p50 for q in live.acceleration.values()), default=1.0)
    needs_s, left_s = tight.ends_s.p50 - live.now, max(0.0, tight.room_s)
    return words.why_words(needs_s, pots[0] if pots else "", left_s, faster)


def _backup(live: Live | None, state: PourState, key: str, now: float, held: bool) -> Backup | None:
    advice = live.advice if live else None
    if advice is None or state.stage is None:
        return None
    backup = advice.backup
    if backup is None:
        return Backup("", words.NO_BACKUP, None, True) if advice.warns else None
    saves = advice.going_on.minutes - backup.minutes
    way_words = words.backup_words(backup.name, chances_words(backup), saves)
    left = None if advice.switch_by_s is None else advice.switch_by_s - now
    # The one button, held, takes back while nothing is warned of.
    return Backup("" if held and not advice.warns else key, way_words, left, advice.warns)


def gauge(pot: PotFact) -> tuple[str, str]:
    """Five cells and a letter for a trace state, and their ink; what goes wrong instead."""
    if pot.trouble:
        return pot.trouble, "bad reverse"
    full = int(pot.trace) + 1
    ink = ("good", "good", "amber", "bad", "bad")[int(pot.trace)]
    old = "?" if pot.old else WHERE[pot.where]
    return "▰" * full + "▱" * (5 - full) + GAUGE_LETTERS[int(pot.trace)] + old, ink
