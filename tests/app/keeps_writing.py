"""A process that edits a folder until it is killed: says every change that was answered, one a line.

python keeps_writing.py FOLDER FIRST [POINT]; with POINT it kills itself there, at its third change.
"""

from __future__ import annotations

import os
import signal
import sys

from evenfall.app import messages
from evenfall.app.folder import Folder
from evenfall.app.journal import Journal
from evenfall.app.workspace import Workspace


def die(*_: object, **__: object) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def main() -> None:
    folder, first = sys.argv[1], int(sys.argv[2])
    point = sys.argv[3] if len(sys.argv) > 3 else ""
    workspace = Workspace(folder)
    print("ready", flush=True)
    write, complete, intend = Folder.write, Journal.complete, Journal.intend
    for number in range(first, first + 10_000):
        if point and number == first + 2:
            if point == "before the intent":
                Journal.intend = die  # type: ignore[method-assign,assignment]
            elif point == "before the file":
                Folder.write = die  # type: ignore[method-assign,assignment]
            elif point == "in the file":
                os.replace = die  # type: ignore[assignment]
            elif point == "after the file":
                Folder.write = lambda *given: (write(*given), die())[0]  # type: ignore[method-assign,assignment]
            elif point == "before the step":
                Journal.complete = die  # type: ignore[method-assign,assignment]
            elif point == "after the step":
                Journal.complete = lambda *given: (complete(*given), die())[0]  # type: ignore[method-assign,assignment]
            elif point == "after the intent":
                Journal.intend = lambda *given: (intend(*given), die())[0]  # type: ignore[method-assign,assignment]
        action = messages.PlaneSet(what="plane.set", file="plane.toml", edits={"wing.upper.span_mm": number})
        workspace.act(action, token=f"token-{number}", role="owner")
        print(number, flush=True)


if __name__ == "__main__":
    main()
