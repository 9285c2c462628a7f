"""A plan out of the tables of its file, all that is wrong with them at once.

What a table holds stands in the annotations of its class. Pydantic's engine is told of it straight
from there: by way of pydantic's models, that takes longer on every start than everything else that
is done with a plan.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from functools import cache, partial
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic_core import CoreConfig, CoreSchema, SchemaValidator
from pydantic_core import core_schema as schema

from soapbench.plan.pourplan import ASSUMABLE, Plan
from soapbench.plan.values import kinds_of


def read_tables(tables: Mapping[str, Any], context: Mapping[str, Any] | None = None) -> Plan:
    """The plan that TOML tables hold. Raises pydantic's ValidationError with every fault in it.

    ``context``: the names of known "oils" and "swirls"; without it any name will do.
    """
    tables = _with_one_mould(tables)
    if "assumed" not in tables:
        tables = _with_assumed(tables)
    plan: Plan = _validator().validate_python(tables, context=dict(context or {}))
    return plan


def _with_one_mould(tables: Mapping[str, Any]) -> Mapping[str, Any]:
    """[[mould]] several times: the first, and the others after it."""
    listed = tables.get("mould")
    if not isinstance(listed, list) or not listed or not isinstance(listed[0], Mapping):
        return tables
    return {**tables, "mould": {**listed[0], "also": listed[1:]}}


def read_poured(tables: Mapping[str, Any], context: Mapping[str, Any] | None = None) -> Plan:
    """The plan in the header of a log, as it was poured. Raises as ``read_tables`` does.

    What has been refused or done otherwise since then holds for it as it did: the first release
    took the oil for colours out of the recipe, and said nothing of it in the plan.
    """
    pots = tables.get("pots")
    if isinstance(pots, list):
        tables = {**tables, "pots": [_with_recipe_oil(pot) for pot in pots]}
    return read_tables(tables, {**(context or {}), "poured": True})


def _with_recipe_oil(pot: object) -> object:
    colours = pot.get("colourants") if isinstance(pot, Mapping) else None
    if not isinstance(pot, Mapping) or not isinstance(colours, list):
        return pot
    from_recipe = {"oil_from": "recipe"}
    return {
        **pot,
        "colourants": [{**from_recipe, **c} if isinstance(c, Mapping) else c for c in colours],
    }


def _with_assumed(tables: Mapping[str, Any]) -> dict[str, Any]:
    """What the plan leaves out and is taken as usual; KOH never as pure, for none is sold so."""
    assumed = [name for name in ASSUMABLE if not _has(tables, name)]
    lye = tables.get("lye")
    filled = dict(tables)
    if isinstance(lye, Mapping) and lye.get("alkali") in ("KOH", "both"):
        key = "purity" if lye["alkali"] == "KOH" else "koh_purity"
        if key not in lye and "koh_purity" not in lye:
            filled["lye"] = {**lye, key: ASSUMED_KOH}
            assumed = [*dict.fromkeys([*assumed, f"lye.{key}"])]
    return {**filled, "assumed": assumed}


ASSUMED_KOH = "92 %"
"""The purest usually sold (common practice, no source): a weaker one leaves more superfat."""


def _has(tables: Mapping[str, Any], dotted: str) -> bool:
    name, _, key = dotted.partition(".")
    table = tables.get(name)
    return isinstance(table, Mapping) and key in table


@cache
def _validator() -> SchemaValidator:
    return SchemaValidator(_table(Plan))


def _table(table: type) -> CoreSchema:
    """Unknown keys are faults."""
    kinds = kinds_of(table)
    keys = []
    for field in fields(table):
        value = _kind(kinds[field.name])
        if field.default is not MISSING:
            value = schema.with_default_schema(value, default=field.default)
        elif field.default_factory is not MISSING:
            value = schema.with_default_schema(value, default_factory=field.default_factory)
        keys.append(schema.dataclass_field(field.name, value, kw_only=True))
    return schema.dataclass_schema(
        table,
        schema.dataclass_args_schema(table.__name__, keys, extra_behavior="forbid"),
        [field.name for field in fields(table)],
        post_init=hasattr(table, "__post_init__"),
        slots=True,
        config=CoreConfig(extra_fields_behavior="forbid"),
    )


def _kind(kind: Any) -> CoreSchema:
    """Nothing is guessed: text must be text, and a list of tables is not one table."""
    if get_origin(kind) is Annotated:
        plain, *marks = get_args(kind)
        return _marked(plain, marks)
    if get_origin(kind) in (Union, UnionType):
        kinds = [_kind(part) for part in get_args(kind) if part is not NoneType]
        several = schema.union_schema(kinds) if len(kinds) > 1 else kinds[0]  # type: ignore[arg-type]
        return schema.nullable_schema(several) if NoneType in get_args(kind) else several
    if get_origin(kind) is Literal:
        return schema.literal_schema(list(get_args(kind)))
    if get_origin(kind) is tuple:
        return schema.tuple_schema([_kind(get_args(kind)[0])], variadic_item_index=0)
    if is_dataclass(kind) and isinstance(kind, type):
        return _table(kind)
    if kind is str:
        return schema.str_schema(strict=True)
    raise TypeError(f"no plan holds a {kind}")


def _marked(plain: Any, marks: list[Any]) -> CoreSchema:
    """Each mark goes around those before it, as pydantic takes them."""
    handler = _kind
    for mark in marks:
        handler = partial(mark.__get_pydantic_core_schema__, handler=handler)
    return handler(plain)
