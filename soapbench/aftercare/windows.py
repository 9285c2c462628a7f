"""Windows for unmoulding and cutting: by what the soap is, the usual soap by its gel and recipe."""

from __future__ import annotations

from collections.abc import Mapping

from soapbench.aftercare.practice import Practice, Span
from soapbench.aftercare.resting import Resting
from soapbench.aftercare.soapkind import SOAP_WORDS, Soap
from soapbench.words import curing as words


def soap(batch: Resting, practice: Practice) -> Soap:
    """What kind of soap it is, by what decides its times most."""
    if batch.cooked:
        return Soap.COOKED
    if batch.salt > practice.salty_over:
        return Soap.SALTY
    if batch.lauric > practice.brittle_over:
        return Soap.BRITTLE
    return Soap.CASTILE if batch.olive > practice.castile_over else Soap.USUAL


def gels_like(batch: Resting) -> str:
    """Which window of the usual soap holds: gel seen goes before gel chosen."""
    if batch.gel_reached == "to the edges":
        return "force"
    if batch.gel_reached in ("the middle only", "half way"):
        return "allow"
    return "prevent" if batch.gel_reached == "none" else batch.gel


def window(batch: Resting, hours: Mapping[str, Span], practice: Practice) -> Span:
    """Earliest and latest hour after the pour: by kind of soap, the usual by gel and recipe."""
    kind = soap(batch, practice)
    if kind is not Soap.USUAL:
        return hours[kind.value]
    early, late = hours[gels_like(batch)]
    times = 1.0
    if batch.saturated < practice.soft_below:
        times *= practice.soft_times
    if batch.concentration < practice.wet_below:
        times *= practice.wet_times
    return early * times, late * times


def window_words(batch: Resting, practice: Practice) -> str:
    """Why the windows are where they are."""
    if own := SOAP_WORDS[soap(batch, practice)]:
        return own
    gels = words.SEEN if batch.gel_reached else words.EXPECTED
    reasons = [gels[gels_like(batch)]]
    if batch.saturated < practice.soft_below:
        reasons.append(words.SOFT_OILS)
    if batch.concentration < practice.wet_below:
        reasons.append(words.MUCH_WATER)
    return ", ".join(reasons)
