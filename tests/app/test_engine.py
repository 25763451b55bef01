"""The engine behind the page: every topic, unsaved edits, what is kept, cancelling, two threads at once."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest

from evenfall import workflow
from evenfall.app.cache import Kept
from evenfall.app.carry_engine import CARRY_TOPICS
from evenfall.app.engine import Cancelled, Engine
from evenfall.app.flight_engine import FLIGHT_TOPICS
from evenfall.app.messages import AirAsk, Ask
from evenfall.app.workspace import Workspace
from evenfall.errors import InputError
from evenfall.plane.starter import DEMOS, demo_path, programme_path
from evenfall.radio.planfile import write_plan
from evenfall.sheet.bench_view import SheetAnswer
from evenfall.sheet.compare_page import ComparePage
from evenfall.sheet.map_page import SpeedMapPage
from evenfall.sheet.pages import Page, PredictPage, TunePage
from evenfall.sheet.plan_view import PlanView
from evenfall.sheet.quick_page import MarchPage, QuickPage
from evenfall.sheet.schema import TOPICS

PLANE, PLAN = "biplane.toml", "biplane.plan.toml"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, tuned: Callable[[str], workflow.TuneAnswer]) -> Path:
    made = tmp_path_factory.mktemp("folder")
    (made / PLANE).write_text(demo_path(DEMOS[0]).read_text(encoding="utf-8"), encoding="utf-8")
    (made / "single.toml").write_text(demo_path(DEMOS[3]).read_text(encoding="utf-8"), encoding="utf-8")
    plan = tuned(DEMOS[0]).plan
    assert plan is not None
    write_plan(plan, made / PLAN)
    return made


@pytest.fixture(scope="module")
def engine(folder: Path) -> Iterator[Engine]:
    workspace = Workspace(folder)
    yield Engine(workspace)
    workspace.close()


def answered(engine: Engine, topic: str, *, said: list[str] | None = None, **asked: Any) -> Page:
    given = {"kind": "ask", "seq": 1, "topic": topic, "plane": PLANE, "plan": PLAN, **asked}
    return engine.answer(
        Ask.model_validate(given),
        progress=lambda words: said.append(words) if said is not None else None,
        cancelled=lambda: False,
    )


@pytest.mark.documents
@pytest.mark.parametrize("topic", sorted(TOPICS.keys() - FLIGHT_TOPICS - CARRY_TOPICS))
def test_every_topic_is_answered_by_its_page(engine: Engine, topic: str) -> None:
    other = {"plane": PLANE} if topic == "compare" else None
    page = answered(engine, topic, other=other)
    assert type(page) is TOPICS[topic]
    assert TOPICS[topic].model_validate_json(page.model_dump_json()) == page


@pytest.mark.parametrize("topic", ["predict", "quick", "map", "stick", "march", "plan", "kinematics", "sheet"])
def test_the_plane_as_it_is_now(engine: Engine, topic: str) -> None:
    page = answered(engine, topic, plan=None)
    assert type(page) is TOPICS[topic]
    if isinstance(page, SheetAnswer):
        assert not page.ready
        assert page.why_not
    if isinstance(page, QuickPage):
        assert page.crow_deg == 0
        assert page.with_crow == page.without_crow


def test_bench_and_rig_need_a_plan(engine: Engine) -> None:
    for topic in ("bench", "rig"):
        with pytest.raises(InputError, match="tune the plane first"):
            answered(engine, topic, plan=None)
    with pytest.raises(InputError, match="second side"):
        answered(engine, "compare")
    with pytest.raises(InputError):
        answered(engine, "quick", plane="nothing.toml")


@pytest.mark.invariant
def test_quick_agrees_with_predict(engine: Engine) -> None:
    quick, predict = answered(engine, "quick"), answered(engine, "predict")
    assert isinstance(quick, QuickPage)
    assert isinstance(predict, PredictPage)
    for fast, slow in zip(quick.lines, predict.lines, strict=True):
        assert fast.shares.speed_m_s == pytest.approx(slow.steady[0].speed_m_s.value, rel=0.003)
        assert fast.shares.stick_percent == pytest.approx(slow.stick_percent, abs=0.5)
        assert fast.shares.status == slow.status


@pytest.mark.property
def test_unsaved_changes_count_and_touch_no_file(engine: Engine, folder: Path) -> None:
    before = (folder / PLAN).read_bytes(), (folder / PLANE).read_bytes()
    plain = answered(engine, "quick")
    less = answered(engine, "quick", changes={"angle_deg": 12.0})
    heavy = answered(engine, "quick", edits={"mass.all_up_g": 1400.0})
    thin = answered(engine, "quick", air={"elevation_m": 1500.0})
    speeds = []
    for page in (plain, less, heavy, thin):
        assert isinstance(page, QuickPage)
        speed = page.lines[0].shares.speed_m_s
        assert speed is not None
        speeds.append(speed)
    assert min(speeds[1:]) > speeds[0] + 0.3
    assert isinstance(less, QuickPage)
    assert less.crow_deg == pytest.approx(12.0)
    assert less.plan != PLAN
    view = answered(engine, "plan", changes={"angle_deg": 12.0})
    assert isinstance(view, PlanView)
    assert view.state == "edited"
    assert before == ((folder / PLAN).read_bytes(), (folder / PLANE).read_bytes())


@pytest.mark.property
def test_map_of_a_changed_plan_uses_the_same_base(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    first = answered(engine, "map")

    def never(*given: Any) -> None:
        raise AssertionError("drawn anew")

    monkeypatch.setattr(workflow, "map_drawn", never)
    second = answered(engine, "map", changes={"angle_deg": 12.0, "level": "50"})
    assert isinstance(first, SpeedMapPage)
    assert isinstance(second, SpeedMapPage)
    assert second.states == first.states
    assert first.chosen is not None
    assert second.chosen is not None
    assert second.chosen.crow_deg == pytest.approx(12.0)
    assert second.chosen.level == "50"
    assert first.chosen.spread_m_s is not None


@pytest.mark.invariant
def test_spread_on_the_map_as_predicted(engine: Engine) -> None:
    drawn, predict = answered(engine, "map"), answered(engine, "predict")
    assert isinstance(drawn, SpeedMapPage)
    assert isinstance(predict, PredictPage)
    assert drawn.chosen is not None
    assert drawn.chosen.spread_m_s == pytest.approx(predict.lines[0].steady[0].speed_m_s.spread, rel=0.03)


@pytest.mark.property
def test_march_ends_in_a_steady_speed(engine: Engine) -> None:
    page = answered(engine, "march", entry_m_s=12.0)
    assert isinstance(page, MarchPage)
    assert page.ends_m_s is not None
    assert page.settled_s is not None
    assert page.speed_m_s[0] == pytest.approx(12.0)
    assert page.speed_m_s[-1] == pytest.approx(page.ends_m_s, rel=0.03)
    assert page.deployment_percent[0] == 0
    assert page.deployment_percent[-1] == pytest.approx(100.0, abs=1.0)
    assert list(page.height_m) == sorted(page.height_m)
    # height lost is the integral of the speed on a vertical
    area = sum(
        (b - a) * (u + v) / 2
        for a, b, u, v in zip(page.time_s, page.time_s[1:], page.speed_m_s, page.speed_m_s[1:], strict=False)
    )
    assert page.height_m[-1] == pytest.approx(area, rel=0.01)
    assert f"{page.ends_m_s:.1f} m/s" in page.words
    with pytest.raises(InputError, match="there are vertical down"):
        answered(engine, "march", line="sideways")
    with pytest.raises(InputError, match="too slow to enter"):
        answered(engine, "march", line="level", entry_m_s=3.0)


@pytest.mark.property
def test_comparison_says_what_differs(engine: Engine) -> None:
    page = answered(engine, "compare", changes={"angle_deg": 12.0}, other={"plane": PLANE, "plan": PLAN})
    assert isinstance(page, ComparePage)
    assert page.plane == ()
    assert any("crow" in row.what for row in page.settings)
    down = next(row for row in page.behaviour if row.what == "vertical down, speed")
    assert down.other.endswith("less")
    same = answered(engine, "compare", other={"plane": PLANE, "plan": PLAN})
    assert isinstance(same, ComparePage)
    assert same.settings == ()
    assert same.behaviour == ()
    planes = answered(engine, "compare", other={"plane": "single.toml"})
    assert isinstance(planes, ComparePage)
    assert any(row.what == "name" for row in planes.plane)


@pytest.mark.property
def test_plan_of_another_candidate(engine: Engine) -> None:
    ranking = answered(engine, "tune")
    assert isinstance(ranking, TunePage)
    best = engine.tune(PLANE, progress=lambda words: None)
    chosen = next(item for item in ranking.candidates if item.verdict == "chosen")
    assert (best.motor.level, best.crow and best.crow.arrangement) == (chosen.level, chosen.arrangement)
    again = engine.tune(PLANE, level=chosen.level, arrangement=chosen.arrangement, progress=lambda words: None)
    assert again.crow == best.crow
    assert again.corners == best.corners
    other = next(item for item in ranking.candidates if item.verdict == "usable")
    plan = engine.tune(PLANE, level=other.level, arrangement=other.arrangement, progress=lambda words: None)
    assert (plan.motor.level, plan.crow and plan.crow.arrangement) == (other.level, other.arrangement)
    with pytest.raises(InputError, match="there are"):
        engine.tune(PLANE, level="77", arrangement=None, progress=lambda words: None)


@pytest.mark.property
def test_sheet_as_file_and_picture(engine: Engine) -> None:
    def made(kind: Any, paper: Any = "a4") -> bytes:
        return engine.sheet_bytes(PLANE, PLAN, kind=kind, paper=paper, date="2026-05-01")

    assert made("pdf").startswith(b"%PDF-")
    assert made("pdf") == made("pdf")
    assert made("pdf", "letter") != made("pdf")
    assert made("html").startswith(b"<!doctype html>")
    first, second = made("svg1"), made("svg2")
    assert first.startswith(b"<svg")
    assert second.startswith(b"<svg")
    assert first != second
    answer = answered(engine, "sheet")
    assert isinstance(answer, SheetAnswer)
    assert answer.ready
    assert answer.bytes_html < 60_000
    assert len(answer.pages) == 2


@pytest.mark.property
def test_a_sheet_is_of_the_air_that_was_chosen(engine: Engine) -> None:
    def made(kind: Any, air: AirAsk | None = None, programme: str | None = None) -> bytes:
        return engine.sheet_bytes(PLANE, PLAN, kind=kind, air=air, programme=programme, date="2026-05-01")

    high = AirAsk(elevation_m=1000.0)
    # ISO 2533: 8.500 C, 898.746 hPa, 1.11164 kg/m3 at 1000 m; 1.225 kg/m3 at sea level.
    assert "1.112\u00a0kg/m³ (8.5\u00a0°C, 899\u00a0hPa at the field)" in made("html", high).decode()
    assert "1.225\u00a0kg/m³ (15.0\u00a0°C, 1013\u00a0hPa at the field)" in made("html").decode()
    for kind in ("pdf", "svg1", "svg2"):
        assert made(kind, high) != made(kind)
    assert made("html", high) != made("html", AirAsk(elevation_m=1000.0, temperature_c=30.0))
    assert made("html", AirAsk()) == made("html")
    third = made("svg3", high, "eight")
    assert third != made("svg3", None, "eight")

    answer = answered(engine, "sheet", air={"elevation_m": 1000.0, "pressure_hpa": 880.0})
    assert isinstance(answer, SheetAnswer)
    for address in (answer.pdf, answer.html, *answer.pages):
        named = parse_qs(urlsplit(address).query)
        assert named == {"plane": [PLANE], "plan": [PLAN], "elevation_m": ["1000.0"], "pressure_hpa": ["880.0"]}
    plain = answered(engine, "sheet")
    assert isinstance(plain, SheetAnswer)
    assert set(parse_qs(urlsplit(plain.pdf).query)) == {"plane", "plan"}


@pytest.mark.property
def test_a_programme_is_a_further_page_of_the_sheet(engine: Engine, folder: Path) -> None:
    def made(kind: Any, programme: str | None) -> bytes:
        return engine.sheet_bytes(PLANE, PLAN, kind=kind, programme=programme, date="2026-05-01")

    def pages(pdf: bytes) -> int:
        return len(re.findall(rb"/Type\s*/Page\b", pdf))

    assert pages(made("pdf", None)) == 2
    assert pages(made("pdf", "eight")) == 3
    assert made("svg3", "eight").startswith(b"<svg")
    assert b"Eight figures (invented)" in made("html", "eight")
    answer = answered(engine, "sheet", programme="eight")
    assert isinstance(answer, SheetAnswer)
    assert len(answer.pages) == 3
    assert all("programme=eight" in address for address in (answer.pdf, answer.html, *answer.pages))

    text = programme_path("eight").read_text(encoding="utf-8")
    (folder / "mine.seq.toml").write_text(text.replace("Eight figures (invented)", "<b>Mine"), encoding="utf-8")
    assert b"&lt;b&gt;Mine" in made("html", "mine.seq.toml")
    first = made("svg3", "mine.seq.toml")
    (folder / "mine.seq.toml").write_text(text.replace("Eight figures (invented)", "Mine"), encoding="utf-8")
    assert made("svg3", "mine.seq.toml") != first
    with pytest.raises(InputError, match=r"gone\.seq\.toml"):
        made("pdf", "gone.seq.toml")
    (folder / "mine.seq.toml").unlink()


@pytest.mark.property
def test_cancelled_between_steps(folder: Path) -> None:
    workspace = Workspace(folder)
    engine = Engine(workspace)
    said: list[str] = []
    ask = Ask.model_validate({"kind": "ask", "seq": 1, "topic": "predict", "plane": PLANE, "plan": PLAN})
    with pytest.raises(Cancelled):
        engine.answer(ask, progress=said.append, cancelled=lambda: "balances" in said)
    assert "balances" in said
    assert "rolls and straightness" not in said
    assert isinstance(engine.answer(ask, progress=said.append, cancelled=lambda: False), PredictPage)
    workspace.close()


@pytest.mark.property
def test_two_threads_make_a_plane_ready_once(folder: Path) -> None:
    workspace = Workspace(folder)
    engine = Engine(workspace)
    said: list[str] = []
    pages: list[Page] = []

    def work() -> None:
        pages.append(answered(engine, "quick", said=said))

    threads = [threading.Thread(target=work) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert said.count("lifting line") == 1
    assert pages[0] == pages[1] == pages[2]
    workspace.close()


@pytest.mark.property
def test_warm_leaves_nothing_to_make_ready(folder: Path) -> None:
    workspace = Workspace(folder)
    engine = Engine(workspace)
    said: list[str] = []
    engine.warm(PLANE)
    answered(engine, "quick", said=said)
    assert said == [""]
    engine.warm("nothing.toml")
    workspace.close()


@pytest.mark.limit
def test_only_the_last_results_are_kept() -> None:
    kept: Kept[int] = Kept(2)
    made: list[int] = []

    def get(number: int) -> int:
        def make() -> int:
            made.append(number)
            return number

        return kept.get(number, make)

    assert [get(n) for n in (1, 2, 1, 3, 1, 2)] == [1, 2, 1, 3, 1, 2]
    assert made == [1, 2, 3, 2]
    assert len(kept) == 2
    assert kept.known(3) is None

    def fails() -> int:
        raise InputError("no")

    for _ in range(2):
        with pytest.raises(InputError):
            kept.get(9, fails)
    assert kept.get(9, lambda: 9) == 9
