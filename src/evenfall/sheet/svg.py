"""A small writer of SVG: elements as text, escaped, numbers short. No picture needs anything from outside its file."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from pathlib import Path

from evenfall.errors import EditedFileError, InputError
from evenfall.textfile import write_atomic, write_new

_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_WIDTH = 0.6
"""Mean width of a letter of a system font over its size."""

DRAWING_FONT = "Libertinus Serif,system-ui,-apple-system,'Segoe UI',Roboto,Arial,sans-serif"
"""Letters of the drawings on paper: the font laid out with the PDF first, else what a screen has."""


def escape(words: str) -> str:
    """Text fit for XML content and attributes; what XML forbids becomes a question mark.

    >>> escape('<b> "A" & B')
    '&lt;b&gt; &quot;A&quot; &amp; B'
    """
    clean = _FORBIDDEN.sub("?", words)
    for plain, coded in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;"), ("'", "&#39;")):
        clean = clean.replace(plain, coded)
    return clean


def number(value: float) -> str:
    """A coordinate with at most two decimals.

    >>> number(12.50), number(-0.001)
    ('12.5', '0')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def element(name: str, content: str | None = None, **attributes: str | float) -> str:
    """One element; `content` is ready XML. Attribute names write - as _, `cls` is the class, a last _ is dropped.

    >>> element("line", x1=0, y1=1.5, cls="tick")
    '<line x1="0" y1="1.5" class="tick"/>'
    """
    said = []
    for key, value in attributes.items():
        plain = "class" if key == "cls" else key.rstrip("_").replace("_", "-")
        said.append(f' {plain}="{number(value) if isinstance(value, int | float) else escape(value)}"')
    head = f"<{name}{''.join(said)}"
    return f"{head}/>" if content is None else f"{head}>{content}</{name}>"


def text(x: float, y: float, words: str, *, cls: str = "t", anchor: str = "start", turn: float = 0.0) -> str:
    """One line of text, turned by `turn` degrees about its anchor, clockwise."""
    where = {"transform": f"rotate({number(turn)} {number(x)} {number(y)})"} if abs(turn) >= 0.5 else {}
    said = {} if anchor == "start" else {"text_anchor": anchor}
    return element("text", escape(words), x=x, y=y, cls=cls, **said, **where)


def path(points: Sequence[tuple[float, float]], *, cls: str, closed: bool = False) -> str:
    """A polyline, or a closed outline."""
    steps = " ".join(f"{number(x)} {number(y)}" for x, y in points)
    return element("path", d=f"M{steps}{'Z' if closed else ''}", cls=cls)


def width_of(words: str, size: float) -> float:
    """About how wide a text is in a system font of this size."""
    return _WIDTH * size * len(words)


def wrapped(words: str, columns: int) -> list[str]:
    """A text in lines of at most so many letters; longer words are cut."""
    import textwrap

    return textwrap.wrap(words, columns, break_long_words=True) or [""]


def cut(words: str, columns: int) -> str:
    """A text of at most so many letters, with an ellipsis where it was cut."""
    line = " ".join(words.split())
    return line if len(line) <= columns else f"{line[: columns - 1].rstrip()}\u2026"


SIGNED = "<!-- drawn by Evenfall -->"
"""Second line of every picture: what may be drawn over with --force."""


def check_picture(path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Raise where a picture may not be written, before a long computation rather than after it.

    An existing file is replaced with `force` only, and only where it is a picture of ours.
    """
    target = Path(path)
    if target.is_dir():
        raise EditedFileError(f"{target} is a directory; give the picture a file name such as map.svg")
    if not target.parent.is_dir():
        raise EditedFileError(f"there is no folder {target.parent}; make it first or choose another name")
    if not target.exists():
        return
    if not _ours(target):
        raise EditedFileError(f"{target} exists and is no picture of ours: left as it is. Choose another name.")
    if not force:
        raise EditedFileError(f"{target} exists: left as it is. Choose another name, or use --force to draw it again.")


def _ours(target: Path) -> bool:
    try:
        with open(target, encoding="utf-8", errors="replace") as stream:
            return SIGNED in stream.read(200)
    except OSError:
        return False


def write_picture(path: str | os.PathLike[str], picture: str, *, force: bool = False) -> None:
    """Write a picture, checked as by `check_picture`; raises `InputError` where the disk refuses."""
    check_picture(path, force=force)
    try:
        if Path(path).exists():
            write_atomic(path, picture)
        else:
            write_new(path, picture)
    except OSError as error:
        raise InputError(f"{os.fspath(path)}: cannot be written: {error.strerror or error}") from None
