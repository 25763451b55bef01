"""Ten thousand seeded frames of nonsense: the server answers in its own words, stays alive and correct."""

from __future__ import annotations

import json
import random
import socket as sockets
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from websockets.exceptions import ConnectionClosed

from evenfall.plane.starter import demo_path

FRAMES = 10_000
KINDS = {"hello", "folder", "answer", "progress", "dropped", "done", "refused"}
VALID: tuple[dict[str, Any], ...] = (
    {"kind": "ask", "seq": 1, "topic": "plane", "plane": "demo.toml"},
    {"kind": "ask", "seq": 2, "topic": "plan", "plane": "demo.toml", "changes": {"angle_deg": 12.5}},
    {"kind": "ask", "seq": 3, "topic": "kinematics", "plane": "demo.toml", "edits": {"wing.upper.span_mm": [1240, 2]}},
    {"kind": "cancel", "channel": "plane"},
    {"kind": "do", "seq": 4, "token": "tokentoken", "action": {"what": "undo", "file": "demo.toml"}},
    {"kind": "do", "seq": 5, "token": "t" * 20, "action": {"what": "plane.set", "file": "demo.toml", "edits": {}}},
    {"kind": "do", "seq": 6, "token": "u" * 20, "action": {"what": "part.drop", "file": "demo.toml", "index": 99}},
    {
        "kind": "do",
        "seq": 7,
        "token": "v" * 20,
        "action": {"what": "text.set", "file": "demo.toml", "text": "name =", "base": 0},
    },
    {
        "kind": "do",
        "seq": 8,
        "token": "w" * 20,
        "action": {"what": "bench.read", "plane": "demo.toml", "plan": "x.plan.toml", "phase": "normal"}
        | {"throttle_percent": 0, "aileron_percent": 0, "angles_deg": {"upper_left": 3.0}},
    },
)
ODD: tuple[Any, ...] = (
    None, True, False, 0, -1, 2**63, 10**400, -(10**30), 1e308, 5e-324, "", "\x00", "\ufeff", "\u202e", "\U0001f600",
    "../../etc/passwd", "<script>alert(1)</script>", "${x}", "'; drop table plane; --", "a" * 5000, "\u00e9" * 50,
    "NaN", [], {}, [[]], {"": {}}, "demo.toml\n", "con.toml", "%2e%2e", {"kind": "ask"}, [1, 2, 3], {"__proto__": 1},
)  # fmt: skip


def _paths(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place inside a value."""
    found = [path] if path else []
    if isinstance(value, dict):
        return found + [place for key in value for place in _paths(value[key], (*path, key))]
    if isinstance(value, list):
        return found + [place for key, inner in enumerate(value) for place in _paths(inner, (*path, key))]
    return found


def _mutated(chance: random.Random) -> str:
    """A valid message with one to three of its places changed, left out, doubled or renamed."""
    message = json.loads(json.dumps(chance.choice(VALID)))
    for _ in range(chance.randint(1, 3)):
        paths = _paths(message)
        if not paths:
            break
        *way, last = chance.choice(paths)
        holder = message
        for step in way:
            holder = holder[step]
        match chance.randrange(4):
            case 0:
                holder[last] = chance.choice(ODD)
            case 1:
                del holder[last]
            case 2 if isinstance(holder, dict):
                holder[str(chance.choice(ODD))[:300]] = holder[last]
            case _:
                holder[last] = [holder[last]] * chance.randint(0, 4)
    return json.dumps(message, ensure_ascii=chance.random() < 0.5)


def _cut(chance: random.Random) -> str:
    """A valid message with characters lost, added or swapped."""
    text = json.dumps(chance.choice(VALID))
    for _ in range(chance.randint(1, 5)):
        at = chance.randrange(len(text))
        text = text[:at] + chance.choice(["", "{", '"', "\\", "\x00", "9" * 30, "\\ud800", ",", "é"]) + text[at + 1 :]
    return text


def _random_json(chance: random.Random, depth: int = 0) -> Any:
    if depth > 6 or chance.random() < 0.4:
        return chance.choice(ODD)
    if chance.random() < 0.5:
        return [_random_json(chance, depth + 1) for _ in range(chance.randint(0, 4))]
    keys = ("kind", "seq", "topic", "plane", "action", "what", "file", "token", "channel", "x")
    return {chance.choice(keys): _random_json(chance, depth + 1) for _ in range(chance.randint(0, 5))}


def _deep(chance: random.Random) -> str:
    opening, closing = chance.choice([("[", "]"), ('{"a":', "}"), ('{"action":', "}"), ('{"edits":[', "]}")])
    depth = chance.choice([50, 500, 5000])
    return opening * depth + "1" + closing * chance.choice([0, depth])


def _huge(chance: random.Random) -> str:
    digits = chance.choice([20, 400, 5000, 100_000])
    number = chance.choice(["9" * digits, "-" + "1" * digits, "1e" + "9" * min(digits, 400), "0." + "0" * digits + "1"])
    return f'{{"kind":"ask","seq":{number},"topic":"plane","plane":"demo.toml","entry_m_s":{number}}}'


def _bytes(chance: random.Random) -> bytes:
    return chance.randbytes(chance.randrange(200))


MAKERS: tuple[Callable[[random.Random], str | bytes], ...] = (
    _mutated, _mutated, _mutated, _cut, _cut, lambda chance: json.dumps(_random_json(chance)), _deep, _huge, _bytes,
)  # fmt: skip


def frames(seed: int, count: int) -> list[str | bytes]:
    """Seeded nonsense."""
    chance = random.Random(seed)
    return [chance.choice(MAKERS)(chance) for _ in range(count)]


def test_the_same_seed_gives_the_same_frames() -> None:
    assert frames(3, 50) == frames(3, 50) != frames(4, 50)


def _throw(page: Any, thrown: list[str | bytes], served: Any) -> dict[str, int]:
    """Send frames, read all answers; how many came of each kind. Ends with an ask that must be answered."""
    found: dict[str, int] = dict.fromkeys(KINDS, 0)
    for number, frame in enumerate(thrown):
        page.send(frame)
        if number % 50 == 49 or number == len(thrown) - 1:
            mark = 2**40 + number
            served.ask(page, "plane", mark, channel="mark")
            while True:
                said = served.read(page)
                found[said["kind"]] += 1
                assert len(said.get("words", "")) <= 2000
                if said.get("seq") == mark and said["kind"] in ("answer", "refused"):
                    break
    return found


def test_ten_thousand_frames(running: Any, served: Any, capfd: pytest.CaptureFixture[str]) -> None:
    """Against the pretended folder: every frame is understood or refused, none ends the connection."""
    with running.connect() as page:
        served.read(page, "hello")
        found = _throw(page, frames(1, FRAMES), served)
        assert found["answer"] >= FRAMES // 50
        assert found["refused"] > FRAMES // 2
    assert capfd.readouterr().err == ""
    with running.connect() as page:
        assert served.read(page)["kind"] == "hello"


def test_frames_against_the_real_folder(tmp_path: Path, served: Any) -> None:
    """A thousand against the real program: alive, correct and its file unharmed afterwards, not a word on stderr."""
    text = demo_path("monoplane_160").read_text(encoding="utf-8")
    (tmp_path / "demo.toml").write_text(text, encoding="utf-8")
    (tmp_path.parent / "passwd").write_text("x")
    with served.program(tmp_path) as program:
        with served.page(program.port) as page:
            served.read(page, "hello")
            _throw(page, frames(2, 1000), served)
        with served.page(program.port) as page:
            (entry,) = (e for e in served.read(page, "hello")["folder"]["planes"] if e["file"] == "demo.toml")
            assert entry["usable"]
            served.ask(page, "kinematics", 1)
            served.say(page, kind="ask", seq=2, topic="kinematics", plane="demo.toml")
            while (said := served.read(page))["seq"] != 2:
                pass
            assert said["kind"] == "answer"
        assert program.memory_mb() < 400
        assert program.end() == (0, "")
    assert (tmp_path.parent / "passwd").read_text() == "x"


def test_broken_frames_end_their_connection_only(running: Any, served: Any) -> None:
    """Bytes that are no frames at all, from a hundred connections."""
    chance = random.Random(5)
    host = f"127.0.0.1:{running.port}"
    with running.connect() as page:
        served.read(page, "hello")
        for _ in range(100):
            with sockets.create_connection(("127.0.0.1", running.port), timeout=5) as raw:
                raw.sendall(
                    f"GET /live HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nUpgrade: websocket\r\n"
                    "Connection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
                    "Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n\r\n".encode()
                )
                raw.sendall(chance.randbytes(chance.randrange(1, 400)))
        served.ask(page, "plane", 1)
        assert served.read(page, "answer")["seq"] == 1
    end = time.monotonic() + 10
    while running.application.live.pages and time.monotonic() < end:
        time.sleep(0.02)
    assert not running.application.live.pages


@pytest.mark.parametrize("text", [b"\xff\xfe", b"\xc3\x28", b"\xed\xa0\x80"])
def test_text_that_is_no_utf8_ends_its_connection_only(running: Any, served: Any, text: bytes) -> None:
    with running.connect() as other, running.connect() as page:
        served.read(other, "hello")
        served.read(page, "hello")
        page.send(text, text=True)
        with pytest.raises(ConnectionClosed):
            served.read(page)
        served.ask(other, "plane", 1)
        assert served.read(other, "answer")["seq"] == 1
