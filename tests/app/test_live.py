"""The socket: greeting, newest wins, quick beside slow, actions once and in order, all pages told, faults survived."""

from __future__ import annotations

import asyncio
import contextlib
import json
import socket as sockets
import threading
import time
from typing import Any

import pytest
from websockets.exceptions import ConnectionClosed

from evenfall import __version__
from evenfall.app.live import ASKS
from evenfall.app.messages import FRAME_LIMIT
from evenfall.app.outbox import MOST, Outbox
from evenfall.app.run import FRAME_LIMIT as SERVED_LIMIT


def test_one_frame_limit() -> None:
    assert SERVED_LIMIT == FRAME_LIMIT


def test_hello_comes_first(running: Any, served: Any) -> None:
    with running.connect() as page:
        hello = served.read(page)
    assert hello["kind"] == "hello"
    assert hello["version"] == __version__
    assert hello["role"] == "owner"
    assert hello["folder"]["notes"] == ["revision 0"]


def test_an_answer_repeats_seq_and_topic(running: Any, served: Any) -> None:
    with running.connect() as page:
        served.read(page, "hello")
        served.ask(page, "plane", 7)
        answer = served.read(page)
    assert (answer["kind"], answer["seq"], answer["topic"], answer["body"]["folder"]) == (
        "answer",
        7,
        "plane",
        "x" * 10,
    )


def test_quick_never_waits_behind_slow(running: Any, served: Any) -> None:
    with running.connect() as page:
        served.read(page, "hello")
        served.ask(page, "march", 1)
        assert running.engine.begun.wait(5)
        served.ask(page, "quick", 2)
        assert served.read(page, "answer")["seq"] == 2
        running.engine.gate.set()
        assert served.read(page, "answer")["seq"] == 1


def test_newest_of_a_channel_wins(running: Any, served: Any) -> None:
    with running.connect() as page:
        served.read(page, "hello")
        served.ask(page, "march", 1)
        assert running.engine.begun.wait(5)
        assert served.read(page) == {"kind": "progress", "seq": 1, "words": "marching"}
        for seq in range(2, 50):
            served.ask(page, "march", seq)
            assert served.read(page, "dropped", "answer") == {"kind": "dropped", "seq": seq - 1}
        served.ask(page, "march", 50, channel="other")
        running.engine.gate.set()
        assert [served.read(page, "dropped", "answer")["seq"] for _ in range(2)] == [49, 50]
    assert "march 49" in running.engine.asked


def test_every_ask_of_a_flooded_channel_is_answered_once(running: Any, served: Any) -> None:
    running.engine.gate.set()
    with running.connect() as page:
        served.read(page, "hello")
        for seq in range(400):
            served.ask(page, "quick", seq)
        found: dict[int, str] = {}
        while 399 not in found:
            said = served.read(page)
            assert said["seq"] not in found
            found[said["seq"]] = said["kind"]
    assert sorted(found) == list(range(400))
    assert found[399] == "answer"
    assert set(found.values()) <= {"answer", "dropped"}


def test_a_flight_is_entered_while_a_change_is_worked_out(running: Any, served: Any) -> None:
    with running.connect() as page, running.connect() as other:
        served.read(page, "hello")
        served.read(other, "hello")
        served.act(page, "token-change", 1, what="change.take", plane="a.toml", plan="a.plan.toml")
        served.act(other, "token-flight", 2, what="flight.save", plane="a.toml", form={"date": "2026-05-17"})
        assert served.read(other, "done")["file"] == "token-flight"
        running.engine.gate.set()
        assert served.read(page, "done")["file"] == "token-change"


def test_cancel(running: Any, served: Any) -> None:
    with running.connect() as page:
        served.read(page, "hello")
        served.ask(page, "march", 1, channel="entry")
        assert running.engine.begun.wait(5)
        served.say(page, kind="cancel", channel="nothing")
        served.say(page, kind="cancel", channel="entry")
        assert served.read(page, "dropped")["seq"] == 1
        served.ask(page, "map", 2)
        assert served.read(page, "answer", "dropped")["seq"] == 2


def test_too_many_waiting_asks_are_refused(running: Any, served: Any) -> None:
    with running.connect() as page:
        served.read(page, "hello")
        for seq in range(ASKS + 3):
            served.ask(page, "march", seq, channel=f"c{seq}")
        refused = [served.read(page, "refused") for _ in range(3)]
        assert [said["seq"] for said in refused] == [ASKS, ASKS + 1, ASKS + 2]
        assert "wait for their answers" in refused[0]["words"]
        running.engine.gate.set()
        answered = [served.read(page, "answer")["seq"] for _ in range(ASKS)]
    assert answered == list(range(ASKS))


def test_actions_in_order_each_once(running: Any, served: Any) -> None:
    with running.connect() as page:
        served.read(page, "hello")
        for seq in range(20):
            served.act(page, f"token-{seq:04d}", seq, what="undo", file="a.toml")
        done = [served.read(page, "done") for _ in range(20)]
        served.act(page, "token-0003", 99, what="undo", file="a.toml")
        again = served.read(page, "done")
    assert [said["seq"] for said in done] == list(range(20))
    assert [said["revision"] for said in done] == list(range(1, 21))
    assert (again["seq"], again["revision"]) == (99, 4)
    assert len(running.workspace.acted) == 20


def test_an_action_goes_on_after_its_page_has_left(running: Any, served: Any) -> None:
    running.workspace.pause = 0.2
    with running.connect() as page:
        served.read(page, "hello")
        for seq in range(3):
            served.act(page, f"token-{seq:04d}", seq, what="undo", file="a.toml")
        served.say(page, kind="ask", seq=1, topic="plane", plane="x")
        served.read(page, "answer")
    _until(lambda: len(running.workspace.acted) == 3)


def test_a_tune_sent_twice_while_it_runs_is_computed_once(running: Any, served: Any) -> None:
    with running.connect() as one, running.connect() as two:
        served.read(one, "hello")
        served.read(two, "hello")
        served.act(one, "token-tune", 1, what="plan.tune", plane=served.PLANE)
        assert running.engine.begun.wait(5)
        assert served.read(one, "progress")["words"] == "tuning"
        served.act(two, "token-tune", 5, what="plan.tune", plane=served.PLANE)
        served.act(two, "token-next", 6, what="undo", file="a.toml")
        time.sleep(0.1)
        running.engine.gate.set()
        assert served.read(one, "done") == {**(first := served.read(two, "done")), "seq": 1}
        assert first["seq"] == 5
        assert served.read(two, "done")["revision"] == 2
    assert running.engine.tuned == 1


def test_all_pages_are_told_of_every_change(running: Any, served: Any) -> None:
    with running.connect() as one, running.connect() as two:
        served.read(one, "hello")
        served.read(two, "hello")
        served.act(one, "token-0001", 1, what="undo", file="a.toml")
        assert served.read(two, "folder")["folder"]["notes"] == ["revision 1"]
        assert served.read(one, "folder")["folder"]["notes"] == ["revision 1"]
        running.workspace.revision = 5
        running.workspace.outside = True
        assert served.read(two, "folder", timeout=3)["folder"]["notes"] == ["revision 5"]


def test_the_folder_is_not_looked_at_without_a_page(running: Any, served: Any) -> None:
    with running.connect() as page:
        served.read(page, "hello")
    _until(lambda: not running.application.live.pages)
    running.workspace.outside = True
    time.sleep(0.8)
    assert running.workspace.outside


@pytest.mark.parametrize(
    ("text", "words", "seq"),
    [
        ("", "not understood", None),
        ("{", "not understood", None),
        ("null", "not understood", None),
        ('{"kind":"ask","seq":3,"topic":"nothing","plane":"x"}', "topic", 3),
        ('{"kind":"ask","seq":3,"topic":"plane","plane":"x","more":1}', "more: Extra inputs", 3),
        ('{"kind":"ask","seq":-1,"topic":"plane","plane":"x"}', "seq", None),
        ('{"kind":"ask","seq":1e999,"topic":"plane","plane":"x"}', "not understood", None),
        ('{"kind":"march","seq":3,"topic":"march","plane":"x"}', "kind", 3),
        ('{"kind":"ask","seq":3,"topic":"plane","plane":"x","edits":{"a":NaN}}', "edits", 3),
        ('{"kind":"do","seq":4,"token":"short","action":{"what":"undo","file":"x"}}', "token", 4),
        ('{"kind":"do","seq":4,"token":"long enough","action":{"what":"delete","file":"x"}}', "what", 4),
        ("[" * 100_000, "not understood", None),
        ('{"a":' * 50_000, "not understood", None),
        ('{"kind":"ask","seq":' + "9" * 100_000 + "}", "not understood", None),
        ('{"kind":"ask","seq":5,"topic":"plane","plane":"\\ud800"}', "not understood", None),
        ('{"' + "x" * 200_000 + '":1}', "not understood", None),
        (json.dumps({"kind": "ask", "seq": 5, "topic": "<script>", "plane": "y" * 300}), "topic", 5),
    ],
    ids=range(17),
)
def test_what_is_not_understood_is_refused_and_the_page_lives(
    running: Any, served: Any, text: str, words: str, seq: int | None
) -> None:
    with running.connect() as page:
        served.read(page, "hello")
        page.send(text)
        refused = served.read(page, "refused")
        assert words in refused["words"]
        assert len(refused["words"]) <= 600
        assert refused["seq"] == seq
        served.ask(page, "plane", 8)
        assert served.read(page, "answer")["seq"] == 8


def test_binary_is_refused(running: Any, served: Any) -> None:
    with running.connect() as page:
        served.read(page, "hello")
        page.send(b"\x00\xff")
        assert "binary" in served.read(page, "refused")["words"]
        served.ask(page, "plane", 8)
        assert served.read(page, "answer")["seq"] == 8


def test_an_oversized_message_ends_its_connection_only(running: Any, served: Any) -> None:
    with running.connect() as other, running.connect() as page:
        served.read(page, "hello")
        served.read(other, "hello")
        page.send('"' + "x" * (FRAME_LIMIT - 2) + '"')
        assert served.read(page)["kind"] == "refused"
        with contextlib.suppress(ConnectionClosed):
            page.send('"' + "x" * FRAME_LIMIT + '"')
        with pytest.raises(ConnectionClosed) as closed:
            page.recv(timeout=10)
        assert closed.value.rcvd is None or closed.value.rcvd.code == 1009
        served.ask(other, "plane", 8)
        assert served.read(other, "answer")["seq"] == 8


def test_faults_of_our_own_are_words_and_a_line_on_stderr(
    running: Any, served: Any, capfd: pytest.CaptureFixture[str]
) -> None:
    with running.connect() as page:
        served.read(page, "hello")
        served.ask(page, "stick", 3)
        refused = served.read(page)
        served.act(page, "token-0001", 4, what="undo", file="broken.toml")
        broken = served.read(page)
        served.act(page, "token-0002", 5, what="undo", file="refused.toml")
        wrong = served.read(page)
        served.ask(page, "plane", 6)
        assert served.read(page, "answer")["seq"] == 6
    assert (refused["kind"], refused["seq"]) == ("refused", 3)
    assert "ZeroDivisionError" in refused["words"]
    assert (broken["kind"], broken["seq"]) == ("refused", 4)
    assert (wrong["kind"], wrong["seq"], wrong["words"]) == ("refused", 5, "refused.toml is not here")
    errors = capfd.readouterr().err.splitlines()
    assert [line.split(": ")[:3] for line in errors] == [
        ["evenfall", "answering stick", "ZeroDivisionError"],
        ["evenfall", "doing undo", "RuntimeError"],
    ]


def test_a_page_that_does_not_read_is_not_read_from(running: Any, served: Any) -> None:
    """The server stops taking messages once its answers pile up; another page is served all the while."""
    running.engine.size = 200_000
    with running.connect() as other:
        served.read(other, "hello")
        slow = sockets.create_connection(("127.0.0.1", running.port))
        slow.setsockopt(sockets.SOL_SOCKET, sockets.SO_RCVBUF, 4096)
        _handshake(slow, running.port)
        sent = _flood(slow, 20_000)
        (page,) = (page for page in running.application.live.pages if len(page.outbox) > 1)
        assert sent < 20_000
        assert len(page.outbox) <= MOST + ASKS + 2
        assert len(page.asks) <= ASKS
        assert len(running.application.live.quick) <= ASKS
        served.ask(other, "plane", 8)
        assert served.read(other, "answer")["seq"] == 8
        slow.close()
    _until(lambda: not running.application.live.pages)


def test_outbox_keeps_the_newest_of_a_key_and_makes_wait() -> None:
    async def go() -> None:
        box = Outbox()
        box.put("a")
        box.put("old", key="folder")
        box.put("b")
        box.put("new", key="folder")
        assert [await box.take() for _ in range(3)] == ["a", "b", "new"]
        for number in range(MOST + 1):
            box.put(str(number))
        with pytest.raises(TimeoutError):
            await asyncio.wait_for(box.room(), 0.01)
        for _ in range(MOST):
            await box.take()
        await asyncio.wait_for(box.room(), 1)

    asyncio.run(go())


def _until(met: Any, seconds: float = 5.0) -> None:
    end = time.monotonic() + seconds
    while not met():
        assert time.monotonic() < end
        time.sleep(0.01)


def _handshake(raw: sockets.socket, port: int) -> None:
    host = f"127.0.0.1:{port}"
    raw.sendall(
        f"GET /live HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        "Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n\r\n".encode()
    )
    assert b" 101 " in raw.recv(4096)


def _flood(raw: sockets.socket, most: int) -> int:
    """Send asks without reading until the other side takes no more; how many went."""
    raw.settimeout(1.0)
    for seq in range(most):
        channel = f"c{seq % 20}" + "-" * 150
        text = json.dumps({"kind": "ask", "seq": seq, "topic": "plane", "plane": "x", "channel": channel}).encode()
        try:
            raw.sendall(bytes([0x81, 0xFE]) + len(text).to_bytes(2, "big") + bytes(4) + text)
        except TimeoutError:
            return seq
    return most


def test_the_worker_takes_first_things_first_and_leaves_out_what_is_discarded() -> None:
    from evenfall.app.jobs import Worker

    worker, gate, begun, done = Worker("test"), threading.Event(), threading.Event(), list[int]()

    def wait() -> None:
        begun.set()
        gate.wait(5)

    worker.submit(wait)
    assert begun.wait(5)
    jobs = [worker.submit(lambda n=n: done.append(n)) for n in range(3)]  # type: ignore[misc]
    worker.submit(lambda: done.append(9), first=True)
    assert worker.discard(jobs[1])
    assert not worker.discard(jobs[1])
    gate.set()
    worker.close(5.0)
    assert done == [9, 0, 2]
    with pytest.raises(RuntimeError, match="ended"):
        worker.submit(lambda: None)
