"""Run inside a network namespace: brings up the machine's own interface, serves, asks for everything, tells in JSON."""

from __future__ import annotations

import array
import fcntl
import json
import re
import socket
import struct
import subprocess
import sys
import urllib.request
from pathlib import Path
from typing import Any

from websockets.sync.client import connect

PLANE, PLAN = "demo_biplane_124.toml", "demo_biplane_124.plan.toml"


def bring_up_loopback() -> None:
    """Set the flag UP of `lo`, as `ip link set lo up` does."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as made:
        request = array.array("B", struct.pack("16sH14s", b"lo", 0x1 | 0x40, b""))
        fcntl.ioctl(made, 0x8914, request)


def outside() -> str:
    """Whether anything but this machine can be reached."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as made:
        made.settimeout(2)
        try:
            made.connect(("192.0.2.1", 80))
        except OSError as error:
            return "unreachable" if error.errno == 101 else str(error)
    return "reached"


def read(page: Any, seq: int) -> dict[str, Any]:
    """The answer to a message."""
    while True:
        said: dict[str, Any] = json.loads(page.recv(timeout=60))
        if said.get("seq") == seq and said["kind"] != "progress":
            return said


def main(folder: str) -> None:
    """Do it all."""
    bring_up_loopback()
    told: dict[str, Any] = {"outside": outside()}
    told["routes"] = len(Path("/proc/net/route").read_text().splitlines()) - 1
    command = [sys.executable, "-m", "evenfall", "app", folder, "--port", "0", "--no-browser", "--json"]
    program = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    try:
        assert program.stdout is not None
        place = f"http://127.0.0.1:{json.loads(program.stdout.readline())['port']}"
        with urllib.request.urlopen(place, timeout=10) as answer:
            told["page"] = answer.status
            assets = re.findall(r'(?:src|href)="(/assets/[^"]+)"', answer.read().decode())
        told["assets"] = sum(urllib.request.urlopen(place + asset, timeout=10).status == 200 for asset in assets)
        with connect(f"ws{place[4:]}/live", origin=place, max_size=None) as page:  # type: ignore[arg-type]
            action = {"what": "plan.tune", "plane": PLANE}
            page.send(json.dumps({"kind": "do", "seq": 1, "token": "token-0001", "action": action}))
            told["tuned"] = read(page, 1)["kind"]
        with urllib.request.urlopen(f"{place}/sheet.pdf?plane={PLANE}&plan={PLAN}", timeout=60) as answer:
            told["sheet"] = answer.read(4).decode()
    finally:
        program.terminate()
        told["exit"] = program.wait(10)
    print(json.dumps(told))


if __name__ == "__main__":
    main(sys.argv[1])
