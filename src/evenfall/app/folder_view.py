"""What an action may see of the folder: files as they stand on record, and names still free."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set

from evenfall.app.actions import aileron_corners
from evenfall.app.folder import Folder
from evenfall.app.journal import Head
from evenfall.logs.readings import load_readings
from evenfall.plane.airframe import Plane
from evenfall.radio.plan import Plan


class FolderView:
    """The folder for the length of one action; `unread` are files on record that cannot be read now."""

    def __init__(self, folder: Folder, heads: Mapping[str, Head], unread: Set[str]) -> None:
        self._folder = folder
        self._heads = heads
        self._unread = unread

    def text(self, file: str) -> str | None:
        """A file as it stands; None where there is none; `InputError` where it cannot be read."""
        self._folder.place(file)
        head = self._heads.get(file)
        if head is not None and head.text is not None and file not in self._unread:
            return head.text
        return self._folder.read(file)

    def revision(self, file: str) -> int:
        """Its revision; 0 where there is none, or none of ours."""
        head = self._heads.get(file)
        return 0 if head is None or head.text is None else head.revision

    def free_name(self, stem: str, ending: str, *, beside: Iterable[str] = ()) -> str:
        """A name nothing stands under, nor stood under; with the endings `beside` neither."""
        return self._folder.free_name(stem, ending, beside=beside, taken=self._heads)

    def check_readings(self, file: str, plane: Plane, plan: Plan) -> None:
        """Raise where a file of readings has faults."""
        load_readings(
            self._folder.place(file),
            corners=aileron_corners(plane),
            phases=[phase.name for phase in plan.phases],
            may_be_empty=True,
        )
