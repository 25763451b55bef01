"""Start and memory of the app.

    python benchmarks/bench_app_start.py

Time from starting the process until `GET /` is answered (wall time, median and worst of ten), then the memory the
process holds after the first page, once the demo plane is ready, after a tune and after everything was asked.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from websockets.sync.client import connect

WANTED_S, WANTED_MB = 0.35, 200.0
PLANE, PLAN = "demo_biplane_124.toml", "demo_biplane_124.plan.toml"
TOPICS = (
    "plane", "plan", "quick", "kinematics", "predict", "tune", "map", "shaft", "stick", "march", "bench", "rig",
    "sheet",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Served:
    """A running server and how long its first page took, s."""

    port: int
    process: subprocess.Popen[bytes]
    first_page: float

    def memory_mb(self) -> float:
        """What the process holds now, MB; nan where the system does not tell."""
        try:
            text = Path(f"/proc/{self.process.pid}/status").read_text()
        except OSError:
            return float("nan")
        return int(text.split("VmRSS:")[1].split()[0]) / 1024


@contextlib.contextmanager
def served(folder: Path) -> Iterator[Served]:
    """A server on a folder, ended afterwards."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "evenfall", "app", str(folder), "--port", str(port), "--no-browser"]
    start = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    try:
        while True:
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=5) as answer:
                    answer.read()
                break
            except OSError:
                if process.poll() is not None:
                    raise
                time.sleep(0.003)
        yield Served(port=port, process=process, first_page=time.perf_counter() - start)
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(10)


def start_times(folder: Path, runs: int = 10) -> list[float]:
    """Seconds to the first page of several starts."""
    times = []
    for _ in range(runs):
        with served(folder) as server:
            times.append(server.first_page)
    return times


def memory(folder: Path) -> dict[str, float]:
    """Memory in MB at four points."""
    with served(folder) as server:
        found = {"first page": server.memory_mb()}
        origin = f"http://127.0.0.1:{server.port}"
        with connect(f"ws{origin[4:]}/live", origin=origin, max_size=None) as page:  # type: ignore[arg-type]
            page.recv()
            ask = {"kind": "ask", "plane": PLANE, "seq": 1}
            _answered(page, {**ask, "topic": "predict"})
            found["demo plane ready"] = server.memory_mb()
            tune = {"what": "plan.tune", "plane": PLANE}
            _answered(page, {"kind": "do", "seq": 1, "token": os.urandom(8).hex(), "action": tune})
            found["after a tune"] = server.memory_mb()
            for topic in TOPICS:
                _answered(page, {**ask, "topic": topic, "plan": PLAN})
            found["after every topic"] = server.memory_mb()
            query = f"?plane={PLANE}&plan={PLAN}"
            for name in ("sheet.pdf", "sheet-1.svg"):
                with urllib.request.urlopen(f"{origin}/{name}{query}") as answer:
                    answer.read()
            found["after the printed sheet"] = server.memory_mb()
    return found


def _answered(page: Any, message: dict[str, object]) -> None:
    page.send(json.dumps(message))
    while True:
        said = json.loads(page.recv())
        if said.get("seq") == 1 and said["kind"] != "progress":
            if said["kind"] == "refused":
                raise RuntimeError(said["words"])
            return


def main() -> None:
    """Print both."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "planes"
        new = start_times(folder, 1)[0]
        times = start_times(folder)
        middle = statistics.median(times)
        verdict = "met" if middle <= WANTED_S else f"missed, {middle / WANTED_S:.2f} x"
        reach = f"{middle:.3f} s, worst {max(times):.3f} s"
        print(f"first page, median of {len(times)}: {reach}; wanted {WANTED_S} s: {verdict}")
        print(f"first page of a new folder: {new:.3f} s")
        for point, held in memory(folder).items():
            verdict = "met" if held <= WANTED_MB else f"missed, {held / WANTED_MB:.2f} x"
            print(f"memory, {point}: {held:.0f} MB; wanted {WANTED_MB:.0f} MB: {verdict}")


if __name__ == "__main__":
    main()
