"""`outshop open`: the real server and its worker, begun, used and ended."""

import json
import os
import signal
import sqlite3
import stat
import urllib.parse
from pathlib import Path

import psutil
import pytest

from .running import Server, begun, noise, outshop, server, wait_until


@pytest.fixture(name="opened")
def _opened(tmp_path: Path):
    with server(begun(tmp_path)) as running:
        yield running


@pytest.fixture(name="shared", scope="module")
def _shared(tmp_path_factory: pytest.TempPathFactory):
    """One server for the tests that leave it as they found it."""
    with server(begun(tmp_path_factory.mktemp("shared"))) as running:
        yield running


def children(pid: int) -> list[psutil.Process]:
    return psutil.Process(pid).children(recursive=True)


def test_it_prints_its_address_and_answers_there(shared) -> None:
    status, headers, page = shared.ask("/")
    assert status == 200
    assert b"Outshop" in page
    assert headers["Content-Security-Policy"].startswith("default-src 'self'")


def test_only_this_machine_is_listened_to(shared) -> None:
    listening = {
        link.laddr.ip
        for link in psutil.Process(shared.process.pid).net_connections()
        if link.status == psutil.CONN_LISTEN
    }
    assert listening == {"127.0.0.1"}


def test_a_strange_host_name_is_refused(shared) -> None:
    """A page elsewhere may point its own name at 127.0.0.1."""
    status, _, page = shared.ask("/", Host="evil.example")
    assert (status, b"printed" in page) == (400, True)


def test_a_form_without_token_is_refused(shared) -> None:
    status, _, page = shared.ask("/piece/new/", body=b"name=x")
    assert (status, b"out of date" in page) == (403, True)


@pytest.mark.parametrize("way", [signal.SIGTERM, signal.SIGINT])
def test_it_ends_cleanly_with_its_worker(opened, way: signal.Signals) -> None:
    wait_until(lambda: children(opened.process.pid))
    worker = children(opened.process.pid)[0]
    opened.process.send_signal(way)
    said, _ = opened.process.communicate(timeout=20)
    assert opened.process.returncode == 0
    assert said.endswith("Outshop is closed.\n")
    wait_until(lambda: not worker.is_running())


def test_the_worker_ends_when_its_server_is_killed(opened) -> None:
    wait_until(lambda: children(opened.process.pid))
    worker = children(opened.process.pid)[0]
    opened.kill()
    wait_until(lambda: not worker.is_running() or worker.status() == psutil.STATUS_ZOMBIE)


def test_a_collection_is_opened_once_only(shared) -> None:
    done = outshop(shared.home, "open", "--no-browser", code=1)
    assert f"open already at http://127.0.0.1:{shared.port}/" in done.stderr


def test_a_taken_port_is_a_sentence(shared, tmp_path: Path) -> None:
    done = outshop(tmp_path / "other", "open", "--port", str(shared.port), code=1)
    assert f"port {shared.port} is in use" in done.stderr


def test_the_secret_key_is_for_its_owner_only_and_stays(opened, tmp_path: Path) -> None:
    key = tmp_path / "secret-key"
    first = key.read_text()
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert len(first) > 60
    opened.stop()
    with server(tmp_path):
        assert key.read_text() == first


def test_the_database_is_kept_as_the_design_says(shared) -> None:
    link = sqlite3.connect(shared.home / "outshop.sqlite3")
    assert link.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    link.close()


def test_a_recording_sent_through_the_page_is_measured_by_the_worker(shared) -> None:
    status, place, page = shared.send_form(
        "/piece/new/", {"name": "Tank", "kind": "steam", "state": "arrived"}
    )
    assert status == 302, page
    number = place.strip("/").split("/")[1]
    status, place, page = shared.send_file(
        f"/piece/{number}/record/", "a/b 🚂.wav", noise(6.0), {"role": "before"}
    )
    assert status == 302, page
    wait_until(lambda: b"dB(A)" in shared.ask(place)[2], 60)


def test_a_locked_database_is_a_sentence_and_nothing_is_lost(shared) -> None:
    """Another program holds the database for longer than anybody waits."""
    form = {"name": "Tank", "kind": "steam", "state": "arrived", "form_token": "t-locked"}
    holder = sqlite3.connect(shared.home / "outshop.sqlite3", isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    try:
        assert shared.ask("/shelf/")[0] == 200  # reading goes on
        status, _, page = shared.send_form("/piece/new/", form)
    finally:
        holder.execute("ROLLBACK")
        holder.close()
    assert (status, "nothing was changed" in page) == (503, True)
    places = {shared.send_form("/piece/new/", form)[1] for _ in "12"}  # sent again, twice
    assert len(places) == 1
    assert places != {""}


def test_lan_asks_for_the_passphrase_and_shows_a_code(tmp_path: Path) -> None:
    words = {"OUTSHOP_PASSPHRASE": "steam and oil"}
    with server(begun(tmp_path), "--lan", **words) as opened:
        status, _, page = opened.ask("/")
        assert (status, b"assphrase" in page) == (401, True)
        assert opened.ask("/shelf/")[0] == 401
        assert answer(opened, "wrong one", "/")[0] == 403
        assert opened.ask("/")[0] == 401
        away = "https://evil.example/"
        assert answer(opened, "steam and oil", away) == (302, "/")  # never to another site
        assert opened.ask("/shelf/")[0] == 200
        said = opened.stop()
    assert "█" in said


def answer(opened: Server, passphrase: str, then: str) -> tuple[int, str]:
    body = urllib.parse.urlencode({"passphrase": passphrase, "next": then}).encode()
    kind = {"Content-Type": "application/x-www-form-urlencoded"}
    status, headers, _ = opened.ask("/passphrase", body=body, **kind)
    return status, headers.get("Location", "")


def test_a_short_passphrase_is_refused(tmp_path: Path) -> None:
    done = outshop(begun(tmp_path), "open", "--lan", code=1, OUTSHOP_PASSPHRASE="abc")
    assert "at least 8 characters" in done.stderr


@pytest.mark.parametrize(
    ("address", "sentence"),
    [
        ("mysql://a@b/c", "must look like postgresql://"),
        ("postgresql://host", "must look like postgresql://"),
        ("postgresql://host:port/x", "not an address"),
    ],
)
def test_a_bad_database_address_is_a_sentence(tmp_path: Path, address: str, sentence: str) -> None:
    done = outshop(tmp_path, "check", code=1, OUTSHOP_DATABASE_URL=address)
    assert sentence in done.stderr


def test_a_home_that_is_a_file_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "home").write_text("x")
    done = outshop(tmp_path / "home", "open", code=1)
    assert "name a folder in OUTSHOP_HOME" in done.stderr


def test_a_damaged_database_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "outshop.sqlite3").write_bytes(b"no database at all" * 500)
    done = outshop(tmp_path, "open", "--no-browser", code=1)
    assert "damaged" in done.stderr
    assert "restore" in done.stderr


def test_check_json_is_one_document(tmp_path: Path) -> None:
    done = outshop(begun(tmp_path), "check", "--json")
    assert json.loads(done.stdout) == {"problems": [], "sound": True}


def test_nothing_is_written_outside_the_home(tmp_path: Path) -> None:
    home, elsewhere = tmp_path / "home", tmp_path / "cwd"
    elsewhere.mkdir()
    here = Path.cwd()
    os.chdir(elsewhere)
    try:
        outshop(begun(home), "worker", "--once", HOME=str(elsewhere))
    finally:
        os.chdir(here)
    assert list(elsewhere.iterdir()) == []
