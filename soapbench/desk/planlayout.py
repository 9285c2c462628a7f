"""A plan's text as rows of cells: every value in its place, what is not given shown as usual."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from soapbench.bench.planfaults import dotted
from soapbench.desk.rows import Cell, Row
from soapbench.reading.faults import Fault
from soapbench.reading.units import Measure, QuantityError, read
from soapbench.settings import Settings
from soapbench.words.quantities import length, mass, temperature

Keys = tuple[int | str, ...]
MEASURES = {
    "length": Measure.LENGTH,
    "width": Measure.LENGTH,
    "depth": Measure.LENGTH,
    "volume": Measure.VOLUME,
    "fill": Measure.SHARE,
    "share": Measure.SHARE,
    "mass": Measure.MASS,
    "saponification": Measure.SAPONIFICATION,
    "purity": Measure.SHARE,
    "koh_purity": Measure.SHARE,
    "koh_share": Measure.SHARE,
    "superfat": Measure.SHARE,
    "concentration": Measure.SHARE,
    "batter": Measure.TEMPERATURE,
    "room": Measure.TEMPERATURE,
    "blend": Measure.TIME,
    "load": Measure.SHARE,
    "limit": Measure.SHARE,
    "density": Measure.DENSITY,
}
"""What each key of a plan measures."""
ADD = "+"
"""Last of the keys of a cell that adds a row."""


def measure_of(keys: Keys) -> Measure | None:
    return MEASURES.get(str(keys[-1]))


def rows(tables: Mapping[str, Any], faults: Iterable[Fault], settings: Settings) -> list[Row]:
    """The page of a plan; each fault under the row it belongs to."""
    made = [
        Row((_cell(tables, ("title",), settings),), "title"),
        Row(tuple(_mould(tables, settings)), "mould"),
        *_oils(tables, settings),
        *_lye(tables, settings),
        Row(
            tuple(
                _cell(tables, ("conditions", key), settings, key, usual)
                for key, usual in (
                    ("batter", "30 degC"),
                    ("room", "20 degC"),
                    ("blend", "to stable emulsion"),
                    ("gel", "allow"),
                )
            ),
            "batter",
        ),
        *_scents(tables, settings),
        *_pots(tables, settings),
        *_swirl(tables),
    ]  # fmt: skip
    return _with_faults(made, faults)


def value_at(tables: Mapping[str, Any], keys: Keys) -> Any:
    """What the plan says at ``keys``; None where it says nothing."""
    here: Any = tables
    for part in keys:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            return None
    return here


def _cell(
    tables: Mapping[str, Any],
    keys: Keys,
    settings: Settings,
    label: str = "",
    usual: str = "–",
    wide: int = 0,
) -> Cell:
    said = value_at(tables, keys)
    shown = _as_liked(usual if said is None else str(said), measure_of(keys), settings)
    return Cell(keys, shown, label, quiet=said is None, wide=wide)


def _as_liked(written: str, measure: Measure | None, settings: Settings) -> str:
    """A quantity in the maker's units; as written where it cannot be read."""
    show = {Measure.TEMPERATURE: temperature, Measure.LENGTH: length, Measure.MASS: mass}
    if measure not in show:
        return written
    try:
        return show[measure](read(written, measure), settings)
    except QuantityError:
        return written


def _add(keys: Keys, words: str) -> Cell:
    return Cell((*keys, ADD), f"+ {words}", quiet=True)


def _mould(tables: Mapping[str, Any], settings: Settings) -> Iterable[Cell]:
    mould = value_at(tables, ("mould",))
    sizes = ("length", "width", "depth")
    by_volume = isinstance(mould, Mapping) and "volume" in mould
    if not by_volume or any(size in mould for size in sizes):
        yield from (_cell(tables, ("mould", size), settings, size) for size in sizes)
    if by_volume:
        yield _cell(tables, ("mould", "volume"), settings, "volume")
    yield _cell(tables, ("mould", "fill"), settings, "fill", "92 %")


def _oils(tables: Mapping[str, Any], settings: Settings) -> Iterable[Row]:
    listed = value_at(tables, ("oils",))
    oils = listed if isinstance(listed, list) else []
    for i, oil in enumerate(oils):
        given = oil if isinstance(oil, Mapping) else {}
        how = "mass" if "mass" in given else "share"
        cells = [
            _cell(tables, ("oils", i, "name"), settings, wide=20),
            _cell(tables, ("oils", i, how), settings, wide=8),
            *(
                _cell(tables, ("oils", i, key), settings, word)
                for key, word in (("saponification", "certificate"), ("lot", "lot"))
                if key in given
            ),
        ]
        if i == len(oils) - 1:
            cells.append(_add(("oils",), "oil"))
        yield Row(tuple(cells), "" if i else "oils")
    if not oils:
        yield Row((_add(("oils",), "oil"),), "oils")


def _lye(tables: Mapping[str, Any], settings: Settings) -> Iterable[Row]:
    lye = value_at(tables, ("lye",))
    given = lye if isinstance(lye, Mapping) else {}
    water = (
        _cell(tables, ("lye", "water_to_lye"), settings, "water : lye")
        if "water_to_lye" in given
        else _cell(tables, ("lye", "concentration"), settings, "strength", "33 %")
    )
    yield Row(
        (
            _cell(tables, ("lye", "alkali"), settings, "", "NaOH"),
            _cell(tables, ("lye", "purity"), settings, "purity", "100 %"),
            _cell(tables, ("lye", "superfat"), settings, "superfat", "5 %"),
            water,
        ),
        "lye",
    )
    if given.get("alkali") == "both":
        keys = ("koh_share", "koh_purity")
        words = ("of it KOH", "purity of that")
        yield Row(
            tuple(
                _cell(tables, ("lye", key), settings, word)
                for key, word in zip(keys, words, strict=True)
            )
        )


def _scents(tables: Mapping[str, Any], settings: Settings) -> Iterable[Row]:
    said = value_at(tables, ("fragrance",))
    if isinstance(said, Mapping):
        places: list[Keys] = [("fragrance",)]
    else:
        places = [("fragrance", i) for i in range(len(said))] if isinstance(said, list) else []
    for i, keys in enumerate(places):
        yield Row(
            (
                _cell(tables, (*keys, "name"), settings, wide=20),
                _cell(tables, (*keys, "load"), settings, "load"),
                _cell(tables, (*keys, "limit"), settings, "limit", "not given"),
                _cell(tables, (*keys, "lot"), settings, "lot"),
            ),
            "" if i else "scent",
        )
        last = [_add(("fragrance",), "another scent")] if i == len(places) - 1 else []
        yield Row(
            (
                _cell(tables, (*keys, "reputation"), settings, "said to be", "unknown"),
                _into(tables, (*keys, "goes_into")),
                _cell(tables, (*keys, "when"), settings, "", "together"),
                *last,
            ),
            indent=1,
        )
    if not places:
        yield Row((_add(("fragrance",), "scent"),), "scent")


def _into(tables: Mapping[str, Any], keys: Keys) -> Cell:
    said = value_at(tables, keys)
    words = ", ".join(map(str, said)) if isinstance(said, list) else str(said or "each pot")
    return Cell(keys, words, "into", quiet=said is None)


def _pots(tables: Mapping[str, Any], settings: Settings) -> Iterable[Row]:
    listed = value_at(tables, ("pots",))
    pots = listed if isinstance(listed, list) else []
    for i, pot in enumerate(pots):
        keys: Keys = ("pots", i)
        colours = pot.get("colourants") if isinstance(pot, Mapping) else None
        colours = colours if isinstance(colours, list) else []
        look = value_at(tables, (*keys, "look"))
        cells = [
            _cell(tables, (*keys, "name"), settings, wide=14),
            _cell(tables, (*keys, "share"), settings, wide=6),
        ]
        if look is not None or not colours:
            cells.append(_look(tables, (*keys, "look")))
        cells.append(_add((*keys, "colourants"), "colour"))
        if i == len(pots) - 1:
            cells.append(_add(("pots",), "pot"))
        yield Row(tuple(cells), "" if i else "pots")
        for j in range(len(colours)):
            at = (*keys, "colourants", j)
            yield Row(
                (
                    _cell(tables, (*at, "name"), settings, wide=16),
                    _cell(tables, (*at, "dose"), settings, wide=7),
                    _cell(tables, (*at, "disperse_in"), settings, "in", "none"),
                    _look(tables, (*at, "look")),
                ),
                indent=2,
            )
    if not pots:
        yield Row((_add(("pots",), "pot"),), "pots")


def _look(tables: Mapping[str, Any], keys: Keys) -> Cell:
    from soapbench.words.signs import LOOK

    said = value_at(tables, keys)
    shown = str(said) if said is not None else "look –"
    fits = isinstance(said, str) and LOOK.fullmatch(said)
    return Cell(keys, shown, look=str(said) if fits else "", quiet=said is None)


def _swirl(tables: Mapping[str, Any]) -> Iterable[Row]:
    for key, heading, words in (("steps", "swirl", "step"), ("fall_back", "else", "fall back")):
        said = value_at(tables, ("swirl", key))
        names = said if isinstance(said, list) else []
        cells = [Cell(("swirl", key, i), str(name)) for i, name in enumerate(names)]
        if key == "steps" and not cells:
            cells = [Cell(("swirl", key, 0), "plain pour", quiet=True)]
        yield Row((*cells, _add(("swirl", key), words)), heading)


def _with_faults(made: list[Row], faults: Iterable[Fault]) -> list[Row]:
    """Each fault under the row that has its key, else under the first row below its key."""
    found: dict[int, list[Fault]] = {}
    for fault in faults:
        found.setdefault(_row_of(made, fault.key), []).append(fault)
    return [replace(row, faults=tuple(found.get(i, ()))) for i, row in enumerate(made)]


def _row_of(made: list[Row], key: str) -> int:
    while key:
        exact = [i for i, row in enumerate(made) for c in row.cells if dotted(c.keys) == key]
        inside = [
            i for i, row in enumerate(made) for c in row.cells if dotted(c.keys).startswith(key)
        ]
        if exact or inside:
            return exact[0] if exact else inside[-1]
        key = key.rpartition(".")[0]
    return 0
