"""Evenfall: braking set-ups for small electric aerobatic biplanes, every line at the same steady speed.

The public functions are named in `__all__`; each is loaded on first use.

>>> import evenfall
>>> plane = evenfall.load_plane(evenfall.demo_path("biplane_124"))
>>> answer = evenfall.tune(plane)
>>> answer.tuned.status in ("met", "limited")
True
>>> after = evenfall.predict(plane, answer.plan)
>>> down = after.survey.line("vertical down").speed.speed  # m/s
>>> abs(down - 22.0) < 0.5
True
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from evenfall.air import standard_air
    from evenfall.plane.files import PlaneFile, load_plane, parse_plane
    from evenfall.plane.starter import demo_path
    from evenfall.radio.plan import Plan
    from evenfall.radio.planfile import load_plan, plan_text, write_plan
    from evenfall.sheet.make import predict_page, tune_page
    from evenfall.workflow import predict, prepare, tune

__version__ = "0.1.0"

_WHERE = {
    "load_plane": "evenfall.plane.files",
    "parse_plane": "evenfall.plane.files",
    "PlaneFile": "evenfall.plane.files",
    "demo_path": "evenfall.plane.starter",
    "standard_air": "evenfall.air",
    "prepare": "evenfall.workflow",
    "predict": "evenfall.workflow",
    "tune": "evenfall.workflow",
    "Plan": "evenfall.radio.plan",
    "load_plan": "evenfall.radio.planfile",
    "plan_text": "evenfall.radio.planfile",
    "write_plan": "evenfall.radio.planfile",
    "predict_page": "evenfall.sheet.make",
    "tune_page": "evenfall.sheet.make",
}

__all__ = [
    "Plan",
    "PlaneFile",
    "demo_path",
    "load_plan",
    "load_plane",
    "parse_plane",
    "plan_text",
    "predict",
    "predict_page",
    "prepare",
    "standard_air",
    "tune",
    "tune_page",
    "write_plan",
]


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module 'evenfall' has no attribute {name!r}")
    import importlib

    return getattr(importlib.import_module(_WHERE[name]), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
