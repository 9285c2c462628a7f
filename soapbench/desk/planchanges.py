"""What each key of the workshop does to a plan's text. Text in, text out."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from math import prod
from typing import Any

from soapbench.bench.planedit import scaled, with_changes, with_row, with_value, without_row
from soapbench.desk.colournames import colour_named
from soapbench.desk.plankeys import ADD, MORE, SIZE, SIZES, Keys, measure_of, value_at
from soapbench.fragrances.shelf import ShelfFragrance, plan_values
from soapbench.logfile.tomlfile import parse_text
from soapbench.plan import Plan
from soapbench.plan.fields import field_of, table_at
from soapbench.plan.values import kinds_of
from soapbench.reading.faults import Wrong
from soapbench.reading.units import Measure, QuantityError, read
from soapbench.recipe.colourants import ColourantFacts, facts_of
from soapbench.recipe.oils import OilFacts
from soapbench.settings import Settings
from soapbench.words import workshop as words
from soapbench.words.quantities import with_unit

FIRST_LOAD, FIRST_DOSE, FIRST_COLOUR, FIRST_OIL = "3 %", "2 %", "1 tsp", "50 g"
"""Of a fragrance and an additive, of the oils; of a colour; of an oil in a recipe by weight: only
what a form begins with (ours)."""
NEW_SHARE = 0.10
"""Of a pot or oil added to a plan that is whole already: taken from the largest."""


def put(
    text: str, keys: Keys, typed: str, shelf: Mapping[str, ShelfFragrance], settings: Settings
) -> str:
    """The text with what was typed at ``keys``; empty takes the value out, where it can go."""
    if keys == ("mould", ADD):
        return with_row(text, ("mould",), mould_of(typed, settings)) if typed else text
    if keys[-1] == ADD:
        first = measure_of((*keys[:-1], _first_text(keys[:-1]))) if keys[0] != "swirl" else None
        typed = with_unit(typed, first, settings) if first and typed else typed
        text = added(text, keys[:-1], typed) if typed else text
        if keys[0] == "fragrance" and typed in shelf:
            text = with_fragrance(text, newest(text, keys[:-1]), shelf[typed])
        return text
    if keys[:1] == ("swirl",):
        return _with_step(text, keys, typed)
    if not typed:
        return with_value(text, keys, None)
    if keys[-1] == SIZE:
        return _with_mould(text, keys[:-1], mould_of(typed, settings))
    if keys[-1] == "look":
        return with_value(text, keys, colour_named(typed) or typed)
    if keys[-1] in ("goes_into", "goes_in", "pots"):
        names = [name.strip() for name in typed.split(",") if name.strip()]
        several = len(names) > 1 or keys[-1] == "pots"
        return with_value(text, keys, names if several else typed)
    measure = measure_of(keys)
    if measure is not None:
        typed = with_unit(typed, measure, settings)
    if keys[0] == "fragrance" and keys[-1] == "name" and typed in shelf:
        return with_fragrance(text, keys[:-1], shelf[typed])
    return with_value(text, keys, typed)


def as_advised(text: str, plan: Plan, advised: Plan) -> str:
    """The text of ``plan`` with what advice changed in it, its comments and order kept."""
    return with_changes(text, plan.as_written(), advised.as_written())


def with_fragrance(text: str, keys: Keys, fragrance: ShelfFragrance) -> str:
    """The fragrance at ``keys`` swapped for ``fragrance``; what its bottle says goes along."""
    for key, value in plan_values(fragrance).items():
        text = with_value(text, (*keys, key), value)
    return text


def with_usual(text: str, keys: Keys, known: Any) -> str:
    """What goes along with a name just given: a colour's look and liquid, an oil's lot."""
    if keys[0] == "oils" and keys[-1] == "name":
        return with_oil_lot(text, keys[:-1], known.oils)
    if "colourants" not in keys or keys[-1] not in ("name", ADD):
        return text
    row = newest(text, keys[:-1]) if keys[-1] == ADD else keys[:-1]
    return with_colourant(text, row, known.colourants)


def with_colourant(text: str, keys: Keys, facts: Mapping[str, ColourantFacts]) -> str:
    """A colourant just named: its usual look, liquid and lot, where the plan says none."""
    tables = parse_text(text, "")
    colourant = facts_of(str(value_at(tables, (*keys, "name"))), facts)
    usual = {"look": colourant.look, "disperse_in": colourant.disperse_in, "lot": colourant.lot}
    for key, value in usual.items():
        if value and value_at(tables, (*keys, key)) is None:
            text = with_value(text, (*keys, key), value)
    return text


def with_oil_lot(text: str, keys: Keys, oils: Mapping[str, OilFacts]) -> str:
    """An oil just named: the lot of the drum in use goes along, an earlier oil's goes out."""
    oil = oils.get(str(value_at(parse_text(text, ""), (*keys, "name"))))
    return with_value(text, (*keys, "lot"), (oil.lot or None) if oil else None)


def added(text: str, keys: Keys, name: str) -> str:
    """The text with a row more: an oil, a pot, a colour, a fragrance, a swirl step."""
    tables = parse_text(text, "")
    if keys[0] == "swirl":
        given = value_at(tables, keys)
        return with_value(text, keys, [*(given if isinstance(given, list) else []), name])
    if keys == ("fragrance",):
        if "fragrance" not in tables:
            text = with_value(text, (*keys, "name"), name)
            return with_value(text, (*keys, "load"), FIRST_LOAD)
        return with_row(text, keys, {"name": name, "load": FIRST_LOAD})
    if keys[-1] == "colourants":
        return with_row(text, keys, {"name": name, "dose": FIRST_COLOUR})
    if keys == ("oils",) and is_by_weight(tables):
        return with_row(text, keys, {"name": name, "mass": FIRST_OIL})
    if keys == ("additives",):
        return with_row(text, keys, {"name": name, "dose": FIRST_DOSE})
    if keys not in (("oils",), ("pots",)):
        return with_row(text, keys, {_first_text(keys): name})
    missing = 1 - sum(_shares(tables, keys))
    if missing < 0.005:
        text, missing = _shrink_largest(text, keys), NEW_SHARE
    return with_row(text, keys, {"name": name, "share": _percent(missing)})


def newest(text: str, keys: Keys) -> Keys:
    """Where the row last added to the list ``keys`` is."""
    listed = value_at(parse_text(text, ""), keys)
    return (*keys, len(listed) - 1) if isinstance(listed, list) else keys


def removed(text: str, keys: Keys) -> str:
    """Without what is at ``keys``: a named row goes as a whole, any other value by itself."""
    if keys[0] == "mould" and keys[-1] == SIZE and keys[1] not in (0, SIZE):
        return without_row(text, keys[:-1])
    if keys[-1] in (ADD, MORE, SIZE) or keys[0] == "title":
        return text
    if keys[0] == "swirl":
        return _with_step(text, keys, "")
    if keys[-1] == "name":
        row = keys[:-1]
        rows = value_at(parse_text(text, ""), row[:-1])
        if row[0] in ("oils", "pots") and len(row) == 2 and len(rows) == 1:
            return text  # a plan without oil or pot is no plan
        return without_row(text, row)
    return with_value(text, keys, None)


def made_whole(text: str, keys: Keys) -> str:
    """The share at ``keys`` set to what the others leave of 100 %."""
    if keys[-1] != "share" or len(keys) != 3:
        return text
    shares = _shares(parse_text(text, ""), keys[:1])
    rest = 1 - sum(shares) + shares[int(keys[1])]
    return with_value(text, keys, _percent(rest)) if rest > 0 else text


def other_mould(text: str, typed: str, ml_before: float, settings: Settings) -> str:
    """The text for another mould, masses and doses scaled with the batter.

    ``typed``: "30 x 9 x 8 cm" or "2 L". Raises QuantityError.
    """
    mould = mould_of(typed, settings)
    if isinstance(value_at(parse_text(text, ""), ("mould",)), list):
        raise QuantityError(*words.SEVERAL_MOULDS)
    if "volume" in mould:
        ml = read(mould["volume"], Measure.VOLUME)
    else:
        ml = prod(read(size, Measure.LENGTH) for size in mould.values())
    return scaled(_with_mould(text, ("mould",), mould), ml / ml_before)


def _with_mould(text: str, keys: Keys, mould: Mapping[str, str]) -> str:
    for key in (*SIZES, "volume"):
        text = with_value(text, (*keys, key), mould.get(key))
    return text


def by_weight(text: str, oils_g: Sequence[float]) -> str:
    """The recipe in weights: it stands, whatever the mould. ``oils_g``: each oil's, in turn."""
    for i, g in enumerate(oils_g):
        text = with_value(text, ("oils", i, "share"), None)
        text = with_value(text, ("oils", i, "mass"), f"{g:.4g} g" if g < 1000 else f"{g:.0f} g")
    return text


def by_share(text: str, oils_g: Sequence[float]) -> str:
    """The recipe in shares that add up to 100 %: it is sized to the mould."""
    whole = [round(g / sum(oils_g) * 100, 2) for g in oils_g]
    whole[whole.index(max(whole))] += 100 - sum(whole)
    for i, percent in enumerate(whole):
        text = with_value(text, ("oils", i, "mass"), None)
        text = with_value(text, ("oils", i, "share"), f"{percent:.4g} %")
    return text


def is_by_weight(tables: Mapping[str, Any]) -> bool:
    oils = tables.get("oils")
    return isinstance(oils, list) and any("mass" in oil for oil in oils)


def mould_of(typed: str, settings: Settings) -> dict[str, str]:
    """A mould's keys from what was typed. Raises QuantityError."""
    parts = [part.strip() for part in re.split("[x×*]", typed)]
    if len(parts) == 1:
        return _sound({"volume": with_unit(parts[0], Measure.VOLUME, settings)}, typed)
    if len(parts) != 3:
        raise QuantityError(words.no_mould(typed), words.MOULD_RIGHT)
    unit = re.sub(r"^[\d.,/\s]+", "", parts[2])
    sizes = [part if re.search("[a-z]", part) else f"{part} {unit}".strip() for part in parts]
    lengths = [with_unit(size, Measure.LENGTH, settings) for size in sizes]
    return _sound(dict(zip(SIZES, lengths, strict=True)), typed)


def _sound(mould: dict[str, str], typed: str) -> dict[str, str]:
    """``mould``, every size within a plan's bounds. Raises QuantityError."""
    for key, written in mould.items():
        known = field_of(("mould", key))
        try:
            if known and known.check:
                known.check(written)
        except Wrong as refused:
            right = words.MOULD_RIGHT
            if "out of range" in refused.wrong:
                right = refused.right
            raise QuantityError(words.no_mould(typed), right) from None
    return mould


def _with_step(text: str, keys: Keys, typed: str) -> str:
    tables = parse_text(text, "")
    given = value_at(tables, keys[:-1])
    names = list(given) if isinstance(given, list) else []
    place = int(keys[-1])
    names[place : place + 1] = [typed] if typed else []
    return with_value(text, keys[:-1], names or None)


def _first_text(keys: Keys) -> str:
    """What a new row of any other list is begun with: the first of its keys that it must have."""
    known = kinds_of(table_at(keys))
    needed = (key for key in known if (field := field_of((*keys, key))) and field.required)
    return next(needed, next(iter(known)))


def _shares(tables: Mapping[str, Any], keys: Keys) -> list[float]:
    listed = value_at(tables, keys)
    shares = []
    for row in listed if isinstance(listed, list) else []:
        try:
            shares.append(read(row.get("share"), Measure.SHARE))
        except QuantityError:
            shares.append(0.0)
    return shares


def _shrink_largest(text: str, keys: Keys) -> str:
    shares = _shares(parse_text(text, ""), keys)
    largest = max(range(len(shares)), key=lambda i: shares[i])
    return with_value(text, (*keys, largest, "share"), _percent(shares[largest] - NEW_SHARE))


def _percent(share: float) -> str:
    return f"{share * 100:.4g} %"
