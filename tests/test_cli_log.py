"""The commands of the logbook: from a flight file to the season and the card, plain refusals, documented."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from typer.main import get_command
from typer.testing import CliRunner, Result

from evenfall.cli import app
from evenfall.cli_log import log_app
from evenfall.errors import InputError
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import Crow, present_plan
from evenfall.radio.planfile import write_plan

ROOT = Path(__file__).parents[1]
FLIGHT = """format = 1
date = "2026-05-17"
place = "home"
notes = "calm"
[air]
temperature_c = 18
[[timed]]
line = "vertical down"
length_m = 100
seconds = 4.4
entry_speed_m_s = 20
[[recorded]]
file = "log.csv"
"""


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, ["log", *map(str, arguments)])


def said(*arguments: object) -> str:
    done = run(*arguments)
    assert done.exception is None, done.exception
    return done.stdout


def refused(*arguments: object) -> str:
    done = run(*arguments)
    assert isinstance(done.exception, InputError), (done.exception, done.stdout)
    return str(done.exception)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a plane, a plan and a flight."""
    (tmp_path / "p.toml").write_text(demo_path("biplane_124").read_text(encoding="utf-8"), encoding="utf-8")
    crow = Crow(arrangement="up/down", upper=-0.3, lower=0.3, threshold=0.4, curve=((0.0, 1.0), (0.4, 0.0), (1.0, 0.0)))
    write_plan(replace(present_plan(load_plane(tmp_path / "p.toml").plane), crow=crow), tmp_path / "p.plan.toml")
    (tmp_path / "sunday.flight.toml").write_text(FLIGHT, encoding="utf-8")
    (tmp_path / "log.csv").write_text("time_s,speed_m_s\n0,20\n", encoding="utf-8")
    return tmp_path


def test_what_a_part_voids_is_shown_before_it_is_entered(folder: Path) -> None:
    plane = folder / "p.toml"
    shown = said("part", plane, "servo:upper_left", "--show")
    assert "Nothing was entered. It would be to do again:" in shown
    assert "failsafe on the bench" in shown
    assert json.loads(said("part", plane, "propeller", "--show", "--json"))["date"] == ""
    assert not (folder / "logbook").exists()
    assert "say which aileron" in refused("part", plane, "servo", "--show")
    assert "no part we know" in refused("part", plane, "sail", "--show")
    assert "--show needs the part" in refused("part", plane, "--show")
    assert "--undo takes back" in refused("part", plane, "propeller", "--undo")


def test_a_flight_goes_in_comes_out_is_changed_taken_out_and_brought_back(folder: Path) -> None:
    plane, plan, flight = folder / "p.toml", folder / "p.plan.toml", folder / "sunday.flight.toml"
    assert said("add", plane, plan, flight).startswith("entered  ")
    assert said("add", plane, plan, flight).startswith("there already  ")
    flight.write_text(FLIGHT.replace("calm", "gusty"), encoding="utf-8")
    (entered,) = json.loads(said("add", plane, plan, flight, "--json"))
    assert (entered["revision"], entered["new"]) == (2, True)
    shown = said("show", plane, entered["flight"][:4])
    assert 'notes = "gusty"' in shown
    assert "Revision 1, entered" in shown
    assert "log.csv, 22 bytes, kept" in shown
    listed = said("list", plane)
    assert "1 recorded flight, 1 timed line; gusty" in listed
    said("remove", plane, entered["flight"])
    assert "No flight of" in said("list", plane)
    assert "(taken out)" in said("list", plane, "--removed")
    said("remove", plane, entered["flight"], "--undo")
    assert json.loads(said("list", plane, "--json"))["flights"][0]["removed"] is False


def test_the_season_says_what_changed_why_what_it_did_and_what_a_part_voids(folder: Path) -> None:
    plane, plan = folder / "p.toml", folder / "p.plan.toml"
    said("change", plane, "One degree more crow.", "--why", "too fast", "--plan", plan, "--date", "2026-05-18")
    said("effect", plane, "0.4 m/s slower.", "--date", "2026-05-19")
    said("proven", plane, plan, "--why", "three flights alike", "--date", "2026-05-20")
    voids = said("part", plane, "propeller", "--note", "13 inch", "--date", "2026-05-21")
    assert "vertical down, timed" in voids
    assert "do again propeller nut" in said("part", plane, "propeller", "--done", "current", "--date", "2026-05-22")
    done = "current at full throttle: done again on 2026-05-22, noted by the pilot"
    assert done in said("season", plane)
    assert done not in said("part", plane, "propeller", "--done", "current", "--undo")
    assert "do again current" in said("season", plane)
    assert done in said("part", plane, "propeller", "--done", "current", "--date", "2026-05-22")
    (page,) = [json.loads(said("season", plane, "--json"))]
    rows = {row["what"]: row for row in page["rows"]}
    assert (rows["change"]["why"], rows["change"]["effect"]) == ("too fast", "0.4 m/s slower.")
    assert rows["proven"]["why"] == "three flights alike"
    assert [row["date"] for row in page["rows"]] == sorted((row["date"] for row in page["rows"]), reverse=True)
    assert "do again propeller nut" in said("season", plane)
    assert "servo:upper_left" in said("part", plane)


def test_what_cannot_be_is_said_plainly(folder: Path) -> None:
    plane, plan, flight = folder / "p.toml", folder / "p.plan.toml", folder / "sunday.flight.toml"
    assert "no logbook lies in" in refused("list", plane)
    assert not (folder / "logbook").exists()
    (folder / "log.csv").unlink()
    assert "log.csv should lie beside it" in refused("add", plane, plan, flight)
    flight.write_text(FLIGHT.replace('date = "2026-05-17"\n', ""), encoding="utf-8")
    assert "the logbook needs the day" in refused("add", plane, plan, flight)
    assert not (folder / "logbook").exists()
    assert "say which aileron: servo:upper_left" in refused("part", plane, "servo")
    assert "is no part we know" in refused("part", plane, "wheel")
    assert "sits on no single aileron" in refused("part", plane, "radio:upper_left")
    assert "no flight of the logbook begins with 'zz'" in refused("show", plane, "zz")
    assert "no change of this plane" in refused("effect", plane, "x")
    assert "no propeller was entered" in refused("part", plane, "propeller", "--done", "current")
    assert "is no date" in refused("change", plane, "x", "--date", "May")
    assert "must end in .html" in refused("card", plane, plan, "-o", folder / "card.pdf")


def test_flights_whose_first_letters_are_the_same_are_told_apart(folder: Path) -> None:
    plane, plan, flight = folder / "p.toml", folder / "p.plan.toml", folder / "sunday.flight.toml"
    said("add", plane, plan, flight, folder / "log.csv")
    assert "2 flights of the logbook begin with ''" in refused("show", plane, "")


def test_a_damaged_logbook_is_said_and_read_on(folder: Path) -> None:
    plane = folder / "p.toml"
    said("change", plane, "One degree more crow.")
    base = folder / "logbook" / "logbook.sqlite"
    base.write_bytes(base.read_bytes()[:5000])
    done = run("season", plane)
    assert done.exception is None
    assert "set aside as logbook.damaged-1.sqlite" in done.output
    assert "One degree more crow." in done.stdout


def test_the_logbook_goes_to_another_folder_and_to_csv(folder: Path, tmp_path: Path) -> None:
    plane, plan, flight = folder / "p.toml", folder / "p.plan.toml", folder / "sunday.flight.toml"
    said("add", plane, plan, flight)
    (tmp_path / "other").mkdir()
    for arguments, words in (
        (("export", folder, folder / "out.json"), "written"),
        (("export", plane, folder / "out.csv"), "written"),
        (("import", folder / "out.json", tmp_path / "other"), "entered  text 2, original 1, flight 1"),
        (("import", folder / "out.json", tmp_path / "other"), "nothing new; there already: 4"),
        (("export", plane, folder / "out.csv", "--force"), "It does not hold the files they came from"),
        (("import", folder / "out.csv", tmp_path / "other"), "nothing new; there already: 1"),
        (("import", folder / "out.csv", tmp_path / "other"), "It does not hold the files they came from"),
    ):
        done = CliRunner().invoke(app, [str(item) for item in arguments])
        assert done.exception is None, done.exception
        assert words in done.stdout
    assert "vertical down" in (folder / "out.csv").read_text(encoding="utf-8")
    (tmp_path / "other" / "p.toml").write_bytes(plane.read_bytes())
    assert "1 timed line" in said("list", tmp_path / "other" / "p.toml")
    for arguments, words in (
        (("export", folder, folder / "out.json"), "use --force"),
        (("export", folder, folder / "out.txt"), "must end in .json"),
        (("import", folder / "none.json", folder), "cannot be read"),
        (("import", plan, folder), "is no JSON"),
        (("export", folder / "none" / "x", folder / "new.json"), "there is no folder"),
        (("export", folder / "none", folder / "new.json"), f"there is no folder or plane file {folder / 'none'}"),
        (("import", folder / "out.json", folder / "none"), f"there is no folder or plane file {folder / 'none'}"),
    ):
        done = CliRunner().invoke(app, [str(item) for item in arguments])
        assert words in str(done.exception)


@pytest.mark.documents
def test_every_command_of_the_logbook_is_in_the_readme_and_has_help() -> None:
    readme = " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())
    commands = get_command(log_app).commands  # type: ignore[attr-defined]
    assert len(commands) >= 10
    for name, command in commands.items():
        assert f"`log {name}`" in readme, name
        assert command.help.endswith(".")
        for parameter in command.params:
            assert getattr(parameter, "help", None), (name, parameter.name)
