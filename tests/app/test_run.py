"""`evenfall app` as a process of its own: starts, says where, ends cleanly, loses nothing when it is killed."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from evenfall.app import run
from evenfall.app.run import Options
from evenfall.errors import InputError
from evenfall.plane.starter import demo_path
from evenfall.sheet.brief import WIDTH, brief_plan

STARTER = {"my_plane.toml", "my_radio.toml", "demo_biplane_124.toml", "demo_biplane_155.toml"}


def test_a_new_folder_gets_the_starter_files(tmp_path: Path, served: Any) -> None:
    with served.program(tmp_path / "planes") as program:
        assert set(program.said) == {"address", "port", "folder", "shared", "pid"}
        assert program.said["folder"] == str(tmp_path / "planes")
        assert program.said["address"] == f"http://127.0.0.1:{program.port}/"
        with served.page(program.port) as page:
            hello = served.read(page, "hello")
        assert program.end() == (0, "")
    assert {path.name for path in (tmp_path / "planes").glob("*.toml")} >= STARTER
    assert {entry["file"] for entry in hello["folder"]["planes"]} >= STARTER - {"my_radio.toml"}


def test_a_folder_with_something_in_it_is_left_alone(tmp_path: Path, served: Any) -> None:
    (tmp_path / "mine.toml").write_bytes(demo_path("monoplane_160").read_bytes())
    with served.program(tmp_path, "--plane", "mine.toml") as program:
        assert program.said["address"].endswith("/#/plane?plane=mine.toml")
        with served.page(program.port) as page:
            (entry,) = served.read(page, "hello")["folder"]["planes"]
    assert (entry["file"], entry["usable"]) == ("mine.toml", True)
    assert [path.name for path in tmp_path.glob("*.toml")] == ["mine.toml"]


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_signals_end_it_cleanly_with_a_page_open_and_work_under_way(
    tmp_path: Path, served: Any, number: signal.Signals
) -> None:
    with served.program(tmp_path / "planes") as program, served.page(program.port) as page:
        served.read(page, "hello")
        served.ask(page, "tune", 1)
        served.read(page, "progress")
        start = time.monotonic()
        assert program.end(number) == (0, "")
        assert time.monotonic() - start < 5


@pytest.mark.parametrize("delay", [0.0, 0.02, 0.1, 0.2])
def test_a_signal_right_after_the_start(tmp_path: Path, delay: float) -> None:
    command = [sys.executable, "-m", "evenfall", "app", str(tmp_path), "--port", "0", "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as program:
        assert program.stdout is not None
        first = program.stdout.readline()
        time.sleep(delay)
        program.send_signal(signal.SIGTERM)
        _, errors = program.communicate(timeout=20)
    assert first.startswith("Evenfall: http://127.0.0.1:")
    assert (program.returncode, errors) == (0, "")


def test_it_ends_by_itself_once_nobody_is_left(tmp_path: Path, served: Any) -> None:
    with served.program(tmp_path, "--linger-s", "1.5") as program:
        with served.page(program.port) as page:
            served.read(page, "hello")
            time.sleep(2.0)
            assert program.process.poll() is None
        _, errors = program.process.communicate(timeout=10)
        assert (program.process.returncode, errors) == (0, "")


def test_it_ends_by_itself_where_nobody_comes(tmp_path: Path, served: Any) -> None:
    with served.program(tmp_path, "--linger-s", "0.5") as program:
        program.process.communicate(timeout=10)
        assert program.process.returncode == 0


def test_how_long_it_stays(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(run, "_terminal", lambda: False)
    assert run._lingers(Options(folder=tmp_path)) == (45.0, 300.0)
    assert run._lingers(Options(folder=tmp_path, linger_s=7.0)) == (7.0, 7.0)
    monkeypatch.setattr(run, "_terminal", lambda: True)
    assert run._lingers(Options(folder=tmp_path)) == (float("inf"), float("inf"))


def test_what_it_says_without_a_terminal(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    run._say_where(Options(folder=tmp_path, linger_s=9.0), tmp_path, 8751, None)
    said = capsys.readouterr().out
    assert "http://127.0.0.1:8751/ (port 8750 is taken)" in said
    assert str(tmp_path) in said
    assert "9 s after the last one has left" in said


def test_a_taken_port_is_said(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        command = [sys.executable, "-m", "evenfall", "app", str(tmp_path), "--port", str(port)]
        answer = subprocess.run(command, capture_output=True, text=True, timeout=20, check=False)
    assert answer.returncode == 2
    assert answer.stderr.startswith(f"Port {port} cannot be used (")
    assert "--port 0" in answer.stderr
    assert "Traceback" not in answer.stderr


def test_the_first_free_port_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        monkeypatch.setattr(run, "FIRST_PORT", port)
        monkeypatch.setattr(run, "PORTS", 1)
        with pytest.raises(InputError, match=f"No port from {port}"):
            run._listen("127.0.0.1", None)
        monkeypatch.setattr(run, "PORTS", 50)
        with run._listen("127.0.0.1", None) as found:
            assert port < found.getsockname()[1] < port + 50


def test_what_cannot_be_served_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for options, words in (
        (Options(folder=tmp_path / "file", port=0), "cannot be read as a folder"),
        (Options(folder=tmp_path, port=0, plane="none.toml"), "there is no such plane file"),
    ):
        with pytest.raises(InputError, match=words):
            run.serve(options)


def test_no_browser_without_a_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run, "_terminal", lambda: True)
    monkeypatch.setattr(sys, "platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert not run._has_browser()
    monkeypatch.setenv("DISPLAY", ":0")
    assert run._has_browser()
    monkeypatch.setattr(run, "_terminal", lambda: False)
    assert not run._has_browser()
    monkeypatch.setattr("webbrowser.open", lambda address: 1 // 0)
    run._open("http://127.0.0.1:1/")


def test_a_killed_server_starts_again_without_loss(tmp_path: Path, served: Any) -> None:
    """Saved, killed, started again on the same port: the change is there, so is its undo, its token is remembered."""
    folder, edit = tmp_path / "planes", {"name": "Renamed"}
    with served.program(folder) as program:
        port = program.port
        with served.page(port) as page:
            before = served.read(page, "hello")
            served.act(page, "token-0001", 1, what="plane.set", file=served.PLANE, edits=edit)
            done = served.read(page, "done", "refused")
            assert done["kind"] == "done"
            program.process.kill()
            program.process.communicate(timeout=10)
    with served.program(folder, "--port", str(port)) as program, served.page(port) as page:
        hello = served.read(page, "hello")
        assert hello["run"] != before["run"]
        (entry,) = (entry for entry in hello["folder"]["planes"] if entry["file"] == served.PLANE)
        assert entry["name"] == "Renamed"
        assert entry["undo"] is not None
        served.act(page, "token-0001", 2, what="plane.set", file=served.PLANE, edits=edit)
        assert served.read(page, "done") == {**done, "seq": 2}
        served.act(page, "token-0002", 3, what="undo", file=served.PLANE)
        assert served.read(page, "done")["seq"] == 3
        assert program.end() == (0, "")
    assert 'name = "Renamed"' not in (folder / served.PLANE).read_text()


def test_two_pages_and_an_editor_agree(tmp_path: Path, served: Any) -> None:
    folder = tmp_path / "planes"
    with served.program(folder) as program, served.page(program.port) as one, served.page(program.port) as two:
        served.read(one, "hello")
        served.read(two, "hello")
        for number, page in enumerate((one, two, one), 1):
            edits = {"name": f"Name {number}"}
            served.act(page, f"token-{number:04d}", number, what="plane.set", file=served.PLANE, edits=edits)
            assert served.read(page, "done")["seq"] == number
        assert _name_seen(served, one) == _name_seen(served, two) == "Name 3"
        text = (folder / served.PLANE).read_text()
        (folder / served.PLANE).write_text(text.replace("Name 3", "Outside"))
        assert _name_seen(served, one, "Outside") == _name_seen(served, two, "Outside") == "Outside"
        served.ask(one, "plane", 9)
        assert served.read(one, "answer")["body"]["name"] == "Outside"


def _name_seen(served: Any, page: Any, wanted: str = "Name 3") -> str:
    """The demo plane's name as the page was told last, until it is the wanted one."""
    while True:
        folder = served.read(page, "folder")["folder"]
        (name,) = (entry["name"] for entry in folder["planes"] if entry["file"] == served.PLANE)
        if name == wanted:
            return str(name)


def test_first_page_before_anything_heavy(tmp_path: Path) -> None:
    """What is imported until the first page is served holds neither the physics nor the pages' declarations."""
    probe = (
        "import sys; import evenfall.cli, uvicorn, evenfall.app.run, evenfall.app.server, evenfall.app.guard\n"
        "import uvicorn.protocols.http.h11_impl, uvicorn.protocols.websockets.websockets_sansio_impl\n"
        "heavy = {'numpy', 'scipy', 'pydantic', 'tomlkit', 'typst', 'evenfall.app.live', 'evenfall.app.engine'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    answer = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True, timeout=30)
    assert answer.stdout == "[]\n"


def test_the_short_plan_is_short(tuned: Any) -> None:
    from evenfall.sheet.make import tune_page

    page = tune_page(tuned("biplane_124"))
    lines = brief_plan(page).splitlines()
    assert page.plane in lines[0]
    assert 6 <= len(lines) <= 12
    assert max(len(line) for line in lines) <= WIDTH
    assert sum(" +- " in line and " m/s " in line and "stick" in line for line in lines) == 5


@pytest.mark.long
@pytest.mark.skipif(sys.platform != "linux", reason="network namespaces are of Linux")
def test_no_request_leaves_the_machine(tmp_path: Path) -> None:
    """In a network namespace without any route but the machine's own, everything works: page, tune, sheet."""
    inside = ["unshare", "-rn"]
    try:
        allowed = subprocess.run([*inside, "true"], capture_output=True, timeout=10, check=False).returncode == 0
    except OSError:
        allowed = False
    if not allowed:
        pytest.skip("this kernel allows no network namespace: unshare -rn was refused")
    script = Path(__file__).with_name("without_route.py")
    answer = subprocess.run(
        [*inside, sys.executable, str(script), str(tmp_path / "planes")],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        env={**os.environ, "OMP_NUM_THREADS": "1"},
    )
    assert answer.returncode == 0, answer.stderr
    told = json.loads(answer.stdout)
    assert told["routes"] == 0
    assert told["outside"] == "unreachable"
    assert told["page"] == 200
    assert told["assets"] >= 2
    assert told["tuned"] == "done"
    assert told["sheet"] == "%PDF"
    assert told["exit"] == 0


def test_a_page_over_the_wire(tmp_path: Path, served: Any) -> None:
    with served.program(tmp_path) as program:
        with urllib.request.urlopen(f"http://127.0.0.1:{program.port}/", timeout=10) as answer:
            assert answer.status == 200
            assert "server" not in {name.lower() for name in answer.headers}
        assert program.end() == (0, "")
