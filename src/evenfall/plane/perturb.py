"""The same plane with single numbers changed: how spreads are propagated, one number at a time."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

from evenfall.errors import ValueRangeError
from evenfall.plane.airframe import Plane


def attribute(plane: Plane, path: str) -> Any:
    """The value at a dotted attribute path such as `mass.cg_x`, `drag.0.area`, `aileron_linkage.upper_left.arm`."""
    node: Any = plane
    for part in path.split("."):
        node = _step(node, part, path)
    return node


def perturbed(plane: Plane, changes: Mapping[str, Any]) -> Plane:
    """A copy of the plane with the values at dotted attribute paths replaced (SI).

    Raises `ValueRangeError` for a path that leads nowhere.
    """
    for path, value in changes.items():
        plane = _replaced(plane, path.split("."), value, path)
    return plane


def _step(node: Any, part: str, path: str) -> Any:
    if isinstance(node, tuple) and part.isdigit() and int(part) < len(node):
        return node[int(part)]
    if isinstance(node, dict) and part in node:
        return node[part]
    if dataclasses.is_dataclass(node) and part in {field.name for field in dataclasses.fields(node)}:
        return getattr(node, part)
    raise ValueRangeError(f"the plane has no {path}: {part!r} leads nowhere")


def _replaced(node: Any, parts: list[str], value: Any, path: str) -> Any:
    if not parts:
        return value
    part = parts[0]
    inner = _replaced(_step(node, part, path), parts[1:], value, path)
    if isinstance(node, tuple):
        index = int(part)
        return (*node[:index], inner, *node[index + 1 :])
    if isinstance(node, dict):
        return {**node, part: inner}
    return dataclasses.replace(node, **{part: inner})
