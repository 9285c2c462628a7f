"""What the workshop asks for each value: the question, what there is to choose, what is known."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rich.text import Text

from soapbench.batter import Reputation
from soapbench.desk.planlayout import ADD, Keys, measure_of, value_at
from soapbench.fragrances.shelf import Scent, history_words, limit_words
from soapbench.reading.safetext import clean
from soapbench.reading.units import Measure, QuantityError, read, read_amount
from soapbench.recipe.colourants import facts_of
from soapbench.ui.editor import Question
from soapbench.ui.themes import swatch
from soapbench.words.quantities import length, mass, spoonfuls, temperature, volume, with_unit
from soapbench.words.signs import LOOK

if TYPE_CHECKING:
    from soapbench.advice import Known
    from soapbench.settings import Settings


WORDS = {
    "title": "Title of the plan",
    "length": "Inner length of the mould",
    "width": "Inner width of the mould",
    "depth": "Inner depth of the mould",
    "volume": "Volume of the mould to the brim",
    "fill": "How full the mould is to be",
    "share": "Share",
    "mass": "Mass",
    "saponification": "Saponification value from its certificate, mg KOH/g",
    "lot": "Lot number",
    "alkali": "Alkali",
    "purity": "Purity, from the label",
    "koh_share": "Share of the oils that KOH turns to soap",
    "koh_purity": "Purity of the KOH",
    "superfat": "Superfat",
    "concentration": "Lye concentration: alkali / (alkali + water)",
    "water_to_lye": 'Water : lye by mass, "2 : 1"',
    "batter": "Oils and lye water when they meet",
    "room": "The room",
    "blend": "Stick-blending: to stable emulsion, to light trace, or seconds",
    "gel": "Gel",
    "load": "Fragrance load, of the oils",
    "limit": "Most it may be of the finished product, from its own certificate",
    "goes_into": "Goes into: each pot, base, oils, or pots with commas between",
    "when": "When it goes in",
    "reputation": "What it is said to do to the clock",
    "dose": 'Dose for the whole pot, "1 tsp" or "4 g"',
    "disperse_in": "Dispersed in the recipe's own",
    "look": 'Look, as "#4a5a6a"',
}
CLOSED: Mapping[str, tuple[str, ...]] = {
    "alkali": ("NaOH", "KOH", "both"),
    "gel": ("prevent", "allow", "force"),
    "when": ("together", "just before pouring"),
    "reputation": tuple(Reputation),
    "disperse_in": ("oil", "water", "none"),
}


def question(
    keys: Keys,
    tables: Mapping[str, Any],
    known: Known,
    shelf: Mapping[str, Scent],
    settings: Settings,
) -> Question:
    """What to ask for the value at ``keys``."""
    key = str(keys[-1])
    group = [str(part) for part in keys if not isinstance(part, int) and part != ADD]
    naming = key in ("name", ADD)
    if group[0] == "swirl":
        return _step(keys, known)
    if (naming and group[-1] == "colourants") or (group[:-1] == ["pots", "colourants"] and naming):
        names = tuple(sorted({facts.name for facts in known.colourants.values()}))
        return Question("Colourant", names, False, lambda name: _colourant(name, known))
    if naming and group[0] == "pots":
        return Question("Name of the pot")
    if naming and group[0] == "oils":
        names = tuple(sorted({facts.name for facts in known.oils.values()}))
        return Question("Oil", names, False, lambda name: _oil(name, known))
    if naming and group[0] == "fragrance":
        return Question("Fragrance", tuple(shelf), False, lambda name: _scent(name, shelf))
    if key == "goes_into":
        pots = value_at(tables, ("pots",))
        named = [str(pot.get("name")) for pot in pots] if isinstance(pots, list) else []
        choices = tuple(dict.fromkeys(["each pot", "base", "oils", *named]))
        return Question(WORDS[key], choices)
    if key == "look":
        looks = {facts.look: facts.name for facts in known.colourants.values() if facts.look}
        return Question(WORDS[key], tuple(looks), False, lambda look: _look(look, looks))
    if key in CLOSED:
        return Question(WORDS[key], CLOSED[key], True)
    return Question(WORDS.get(key, key), about=lambda typed: _quantity(typed, keys, settings))


def _step(keys: Keys, known: Known) -> Question:
    first = keys == ("swirl", "steps", 0) or keys[1] == "fall_back"
    kinds = known.swirls.kinds
    names = tuple(name for name, kind in kinds.items() if (kind.role == "pour") == first)
    words = "How it is poured" if first else "What comes after the pour"
    return Question(
        words, names, True, lambda name: Text(clean(kinds[name].says) if name in kinds else "")
    )


def _oil(name: str, known: Known) -> Text:
    facts = known.oils.get(name)
    if facts is None:
        return Text(
            "Not in the oil table: add its own value under [[oils]], or to tables/oils.toml"
        )
    value = facts.saponification
    saturated = f", {facts.saturated.mid * 100:.0f} % saturated" if facts.saturated else ""
    lot = f", lot {clean(facts.lot)}" if facts.lot else ""
    return Text(
        f"{value.low:g} to {value.high:g} mg KOH/g{saturated}{lot}\n"
        f"{clean(value.source)}; {clean(value.verified)}"
    )


def _colourant(name: str, known: Known) -> Text:
    facts = facts_of(name, known.colourants)
    text = Text()
    if facts.look:
        text.append_text(swatch(facts.look, 6))
        text.append(f" {facts.look}   ")
    text.append(f"dispersed in {facts.disperse_in}")
    return text.append(f"\n{clean(facts.note)}" if facts.note else "")


def _scent(name: str, shelf: Mapping[str, Scent]) -> Text:
    scent = shelf.get(name, Scent(name))
    return Text(f"{clean(history_words(scent))}\n{clean(limit_words(scent))}")


def _look(look: str, looks: Mapping[str, str]) -> Text:
    if not LOOK.fullmatch(look):
        return Text('write red, green and blue as "#4a5a6a"')
    text = swatch(look, 12)
    return text.append(f"  {clean(looks.get(look, ''))}")


def _quantity(typed: str, keys: Keys, settings: Settings) -> Text:
    """A quantity in the maker's other units, or what would be right."""
    measure = measure_of(keys)
    if keys[-1] == "dose":
        return _dose(typed, settings)
    if measure is None or not typed.strip():
        return Text()
    try:
        value = read(with_unit(typed, measure, settings), measure)
    except QuantityError as fault:
        return Text(f"{clean(fault.wrong)}; {clean(fault.right)}")
    shown = {
        Measure.TEMPERATURE: lambda: temperature(value, settings),
        Measure.LENGTH: lambda: f"{length(value, settings)} = {value:g} cm",
        Measure.MASS: lambda: mass(value, settings),
        Measure.VOLUME: lambda: volume(value, settings),
        Measure.SHARE: lambda: f"{value * 100:g} %",
    }
    return Text(shown[measure]() if measure in shown else "")


def _dose(typed: str, settings: Settings) -> Text:
    try:
        dose = read_amount(typed)
    except QuantityError as fault:
        return Text(f"{clean(fault.wrong)}; {clean(fault.right)}")
    if dose.ml is None:
        return Text(mass(dose.g or 0.0, settings))
    spoons = spoonfuls(dose.ml, settings)
    return Text(f"{dose.ml:.1f} mL" + (f", {spoons}" if spoons else ""))
