"""A programme flown for the page: one flight, two side by side, sequences of the folder."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from evenfall.app.engine import Cancelled, Engine
from evenfall.app.messages import Ask
from evenfall.app.workspace import Workspace
from evenfall.errors import EvenfallError, InputError
from evenfall.lines.sequence_file import load_sequence
from evenfall.plane.starter import demo_path, programme_path
from evenfall.sheet.fly_page import FlyPage
from evenfall.workflow.flying import fly

PLANE = "biplane.toml"
SHORT = """format = 1
name = "Short"
entry_height_m = 80
entry_place_m = -60
[[figure]]
name = "Half loop"
parts = [ { pause_m = 30 }, { loop_deg = 180, radius_m = 22, towards = "canopy" }, { line_deg = 0, length_m = 40 } ]
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("folder")
    (made / PLANE).write_text(demo_path("biplane_124").read_text(encoding="utf-8"), encoding="utf-8")
    (made / "short.seq.toml").write_text(SHORT, encoding="utf-8")
    (made / "broken.seq.toml").write_text("format = 1\n", encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def workspace(folder: Path) -> Iterator[Workspace]:
    workspace = Workspace(folder)
    yield workspace
    workspace.close()


@pytest.fixture(scope="module")
def engine(workspace: Workspace) -> Engine:
    return Engine(workspace)


def flown(engine: Engine, *, cancelled: bool = False, **asked: Any) -> FlyPage:
    given = {"kind": "ask", "seq": 1, "topic": "fly", "plane": PLANE, **asked}
    page = engine.answer(Ask.model_validate(given), progress=lambda words: None, cancelled=lambda: cancelled)
    assert isinstance(page, FlyPage)
    return page


@pytest.mark.invariant
def test_the_page_is_what_the_workflow_flies(engine: Engine, folder: Path) -> None:
    page = flown(engine, sequence="short.seq.toml")
    alone = fly(folder / PLANE, None, folder / "short.seq.toml").report
    assert page.sequence == "Short"
    assert page.against is None
    assert page.duration_s.value == pytest.approx(alone.duration, rel=1e-9)
    assert page.figures[0].worst_off_m_s == pytest.approx(max((part.worst for part in alone.parts), key=abs), rel=1e-9)
    assert FlyPage.model_validate_json(page.model_dump_json()) == page


def test_a_second_flight_lies_in_the_first(engine: Engine) -> None:
    page = flown(engine, sequence="short.seq.toml", changes={"level": "100"}, other={"plane": PLANE})
    assert page.against is not None
    assert page.against.against is None
    assert page.against.sequence == page.sequence
    assert page.differs
    assert FlyPage.model_validate_json(page.model_dump_json()) == page


def test_wind_is_flown_and_said(engine: Engine) -> None:
    calm = flown(engine, sequence="short.seq.toml")
    windy = flown(engine, sequence="short.seq.toml", wind_m_s=8.0, wind_towards_deg=180.0)
    assert windy.wind == "wind 8 m/s to the left along the flight line"
    assert windy.unevenness_percent.value > calm.unevenness_percent.value


def offered(workspace: Workspace) -> dict[str, str]:
    return {entry.file: entry.name for entry in workspace.folder_page().sequences}


def test_programmes_on_offer_carry_their_own_names(engine: Engine, workspace: Workspace, folder: Path) -> None:
    assert list(offered(workspace).items()) == [
        ("eight", load_sequence(programme_path("eight")).name),
        ("seventeen", load_sequence(programme_path("seventeen")).name),
        ("broken.seq.toml", ""),
        ("short.seq.toml", "Short"),
    ]
    (folder / "eight.seq.toml").write_text(SHORT, encoding="utf-8")
    assert workspace.poll()
    assert list(offered(workspace)) == ["seventeen", "broken.seq.toml", "eight.seq.toml", "short.seq.toml"]
    (folder / "eight.seq.toml").unlink()
    assert workspace.poll()
    assert next(iter(offered(workspace))) == "eight"


def test_a_programme_changed_on_the_disk_is_noticed(workspace: Workspace, folder: Path) -> None:
    own = folder / "mine.seq.toml"
    own.write_text(SHORT, encoding="utf-8")
    assert workspace.poll()
    before = workspace.folder_page().sequences
    told: list[str] = []
    end = workspace.subscribe(lambda: told.append("moved"))
    own.write_text(SHORT.replace("radius_m = 22", "radius_m = 23"), encoding="utf-8")  # as long as before
    assert workspace.poll()
    end()
    after = workspace.folder_page().sequences
    assert told == ["moved"]
    assert [one.file for one, other in zip(before, after, strict=True) if one != other] == ["mine.seq.toml"]
    workspace.poll()
    assert workspace.folder_page().sequences == after
    own.write_bytes(b"\xff\xfe no text")
    assert workspace.poll()
    assert offered(workspace)["mine.seq.toml"] == ""
    own.unlink()
    assert workspace.poll()
    assert "mine.seq.toml" not in offered(workspace)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("nine", "is no programme"),
        (PLANE, "is no programme"),
        ("gone.seq.toml", "there is no gone.seq.toml"),
        ("../short.seq.toml", "plain name"),
        ("broken.seq.toml", "name"),
    ],
)
def test_what_cannot_be_flown_is_said(engine: Engine, name: str, words: str) -> None:
    with pytest.raises(EvenfallError, match=words):
        flown(engine, sequence=name)


def test_a_flight_no_longer_wanted_is_dropped(engine: Engine) -> None:
    with pytest.raises(Cancelled):
        flown(engine, sequence="short.seq.toml", cancelled=True)


def test_a_second_plane_that_is_not_there(engine: Engine) -> None:
    with pytest.raises(InputError):
        flown(engine, sequence="short.seq.toml", other={"plane": "nothing.toml"})
