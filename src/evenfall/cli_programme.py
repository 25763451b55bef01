"""What `evenfall tune --over SEQUENCE` does: a whole programme tuned, everything heavy imported inside."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from evenfall.cli_shared import EXIT_NO_PLAN, progress, show

if TYPE_CHECKING:
    from evenfall.air import Air


def tune_over(
    plane: Path, sequence: Path, *, output: Path | None, force: bool, picture: Path | None, json: bool, air: Air
) -> None:
    """Tune for a programme; what was flown is kept beside the plane file and taken up when it is asked again."""
    from evenfall.radio.planfile import write_plan
    from evenfall.sheet.programme_page import programme_page
    from evenfall.sheet.programme_text import programme_parts
    from evenfall.sheet.svg import check_picture, write_picture
    from evenfall.sheet.trade_picture import trade_svg
    from evenfall.workflow.programming import tune_programme

    if picture is not None:
        check_picture(picture, force=force)
    keep = plane.with_name(f"{plane.stem}.programme.part")
    with progress(quiet=json) as say:
        answer = tune_programme(plane, sequence, air=air, keep=keep, progress=say)
    page = programme_page(answer)
    if output is not None and answer.plan is not None:
        backup = write_plan(answer.plan, output, force=force)
        kept = f" (the edited one is kept as {backup})" if backup is not None else ""
        typer.echo(f"Plan written to {output}{kept}.", err=True)
    if picture is not None:
        write_picture(picture, trade_svg(page), force=force)
        typer.echo(f"Picture drawn to {picture}.", err=True)
    keep.unlink(missing_ok=True)
    show(page, programme_parts(page), json=json)
    if answer.plan is None:
        raise typer.Exit(EXIT_NO_PLAN)
