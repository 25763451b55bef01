"""Two plans, of one plane or two, side by side."""

from __future__ import annotations

from pydantic import Field

from evenfall.sheet.pages import Page
from evenfall.sheet.plan_view import DiffRow
from evenfall.sheet.quick_page import QuickPage


class ComparePage(Page):
    """Answer of topic `compare`."""

    mine: QuickPage = Field(description="The first side.")
    other: QuickPage = Field(description="The second side.")
    settings: tuple[DiffRow, ...] = Field(description="Settings that differ.")
    plane: tuple[DiffRow, ...] = Field(description="Facts of the planes that differ; empty for one plane.")
    behaviour: tuple[DiffRow, ...] = Field(description="Speeds, sticks and rolls that differ, with their difference.")
