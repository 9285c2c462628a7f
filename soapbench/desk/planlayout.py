"""A plan's text as rows of cells: every value in its place, what is not given shown as usual."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from soapbench.bench.planfaults import dotted
from soapbench.desk.plankeys import ADD, MORE, SIZE, SIZES, Keys, measure_of, not_given, value_at
from soapbench.desk.rows import Cell, Row
from soapbench.plan.fields import field_of, table_at
from soapbench.plan.tables import USUAL_STRENGTH
from soapbench.plan.values import kinds_of
from soapbench.reading.faults import Fault
from soapbench.reading.units import Measure, QuantityError, read
from soapbench.settings import Settings
from soapbench.words import numbers
from soapbench.words import workshop as words
from soapbench.words.quantities import length, mass, temperature
from soapbench.words.signs import LOOK


@dataclass(frozen=True, slots=True)
class Beside:
    """What was worked out and is shown beside what was written."""

    oils_g: Sequence[float] = ()
    """Of each oil in turn."""
    colours: Mapping[str, str] = field(default_factory=dict)
    """Names of colours, by #rrggbb."""


def rows(
    tables: Mapping[str, Any],
    faults: Iterable[Fault],
    settings: Settings,
    beside: Beside = Beside(),
) -> list[Row]:
    """The page of a plan; each fault under the row it belongs to."""
    page = _Page(tables, settings, beside)
    page_rows = [
        Row((page.cell(("title",), label=""),), words.HEADINGS["title"]),
        *page.moulds(),
        *page.oils(),
        *page.lye(),
        page.conditions(),
        *page.fragrances(),
        *page.pots(),
        *page.swirl(),
        *page.others(),
    ]
    return _with_faults(page_rows, faults)


@dataclass(frozen=True, slots=True)
class _Page:
    tables: Mapping[str, Any]
    settings: Settings
    beside: Beside

    def cell(self, keys: Keys, usual: str = "", wide: int = 0, label: str | None = None) -> Cell:
        """The value at ``keys``; not given, its default or ``usual`` is shown quietly."""
        value = value_at(self.tables, keys)
        known = field_of(keys)
        default = usual or (known.default if known else None) or "–"
        shown = self._as_liked(default if value is None else str(value), measure_of(keys))
        if known and known.words:
            shown = words.SHOWN.get(shown, shown)
        if label is None:
            label = words.LABELS.get(str(keys[-1]), str(keys[-1]).replace("_", " "))
        return Cell(keys, shown, label, quiet=value is None, wide=wide)

    def given(self, table: Keys, shown: Sequence[str]) -> Iterable[Cell]:
        """Cells of what else is given in a table, and the cell that asks for more."""
        entries = value_at(self.tables, table)
        for key, value in entries.items() if isinstance(entries, Mapping) else ():
            if key not in shown and isinstance(value, str) and field_of((*table, key)):
                look = key == "look" and not isinstance(table[-1], str)
                yield self._look((*table, key)) if look else self.cell((*table, key))
        missing = not_given(self.tables, table)
        for key in missing:
            known = field_of((*table, key))
            if key not in shown and known and known.required:
                yield self.cell((*table, key))
        if set(missing) - set(shown):
            yield Cell((*table, MORE), MORE, quiet=True)

    def _as_liked(self, written: str, measure: Measure | None) -> str:
        """A quantity in the maker's units; as written where it cannot be read."""
        show = {Measure.TEMPERATURE: temperature, Measure.LENGTH: length, Measure.MASS: mass}
        if measure not in show:
            return written
        try:
            return show[measure](read(written, measure), self.settings)
        except QuantityError:
            return written

    def listed(self, keys: Keys) -> list[Mapping[str, Any]]:
        value = value_at(self.tables, keys)
        rows = value if isinstance(value, list) else []
        return [row if isinstance(row, Mapping) else {} for row in rows]

    # ---- rows

    def moulds(self) -> Iterable[Row]:
        written = value_at(self.tables, ("mould",))
        listed = written if isinstance(written, list) else []
        more = [_add(("mould",))] if written else []
        if not listed:
            yield Row(
                (*self._one_mould(("mould",), written, False), *more), words.HEADINGS["mould"]
            )
        for i, mould in enumerate(listed):
            cells = [*self._one_mould(("mould", i), mould, len(listed) > 1)]
            last = more if i == len(listed) - 1 else []
            yield Row((*cells, *last), "" if i else words.HEADINGS["mould"])

    def _one_mould(self, keys: Keys, value: object, several: bool) -> Iterable[Cell]:
        given = value if isinstance(value, Mapping) else {}
        shown = [str(given[size]) for size in SIZES if size in given]  # in the unit it was typed in
        units = {size.split()[-1] for size in shown if size.split()}
        if len(units) == 1 and len(shown) == len(SIZES):
            shown = [*(size.split()[0] for size in shown[:-1]), shown[-1]]
        written = " x ".join(shown) or str(given.get("volume", "size?"))
        yield Cell((*keys, SIZE), written, quiet=not given)
        yield self.cell((*keys, "fill"))
        if several or "pots" in given:
            yield self._into((*keys, "pots"), words.IN_TURN)

    def oils(self) -> Iterable[Row]:
        listed = self.listed(("oils",))
        for i, oil in enumerate(listed):
            how = "mass" if "mass" in oil else "share"
            cells = [
                self.cell(("oils", i, "name"), wide=20, label=""),
                replace(self.cell(("oils", i, how), wide=8, label=""), after=self._comes_to(i)),
                *self.given(("oils", i), ("name", "mass", "share")),
            ]
            if i == len(listed) - 1:
                cells.append(_add(("oils",)))
            yield Row(tuple(cells), "" if i else words.HEADINGS["oils"])
        if not listed:
            yield Row((_add(("oils",)),), words.HEADINGS["oils"])

    def _comes_to(self, i: int) -> str:
        """A share in grams, a weight as its share."""
        masses = self.beside.oils_g
        if i >= len(masses) or not sum(masses):
            return ""
        if "mass" in self.listed(("oils",))[i]:
            return f"{numbers.share(masses[i] / sum(masses), 1):>7}"
        return f"{mass(masses[i], self.settings, 0):>7}"

    def lye(self) -> Iterable[Row]:
        given = value_at(self.tables, ("lye",))
        table = given if isinstance(given, Mapping) else {}
        water = "water_to_lye" if "water_to_lye" in table else "concentration"
        shown = ("alkali", "purity", "superfat", water)
        usual = numbers.written_share(USUAL_STRENGTH)
        yield Row(
            (
                self.cell(("lye", "alkali"), label=""),
                self.cell(("lye", "purity")),
                self.cell(("lye", "superfat")),
                self.cell(("lye", water), usual if water == "concentration" else ""),
                *self.given(("lye",), (*shown, "concentration", "water_to_lye")),
            ),
            words.HEADINGS["lye"],
        )

    def conditions(self) -> Row:
        given = value_at(self.tables, ("conditions",))
        table = given if isinstance(given, Mapping) else {}
        apart = [key for key in ("oils", "lye") if key in table]
        shown = (*(apart or ["batter"]), "room", "blend", "gel")
        cells = [self.cell(("conditions", key)) for key in shown]
        more = self.given(("conditions",), (*shown, "batter"))
        return Row((*cells, *more), words.HEADINGS["conditions"])

    def fragrances(self) -> Iterable[Row]:
        value = value_at(self.tables, ("fragrance",))
        places: list[Keys] = [("fragrance",)] if isinstance(value, Mapping) else []
        if isinstance(value, list):
            places = [("fragrance", i) for i in range(len(value))]
        shown = ("name", "load", "limit", "reputation", "goes_into", "when")
        for i, keys in enumerate(places):
            last = [_add(("fragrance",), words.SECOND_FRAGRANCE)] if i == len(places) - 1 else []
            yield Row(
                (
                    self.cell((*keys, "name"), wide=20, label=""),
                    self.cell((*keys, "load")),
                    self.cell((*keys, "limit"), words.NO_LIMIT),
                ),
                "" if i else words.HEADINGS["fragrance"],
            )
            yield Row(
                (
                    self.cell((*keys, "reputation")),
                    self._into((*keys, "goes_into")),
                    self.cell((*keys, "when")),
                    *self.given(keys, shown),
                    *last,
                ),
                indent=2,
            )
        if not places:
            yield Row((_add(("fragrance",)),), words.HEADINGS["fragrance"])

    def _into(self, keys: Keys, usual: str = "") -> Cell:
        cell = self.cell(keys, usual)
        value = value_at(self.tables, keys)
        return replace(cell, shown=", ".join(map(str, value))) if isinstance(value, list) else cell

    def pots(self) -> Iterable[Row]:
        listed = self.listed(("pots",))
        for i, pot in enumerate(listed):
            keys: Keys = ("pots", i)
            colours = self.listed((*keys, "colourants"))
            cells = [
                self.cell((*keys, "name"), wide=14, label=""),
                self.cell((*keys, "share"), wide=6, label=""),
            ]
            if "look" in pot or not colours:
                cells.append(self._look((*keys, "look")))
            cells.append(_add((*keys, "colourants")))
            if i == len(listed) - 1:
                cells.append(_add(("pots",)))
            yield Row(tuple(cells), "" if i else words.HEADINGS["pots"])
            yield from (self._colour((*keys, "colourants", j)) for j in range(len(colours)))
        if not listed:
            yield Row((_add(("pots",)),), words.HEADINGS["pots"])

    def _colour(self, keys: Keys) -> Row:
        shown = ("name", "dose", "disperse_in", "look")
        return Row(
            (
                self.cell((*keys, "name"), wide=16, label=""),
                self.cell((*keys, "dose"), wide=7, label=""),
                self.cell((*keys, "disperse_in")),
                self._look((*keys, "look")),
                *self.given(keys, shown),
            ),
            indent=2,
        )

    def _look(self, keys: Keys) -> Cell:
        value = value_at(self.tables, keys)
        fits = isinstance(value, str) and LOOK.fullmatch(value)
        shown = (
            words.NO_COLOUR if value is None else self.beside.colours.get(str(value), str(value))
        )
        return Cell(keys, shown, look=str(value) if fits else "", quiet=value is None)

    def swirl(self) -> Iterable[Row]:
        for key in ("steps", "fall_back"):
            value = value_at(self.tables, ("swirl", key))
            names = value if isinstance(value, list) else []
            cells = [Cell(("swirl", key, i), str(name)) for i, name in enumerate(names)]
            if key == "steps" and not cells:
                cells = [Cell(("swirl", key, 0), words.NO_STEPS, quiet=True)]
            yield Row((*cells, _add(("swirl", key))), words.HEADINGS[key])

    def others(self) -> Iterable[Row]:
        """What a plan may have beside all this, and the way to it."""
        known = ("title", "mould", "oils", "lye", "conditions", "fragrance", "pots", "swirl")
        for name in kinds_of(table_at(())):
            value = value_at(self.tables, (name,))
            if name in known or value is None:
                continue
            heading = words.HEADINGS.get(name, name.replace("_", " "))
            if isinstance(value, list):
                for i in range(len(self.listed((name,)))):
                    cells = [*self.given((name, i), ())]
                    last = [_add((name,))] if i == len(value) - 1 else []
                    if cells or last:
                        yield Row((*cells, *last), "" if i else heading)
            else:
                yield Row(tuple(self.given((name,), ())), heading)
        if set(not_given(self.tables, ())) - set(known):
            yield Row((Cell((MORE,), words.MORE, quiet=True),))


def _add(keys: Keys, what: str = "") -> Cell:
    return Cell((*keys, ADD), f"+ {what or words.ADDS.get(str(keys[-1]), keys[-1])}", quiet=True)


def _with_faults(page_rows: list[Row], faults: Iterable[Fault]) -> list[Row]:
    """Each fault under the row that has its key, else under the first row below its key."""
    by_row: dict[int, list[Fault]] = {}
    for fault in faults:
        plain = replace(fault, wrong=words.plainly(fault.wrong), right=words.plainly(fault.right))
        by_row.setdefault(_row_of(page_rows, fault.key), []).append(plain)
    return [replace(row, faults=tuple(by_row.get(i, ()))) for i, row in enumerate(page_rows)]


def _row_of(page_rows: list[Row], key: str) -> int:
    while key:
        exact = [i for i, row in enumerate(page_rows) for c in row.cells if dotted(c.keys) == key]
        inside = [
            i
            for i, row in enumerate(page_rows)
            for c in row.cells
            if dotted(c.keys).startswith(key)
        ]
        if exact or inside:
            return exact[0] if exact else inside[-1]
        key = key.rpartition(".")[0]
    return 0
