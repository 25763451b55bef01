"""The pilot's jobs: check, trim, predict, tune, pictures, bench, rig. Sequence only; every formula lies below."""

from evenfall.workflow.benching import BenchAnswer, bench, bench_form, bench_known
from evenfall.workflow.cleaning import Cleaned, clean
from evenfall.workflow.entering import MarchAnswer, enter
from evenfall.workflow.following import QuickAnswer, family_of, follow, shafts_of, tables_of
from evenfall.workflow.pictures import (
    MapAnswer,
    ShaftAnswer,
    SharesAnswer,
    StickAnswer,
    drag_shares,
    holding_stick,
    map_of_plan,
    shaft_picture,
    speed_map,
)
from evenfall.workflow.prediction import Predicted, predict
from evenfall.workflow.ready import PlaneInput, PlanInput, Progress, Ready, prepare, wanted_speed
from evenfall.workflow.rigging import RigAnswer, rig
from evenfall.workflow.tuning import TuneAnswer, computed_from, tune

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
    "drag_shares",
    "enter",
    "family_of",
    "follow",
    "holding_stick",
    "map_of_plan",
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
