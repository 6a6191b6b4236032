"""Headers, host names, upload limits, passphrase and kept files."""

import io
from pathlib import Path

import pytest
from django.contrib.auth.hashers import make_password
from django.test import Client

from outshop.records import store
from outshop.records.models import MediaFile
from outshop.site import home, passphrase

pytestmark = pytest.mark.django_db
LOCAL = {"host": "localhost"}


@pytest.fixture(autouse=True)
def _home(tmp_path: Path, settings: object) -> None:
    settings.OUTSHOP_HOME = tmp_path
    # the real one is slow on purpose
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.mark.parametrize("address", ["/", "/nowhere/", "/file/zz", "/static/outshop/outshop.css"])
def test_every_answer_carries_the_strict_policy(client: Client, address: str) -> None:
    answer = client.get(address, headers=LOCAL)
    headers = answer.headers
    answer.close()
    policy = headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'self';")
    assert "unsafe" not in policy
    assert "http" not in policy
    assert "object-src 'none'" in policy
    assert headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "", "localhost.evil"])
def test_strange_hosts_are_refused(client: Client, host: str) -> None:
    answer = client.get("/", headers={"host": host})
    assert answer.status_code == 400
    assert "Content-Security-Policy" in answer.headers


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1", "127.0.0.1:8642", "[::1]:8642"])
def test_this_machine_is_served(client: Client, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 200


def test_no_cookie_is_for_others_or_for_scripts(client: Client) -> None:
    for cookie in client.get("/", headers=LOCAL).cookies.values():
        assert cookie["samesite"] == "Strict"


def test_an_upload_beyond_the_limit_is_refused_unread(client: Client, settings: object) -> None:
    settings.OUTSHOP_LARGEST_UPLOAD = 1000
    file = io.BytesIO(b"x" * 5000)
    answer = client.post("/piece/1/record/", {"file": file}, headers=LOCAL)
    assert answer.status_code == 413
    assert "cut it into shorter pieces" in answer.content.decode()


def test_a_new_passphrase_closes_the_doors_that_the_old_one_opened(
    client: Client, settings: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.OUTSHOP_PASSPHRASE = make_password("steam and oil")
    monkeypatch.setattr(passphrase, "WRONG_ANSWER_SECONDS", 0)
    assert client.get("/", headers=LOCAL).status_code == 401
    wrong = client.post("/passphrase", {"passphrase": "guess"}, headers=LOCAL)
    assert wrong.status_code == 403
    right = {"passphrase": "steam and oil", "next": "/shelf/"}
    assert client.post("/passphrase", right, headers=LOCAL).headers["Location"] == "/shelf/"
    assert client.get("/", headers=LOCAL).status_code == 200
    settings.OUTSHOP_PASSPHRASE = make_password("another one")
    assert client.get("/", headers=LOCAL).status_code == 401


def test_without_the_passphrase_no_form_is_taken(client: Client, settings: object) -> None:
    settings.OUTSHOP_PASSPHRASE = make_password("steam and oil")
    answer = client.post("/piece/new/", {"name": "x"}, headers=LOCAL)
    assert answer.status_code == 403


def kept(data: bytes, media_type: str, name: str) -> str:
    incoming = store.receive(io.BytesIO(data))
    MediaFile.objects.create(
        sha256=incoming.sha256,
        size=incoming.size,
        kind="sound",
        media_type=media_type,
        original_name=name,
    )
    store.settle(incoming)
    return f"/file/{incoming.sha256}"


def body(answer: object) -> bytes:
    return b"".join(answer.streaming_content)


@pytest.mark.parametrize(
    ("asked", "status", "part", "told"),
    [
        (None, 200, b"0123456789", None),
        ("bytes=2-4", 206, b"234", "bytes 2-4/10"),
        ("bytes=7-", 206, b"789", "bytes 7-9/10"),
        ("bytes=-3", 206, b"789", "bytes 7-9/10"),
        ("bytes=-99", 206, b"0123456789", "bytes 0-9/10"),
        ("bytes=5-99", 206, b"56789", "bytes 5-9/10"),
        ("bytes=x", 200, b"0123456789", None),
        ("bytes=-", 200, b"0123456789", None),
    ],
)
def test_a_player_may_ask_for_a_part(
    client: Client, asked: str | None, status: int, part: bytes, told: str | None
) -> None:
    """RFC 9110, section 14.1.2: first-last, first-, and -suffix."""
    address = kept(b"0123456789", "audio/wav", "a.wav")
    headers = LOCAL | ({"range": asked} if asked else {})
    answer = client.get(address, headers=headers)
    assert (answer.status_code, body(answer), answer.headers.get("Content-Range")) == (
        status,
        part,
        told,
    )


@pytest.mark.parametrize("asked", ["bytes=10-", "bytes=4-2", "bytes=-0"])
def test_a_part_that_is_none_is_refused(client: Client, asked: str) -> None:
    """RFC 9110, section 15.5.17."""
    address = kept(b"0123456789", "audio/wav", "a.wav")
    answer = client.get(address, headers=LOCAL | {"range": asked})
    assert (answer.status_code, answer.headers["Content-Range"]) == (416, "bytes */10")


@pytest.mark.parametrize("kind", ["text/html", "image/svg+xml", "application/javascript", ""])
def test_what_could_run_in_the_page_is_only_ever_downloaded(client: Client, kind: str) -> None:
    answer = client.get(kept(b"<script>", kind, "x.html"), headers=LOCAL)
    assert answer.headers["Content-Type"] == "application/octet-stream"
    assert answer.headers["Content-Disposition"].startswith("attachment")
    answer.close()


@pytest.mark.parametrize("name", ['a"b\r\nX-Evil: 1.wav', "../../x.wav", "🚂" * 80, "", "a\\b"])
def test_no_name_breaks_the_header(client: Client, name: str) -> None:
    answer = client.get(kept(b"x", "audio/wav", name), headers=LOCAL)
    assert answer.status_code == 200
    assert "X-Evil" not in answer.headers
    said = answer.headers["Content-Disposition"]
    assert "/" not in said.replace("utf-8''", "")
    assert "\n" not in said
    answer.close()


@pytest.mark.parametrize("address", ["/file/" + "0" * 64, "/file/x", "/file/..%2Fsecret-key"])
def test_no_other_file_is_given_out(client: Client, address: str) -> None:
    assert client.get(address, headers=LOCAL).status_code == 404


def test_a_kept_file_that_is_gone_is_a_sentence(client: Client) -> None:
    address = kept(b"x", "audio/wav", "a.wav")
    store.path_of(address.rpartition("/")[2]).unlink()
    answer = client.get(address, headers=LOCAL)
    assert (answer.status_code, "outshop check" in answer.content.decode()) == (503, True)


def test_the_key_is_made_once_and_for_its_owner_only(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "home"
    home.prepare(folder)
    key = home.secret_key(folder)
    home.prepare(folder)
    assert home.secret_key(folder) == key
    assert len(key) > 60
    assert (folder / "secret-key").stat().st_mode & 0o077 == 0
    assert folder.stat().st_mode & 0o077 == 0
