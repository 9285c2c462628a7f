"""What the workshop asks for each value: the question, what there is to choose, what is known."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rich.text import Text

from soapbench.desk.colournames import colour_named, name_of
from soapbench.desk.planchanges import mould_of
from soapbench.desk.plankeys import ADD, SIZE, Keys, measure_of, not_given, value_at
from soapbench.fragrances.shelf import ShelfFragrance, history_words, limit_words
from soapbench.plan.fields import field_of
from soapbench.plan.tables import INTO, PLACES
from soapbench.plan.values import BLENDED_TO
from soapbench.reading.faults import Wrong
from soapbench.reading.safetext import clean
from soapbench.reading.units import Measure, QuantityError, read, read_amount
from soapbench.recipe.colourants import facts_of
from soapbench.settings import USUAL
from soapbench.ui.editor import Question
from soapbench.ui.themes import swatch
from soapbench.words import numbers
from soapbench.words import workshop as texts
from soapbench.words.colours import NAMES, UNKNOWN
from soapbench.words.quantities import length, mass, spoonfuls, temperature, volume, with_unit

if TYPE_CHECKING:
    from soapbench.advice.known import Known
    from soapbench.settings import Settings


def question(
    keys: Keys,
    tables: Mapping[str, Any],
    known: Known,
    shelf: Mapping[str, ShelfFragrance],
    settings: Settings,
) -> Question:
    """What to ask for the value at ``keys``."""
    key = str(keys[-1])
    group = [str(part) for part in keys if isinstance(part, str) and part != ADD]
    if group[0] == "swirl":
        return _step(keys, known)
    if keys == ("mould", ADD):
        key, keys = SIZE, ("mould", SIZE)
    if key in ("name", ADD):
        return _name(group[-2] if key == "name" else group[-1], known, shelf)
    words = texts.QUESTIONS.get(key, key.replace("_", " ").capitalize())
    if key == "look":
        return _colour_question(words)
    if key in ("goes_into", "goes_in", "oil", "pots"):
        return Question(words, _places(key, tables, known))
    field = field_of(keys)
    if field and field.words:
        return Question(words, field.words, True, shown=lambda word: texts.SHOWN.get(word, word))
    states = tuple(BLENDED_TO) if key == "blend" else ()
    return Question(
        words,
        states,
        about=lambda typed: _quantity(typed, keys, settings),
        check=lambda typed: wrong_with(typed, keys, settings),
    )


def _name(of: str, known: Known, shelf: Mapping[str, ShelfFragrance]) -> Question:
    words = texts.NAMES.get(of, "Name")
    if of == "colourants":
        names = tuple(sorted({facts.name for facts in known.colourants.values()}))
        looks = {facts.name: facts.look for facts in known.colourants.values()}
        return Question(
            words,
            names,
            False,
            lambda name: _colourant(name, known),
            lambda name: _jar(name, looks),
        )
    if of == "additives":
        names = tuple(sorted({facts.name for facts in known.additives.values()}))
        return Question(words, names, False, lambda name: _additive(name, known))
    if of == "oils":
        names = tuple(sorted({facts.name for facts in known.oils.values()}))
        return Question(words, names, False, lambda name: _oil(name, known))
    if of == "fragrance":
        return Question(words, tuple(shelf), False, lambda name: _fragrance(name, shelf))
    return Question(words)


def _places(key: str, tables: Mapping[str, Any], known: Known) -> tuple[str, ...]:
    if key == "oil":
        oils = value_at(tables, ("oils",))
        return tuple(str(oil.get("name")) for oil in oils) if isinstance(oils, list) else ()
    pots = value_at(tables, ("pots",))
    named = [str(pot.get("name")) for pot in pots] if isinstance(pots, list) else []
    if key == "pots":
        return tuple(named)
    return tuple(dict.fromkeys([*(INTO if key == "goes_into" else PLACES), *named]))


def more_question(table: Keys, tables: Mapping[str, Any]) -> Question:
    """Which of the values that are not given to give."""
    words = texts.WHAT_MORE if table else texts.WHERE_MORE
    keys = tuple(not_given(tables, table))
    return Question(words, keys, True, shown=lambda key: _label(key, table))


def _label(key: str, table: Keys) -> str:
    if not table:
        return texts.ADDS.get(key, key.replace("_", " "))
    asked = texts.QUESTIONS.get(key, "")
    label = texts.LABELS.get(key, "") or key.replace("_", " ")
    return f"{label}  –  {asked}" if asked else label


def wrong_with(typed: str, keys: Keys, settings: Settings) -> str:
    """Why what was typed cannot stand, in the words typed; empty where it can."""
    field = field_of(keys)
    if not typed.strip():
        return ""
    try:
        if keys[-1] == SIZE:
            mould_of(typed, settings)
        elif field and field.check:
            measure = measure_of(keys)
            field.check(with_unit(typed, measure, settings) if measure else typed)
    except Wrong as fault:
        if field and field.measure in OTHER and _measures(typed, OTHER[field.measure][0]):
            return OTHER[field.measure][1]
        return clean(texts.plainly(str(fault)))
    return ""


OTHER = {
    Measure.SHARE: (Measure.MASS, texts.WEIGHTS_FIRST),
    Measure.MASS: (Measure.SHARE, texts.SHARES_FIRST),
}
"""What is typed for what where a recipe is in the other of the two."""


def _measures(typed: str, measure: Measure) -> bool:
    try:
        read(typed, measure)
    except QuantityError:
        return False
    return True


def _step(keys: Keys, known: Known) -> Question:
    first = keys == ("swirl", "steps", 0) or keys[1] == "fall_back"
    kinds = known.swirls.kinds
    names = tuple(name for name, kind in kinds.items() if (kind.role == "pour") == first)
    backup = keys[1] == "fall_back"
    words = texts.QUESTIONS["fall_back" if backup else "steps 0" if first else "steps"]
    return Question(
        words, names, True, lambda name: Text(clean(kinds[name].says) if name in kinds else "")
    )


def _oil(name: str, known: Known) -> Text:
    facts = known.oils.get(name)
    if facts is None:
        return Text(texts.UNKNOWN_OIL)
    value = facts.saponification
    saturated = facts.saturated.mid if facts.saturated else None
    line = texts.oil_line(value.low, value.high, saturated, clean(facts.lot or ""))
    return Text(f"{line}\n{clean(value.source)}; {clean(value.verified)}")


def _colourant(name: str, known: Known) -> Text:
    facts = facts_of(name, known.colourants)
    text = Text()
    if facts.look:
        text.append_text(swatch(facts.look, 6))
        text.append(f" {facts.look}   ")
    text.append(texts.mixed_with(facts.disperse_in))
    return text.append(f"\n{clean(facts.note)}" if facts.note else "")


def _fragrance(name: str, shelf: Mapping[str, ShelfFragrance]) -> Text:
    fragrance = shelf.get(name, ShelfFragrance(name))
    return Text(f"{clean(history_words(fragrance))}\n{clean(limit_words(fragrance))}")


def _additive(name: str, known: Known) -> Text:
    facts = known.additives.get(name)
    if facts is None:
        return Text()
    return Text(f"{texts.goes_into(facts.goes_in)}\n{clean(facts.note)}")


def _jar(name: str, looks: Mapping[str, str | None]) -> Text:
    look = looks.get(name)
    return (swatch(look) if look else Text("    ")).append(f" {clean(name)}")


def _colour_question(words: str) -> Question:
    def drawn(name: str) -> Text:
        look = colour_named(name)
        text = swatch(look) if look else Text("    ")
        return text.append(f" {clean(name)}")

    def about(typed: str) -> Text:
        look = colour_named(typed)
        if look is None:
            return Text(UNKNOWN if typed.strip() else "")
        text = swatch(look, 24)
        return text.append(f"  {name_of(look)}  {look}\n").append_text(swatch(look, 24))

    return Question(
        words, tuple(NAMES), False, about, drawn,
        check=lambda typed: "" if not typed or colour_named(typed) else UNKNOWN,
    )  # fmt: skip


def _quantity(typed: str, keys: Keys, settings: Settings) -> Text:
    """A quantity in the maker's other units, or what would be right."""
    measure = measure_of(keys)
    if keys[-1] == "dose":
        return _dose(typed, settings)
    if measure is None or not typed.strip():
        return Text()
    try:
        value = read(with_unit(typed, measure, settings), measure)
    except QuantityError:
        return Text(wrong_with(typed, keys, settings))
    shown = {
        Measure.TEMPERATURE: lambda: temperature(value, settings),
        Measure.LENGTH: lambda: f"{length(value, settings)} = {length(value, USUAL)}",
        Measure.MASS: lambda: mass(value, settings),
        Measure.VOLUME: lambda: volume(value, settings),
        Measure.SHARE: lambda: numbers.written_share(value),
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
    return Text(numbers.fine_ml(dose.ml) + (f", {spoons}" if spoons else ""))
