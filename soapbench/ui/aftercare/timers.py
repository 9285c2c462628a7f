"""What is waited for after the pour, by the second: the second spray, alcohol to go before heat."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soapbench.aftercare.practice import SPRAY_AGAIN_FOR_S
from soapbench.log import Event, Kind, Standing
from soapbench.logfile.clock import Reading, elapsed_since
from soapbench.words.aftercare import SPRAY_NOW, TO_HEAT, TO_SPRAY

if TYPE_CHECKING:
    from soapbench.aftercare.practice import Practice
    from soapbench.aftercare.resting import Resting


def sprays(facts: Standing) -> list[Event]:
    return list(facts.of(Kind.SPRAY))


def heat_wait(facts: Standing, practice: Practice, now: Reading) -> float:
    """Seconds until the alcohol of the last spray has gone; 0 or below when it has."""
    done = sprays(facts)
    return practice.heat_wait_s - elapsed_since(done[-1], now).seconds if done else 0.0


def countdown(
    batch: Resting, facts: Standing, practice: Practice, now: Reading
) -> tuple[float, str] | None:
    """The countdown running and what it is for; None when nothing is waited for."""
    if batch.unmoulded is not None or batch.cut is not None:
        return None
    done = sprays(facts)
    if len(done) == 1:
        left = practice.spray_again_s - elapsed_since(done[0], now).seconds
        if left > -SPRAY_AGAIN_FOR_S:
            return left, SPRAY_NOW if left <= 0 else TO_SPRAY
    if batch.gel == "force" and (left := heat_wait(facts, practice, now)) > 0:
        return left, TO_HEAT
    return None
