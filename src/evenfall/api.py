"""The public functions in one place, in the order of the job.

>>> from evenfall.api import demo_path, load_plane, predict, tune
>>> plane = load_plane(demo_path("biplane_124"))
>>> answer = tune(plane)
>>> answer.tuned.status in ("met", "limited")
True
>>> after = predict(plane, answer.plan)
>>> down = after.survey.line("vertical down").speed.speed  # m/s
>>> abs(down - 22.0) < 0.5
True
"""

from __future__ import annotations

from evenfall.air import standard_air
from evenfall.plane.files import PlaneFile, load_plane, parse_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import Plan
from evenfall.radio.planfile import load_plan, plan_text, write_plan
from evenfall.sheet.make import predict_page, tune_page
from evenfall.workflow import predict, prepare, tune

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
