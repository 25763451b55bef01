"""The pilot's jobs, from checking a plane to flying whole programmes. Sequence only; every formula lies below."""

from evenfall.workflow.benching import BenchAnswer, bench, bench_form, bench_known
from evenfall.workflow.cleaning import Cleaned, clean
from evenfall.workflow.entering import MarchAnswer, enter
from evenfall.workflow.following import QuickAnswer, down_estimate, down_rolls, family_of, follow, shafts_of, tables_of
from evenfall.workflow.pictures import (
    MapAnswer,
    ShaftAnswer,
    SharesAnswer,
    StickAnswer,
    drag_shares,
    holding_stick,
    map_around,
    map_asked,
    map_drawn,
    shaft_picture,
    speed_map,
)
from evenfall.workflow.prediction import Predicted, predict
from evenfall.workflow.ready import PlaneInput, PlanInput, Progress, Ready, prepare, wanted_speed
from evenfall.workflow.rigging import RigAnswer, rig
from evenfall.workflow.tuning import TuneAnswer, computed_from, plan_of_candidate, tune

__all__ = [
    "BenchAnswer",
    "Cleaned",
    "MapAnswer",
    "MarchAnswer",
    "PlanInput",
    "PlaneInput",
    "Predicted",
    "Progress",
    "QuickAnswer",
    "Ready",
    "RigAnswer",
    "ShaftAnswer",
    "SharesAnswer",
    "StickAnswer",
    "TuneAnswer",
    "bench",
    "bench_form",
    "bench_known",
    "clean",
    "computed_from",
    "down_estimate",
    "down_rolls",
    "drag_shares",
    "enter",
    "family_of",
    "follow",
    "holding_stick",
    "map_around",
    "map_asked",
    "map_drawn",
    "plan_of_candidate",
    "predict",
    "prepare",
    "rig",
    "shaft_picture",
    "shafts_of",
    "speed_map",
    "tables_of",
    "tune",
    "wanted_speed",
]
