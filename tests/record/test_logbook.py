"""The logbook keeps what is entered, tells it apart, and refuses what cannot be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from evenfall.errors import InputError
from evenfall.record.logbook import Logbook
from evenfall.record.parts import PARTS
from evenfall.record.rows import ChangeRow, FlightRow, LearnedRow, PartRow
from evenfall.textfile import content_hash


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with Logbook(tmp_path) as made:
        yield made


def test_a_text_is_kept_once_under_its_content_hash(book: Logbook) -> None:
    key = book.keep_text("plane", "Demo", "name = 1\n")
    assert key == content_hash("name = 1\n")
    assert book.keep_text("plane", "Demo", "name = 1\r\n") == key
    found = book.text(key)
    assert found is not None
    assert (found.kind, found.name, found.body) == ("plane", "Demo", "name = 1\n")
    assert book.text("0" * 64) is None
    assert len(book.texts()) == 1
    assert book.texts("plan") == ()


def test_a_flight_keeps_all_its_revisions(book: Logbook) -> None:
    token = book.save_flight(FlightRow(date="2026-05-01", place="field", document="a = 1\n"))
    first = book.flight(token)
    assert first.revision == 1
    assert book.save_flight(first) == token
    book.save_flight(replace(first, revision=2, document="a = 2\n"))
    assert [row.document for row in book.history(token)] == ["a = 1\n", "a = 2\n"]
    assert [row.revision for row in book.flights()] == [2]
    with pytest.raises(InputError, match=r"changed elsewhere \(revision 2\)"):
        book.save_flight(replace(first, revision=2, document="a = 3\n"))
    with pytest.raises(InputError, match="changed elsewhere"):
        book.save_flight(replace(first, revision=4))
    with pytest.raises(InputError, match="begins with revision 1"):
        book.save_flight(FlightRow(date="2026-05-01", revision=2))


def test_a_removed_flight_comes_back(book: Logbook) -> None:
    token = book.save_flight(FlightRow(date="2026-05-01"))
    book.remove_flight(token)
    book.remove_flight(token)
    assert book.flights() == ()
    assert [row.removed for row in book.flights(removed=True)] == [True]
    book.restore_flight(token)
    assert [row.token for row in book.flights()] == [token]
    with pytest.raises(InputError, match="no flight nothing"):
        book.remove_flight("nothing")


def test_flights_of_one_plane_over_its_versions(book: Logbook) -> None:
    keys = [book.keep_text("plane", "Demo", f"v = {n}\n") for n in (1, 2)]
    other = book.keep_text("plane", "Other", "v = 3\n")
    for date, key in (("2026-05-02", keys[1]), ("2026-05-01", keys[0]), ("2026-05-03", other)):
        book.save_flight(FlightRow(date=date, plane=key))
    assert [row.date for row in book.flights("Demo")] == ["2026-05-01", "2026-05-02"]
    assert len(book.flights()) == 3


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (FlightRow(date="2026-05-01", plane="0" * 64), "keep its text first"),
        (FlightRow(date="2026-05-01", plan="0" * 64), "keep its text first"),
        (FlightRow(date="2026-05-01", originals=("0" * 64,)), "keep it first"),
        (FlightRow(date="first of May"), "is no date"),
        (FlightRow(date="2026-05-01", air={"wind": float("nan")}), "finite number"),
        (FlightRow(date="2026-05-01", notes="\ud800"), "cannot be kept"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_entered(book: Logbook, row: FlightRow, words: str) -> None:
    with pytest.raises(InputError, match=words):
        book.save_flight(row)
    assert book.entries() == ()


def test_originals_are_kept_by_their_bytes_and_videos_only_named(book: Logbook, tmp_path: Path) -> None:
    log = tmp_path / "given.csv"
    log.write_bytes(b"t,v\n0,1\n")
    kept, again = book.keep_original("given.csv", log), book.keep_original("other name.csv", b"t,v\n0,1\n")
    assert kept.path is not None
    assert kept.path.read_bytes() == b"t,v\n0,1\n"
    assert again.hash == kept.hash
    video = book.keep_original("line.MP4", b"pictures")
    assert (video.path, video.size) == (None, 8)
    assert [item.name for item in book.originals()] == ["given.csv", "line.MP4"]
    assert book.damaged_originals() == ()
    kept.path.write_bytes(b"t,v\n0,2\n")
    assert [item.name for item in book.damaged_originals()] == ["given.csv"]
    with pytest.raises(InputError, match="give the file again"):
        book.original(kept.hash)
    book.keep_original("given.csv", log)
    assert book.original(kept.hash).path == kept.path
    with pytest.raises(InputError, match="cannot be read"):
        book.keep_original("none.csv", tmp_path / "none.csv")


def test_what_was_learned_is_found_by_plane_and_by_name(book: Logbook) -> None:
    plane, plan = book.keep_text("plane", "Demo", "a = 1\n"), book.keep_text("plan", "p", "b = 1\n")
    token = book.save_flight(FlightRow(date="2026-05-01", plane=plane, plan=plan))
    row = LearnedRow(
        date="2026-05-01",
        plane=plane,
        plan=plan,
        plane_name="Demo",
        names=("thrust",),
        mean=(0.1,),
        covariance=((0.01,),),
        flights=(token,),
        speeds={"vertical down": (22.0, 0.5)},
    )
    book.add_learned(row)
    book.add_learned(replace(row, mean=(0.2,)))
    found = book.learned("Demo")
    assert found is not None
    assert found == book.learned(plane)
    assert (found.mean, found.flights, found.speeds) == ((0.2,), (token,), {"vertical down": (22.0, 0.5)})
    assert book.learned("Other") is None
    with pytest.raises(InputError, match="flight x is not"):
        book.add_learned(replace(row, flights=("x",)))


def test_changes_gather_what_they_did(book: Logbook) -> None:
    change = book.add_change(ChangeRow(date="2026-05-02", plane_name="Demo", what="more crow", numbers={"crow": 0.01}))
    book.note_effect(change, "slower", date="2026-05-03")
    book.note_effect(change, "and straight", date="2026-05-04")
    (found,) = book.changes("Demo")
    assert found.effects == (("2026-05-03", "slower"), ("2026-05-04", "and straight"))
    assert book.changes("Other") == ()
    with pytest.raises(InputError, match="no change"):
        book.note_effect("none", "x")
    with pytest.raises(InputError, match="another change"):
        book.add_change(replace(found, what="less crow", effects=()))


def test_parts_and_tests_done_again(book: Logbook) -> None:
    part = book.add_part(PartRow(date="2026-05-02", plane_name="Demo", part="propeller"))
    book.note_redone(part, PARTS["propeller"].voids[0], date="2026-05-03")
    (found,) = book.parts("Demo")
    assert found.redone == ((PARTS["propeller"].voids[0], "2026-05-03"),)
    book.note_redone(part, PARTS["propeller"].voids[1], date="2026-05-04")
    count = book.count()
    book.note_redone(part, PARTS["propeller"].voids[1], date="2026-05-04")
    assert book.count() == count
    book.note_open(part, PARTS["propeller"].voids[0], date="2026-05-05")
    assert book.parts("Demo")[0].redone == ((PARTS["propeller"].voids[1], "2026-05-04"),)
    with pytest.raises(InputError, match="no part"):
        book.note_open("none", PARTS["propeller"].voids[1])
    with pytest.raises(InputError, match="not among what this part voids"):
        book.note_redone(part, "failsafe on the bench")
    with pytest.raises(InputError, match="is no part we know"):
        book.add_part(PartRow(date="2026-05-02", plane_name="Demo", part="wheel"))


def test_a_plan_is_proven_with_its_reason(book: Logbook) -> None:
    with pytest.raises(InputError, match="keep its text first"):
        book.mark_proven("0" * 64, "flew well")
    plan = book.keep_text("plan", "p", "b = 1\n")
    assert book.proven(plan) is None
    book.mark_proven(plan, "flew well", date="2026-05-02")
    found = book.proven(plan)
    assert found is not None
    assert (found.date, found.why) == ("2026-05-02", "flew well")


def test_every_correction_a_part_unlearns_exists() -> None:
    from dataclasses import fields

    from evenfall.plane.corrections import Corrections

    names = {field.name for field in fields(Corrections)}
    for key, part in PARTS.items():
        assert set(part.unlearns) <= names, key
        assert part.voids
        assert len(set(part.voids)) == len(part.voids)
        assert part.why.endswith(".")


def test_several_threads_write_at_once(book: Logbook) -> None:
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda n: book.save_flight(FlightRow(token=str(n), date="2026-05-01")), range(24)))
    assert len(book.flights()) == 24


def test_a_closed_logbook_says_so(tmp_path: Path) -> None:
    book = Logbook(tmp_path)
    book.close()
    with pytest.raises(InputError, match="closed"):
        book.flights()


@pytest.mark.parametrize("held", [True, False])
def test_a_folder_that_is_a_file_or_gone(tmp_path: Path, held: bool) -> None:
    if held:
        (tmp_path / "logbook").write_text("mine")
        with pytest.raises(InputError, match="cannot be opened"):
            Logbook(tmp_path)
        assert (tmp_path / "logbook").read_text() == "mine"
    else:
        Logbook(tmp_path / "deep" / "new").close()
        assert (tmp_path / "deep" / "new" / "logbook" / "logbook.sqlite").exists()
