"""What a maker may enter of own materials: a form for each table of the bench, apart from screens.

A form knows its file, its fields and how each is read from what is typed; what is wrong with a
whole entry is said by the table's own reader.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, get_args

from soapbench.batter import TRACE_WORDS, Reputation
from soapbench.bench import owntable
from soapbench.desk.colournames import colour_named, name_of
from soapbench.desk.plankeys import value_at
from soapbench.desk.rows import Cell, Row
from soapbench.plan.tables import EMULSION, LIQUIDS, PLACES
from soapbench.plan.values import DENSITIES, MOST_POTS, SAPONIFICATION_VALUES, SHARES
from soapbench.reading.faults import Fault
from soapbench.reading.safetext import clean
from soapbench.reading.units import Measure, QuantityError, read
from soapbench.recipe.additives import additive_table
from soapbench.recipe.colourants import BULKS_G_ML, colourant_table
from soapbench.recipe.fragrances import fragrance_table
from soapbench.recipe.oils import oil_table
from soapbench.swirls.table import MEDIANS_S, PotsOf, swirl_table
from soapbench.words import materials as words
from soapbench.words.colours import UNKNOWN
from soapbench.words.numbers import written_share
from soapbench.words.workshop import plainly

Place = owntable.Place
NEW = "+"


@dataclass(frozen=True, slots=True)
class Blank:
    """One value of an entry: where it is kept, what it is called, how it is typed and shown."""

    path: Place
    label: str
    asked: str
    read: Callable[[str], Any] = lambda typed: typed
    """Raises Wrong."""
    show: Callable[[Any], str] = str
    choices: tuple[str, ...] = ()
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Form:
    """One table of the maker's own."""

    name: str
    """What it holds, as a heading."""
    one: str
    file: str
    first_lines: str
    blanks: tuple[Blank, ...]
    reader: Callable[[Mapping[str, Any]], tuple[Any, tuple[Fault, ...]]]
    under: str = ""
    """The table the entries are in; empty: the file itself."""
    first: Mapping[str, Any] | None = None
    """What a new entry begins with; None: it is begun like another."""
    asks: str = ""
    """Label of the value asked next after a new name."""
    needs_it: bool = False
    """An entry without that value is none."""

    @property
    def at(self) -> Place:
        return (self.under,) if self.under else ()

    def blanks_of(self, entry: Mapping[str, Any]) -> tuple[Blank, ...]:
        """The blanks of one entry: a swirl has some for each of its moves."""
        moves = entry.get("moves")
        if not self.under or not isinstance(moves, list):
            return self.blanks
        return (*self.blanks, *(b for i, move in enumerate(moves) for b in _move(i, move)))


# ---- how values are typed


def _quantity(measure: Measure, least: float, most: float) -> Callable[[str], float]:
    unit = measure.unit or "%"

    def reader(typed: str) -> float:
        bare = typed.strip().replace(".", "", 1).isdigit()
        value = read(f"{typed} {unit}" if bare else typed, measure)
        if not least <= value <= most:
            share = measure is Measure.SHARE
            low, high = (written_share(v) if share else f"{v:g} {unit}" for v in (least, most))
            raise QuantityError(words.out_of_range(typed), words.from_to(low, high))
        return float(f"{value:.6g}")

    return reader


def _percent(typed: str) -> float:
    return float(f"{_quantity(Measure.SHARE, *SHARES)(typed) * 100:.6g}")


def _saponification(typed: str) -> Any:
    """One value, or a range "184-196"."""
    ends = [part.strip() for part in typed.replace("–", "-").split("-")]
    values = [_quantity(Measure.SAPONIFICATION, *SAPONIFICATION_VALUES)(end) for end in ends[:2]]
    return values[0] if len(ends) == 1 else values


def _shown_range(value: Any) -> str:
    return "–".join(f"{v:g}" for v in value) if isinstance(value, list) else f"{value:g}"


def _allergens(typed: str) -> dict[str, float]:
    """ "Linalool 2.1 %, Limonene 0.4": names with their shares."""
    shares = {}
    for part in typed.split(","):
        name, _, share = part.strip().rstrip("% ").rpartition(" ")
        if not name.strip():
            raise QuantityError(words.no_share(part.strip()), words.NO_SHARE_RIGHT)
        shares[name.strip()] = _percent(f"{share} %")
    return shares


def _shown_allergens(value: Mapping[str, float]) -> str:
    return ", ".join(f"{name} {written_share(share / 100)}" for name, share in value.items())


def _look(typed: str) -> str:
    look = colour_named(typed)
    if look is None:
        raise QuantityError(*UNKNOWN.split(". ", 1))
    return look


def _seconds(typed: str) -> float:
    return _quantity(Measure.TIME, *MEDIANS_S)(typed)


_density = _quantity(Measure.DENSITY, *DENSITIES)
_bulk = _quantity(Measure.DENSITY, *BULKS_G_ML)
_part = _quantity(Measure.SHARE, 0, 1)
LOT = Blank(("lot",), *words.LOT)
LABEL = Blank(("inci", "name"), *words.LABEL)
NOTE = Blank(("note",), *words.A_NOTE)
OILS = Form(
    *words.FORMS["oils"], "oils.toml", words.FIRST_LINES["oils"],
    (
        Blank(("saponification", "mg_koh_g"), *words.SAP, _saponification, _shown_range),
        Blank(("saturated", "share"), *words.SATURATED, _part, written_share),
        Blank(("density", "g_ml"), *words.DENSITY_20, _density),
        LABEL, LOT,
    ),
    oil_table, first={}, asks=words.SAP[0], needs_it=True,
)  # fmt: skip
COLOURANTS = Form(
    *words.FORMS["colourants"], "colourants.toml", words.FIRST_LINES["colourants"],
    (
        Blank(("look",), *words.COLOUR, _look, name_of),
        Blank(("disperse_in",), *words.MIXED_WITH,
              choices=LIQUIDS, closed=True),
        Blank(("bulk_g_ml",), *words.LEVEL_ML, _bulk),
        LABEL, LOT, NOTE,
    ),
    colourant_table, first={"disperse_in": "oil"}, asks=words.COLOUR[0],
)  # fmt: skip
FRAGRANCES = Form(
    *words.FORMS["fragrances"], "fragrances.toml", words.FIRST_LINES["fragrances"],
    (
        Blank(("limit_percent",), *words.LIMIT, _percent, lambda v: written_share(v / 100)),
        Blank(("reputation",), *words.DESCRIBED,
              choices=tuple(word.value for word in Reputation), closed=True),
        LOT,
        Blank(("density_g_ml",), *words.DENSITY, _density),
        Blank(("vanillin_percent",), *words.VANILLIN, _percent, lambda v: written_share(v / 100)),
        Blank(("allergens_percent",), *words.ALLERGENS, _allergens, _shown_allergens),
        NOTE,
    ),
    fragrance_table, first={"reputation": "unknown"}, asks=words.LIMIT[0],
)  # fmt: skip
SWIRLS = Form(
    *words.FORMS["swirls"], "swirls.toml", words.FIRST_LINES["swirls"],
    (
        Blank(("says",), *words.WHAT_IT_IS),
        Blank(("least_pots",), *words.LEAST_POTS, int, str,
              tuple(map(str, range(1, MOST_POTS + 1))), True),
    ),
    swirl_table, under="swirl",
)  # fmt: skip
ADDITIVES = Form(
    *words.FORMS["additives"], "additives.toml", words.FIRST_LINES["additives"],
    (
        Blank(("goes_in",), *words.GOES_IN,
              choices=PLACES, closed=True),
        Blank(("water",), *words.WATER, _part, written_share),
        Blank(("bulk_g_ml",), *words.LEVEL_ML, _bulk),
        LABEL, LOT, NOTE,
    ),
    additive_table, first={"goes_in": EMULSION}, asks=words.WATER[0],
)  # fmt: skip
FORMS = (FRAGRANCES, OILS, COLOURANTS, ADDITIVES, SWIRLS)


def _move(i: int, move: Any) -> tuple[Blank, ...]:
    """The blanks of one move: how long it takes, with which pots, how thick the batter may be."""
    does = clean(str(move.get("do", "")), 30) if isinstance(move, Mapping) else ""
    blanks = [
        Blank(("moves", i, "median_s"), *words.how_long(does),
              _seconds, lambda v: f"{v:g} s"),
        Blank(("moves", i, "pots"), *words.with_which(does),
              choices=get_args(PotsOf), closed=True),
    ]  # fmt: skip
    if isinstance(move, Mapping) and isinstance(move.get("hand"), list) and len(move["hand"]) > 1:
        blanks.append(
            Blank(("moves", i, "hand", 1), *words.how_thick(does),
                  choices=TRACE_WORDS, closed=True)
        )  # fmt: skip
    return tuple(blanks)


# ---- the page


def faults_of(form: Form, entry: Mapping[str, Any]) -> tuple[Fault, ...]:
    """What is wrong with the maker's entries, by the table's own reader."""
    own = {"source": "own", "verified": "own"}
    return form.reader({**own, form.under: entry} if form.under else {**own, **entry})[1]


def rows(form: Form, entries: Mapping[str, Mapping[str, Any]]) -> list[Row]:
    """The page of a form: a row or more for each entry, what is wrong with it below."""
    faults = faults_of(form, entries)
    lines = []
    for name, entry in entries.items():
        cells = [Cell((*form.at, name), name, wide=22)]
        cells += [_cell((*form.at, name), blank, entry) for blank in form.blanks_of(entry)]
        start = ".".join((*map(str, form.at), name))
        mine = tuple(
            replace(f, wrong=plainly(f.wrong), right=plainly(f.right))
            for f in faults
            if f.key == start or f.key.startswith(f"{start}.")
        )
        lines.append(Row(tuple(cells), faults=mine))
    lines.append(Row((Cell((*form.at, NEW), words.new_one(form.one), quiet=True),)))
    return lines


def _cell(at: Place, blank: Blank, entry: Mapping[str, Any]) -> Cell:
    value = value_at(entry, blank.path)
    shown = "–" if value is None else blank.show(value)
    look = (
        value if blank.path == ("look",) and isinstance(value, str) and colour_named(value) else ""
    )
    return Cell((*at, *blank.path), shown, blank.label, look=look, quiet=value is None)
