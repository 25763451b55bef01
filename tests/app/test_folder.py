"""The pilot's folder: names, links, what a file is."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.app.folder import Folder, bench_name, check_name, kind_of, own_plan, slug, stem_of
from evenfall.errors import InputError
from evenfall.plane.files import load_plane
from evenfall.plane.starter import DEMOS, demo_path, radio_text, template_text
from evenfall.radio.plan import present_plan
from evenfall.radio.planfile import plan_text


@pytest.mark.outside
@pytest.mark.parametrize(
    "name",
    [
        "", " ", "a", "a.txt", ".toml", ".plan.toml", ".x.toml", "..", "../a.toml", "a/b.toml", "a\\b.toml", "/a.toml",
        "c:a.toml", "a\0.toml", "a\n.toml", "a\x7f.toml", "a\u202e.toml", " a.toml", "a.toml ", "con.toml",
        "CON.plan.toml", "Nul.toml", "com1.toml", "LPT¹.toml", "a?.toml", "a*.toml", "<script>.toml",
        'a".toml', "a|b.toml", "x" * 120 + ".toml", "a.TOML.exe", "a.csv", "\ud800.toml",
    ],
)  # fmt: skip
def test_names_that_are_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as error:
        check_name(name)
    assert str(error.value).isprintable()
    with pytest.raises(InputError):
        Folder(tmp_path).read(name)
    with pytest.raises(InputError):
        Folder(tmp_path).write(name, "x")
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize(
    "name", ["a.toml", "Élan 2.toml", "b.plan.toml", "b.windy.plan.toml", "b.bench.csv", "&amp;.toml"]
)
def test_names_that_are_allowed(name: str, tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    assert folder.read(name) is None
    folder.write(name, "x = 1\r\n")
    assert folder.read(name) == "x = 1\r\n"
    assert list(folder.names()) == [name]
    folder.write(name, None)
    assert folder.stamp(name) is None


@pytest.mark.property
@given(st.text(max_size=80))
def test_slugs_are_names(words: str) -> None:
    assert check_name(f"{slug(words, otherwise='plane')}.toml")


def test_links_out_of_the_folder_are_refused(tmp_path: Path) -> None:
    home, out = tmp_path / "home", tmp_path / "out"
    home.mkdir()
    out.mkdir()
    (out / "secret.toml").write_text("[wing]\n")
    (home / "link.toml").symlink_to(out / "secret.toml")
    (home / "loop.toml").symlink_to(home / "loop.toml")
    (home / "gone.toml").symlink_to(out / "later.toml")
    (home / "dir.toml").mkdir()
    (home / "good.toml").write_text("[wing]\n")
    (home / "inside.toml").symlink_to("good.toml")
    folder = Folder(home)
    for name in ("link.toml", "gone.toml"):
        with pytest.raises(InputError, match="leads out of the folder"):
            folder.read(name)
        with pytest.raises(InputError, match="leads out of the folder"):
            folder.write(name, "x")
    with pytest.raises(InputError):
        folder.read("loop.toml")
    with pytest.raises(InputError, match="is no file"):
        folder.read("dir.toml")
    assert sorted(folder.names()) == ["good.toml", "inside.toml"]
    folder.write("inside.toml", "[mass]\n")
    assert (home / "inside.toml").is_symlink()
    assert folder.read("good.toml") == "[mass]\n"
    assert (out / "secret.toml").read_text() == "[wing]\n"
    assert not (out / "later.toml").exists()
    assert len(folder.refused()) == 4


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_does_not_hold_us_up(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    folder = Folder(tmp_path)
    assert folder.names() == {}
    with pytest.raises(InputError, match="is no file"):
        folder.read("pipe.toml")


@pytest.mark.outside
@pytest.mark.parametrize(
    ("raw", "words"), [(b"\xff\xfe", "UTF-8"), (b"a\0b", "no text"), (b"#" * 1_000_001, "larger than 1000 kB")]
)
def test_what_is_no_text_is_refused(raw: bytes, words: str, tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_bytes(raw)
    with pytest.raises(InputError, match=words):
        Folder(tmp_path).read("a.toml")


def test_what_a_file_is() -> None:
    plan = plan_text(present_plan(load_plane(demo_path("biplane_124")).plane))
    assert {kind_of("a.toml", demo_path(name).read_text()) for name in DEMOS} == {"plane"}
    assert kind_of("a.toml", template_text()) == "plane"
    assert kind_of("a.toml", radio_text()) is None
    assert kind_of("a.toml", plan) == "plan"
    assert kind_of("a.plan.toml", "") == "plan"
    assert kind_of("a.bench.csv", "") == "bench"
    assert kind_of("pyproject.toml", "[project]\nname = 'x'\n") is None
    assert kind_of("a.toml", "[wing.upper]\nspan_mm = \n") == "plane"
    assert kind_of("a.txt", plan) is None
    flight = "format = 1\n[battery]\nbefore_v = 25.0\n"
    assert {kind_of(name, flight) for name in ("a.flight.toml", "a.seq.toml", "a.readings.toml")} == {None}


def test_names_that_belong_together() -> None:
    assert own_plan("biplane.toml") == "biplane.plan.toml"
    assert bench_name("biplane.windy.plan.toml") == "biplane.windy.bench.csv"
    assert stem_of("a.b.toml") == "a.b"


def test_free_names_never_meet_a_file(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    (tmp_path / "A.toml").write_text("")
    assert folder.free_name("a", ".toml") == "a_2.toml"
    assert folder.free_name("a", ".toml", taken=["a_2.toml"]) == "a_3.toml"


def test_a_folder_must_be_one(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="there is no folder"):
        Folder(tmp_path / "none")
    with pytest.raises(InputError, match="is a file"):
        Folder(tmp_path / "file")


def test_what_a_killed_program_left_is_taken_away(tmp_path: Path) -> None:
    old, new, other = tmp_path / ".a.toml.abcd_123.tmp", tmp_path / ".a.toml.abcd1234.tmp", tmp_path / ".mine.tmp"
    for path in (old, new, other):
        path.write_text("x")
    for path in (old, other):
        os.utime(path, (1e9, 1e9))
    Folder(tmp_path).sweep()
    assert sorted(path.name for path in tmp_path.iterdir()) == [".a.toml.abcd1234.tmp", ".mine.tmp"]


def test_the_name_left_behind_is_the_one_written_under(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", stop)
    monkeypatch.setattr(Path, "unlink", lambda *_, **__: None)
    with pytest.raises(KeyboardInterrupt):
        Folder(tmp_path).write("a.toml", "x")
    (left,) = os.listdir(tmp_path)
    os.utime(tmp_path / left, (1e9, 1e9))
    Folder(tmp_path).sweep()
    assert os.listdir(tmp_path) == []
