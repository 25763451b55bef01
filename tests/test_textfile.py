"""Strict TOML in, atomic text out: each kind of bad file has its own clear message."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.errors import EditedFileError, FileFaults
from evenfall.textfile import SIZE_LIMIT, content_hash, numbered_backup, parse_toml, read_toml, write_atomic, write_new
from evenfall.toml_rows import key_lines
from evenfall.toml_table import Faults, Table


def message(path: Path) -> str:
    with pytest.raises(FileFaults) as caught:
        read_toml(path)
    assert str(path) in str(caught.value)
    return str(caught.value)


@pytest.mark.documents
@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "empty"),
        (b" \n\t\n", "empty"),
        (b"\xef\xbb\xbf", "empty"),
        (b"a = 22,5\n", "decimal comma; write 22.5"),
        (b"a = { value = 22,5, spread = 1 }\n", "decimal comma; write 22.5"),
        (b"\x89PNG\r\n\x1a\n\0\0", "binary file"),
        (b"a = 1\0\n", "binary file"),
        (b"a = 'caf\xe9'\n", "not UTF-8"),
        ("a = 1\n".encode("utf-16"), "UTF-16"),
        (b"x" * (SIZE_LIMIT + 1), "larger than 1000 kB"),
        (b"a = 1\na = 2\n", "second time"),
        (b"[a]\nx = 1\n[a]\ny = 1\n", "second time"),
        (b"hello\n", "neither `key = value` nor a [table]"),
        (b"a = five\n", "not valid TOML"),
        (b"a = \n", "not valid TOML"),
        (b'a = """\nno end', "not closed"),
        (b"a = [1,\n", "not closed"),
        (b"a = '''\nno end", "not closed"),
        (b"a = " + b"[" * 5000, "nested too deeply"),
        (b"a = " + b"9" * 5000, "thousands of digits"),
    ],
)
def test_each_bad_file_has_its_message(tmp_path: Path, raw: bytes, words: str) -> None:
    path = tmp_path / "plane.toml"
    path.write_bytes(raw)
    assert words in message(path)


def test_directory_missing_and_near_names(tmp_path: Path) -> None:
    assert "directory" in message(tmp_path)
    (tmp_path / "biplane.toml").write_text("a = 1")
    assert "did you mean biplane.toml?" in message(tmp_path / "biplan.toml")
    assert "no such file" in message(tmp_path / "other.toml")
    assert "nor is there such a folder" in message(tmp_path / "no" / "other.toml")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="needs a user who may not read all")
def test_unreadable(tmp_path: Path) -> None:
    path = tmp_path / "plane.toml"
    path.write_text("a = 1")
    path.chmod(0)
    assert "permissions" in message(path)


def test_mark_and_windows_line_ends_are_accepted_and_said(tmp_path: Path) -> None:
    path = tmp_path / "plane.toml"
    path.write_bytes(b"\xef\xbb\xbfa = 1\r\n[b]\r\nc = 2\r\n")
    read = read_toml(path)
    assert read.data == {"a": 1, "b": {"c": 2}}
    assert read.lines["b.c"] == 3
    assert any("BOM" in note for note in read.notes)
    assert any("CRLF" in note for note in read.notes)
    assert read.content_hash == content_hash("a = 1\n[b]\nc = 2")


def test_every_syntax_fault_at_once() -> None:
    with pytest.raises(FileFaults) as caught:
        parse_toml("a = 1,5\nb = 2\nc = 3,25\nc2 = five\n", path="x")
    assert [fault.line for fault in caught.value.faults] == [1, 3, 4]
    assert [fault.where for fault in caught.value.faults] == ["a", "c", "c2"]


def test_a_list_of_two_numbers_is_no_decimal_comma() -> None:
    assert parse_toml("a = [1,5]\n", path="x").data == {"a": [1, 5]}


def test_lines_of_lists_strings_and_comments() -> None:
    text = (
        'a = [ # [x]\n  1,\n  2]\nb = """\n[not.a.table]\nc = 1\n"""\n# d = 1\n[t] # note\n'
        'e.f = 3\n[[l]]\ng = "#["\n[[l]]\n[l.m]\nh=1'
    )
    lines = key_lines(text)
    assert lines == {
        "a": 1,
        "b": 4,
        "t": 9,
        "t.e.f": 10,
        "l": 11,
        "l.0": 11,
        "l.0.g": 12,
        "l.1": 13,
        "l.1.m": 14,
        "l.1.m.h": 15,
    }


@pytest.mark.property
@given(st.text(max_size=300))
def test_any_text_is_data_or_faults(text: str) -> None:
    try:
        read = parse_toml(text, path="x")
    except FileFaults as error:
        assert error.faults
    else:
        assert isinstance(read.data, dict)


@pytest.mark.property
@given(st.binary(max_size=200))
def test_any_bytes_are_data_or_faults(tmp_path: Path, raw: bytes) -> None:
    path = tmp_path / "any.toml"
    path.write_bytes(raw)
    try:
        read_toml(path)
    except FileFaults as error:
        assert error.faults


def test_table_reports_everything_at_once() -> None:
    faults = Faults(lines={"t": 1, "t.shape": 2})
    table = Table({"shape": "slin", "count": 2.5, "flag": 1, "deep": 3, "extra": 1}, "t", faults)
    assert table.choice("shape", ("slim", "broad")) is None
    assert table.integer("count", 1, 9) is None
    assert table.boolean("flag") is None
    assert table.table("deep") is None
    assert table.text("name", required=True) is None
    table.finish()
    words = {fault.where: fault.message for fault in faults.faults}
    assert set(words) == {"t.shape", "t.count", "t.flag", "t.deep", "t.name", "t.extra"}
    assert 'did you mean "slim"?' in words["t.shape"]
    with pytest.raises(FileFaults) as caught:
        faults.raise_if_any("file")
    assert len(caught.value.faults) == 6


@pytest.mark.parametrize("value", [float("nan"), float("inf"), True, "5", [1], {}, 10**400])
def test_number_refuses(value: object) -> None:
    table = Table({"x": value}, "", Faults())
    assert table.number("x", -1e300, 1e300) is None
    assert len(table.faults.faults) == 1


def test_write_atomic_replaces_whole_and_keeps_rights(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    write_atomic(path, "a = 1\n")
    path.chmod(0o640)
    write_atomic(path, "a = 2\n")
    assert path.read_text() == "a = 2\n"
    if os.name == "posix":
        assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert [entry.name for entry in tmp_path.iterdir()] == ["a.toml"]
    with pytest.raises(UnicodeEncodeError):
        write_atomic(path, "\ud800")
    assert path.read_text() == "a = 2\n"
    assert [entry.name for entry in tmp_path.iterdir()] == ["a.toml"]


def test_backups_are_numbered_and_new_files_never_overwrite(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    for number in (1, 2):
        write_new(path, f"a = {number}\n")
        assert numbered_backup(path).name == f"a.toml.{number}"
    write_new(path, "a = 3\n")
    with pytest.raises(EditedFileError, match="left as it is"):
        write_new(path, "a = 4\n")
    assert path.read_text() == "a = 3\n"
