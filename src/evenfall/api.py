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
from evenfall.lines.sequence_file import load_sequence
from evenfall.plane.files import PlaneFile, load_plane, parse_plane
from evenfall.plane.starter import demo_path, programme_path
from evenfall.radio.plan import Plan
from evenfall.radio.planfile import load_plan, plan_text, write_plan
from evenfall.sheet.fly_make import fly_page
from evenfall.sheet.make import predict_page, tune_page
from evenfall.sheet.map_page import map_page, shaft_page, shares_page, stick_page
from evenfall.sheet.speed_map import speed_map_svg
from evenfall.workflow import drag_shares, holding_stick, predict, prepare, shaft_picture, speed_map, tune
from evenfall.workflow.flying import fly

__all__ = [
    "Plan",
    "PlaneFile",
    "demo_path",
    "drag_shares",
    "fly",
    "fly_page",
    "holding_stick",
    "load_plan",
    "load_plane",
    "load_sequence",
    "map_page",
    "parse_plane",
    "plan_text",
    "predict",
    "predict_page",
    "prepare",
    "programme_path",
    "shaft_page",
    "shaft_picture",
    "shares_page",
    "speed_map",
    "speed_map_svg",
    "standard_air",
    "stick_page",
    "tune",
    "tune_page",
    "write_plan",
]
