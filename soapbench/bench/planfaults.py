"""What pydantic's engine refuses of a plan, said as a maker would understand it, at its line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic_core import ErrorDetails

from soapbench.logfile.tomlfile import Location
from soapbench.plan.fields import table_at
from soapbench.plan.values import kinds_of
from soapbench.reading.faults import Fault, Wrong, nearest
from soapbench.reading.safetext import clean


def fault_of(error: ErrorDetails, tables: Mapping[str, Any], lines: dict[Location, int]) -> Fault:
    """One of its errors as a fault in the maker's words."""
    context = error.get("ctx", {})
    refused = context.get("error")
    if isinstance(refused, Wrong):
        wrong, right = refused.wrong, refused.right
    else:
        wrong, right = _translated(error, context)
    location = _location(error, tables)
    return Fault(clean(dotted(location)), wrong, right, _line(location, lines))


def counted_right(errors: Sequence[ErrorDetails]) -> list[ErrorDetails]:
    """Without lists too short for the engine only because what is wrong in them does not count."""
    places = {error["loc"][:i] for error in errors for i in range(1, len(error["loc"]))}
    return [e for e in errors if e["type"] != "too_short" or e["loc"] not in places]


def line_of(
    error: ErrorDetails, tables: Mapping[str, Any], lines: dict[Location, int]
) -> int | None:
    """The line one of its errors stands on."""
    return _line(_location(error, tables), lines)


def _location(error: ErrorDetails, tables: Mapping[str, Any]) -> Location:
    location: Location = error["loc"]
    refused = error.get("ctx", {}).get("error")
    if isinstance(refused, Wrong):
        location += tuple(int(p) if p.isdigit() else p for p in refused.key.split(".") if p)
    if location[:1] == ("mould",) and isinstance(tables.get("mould"), list):  # several of them
        *_, nth = (-1, location[2]) if location[1:2] == ("also",) and location[2:] else (-1,)
        location = ("mould", int(nth) + 1, *location[1 if nth == -1 else 3 :])
    return _as_in_file(location, tables)


def _translated(error: ErrorDetails, context: Mapping[str, Any]) -> tuple[str, str]:
    """What the engine's own kinds of error mean to a maker."""
    kind, location = error["type"], error["loc"]
    known = sorted(kinds_of(table_at(location[:-1])))
    if kind == "unexpected_keyword_argument":
        return "unknown setting", nearest(str(location[-1]), known)
    if kind == "missing":
        return "missing", f'add "{location[-1]}"'
    if kind == "literal_error":
        return "must be one of these words", str(context["expected"]).replace("'", '"')
    if kind in ("tuple_type", "is_instance_of"):
        return "a list is expected here", 'write ["…", "…"], or a [[table]] for each'
    if kind in ("dataclass_type", "dict_type"):
        return "a table is expected here", f"write [{dotted(location)}] with keys below it"
    if kind == "string_type":
        return "text is expected here", 'write it in quotes, "…"'
    if kind in ("too_short", "too_long"):
        least, most = context.get("min_length"), context.get("max_length")
        return (
            f"there are {context['actual_length']}"
            if context["actual_length"]
            else "there is none",
            f"at least {least}" if kind == "too_short" else f"at most {most}",
        )
    if kind == "string_too_long":
        return "it is too long", f"at most {context['max_length']} characters"
    return clean(error["msg"]), "see the example plans"


def _as_in_file(location: Location, tables: Mapping[str, Any]) -> Location:
    """``location`` as the maker wrote it: one [fragrance] has no number, unions no branch."""
    keys: list[int | str] = []
    here: Any = tables
    for part in location:
        if isinstance(part, int) and isinstance(here, Mapping):
            continue
        if isinstance(part, str) and not isinstance(here, Mapping):
            continue  # the engine's name for a branch of a union
        keys.append(part)
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            here = {} if isinstance(part, int) else None
    return tuple(keys)


def dotted(location: Location) -> str:
    """``pots[2].share``: counted from 1, as a person counts."""
    text = ""
    for part in location:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def _line(location: Location, lines: dict[Location, int]) -> int | None:
    """The line of a key, else of the nearest table around it, in a log the plan's own."""
    for end in range(len(location), -1, -1):
        if location[:end] in lines:
            return lines[location[:end]]
    return None
