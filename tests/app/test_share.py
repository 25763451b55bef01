"""Sharing on the local network: addresses, code, entering page, what a guest may do."""

from __future__ import annotations

import http.client
import json
import re
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from websockets.exceptions import InvalidStatus

from evenfall.app import run, share
from evenfall.app.guard import Guard
from evenfall.app.share import MEANING, code_picture, entering_page, network_addresses
from evenfall.errors import InputError

LAN = "127.0.0.2"
"""Stands for an address of the local network: whoever comes by that Host is a guest, from wherever."""
TOKEN = "k3VwQm1rT0uXb9Zc5aYd2g"


def test_addresses_are_of_local_networks() -> None:
    for address in network_addresses():
        assert share._local(address)
    assert not any(share._local(address) for address in ("127.0.0.1", "0.0.0.0", "8.8.8.8", "127.0.0.2"))
    assert share._local("192.168.7.20")


def test_without_a_network_it_says_so(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(share, "network_addresses", lambda: ())
    with pytest.raises(InputError, match="no local network"):
        run.serve(run.Options(folder=tmp_path, port=0, share=True))


def test_the_code_as_a_picture() -> None:
    address = f"http://192.168.7.20:8750/enter#{TOKEN}"
    picture = code_picture(address)
    assert picture != code_picture(address[:-1])
    assert 10 < len(picture.splitlines()) < 40


def test_what_it_means_is_printed_with_the_code(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    address = f"http://192.168.7.20:8750/enter#{TOKEN}"
    run._say_where(run.Options(folder=tmp_path, share=True), tmp_path, 8750, address)
    said = capsys.readouterr().out
    assert address in said
    assert code_picture(address) in said
    for words in ("read everything", "fill in the bench form", "neither plane nor plan", "not encrypted", "ended"):
        assert words in said
    assert all(line in said for line in MEANING)


def test_the_entering_page_runs_its_own_script_only() -> None:
    answer = entering_page()
    text, policy = bytes(answer.body).decode(), answer.headers["content-security-policy"]
    (script,) = re.findall(r"<script>(.*?)</script>", text, re.S)
    (style,) = re.findall(r"<style>(.*?)</style>", text, re.S)
    assert share._hash(script) in policy
    assert share._hash(style) in policy
    assert "unsafe" not in policy
    assert "location.hash" in script
    assert TOKEN not in text


@pytest.fixture
def shared(served: Any) -> Any:
    """A shared server; who names it by `LAN` counts as coming from the network."""
    with served.running(guard=lambda port: Guard(port, shared=(LAN,), token=TOKEN)) as server:
        yield server


def _enter(server: Any) -> str:
    """The cookie of a guest."""
    wire = http.client.HTTPConnection("127.0.0.1", server.port, timeout=10)
    host = f"{LAN}:{server.port}"
    wire.request("POST", "/enter", body=TOKEN, headers={"host": host, "origin": f"http://{host}"})
    answer = wire.getresponse()
    assert answer.status == 200
    cookie = answer.headers["set-cookie"].split(";")[0]
    wire.close()
    return cookie


def _guest(server: Any, served: Any, **headers: str) -> Any:
    wire = socket.create_connection(("127.0.0.1", server.port), timeout=10)
    return served.page(server.port, host=LAN, sock=wire, additional_headers=headers)


def test_a_guest_reads_everything_and_fills_in_the_form_only(shared: Any, served: Any) -> None:
    with _guest(shared, served, Cookie=_enter(shared)) as page:
        hello = served.read(page)
        assert hello["role"] == "guest"
        assert hello["folder"]["shared"] == f"http://{LAN}:{shared.port}/"
        served.ask(page, "plane", 1)
        assert served.read(page, "answer")["seq"] == 1
        refused = (
            {"what": "plane.set", "file": "a.toml", "edits": {}},
            {"what": "text.set", "file": "a.toml", "text": "", "base": 0},
            {"what": "part.add", "file": "a.toml", "part": "wheel"},
            {"what": "part.drop", "file": "a.toml", "index": 0},
            {"what": "plan.set", "plane": "a.toml", "file": "a.plan.toml", "changes": {}},
            {"what": "plan.tune", "plane": "a.toml"},
            {"what": "plan.freeze", "plane": "a.toml", "file": "a.plan.toml", "label": "x"},
            {"what": "plan.thaw", "plane": "a.toml", "file": "a.plan.toml"},
            {"what": "plane.new", "name": "x"},
            {"what": "undo", "file": "a.toml"},
            {"what": "redo", "file": "a.toml"},
            {"what": "flight.remove", "plane": "a.toml", "flight": "flight-1234"},
            {"what": "flight.restore", "plane": "a.toml", "flight": "flight-1234"},
            {"what": "part.replaced", "plane": "a.toml", "part": "propeller", "date": "2026-05-17"},
            {"what": "test.done", "plane": "a.toml", "part": "part-1", "test": "range check", "date": "2026-05-17"},
            {"what": "test.open", "plane": "a.toml", "part": "part-1", "test": "range check"},
            {"what": "change.take", "plane": "a.toml", "plan": "a.plan.toml"},
            {"what": "plan.prove", "plane": "a.toml", "plan": "a.plan.toml"},
        )
        for seq, action in enumerate(refused):
            served.act(page, f"token-{seq:04d}", seq, **action)
            answer = served.read(page, "refused", "done")
            assert (answer["kind"], answer["seq"]) == ("refused", seq), action
            assert "guest" in answer["words"]
        assert shared.workspace.acted == []
        assert shared.engine.tuned == 0
        reading = {"phase": "normal", "throttle_percent": 0, "aileron_percent": 0, "angles_deg": {"upper_left": 1.5}}
        served.act(page, "token-form", 50, what="bench.read", plane="a.toml", plan="a.plan.toml", **reading)
        assert served.read(page, "done")["seq"] == 50
        served.act(page, "token-fly-1", 51, what="flight.save", plane="a.toml", form={"date": "2026-05-17"})
        assert served.read(page, "done")["file"] == "token-fly-1"
        assert shared.engine.flown == [("flight.save", "token-fly-1", "guest")]


def test_every_action_is_either_the_guests_or_refused_above() -> None:
    """A new kind of action is not a guest's by mistake."""
    from typing import get_args

    from evenfall.app.live import GUEST_MAY
    from evenfall.app.messages import Action

    kinds = {get_args(kind.model_fields["what"].annotation)[0] for kind in get_args(get_args(Action)[0])}
    assert kinds >= GUEST_MAY == {"bench.read", "flight.save"}


def test_the_owner_is_told_the_address_with_the_code(shared: Any, served: Any) -> None:
    with shared.connect() as page:
        hello = served.read(page)
    assert hello["role"] == "owner"
    assert hello["folder"]["shared"] == f"http://{LAN}:{shared.port}/enter#{TOKEN}"


@pytest.mark.parametrize("headers", [{}, {"X-Forwarded-For": "127.0.0.1"}, {"Cookie": "evenfall-1=x"}])
def test_a_stranger_has_no_socket(shared: Any, served: Any, headers: dict[str, str]) -> None:
    with pytest.raises(InvalidStatus):
        _guest(shared, served, **headers)


def test_an_owners_token_does_not_make_a_guest_do_more(shared: Any, served: Any) -> None:
    """A guest who sends an action under a token the owner has used is refused as ever."""
    with shared.connect() as mine, _guest(shared, served, Cookie=_enter(shared)) as page:
        served.read(mine, "hello")
        served.read(page, "hello")
        served.act(mine, "token-0001", 1, what="undo", file="a.toml")
        assert served.read(mine, "done")["seq"] == 1
        served.act(page, "token-0001", 1, what="undo", file="a.toml")
        assert served.read(page, "refused", "done")["kind"] == "refused"


@pytest.mark.skipif(not network_addresses(), reason="this machine has no address on a local network")
def test_shared_for_real(tmp_path: Path, served: Any) -> None:
    address = network_addresses()[0]
    command = [
        sys.executable,
        "-m",
        "evenfall",
        "app",
        str(tmp_path),
        "--port",
        "0",
        "--no-browser",
        "--share",
        "--json",
    ]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as program:
        try:
            assert program.stdout is not None
            said = json.loads(program.stdout.readline())
            assert said["shared"].startswith(f"http://{address}:{said['port']}/enter#")
            wire = http.client.HTTPConnection(address, said["port"], timeout=10)
            wire.request("GET", "/")
            assert b"Entering" in wire.getresponse().read()
            wire.request("POST", "/enter", body=said["shared"].split("#")[1])
            answer = wire.getresponse()
            answer.read()
            cookie = answer.headers["set-cookie"].split(";")[0]
            with served.page(said["port"], host=address, additional_headers={"Cookie": cookie}) as page:
                assert served.read(page)["role"] == "guest"
            with served.page(said["port"]) as page:
                assert served.read(page)["role"] == "owner"
            wire.request("GET", "/", headers={"Host": f"127.0.0.1:{said['port']}"})
            assert wire.getresponse().status == 421
            wire.close()
        finally:
            program.terminate()
    assert program.returncode == 0
