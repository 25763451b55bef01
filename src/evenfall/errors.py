"""Every exception Evenfall raises, as one tree.

Wrong input raises: what came, what is allowed, what to do. Impossible physics is not an exception: it is a result
with a status (see `evenfall.numeric.Status`).
"""

from __future__ import annotations

from dataclasses import dataclass


class EvenfallError(Exception):
    """Root of everything Evenfall raises on purpose. `str(error)` is fit to show a pilot."""


class InputError(EvenfallError):
    """Something given cannot be used: the text says what came, what is allowed and what to do."""


class ValueRangeError(InputError):
    """A number is outside what is allowed."""


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One fault in a file: where it is, what was found and what to do.

    `line` counts from 1 and is None where the fault has no line (a missing table).
    """

    where: str
    """Dotted key, for example `wing.upper.span_mm`; empty for the file as a whole."""
    message: str
    """What was given, what is allowed, what to do: one or two short sentences."""
    line: int | None = None


class FileFaults(InputError):
    """A file that cannot be used, with every fault at once."""

    def __init__(self, path: str, faults: tuple[Fault, ...]) -> None:
        self.path = path
        self.faults = faults
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        rows = [f"{path}: {count}"]
        for fault in faults:
            place = f"line {fault.line}: " if fault.line is not None else ""
            key = f"{fault.where}: " if fault.where else ""
            rows.append(f"  {place}{key}{fault.message}")
        super().__init__("\n".join(rows))


class EditedFileError(InputError):
    """A file a person has edited would have been overwritten."""


class DataError(EvenfallError):
    """A table shipped with Evenfall is missing or damaged: the installation needs repair."""
