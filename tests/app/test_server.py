"""Files in and out, the printed sheet, the page's own files: what is served, refused, and rendered harmless."""

from __future__ import annotations

import contextlib
import gzip
import http.client
import os
import re
import socket
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from evenfall.app.backend import Backend, backend_of
from evenfall.app.bundle import Bundle
from evenfall.app.guard import Guard
from evenfall.app.messages import AirAsk
from evenfall.app.server import MISSING, STATIC, UPLOAD_LIMIT, Application
from evenfall.plane.starter import demo_path, write_starter

PORT = 8750
HOST = f"127.0.0.1:{PORT}"
EVIL = [
    """<script>alert(1)</script>"><img src=x onerror=alert(1)></svg></text>&lt;""",
    """#read("/etc/passwd") $x^2$ *bold* `raw` @cite <label> ]#panic()[ \\ // /* */""",
]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A pilot's folder with the starter files, a secret beside it and a link to that."""
    target = tmp_path / "planes"
    write_starter(target)
    (tmp_path / "secret.toml").write_text('name = "secret"\n')
    os.symlink(tmp_path / "secret.toml", target / "link.toml")
    os.symlink(tmp_path, target / "up")
    return target


@pytest.fixture
def owner(folder: Path, served: Any) -> Any:
    """The owner's browser on that folder."""
    return served.Browser(Application(backend_of(str(folder)), guard=Guard(PORT)).app, ("127.0.0.1", 5), HOST)


@pytest.fixture
def plain(served: Any) -> Any:
    """The owner's browser on a pretended folder."""
    made = Application(Backend.of(served.FakeWorkspace(), served.FakeEngine()), guard=Guard(PORT)).app
    return served.Browser(made, ("127.0.0.1", 5), HOST)


# --- the page's own files


def test_the_page_is_never_kept_and_its_assets_for_good(plain: Any) -> None:
    page = plain.get("/")
    assert page.headers["cache-control"] == "no-cache"
    assets = re.findall(r'(?:src|href)="(/assets/[^"]+)"', page.text)
    assert assets
    for asset in assets:
        answer = plain.get(asset)
        assert answer.status_code == 200
        assert "immutable" in answer.headers["cache-control"]
        assert answer.headers["content-encoding"] == "gzip"
        assert answer.content == (STATIC / asset[1:]).read_bytes()
        assert plain.get(asset, headers={"accept-encoding": "identity"}).content == answer.content
    assert plain.request("HEAD", "/").status_code == 200
    assert plain.get("/mark.svg").headers["content-type"] == "image/svg+xml"


def test_a_missing_page_says_so(tmp_path: Path, served: Any) -> None:
    backend = Backend.of(served.FakeWorkspace(), served.FakeEngine())
    bare = Application(backend, guard=Guard(PORT), static=tmp_path)
    answer = served.Browser(bare.app, ("127.0.0.1", 5), HOST).get("/")
    assert (answer.status_code, answer.text) == (503, MISSING)


@pytest.mark.parametrize(
    "path",
    [
        "/assets/../../server.py", "/assets/..%2f..%2fserver.py", "/assets/%2e%2e/%2e%2e/server.py",
        "/assets//etc/passwd", "/..%5cserver.py", "/assets/%00.js", "/assets/" + "a" * 5000 + ".js",
        "/%2e%2e%2fserver.py", "/index.html/x", "/server.py", "/assets/.js", "/assets", "/assets/", "/file/", "/file",
        "/static/index.html",
    ],
)  # fmt: skip
def test_nothing_else_is_served(plain: Any, path: str) -> None:
    answer = plain.get(path)
    assert answer.status_code == 404
    assert "nothing at this address" in answer.text


def test_bundle_keeps_to_its_folder_and_notices_changes(tmp_path: Path) -> None:
    root = tmp_path / "static"
    root.mkdir()
    (tmp_path / "out.js").write_text("secret")
    os.symlink(tmp_path / "out.js", root / "link.js")
    (root / "a.js").write_text("x" * 1000)
    (root / "a.exe").write_text("x")
    bundle = Bundle(root)
    piece = bundle.get("a.js")
    assert piece is not None
    assert piece.zipped is not None
    assert gzip.decompress(piece.zipped) == piece.body == b"x" * 1000
    assert bundle.get("a.js") is piece
    (root / "a.js").write_text("new")
    changed = bundle.get("a.js")
    assert changed is not None
    assert (changed.body, changed.zipped) == (b"new", None)
    for name in ("link.js", "../out.js", "a.exe", "", ".", "b.js", "./a.js", str(root / "a.js"), "a.js/", "\0.js"):
        assert bundle.get(name) is None, name


# --- files out


def test_a_file_goes_out_as_it_is(owner: Any, folder: Path) -> None:
    answer = owner.get("/file/demo_biplane_124.toml")
    assert answer.content == (folder / "demo_biplane_124.toml").read_bytes()
    assert answer.headers["content-disposition"] == "attachment; filename*=UTF-8''demo_biplane_124.toml"
    assert "sandbox" in answer.headers["content-security-policy"]


@pytest.mark.parametrize(
    "name",
    [
        "..%2fsecret.toml", "%2e%2e%2fsecret.toml", "link.toml", "up%2fsecret.toml", "..%5csecret.toml", "secret.toml",
        "%2fetc%2fpasswd", "my_plane.toml%00", "con.toml", ".evenfall", "my_plane.toml.", "MY_PLANE.TOML", "%F0%9F",
        "a" * 4000 + ".toml", "%2e%2e",
    ],
)  # fmt: skip
def test_nothing_outside_the_folder_goes_out(owner: Any, name: str) -> None:
    answer = owner.get(f"/file/{name}")
    assert answer.status_code in (404, 422)
    assert "secret" not in answer.text.replace("secret.toml", "")
    assert "root:" not in answer.text


@pytest.mark.parametrize("side", ["plane", "plan"])
@pytest.mark.parametrize("name", ["../secret.toml", "link.toml", "up/secret.toml", "/etc/passwd", "\0", "<script>"])
def test_no_sheet_of_what_lies_outside(owner: Any, side: str, name: str) -> None:
    asked = {"plane": "demo_biplane_124.toml", "plan": "demo_biplane_124.plan.toml", side: name}
    answer = owner.get("/sheet.html", params=asked)
    assert answer.status_code == 422
    assert answer.headers["content-type"].startswith("text/plain")


@pytest.mark.parametrize("query", ["", "?plane=a", "?plan=a", "?plane=a&plan=b&paper=a3", "?plane=&plan="])
def test_a_sheet_needs_plane_and_plan(plain: Any, query: str) -> None:
    answer = plain.get(f"/sheet.pdf{query}")
    assert answer.status_code == 400
    assert "paper=letter" in answer.text


def test_every_sheet_has_its_type_and_policy(plain: Any) -> None:
    query = "?plane=demo_biplane_124.toml&plan=demo_biplane_124.plan.toml&paper=letter"
    types = {"pdf": "application/pdf", "html": "text/html; charset=utf-8"}
    for name in ("sheet.pdf", "sheet.html", "sheet-1.svg", "sheet-2.svg"):
        answer = plain.get(f"/{name}{query}")
        assert answer.status_code == 200
        assert answer.headers["content-type"] == types.get(name.split(".")[1], "image/svg+xml")
        assert "frame-ancestors 'self'" in answer.headers["content-security-policy"]
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert " letter demo_biplane_124.toml" in answer.text


def test_a_third_page_is_that_of_a_programme(plain: Any) -> None:
    query = "?plane=demo_biplane_124.toml&plan=demo_biplane_124.plan.toml"
    for name in ("sheet.pdf", "sheet.html", "sheet-3.svg"):
        answer = plain.get(f"/{name}{query}&programme=seventeen")
        assert answer.status_code == 200
        assert answer.text.endswith("demo_biplane_124.toml seventeen")
    for rest in ("", "&programme="):
        assert plain.get(f"/sheet-3.svg{query}{rest}").status_code == 400
        assert plain.get(f"/sheet.pdf{query}{rest}").text.endswith("demo_biplane_124.toml")


def test_a_sheet_is_made_in_the_air_its_address_names(served: Any) -> None:
    engine = served.FakeEngine()
    made = Application(Backend.of(served.FakeWorkspace(), engine), guard=Guard(PORT)).app
    browser = served.Browser(made, ("127.0.0.1", 5), HOST)
    asked = {"plane": "demo_biplane_124.toml", "plan": "demo_biplane_124.plan.toml"}
    day = {"elevation_m": "1200", "temperature_c": "31.5", "pressure_hpa": "880"}
    for name in ("sheet.pdf", "sheet.html", "sheet-1.svg", "sheet-2.svg"):
        engine.airs.clear()
        for air in ({}, day, {"elevation_m": ""}):
            assert browser.get(f"/{name}", params=asked | air).status_code == 200
        assert engine.airs == [AirAsk(), AirAsk(elevation_m=1200, temperature_c=31.5, pressure_hpa=880), AirAsk()]


@pytest.mark.parametrize(
    ("name", "value"),
    [("elevation_m", "high"), ("elevation_m", "9000"), ("temperature_c", "nan"), ("pressure_hpa", "1e9")],
)
def test_an_air_that_cannot_be_is_refused_in_words(plain: Any, name: str, value: str) -> None:
    answer = plain.get("/sheet.pdf", params={"plane": "a.toml", "plan": "a.plan.toml", name: value})
    assert answer.status_code == 400
    assert answer.text.startswith(f"{name} is {value}. The air: elevation_m from -500 to 5000")


@pytest.fixture(scope="module")
def tuned_text(served: Any) -> str:
    """A plan of the demo plane."""
    from evenfall import workflow
    from evenfall.radio.planfile import plan_text

    plan = workflow.tune(demo_path("biplane_124")).plan
    assert plan is not None
    return plan_text(plan)


@pytest.mark.parametrize("name", EVIL)
def test_names_are_never_markup(owner: Any, folder: Path, tuned_text: str, name: str) -> None:
    """A plane and its phases named as markup: shown as written, run by nobody, on every form of the sheet."""
    text = (folder / "demo_biplane_124.toml").read_text(encoding="utf-8")
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    text = re.sub(r'^name = ".*"$', lambda _: f'name = "{quoted}"', text, count=1, flags=re.M)
    (folder / "evil.toml").write_text(text, encoding="utf-8")
    (folder / "evil.plan.toml").write_text(tuned_text, encoding="utf-8")
    asked = {"plane": "evil.toml", "plan": "evil.plan.toml"}
    page = owner.get("/sheet.html", params=asked)
    assert page.status_code == 200, page.text
    assert page.text.count("<script") == 1
    assert "onerror=alert(1)>" not in page.text
    assert "<img" not in page.text
    policy = page.headers["content-security-policy"]
    assert re.search(r"script-src 'sha256-[\w+/=]+';", policy)
    assert owner.get("/sheet.pdf", params=asked).content.startswith(b"%PDF")
    for number in (1, 2):
        picture = owner.get(f"/sheet-{number}.svg", params=asked)
        assert picture.status_code == 200
        assert "<script" not in picture.text
        assert "<img" not in picture.text


# --- files in


def test_a_file_comes_in_once(owner: Any, folder: Path) -> None:
    text = demo_path("monoplane_160").read_bytes()
    answer = owner.post("/upload?name=brought.toml", content=text)
    assert answer.status_code == 200
    assert answer.json()["file"] == "brought.toml"
    assert (folder / "brought.toml").read_bytes() == text
    again = owner.post("/upload?name=brought.toml", content=text)
    assert again.status_code == 422
    assert "lies in the folder already" in again.json()["words"]


@pytest.mark.parametrize(
    "name", ["../x.toml", "x.exe", "", ".x.toml", "a/b.toml", "/x.toml", "up%2fx.toml", "link.toml"]
)
def test_bad_names_do_not_come_in(owner: Any, folder: Path, name: str) -> None:
    before = sorted(path.name for path in folder.parent.rglob("*.toml"))
    answer = owner.post(f"/upload?name={name}", content=demo_path("monoplane_160").read_bytes())
    assert answer.status_code == 422
    assert answer.json()["words"]
    assert sorted(path.name for path in folder.parent.rglob("*.toml")) == before
    assert (folder.parent / "secret.toml").read_text() == 'name = "secret"\n'


@pytest.mark.parametrize("body", [b"\xff\xfe\x00", b"format = ", b"\x00" * 50, b"[" * 5000, b'a = "\\ud800"'])
def test_what_is_no_plane_does_not_come_in(owner: Any, folder: Path, body: bytes) -> None:
    answer = owner.post("/upload?name=x.toml", content=body)
    assert answer.status_code == 422
    assert not (folder / "x.toml").exists()


@pytest.mark.parametrize("base", ["-1", "x", "1" * 30, "1.5", "²"])
def test_a_base_is_a_number(plain: Any, base: str) -> None:
    assert plain.post("/upload", params={"name": "x.toml", "base": base}, content=b"a = 1").status_code == 400


@pytest.mark.parametrize("announced", [True, False], ids=["announced", "in pieces"])
def test_a_gigabyte_is_refused_early(running: Any, announced: bool) -> None:
    """Refused after little was read, whether its length is announced or it comes in pieces without end."""
    sent = 0

    def pieces() -> Iterator[bytes]:
        nonlocal sent
        for _ in range(1000):
            sent += 1_000_000
            yield b"x" * 1_000_000

    wire = http.client.HTTPConnection("127.0.0.1", running.port, timeout=30)
    headers = {"content-length": "1000000000"} if announced else {}
    with contextlib.suppress(BrokenPipeError, ConnectionResetError):
        wire.request("POST", "/upload?name=big.toml", body=pieces(), headers=headers, encode_chunked=not announced)
    answer = wire.getresponse()
    assert answer.status == 413
    assert f"{UPLOAD_LIMIT / 1000:g} kB" in answer.read().decode()
    assert sent < 20_000_000
    wire.close()
    assert running.workspace.acted == []


@pytest.mark.parametrize(
    "raw",
    [
        b"GET / HTTP/1.1\r\n\r\n",
        b"\x16\x03\x01\x02\x00\x01",
        b"GET http://evil.example/ HTTP/1.1\r\nHost: x\r\n\r\n",
        b"A" * 100_000,
        b"GET / HTTP/9.9\r\n\r\n",
        b"POST /upload HTTP/1.1\r\nHost: x\r\nContent-Length: -5\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nTransfer-Encoding: chunked\r\nContent-Length: 5\r\n\r\n",
        b"GET /file/.. HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    ],
    ids=range(8),
)
def test_raw_rubbish_is_refused_and_the_server_lives(running: Any, raw: bytes) -> None:
    with socket.create_connection(("127.0.0.1", running.port), timeout=10) as wire:
        wire.sendall(raw)
        wire.shutdown(socket.SHUT_WR)
        answer = wire.recv(4096)
    assert answer == b"" or answer.split(b" ")[1] in (b"400", b"421")
    with running.connect() as page:
        assert page.recv(timeout=10)


def test_a_fault_of_our_own_is_a_plain_500(served: Any, capfd: pytest.CaptureFixture[str]) -> None:
    class Broken(served.FakeEngine):  # type: ignore[misc, name-defined]
        """An engine whose printing is broken."""

        sheet_bytes: Callable[..., bytes] = staticmethod(lambda *a, **k: 1 // 0)

    made = Application(Backend.of(served.FakeWorkspace(), Broken()), guard=Guard(PORT)).app
    answer = served.Browser(made, ("127.0.0.1", 5), HOST).get("/sheet.pdf?plane=a&plan=b")
    assert answer.status_code == 500
    assert answer.text == "A fault in Evenfall itself; the terminal says which.\n"
    (line,) = capfd.readouterr().err.splitlines()
    assert line.startswith("evenfall: http '/sheet.pdf': ZeroDivisionError")
