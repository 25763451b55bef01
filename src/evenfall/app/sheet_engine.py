"""The printed sheet of a saved plan, with a programme where one is chosen: its page, and the files made of it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from evenfall.app.cache import Kept
from evenfall.app.messages import AirAsk
from evenfall.app.printer import Printer
from evenfall.textfile import content_hash

if TYPE_CHECKING:
    from evenfall.app.engine import Engine
    from evenfall.app.fly_engine import FlyEngine
    from evenfall.app.messages import Ask
    from evenfall.app.workspace import Workspace
    from evenfall.sheet.bench_view import SheetAnswer
    from evenfall.sheet.pdf import Paper
    from evenfall.sheet.sheet_page import SheetPage

Progress = Callable[[str], None]
SheetKind = Literal["pdf", "html", "svg1", "svg2", "svg3"]


class SheetEngine:
    """Makes sheets; the last few are kept. Thread-safe."""

    def __init__(self, workspace: Workspace, engine: Engine, programmes: FlyEngine) -> None:
        self._workspace = workspace
        self._engine = engine
        self._programmes = programmes
        self._pages: Kept[SheetPage] = Kept(2)
        self._printed: Kept[bytes] = Kept(6)
        self._printer = Printer()

    def answer(self, ask: Ask, say: Progress) -> SheetAnswer:
        """Where the sheet of what was asked about can be had, or why it cannot."""
        from urllib.parse import urlencode

        from evenfall.sheet.bench_view import SheetAnswer

        if ask.plan is None:
            return SheetAnswer(
                ready=False,
                why_not="A sheet is made for a plan: tune the plane first, or choose one of its plans.",
                pdf="",
                html="",
                pages=(),
                bytes_html=0,
            )
        made = _html(self._page(ask.plane, ask.plan, ask.air, ask.programme, None, say))
        asked = {"plane": ask.plane, "plan": ask.plan}
        if ask.programme is not None:
            asked["programme"] = ask.programme
        query = urlencode(asked | ask.air.model_dump(exclude_defaults=True))
        return SheetAnswer(
            ready=True,
            why_not="",
            pdf=f"/sheet.pdf?{query}",
            html=f"/sheet.html?{query}",
            pages=tuple(f"/sheet-{number}.svg?{query}" for number in range(1, 3 if ask.programme is None else 4)),
            bytes_html=len(made),
        )

    def made(
        self,
        plane: str,
        plan: str,
        *,
        kind: SheetKind,
        paper: Paper = "a4",
        programme: str | None = None,
        air: AirAsk | None = None,
        date: str | None = None,
    ) -> bytes:
        """The sheet of saved files: PDF, file for the phone, or one of its pages as a picture.

        Args:
            air: the air to compute in; None is standard air at sea level.
            programme: a sequence flown in calm on a third page.
            date: year-month-day; None takes the day the plan file was last written. Equal files and dates give equal
                bytes.
        """
        page = self._page(plane, plan, air or AirAsk(), programme, date, lambda words: None)
        if kind == "html":
            return _html(page)
        key = (kind, paper, hashlib.sha256(page.model_dump_json().encode()).hexdigest())
        return self._printed.get(key, lambda: self._printer.printed(page, kind=kind, paper=paper))

    def _page(
        self, plane: str, plan: str, air: AirAsk, programme: str | None, date: str | None, say: Progress
    ) -> SheetPage:
        from evenfall import workflow
        from evenfall.sheet.fly_make import fly_page
        from evenfall.sheet.sheet_page import sheet_date, sheet_page
        from evenfall.wind import WindDay

        side = self._engine.saved_side(plane, plan, air, {})
        text, _ = self._workspace.plan_text(plan)
        day = date or sheet_date(Path(self._workspace.folder_page().folder) / plan).isoformat()

        def make() -> SheetPage:
            known = self._engine.prediction(side, say)
            answer = workflow.rig(known.ready, side.plan, before=known, progress=say)
            return sheet_page(answer, plan_hash=content_hash(text), date=day)

        made = self._pages.get((*side.key, plan, content_hash(text), day), make)
        if programme is None:
            return made
        flown = self._programmes.flown(side, self._programmes.sequence(programme), WindDay(speed=0.0), say)
        return made.model_copy(update={"programme": fly_page(flown)})


def _html(page: SheetPage) -> bytes:
    from evenfall.sheet.html import sheet_html

    return sheet_html(page).encode("utf-8")
