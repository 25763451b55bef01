"""Files from flights come in: kept by content, refused with reasons, nothing lost and nothing left behind."""

from __future__ import annotations

import contextlib
import hashlib
import http.client
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from evenfall.app import incoming as module
from evenfall.app.backend import backend_of
from evenfall.app.guard import Guard
from evenfall.app.incoming import Incoming, plain_name
from evenfall.app.messages import Ask
from evenfall.app.server import Application
from evenfall.errors import InputError
from evenfall.plane.starter import demo_path
from evenfall.sheet.log_page import LogPage

PORT = 8760
HOST = f"127.0.0.1:{PORT}"
CSV = ("time (s),height (m),x\n" + "\n".join(f"{k / 10},{200 - 2 * k},0" for k in range(60))).encode()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "planes").mkdir()
    (tmp_path / "planes" / "bi.toml").write_text(demo_path("biplane_124").read_text(encoding="utf-8"))
    return tmp_path / "planes"


@pytest.fixture
def application(folder: Path) -> Application:
    return Application(backend_of(str(folder)), guard=Guard(PORT))


@pytest.fixture
def owner(application: Application, served: Any) -> Any:
    return served.Browser(application.app, ("127.0.0.1", 5), HOST)


def kept(folder: Path) -> list[str]:
    place = folder / ".evenfall" / "incoming"
    return sorted(os.listdir(place)) if place.exists() else []


def test_a_file_is_kept_once_by_its_content(owner: Any, folder: Path) -> None:
    key = hashlib.sha256(CSV).hexdigest()
    answer = owner.post("/original?name=Flug%201.CSV", content=CSV)
    assert answer.status_code == 200, answer.text
    said = answer.json()
    assert (said["hash"], said["size"], said["kind"]) == (key, len(CSV), "csv")
    assert said["name"] == f"Flug 1-{key[:8]}.csv"
    assert said["words"]
    again = owner.post("/original?name=other.csv", content=CSV).json()
    assert again == said
    assert kept(folder) == [f"{key}__{said['name']}"]
    other = owner.post("/original?name=Flug%201.CSV", content=CSV + b"\n9,1,0").json()
    assert other["name"] != said["name"]
    assert len(kept(folder)) == 2


def test_what_was_sent_in_is_looked_at(owner: Any, application: Application) -> None:
    key = owner.post("/original?name=a.csv", content=CSV).json()["hash"]
    engine = application._backend.engine
    asked = {"kind": "ask", "seq": 1, "topic": "log", "plane": "bi.toml", "original": key}

    def page(**more: Any) -> LogPage:
        made = engine.answer(Ask.model_validate({**asked, **more}), progress=lambda w: None, cancelled=lambda: False)
        assert isinstance(made, LogPage)
        return made

    assert [column.holds for column in page().columns] == ["time", "height", "x"]
    assert page(cuts=[[1.0, 4.0]]).lines == ()
    assert page(columns={"x": "nothing"}).columns[2].holds == "nothing"
    with pytest.raises(InputError, match="choose it from the disk again"):
        page(original="0" * 64)
    with pytest.raises(InputError, match="which file"):
        page(original=None)
    with pytest.raises(InputError, match="not a WAV"):
        page(topic="sound", sound={"file": "a.csv", "what": "line"})
    with pytest.raises(InputError, match="nothing was clicked"):
        page(topic="clicked")


@pytest.mark.parametrize(
    "body", [b"", b"\0\0\0\x18ftypmp42" + bytes(900), b"\x89PNG\r\n\x1a\n" + bytes(99), b"a letter"]
)
def test_what_is_no_record_is_not_kept(owner: Any, folder: Path, body: bytes) -> None:
    answer = owner.post("/original?name=x.mp4", content=body)
    assert answer.status_code == 422
    assert "neither a record" in answer.json()["words"]
    assert kept(folder) == []


@pytest.mark.parametrize(
    "name",
    [
        "../../x.csv",
        "C:\\a\\b.csv",
        "..",
        "a\0b.csv",
        "x" * 200,
        "üöä\U0001f6e9.csv",
        "<img src=x>.csv",
        ".csv",
        "con",
        "a/",
    ],
)
def test_hostile_names_become_plain_ones(owner: Any, folder: Path, name: str) -> None:
    answer = owner.post("/original", params={"name": name}, content=CSV)
    assert answer.status_code == 200, answer.text
    (lies,) = kept(folder)
    given = answer.json()["name"]
    assert lies.endswith(f"__{given}")
    assert not set(given) & set('/\\<>"\0:*?|')
    assert given.endswith(".csv")
    assert len(lies.encode()) < 255
    assert sorted(path.name for path in folder.parent.iterdir()) == ["planes"]


@pytest.mark.parametrize("name", ["", "x" * 201])
def test_a_name_is_needed(owner: Any, name: str) -> None:
    assert owner.post("/original", params={"name": name}, content=CSV).status_code == 400


def test_strangers_and_other_pages_bring_nothing_in(
    owner: Any, application: Application, folder: Path, served: Any
) -> None:
    evil = owner.post("/original?name=a.csv", content=CSV, headers={"origin": "http://evil.example"})
    assert evil.status_code == 403
    shared = Application(application._backend, guard=Guard(PORT, shared=("192.168.0.9",), token="t" * 20))
    stranger = served.Browser(shared.app, ("192.168.0.50", 5), f"192.168.0.9:{PORT}")
    assert stranger.post("/original?name=a.csv", content=CSV).status_code == 403
    assert kept(folder) == []
    assert stranger.post("/enter", content=b"t" * 20).status_code == 200
    assert stranger.post("/original?name=a.csv", content=CSV).status_code == 200
    assert len(kept(folder)) == 1


def test_too_long_files_leave_nothing(owner: Any, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_BYTES", 1000)
    announced = owner.post("/original?name=a.csv", content=CSV * 5)
    assert announced.status_code == 413
    assert "was not taken" in announced.text

    async def pieces() -> Any:
        for _ in range(5):
            yield CSV

    assert "was not taken" in owner.post("/original?name=a.csv", content=pieces()).json()["words"]
    assert kept(folder) == []


def test_files_that_wait_have_a_limit(owner: Any, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_WAITING", 3 * len(CSV))
    for number in range(2):
        assert owner.post("/original?name=a.csv", content=CSV + b"\n" * number).status_code == 200
    refused = owner.post("/original?name=a.csv", content=CSV + b"\n" * 7)
    assert refused.status_code == 422
    assert "wait for a flight" in refused.json()["words"]
    assert len(kept(folder)) == 2


def test_a_full_disk_is_said(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = Incoming(folder / "in")
    arriving = place.begin()
    if not os.path.exists("/dev/full"):
        pytest.skip("no device that is always full")
    arriving.stream.close()
    arriving.stream = Path("/dev/full").open("wb", buffering=0)  # noqa: SIM115
    with pytest.raises(InputError, match="Make room on the disk"):
        arriving.write(b"x")
    arriving.drop()
    assert os.listdir(folder / "in") == []


def test_parts_and_forgotten_files_are_swept_and_others_stay(folder: Path) -> None:
    place = folder / "in"
    first = Incoming(place)
    left = first.begin()
    left.write(CSV[:100])
    left.stream.close()
    whole = first.begin()
    whole.write(CSV)
    found = first.keep(whole, name="a.csv")
    old = time.time() - 7200
    os.utime(left.path, (old, old))
    again = Incoming(place)
    assert again.find(found.hash) == found
    again.begin().drop()
    assert os.listdir(place) == [found.path.name]
    old -= module.KEPT_DAYS * 86400
    os.utime(found.path, (old, old))
    Incoming(place).begin().drop()
    assert os.listdir(place) == []
    assert Incoming(place).find(found.hash) is None
    assert Incoming(folder / "never").named("x") is None
    assert first.find("../x") is None


def test_an_upload_cut_short_leaves_nothing(folder: Path, served: Any) -> None:
    """The browser leaves in the middle of a file: no part of it stays."""
    with served.running() as server:
        server.engine.incoming = Incoming(folder / "in")

        def pieces() -> Iterator[bytes]:
            yield CSV * 3000
            time.sleep(0.2)
            raise ConnectionResetError

        wire = http.client.HTTPConnection("127.0.0.1", server.port, timeout=20)
        with contextlib.suppress(ConnectionResetError):
            wire.request("POST", "/original?name=a.csv", body=pieces(), encode_chunked=True)
        wire.close()
        end = time.monotonic() + 10
        while time.monotonic() < end and (not (folder / "in").exists() or os.listdir(folder / "in")):
            time.sleep(0.02)
        assert os.listdir(folder / "in") == []


def test_plain_names_of_long_words() -> None:
    assert len(plain_name("ä" * 300 + ".wav", ".wav", "12345678").encode()) <= 150
    assert plain_name("", ".csv", "0") == "file-0.csv"
