"""State to plain JSON values and back, for checkpoints: named tuples of the shapes that `unit.py` uses.

Only what differs from a field's default is written, so a field added later reads from an old checkpoint.
"""

from __future__ import annotations

import types
from collections.abc import Mapping
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from protocols.errors import Defect

_MISSING = object()


def to_plain(value: Any) -> Any:
    """Promise the JSON value of a state object; named tuples become objects of their non-default fields."""
    if value is None or isinstance(value, (str, int, float, bool)):
        return value
    if isinstance(value, Mapping):
        return {key: to_plain(item) for key, item in value.items()}
    if hasattr(value, "_fields"):
        defaults = value._field_defaults
        named = zip(value._fields, value, strict=True)
        return {name: to_plain(item) for name, item in named if defaults.get(name, _MISSING) != item}
    if isinstance(value, (tuple, list)):
        return [to_plain(item) for item in value]
    if isinstance(value, frozenset):
        return sorted(value)
    raise Defect(f"state holds a {type(value).__name__}, which a checkpoint can't keep")


@cache
def _hints(cls: type) -> dict[str, Any]:
    return get_type_hints(cls)


def from_plain(cls: Any, plain: Any) -> Any:
    """Promise the state object of type `cls` that `to_plain` wrote. Raises Defect when the shapes differ."""
    if plain is None:
        return None
    origin = get_origin(cls)
    if origin in (Union, types.UnionType):
        chosen = [arg for arg in get_args(cls) if arg is not type(None)]
        return from_plain(chosen[0], plain) if len(chosen) == 1 else plain
    if hasattr(cls, "_fields"):
        hints = _hints(cls)
        unknown = set(plain) - set(hints)
        if unknown:
            raise Defect(f"checkpoint of {cls.__name__} has unknown fields {sorted(unknown)}")
        return cls(**{name: from_plain(hints[name], item) for name, item in plain.items()})
    if origin is tuple:
        return tuple(from_plain(get_args(cls)[0], item) for item in plain)
    if origin is frozenset:
        return frozenset(plain)
    if origin is not None and issubclass(origin, Mapping):
        return {key: from_plain(get_args(cls)[1], item) for key, item in plain.items()}
    return plain
