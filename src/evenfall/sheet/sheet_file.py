"""Writing a sheet: PDF or HTML by the name's end, nothing of the pilot's overwritten."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from evenfall.errors import EditedFileError, InputError
from evenfall.sheet.html import sheet_html
from evenfall.sheet.pdf import Paper, sheet_pdf
from evenfall.sheet.sheet_page import SheetPage

ENDS = (".pdf", ".html")


def check_sheet(path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Raise where a sheet may not be written, before a long computation rather than after it."""
    target = Path(path)
    if target.suffix.lower() not in ENDS:
        raise InputError(f"{target} must end in .pdf (to print) or .html (for a phone)")
    if target.is_dir():
        raise EditedFileError(f"{target} is a directory; give the sheet a file name such as sheet.pdf")
    if not target.parent.is_dir():
        raise EditedFileError(f"there is no folder {target.parent}; make it first or choose another name")
    if not target.exists():
        return
    if not _ours(target):
        raise EditedFileError(f"{target} exists and is no sheet of ours: left as it is. Choose another name.")
    if not force:
        raise EditedFileError(f"{target} exists: left as it is. Choose another name, or use --force to write it again.")


def write_sheet(page: SheetPage, path: str | os.PathLike[str], *, paper: Paper = "a4", force: bool = False) -> None:
    """Write a sheet, checked as by `check_sheet`, whole or not at all; `InputError` where the disk refuses."""
    check_sheet(path, force=force)
    target = Path(path)
    made = sheet_pdf(page, paper=paper) if target.suffix.lower() == ".pdf" else sheet_html(page).encode("utf-8")
    try:
        _write(target, made)
    except OSError as error:
        raise InputError(f"{target}: cannot be written: {error.strerror or error}") from None


def _ours(target: Path) -> bool:
    """A PDF we wrote names us as its author, an HTML page in its first lines."""
    try:
        held = target.read_bytes()
    except OSError:
        return False
    return b"Evenfall" in held if held.startswith((b"%PDF-", b"<!doctype html>\n<html lang")) else False


def _write(target: Path, made: bytes) -> None:
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".tmp", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(made)
            stream.flush()
            os.fsync(stream.fileno())
        mask = os.umask(0)
        os.umask(mask)
        os.chmod(name, 0o666 & ~mask)
        os.replace(name, target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
