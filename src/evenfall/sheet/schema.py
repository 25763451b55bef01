"""Every page the app is sent, by topic, and their JSON schema: the page's own types are made from it."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from evenfall.sheet.bench_page import BenchPage
from evenfall.sheet.bench_view import KinematicsPage, SheetAnswer
from evenfall.sheet.carry_page import CarryPage
from evenfall.sheet.compare_page import ComparePage
from evenfall.sheet.diagnose_page import DiagnosePage
from evenfall.sheet.flight_form import FlightForm
from evenfall.sheet.fly_page import FlyPage
from evenfall.sheet.folder_page import FolderPage
from evenfall.sheet.learn_page import LearnPage
from evenfall.sheet.log_page import ClickedPage, LogPage, SoundPage
from evenfall.sheet.map_page import ShaftPicturePage, SpeedMapPage, StickPicturePage
from evenfall.sheet.pages import Page, PredictPage, TunePage
from evenfall.sheet.plan_view import PlanChanges, PlanView
from evenfall.sheet.plane_view import PlaneView
from evenfall.sheet.programme_page import EvennessPage
from evenfall.sheet.quick_page import MarchPage, QuickPage
from evenfall.sheet.record_page import CardPage, FlightFormPage, OriginalAnswer, SeasonPage
from evenfall.sheet.rig_page import RigPage
from evenfall.sheet.sheet_page import ArmPage

TOPICS: dict[str, type[Page]] = {
    "plane": PlaneView,
    "plan": PlanView,
    "quick": QuickPage,
    "predict": PredictPage,
    "tune": TunePage,
    "map": SpeedMapPage,
    "shaft": ShaftPicturePage,
    "stick": StickPicturePage,
    "march": MarchPage,
    "kinematics": KinematicsPage,
    "bench": BenchPage,
    "rig": RigPage,
    "sheet": SheetAnswer,
    "compare": ComparePage,
    "season": SeasonPage,
    "flight": FlightFormPage,
    "learn": LearnPage,
    "diagnose": DiagnosePage,
    "card": CardPage,
    "log": LogPage,
    "sound": SoundPage,
    "clicked": ClickedPage,
    "fly": FlyPage,
    "carry": CarryPage,
    "programme": EvennessPage,
}
"""Topic to the page that answers it."""


def json_schema() -> dict[str, Any]:
    """One JSON schema with every page under `$defs`."""
    models: list[type[BaseModel]] = [*TOPICS.values(), FolderPage, PlanChanges, ArmPage, FlightForm, OriginalAnswer]
    _, schema = models_json_schema([(model, "serialization") for model in models], title="Pages")
    return schema
