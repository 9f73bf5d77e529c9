"""Fetching a speech model, against a server on this machine."""

from __future__ import annotations

import io
import os
import re
import stat
import struct
import threading
import zipfile
from collections.abc import Iterator
from hashlib import sha256
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest

from dictate.errors import DictateError
from dictate.speech import model
from dictate.speech.model import download, installed_english_model, models_folder

pytestmark = pytest.mark.network

NAME = "vosk-model-small-en-us-0.15"
NOISE = os.urandom(400_000)
MODEL_FILES = {
    f"{NAME}/am/final.mdl": NOISE,
    f"{NAME}/conf/model.conf": b"--beam=10.0\n",
    f"{NAME}/graph/HCLr.fst": b"graph",
}


def zipped(files: dict[Any, bytes], packing: int = zipfile.ZIP_DEFLATED) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", packing) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return buffer.getvalue()


class Server(ThreadingHTTPServer):
    """Serves one archive, well or badly as a test asks."""

    archive = zipped(MODEL_FILES)
    etag = '"first"'
    honours_range = True
    shift_range_by = 0
    cut_after: int | None = None

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Handler)
        self.asked: list[str | None] = []
        self.url = f"http://127.0.0.1:{self.server_port}/models/"


class Handler(BaseHTTPRequestHandler):
    server: Server

    def do_GET(self) -> None:
        server, asked = self.server, self.headers["Range"]
        server.asked.append(asked)
        if self.path != f"/models/{NAME}.zip":
            self.send_error(404)
            return
        begin = int(re.sub(r"\D", "", asked)) if asked and server.honours_range else 0
        if self.headers["If-Range"] not in (None, server.etag):
            begin = 0
        size = len(server.archive)
        told = f"{begin + server.shift_range_by}-{size - 1}" if begin < size else "*"
        self.send_response(416 if begin >= size else 206 if begin else 200)
        self.send_header("Content-Range", f"bytes {told}/{size}")
        self.send_header("Content-Length", str(max(0, size - begin)))
        self.send_header("ETag", server.etag)
        self.end_headers()
        self.wfile.write(server.archive[begin : server.cut_after])

    def log_message(self, *args: object) -> None: ...


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("no_proxy", "*")
    return tmp_path


@pytest.fixture
def server() -> Iterator[Server]:
    with Server() as running:
        thread = threading.Thread(target=running.serve_forever, args=(0.01,))
        thread.start()
        yield running
        running.shutdown()
        thread.join()


def fetch(server: Server, **how: Any) -> Path:
    how.setdefault("sha256", sha256(server.archive).hexdigest())
    return download(NAME, base_url=server.url, **how)


def fetch_cut_off(server: Server, after: int) -> None:
    server.cut_after = after
    with pytest.raises(DictateError, match="cut off"):
        fetch(server)
    server.cut_after = None


# Where models live


def test_models_live_in_the_users_data_folder_unless_the_environment_names_one(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert models_folder() == home / "data" / "models"
    monkeypatch.delenv("DICTATE_DATA")
    assert models_folder().parts[-2:] == ("dictate", "models")


ENGLISH = [NAME, f"{NAME}/{NAME}", "vosk-model-en-us-0.22-lgraph"]


@pytest.mark.parametrize("place", [*ENGLISH, "vosk-model-small-ko-0.22", f".{NAME}-unfinished"])
def test_an_english_model_put_in_by_hand_is_found(place: str) -> None:
    folder = models_folder() / place
    (folder / "am").mkdir(parents=True)
    (folder / "conf").mkdir()
    assert installed_english_model() == (folder if place in ENGLISH else None)


# A download that goes well


def test_a_model_is_fetched_and_unpacked_whole(server: Server) -> None:
    folder = fetch(server)
    assert folder == models_folder() / NAME
    assert (folder / "am" / "final.mdl").read_bytes() == NOISE
    assert installed_english_model() == folder
    assert list(models_folder().iterdir()) == [folder]


def test_an_archive_without_a_top_folder_is_unpacked_too(server: Server) -> None:
    server.archive = zipped({name.removeprefix(f"{NAME}/"): b"x" for name in MODEL_FILES})
    assert (fetch(server) / "am" / "final.mdl").read_bytes() == b"x"


def test_the_folders_are_the_users_alone(server: Server, home: Path) -> None:
    fetch(server, folder=home / "new" / "models")
    for folder in (home / "new", home / "new" / "models"):
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_progress_runs_from_nothing_to_the_whole(server: Server) -> None:
    seen: list[tuple[int, int | None]] = []
    fetch(server, progress=lambda done, total: seen.append((done, total)))
    assert seen[0] == (0, len(server.archive))
    assert seen[-1] == (len(server.archive),) * 2


def test_a_model_already_there_is_not_fetched_again(server: Server) -> None:
    fetch(server)
    fetch(server)
    assert len(server.asked) == 1


def test_a_model_can_come_from_a_file(home: Path) -> None:
    (home / f"{NAME}.zip").write_bytes(Server.archive)
    expected = sha256(Server.archive).hexdigest()
    folder = download(NAME, base_url=home.as_uri(), sha256=expected)
    assert (folder / "conf" / "model.conf").exists()


# A download that was cut off


def test_a_cut_download_goes_on_from_where_it_stopped(server: Server) -> None:
    fetch_cut_off(server, after=150_000)
    seen: list[tuple[int, int | None]] = []
    fetch(server, progress=lambda done, total: seen.append((done, total)))
    assert server.asked == [None, "bytes=150000-"]
    assert seen[0] == (150_000, len(server.archive))


@pytest.mark.parametrize("etag", ["", 'W/"weak"'])
def test_a_download_goes_on_without_a_strong_etag(server: Server, etag: str) -> None:
    server.etag = etag
    fetch_cut_off(server, after=150_000)
    assert fetch(server).is_dir()
    assert server.asked[-1] == "bytes=150000-"


@pytest.mark.parametrize(("fault", "value"), [("honours_range", False), ("shift_range_by", 1)])
def test_a_server_that_ignores_or_mistakes_the_range_is_read_from_the_beginning(
    server: Server, fault: str, value: int
) -> None:
    fetch_cut_off(server, after=150_000)
    setattr(server, fault, value)
    assert (fetch(server) / "am" / "final.mdl").read_bytes() == NOISE


def test_an_archive_that_changed_meanwhile_is_read_from_the_beginning(server: Server) -> None:
    fetch_cut_off(server, after=150_000)
    server.archive = zipped({f"{NAME}/README": b"new", **MODEL_FILES})
    server.etag = '"second"'
    assert (fetch(server) / "README").read_bytes() == b"new"


@pytest.mark.parametrize(("more", "requests"), [(b"", 1), (b"too long", 2)])
def test_a_whole_piece_is_used_and_one_too_long_thrown_away(
    server: Server, more: bytes, requests: int
) -> None:
    models_folder().mkdir(parents=True)
    (models_folder() / f"{NAME}.zip.part").write_bytes(server.archive + more)
    assert fetch(server).is_dir()
    assert len(server.asked) == requests


# A download that cannot be


def test_an_unknown_name_is_answered_with_the_known_ones() -> None:
    with pytest.raises(DictateError, match=NAME):
        download("vosk-model-small-xx")


@pytest.mark.parametrize("base_url", ["http://127.0.0.1:9/", "nonsense", "file:///nowhere"])
def test_an_unreachable_server_is_told_with_the_folder_to_fill_by_hand(base_url: str) -> None:
    with pytest.raises(DictateError, match="could not be reached") as refusal:
        download(NAME, base_url=base_url)
    assert str(refusal.value).endswith(f"unpack it as {models_folder() / NAME}.")


def test_a_missing_archive_is_told_with_the_servers_answer(server: Server) -> None:
    with pytest.raises(DictateError, match=r"could not be reached.*404"):
        download(NAME, base_url=f"{server.url}elsewhere")


@pytest.mark.parametrize("expected", ["0" * 64, None])
def test_a_wrong_checksum_is_refused_and_the_archive_deleted(
    server: Server, expected: str | None
) -> None:
    with pytest.raises(DictateError, match=expected or model.KNOWN_MODELS[0].sha256):
        fetch(server, sha256=expected)
    assert list(models_folder().iterdir()) == []


@pytest.mark.parametrize(
    ("limit", "why"),
    [("MOST_ARCHIVE_BYTES", "far too large"), ("MOST_UNPACKED_BYTES", "would unpack to")],
)
def test_an_archive_over_a_limit_is_refused_and_deleted(
    server: Server, monkeypatch: pytest.MonkeyPatch, limit: str, why: str
) -> None:
    monkeypatch.setattr(model, limit, 100_000)
    with pytest.raises(DictateError, match=why):
        fetch(server)
    assert list(models_folder().iterdir()) == []


def test_a_folder_that_is_no_model_is_not_overwritten(server: Server) -> None:
    (models_folder() / NAME / "notes").mkdir(parents=True)
    with pytest.raises(DictateError, match="remove it first"):
        fetch(server)
    assert server.asked == []


def test_a_folder_that_cannot_be_written_is_told(server: Server, home: Path) -> None:
    (home / "data").write_text("a file in the way")
    with pytest.raises(DictateError, match="could not be written"):
        fetch(server)


# Archives that are unsafe


LINK = zipfile.ZipInfo(f"{NAME}/link")
LINK.external_attr = (stat.S_IFLNK | 0o777) << 16
BOMB_BYTES = 20_000_000
BOMB = zipped({**MODEL_FILES, f"{NAME}/bomb": bytes(BOMB_BYTES)})
LYING_BOMB = BOMB.replace(struct.pack("<L", BOMB_BYTES), struct.pack("<L", 1_000))
OUTSIDE = [f"{NAME}/../../../outside", "/tmp/outside", "..", r"..\outside", "C:/outside"]
UNSAFE = {
    **{f"entry {name}": (zipped({**MODEL_FILES, name: b"x"}), "lies outside") for name in OUTSIDE},
    "symlink": (zipped({**MODEL_FILES, LINK: b"/etc"}), "is a link"),
    "bomb": (BOMB, "would unpack to"),
    "bomb that lies about its size": (LYING_BOMB, "not fit to unpack"),
    "unknown packing": (zipped(MODEL_FILES, zipfile.ZIP_LZMA), "unknown way"),
    "web page": (b"<html>Please log in</html>", "not fit to unpack"),
    "no model": (zipped({f"{NAME}/README": b"x"}), "holds no Vosk model"),
}


@pytest.mark.parametrize(("archive", "why"), UNSAFE.values(), ids=UNSAFE)
def test_an_unsafe_archive_is_refused_and_nothing_is_written(
    server: Server, home: Path, archive: bytes, why: str
) -> None:
    server.archive = archive
    with pytest.raises(DictateError, match=why):
        fetch(server)
    assert list(home.rglob("*")) == [home / "data", models_folder()]


def test_nothing_of_a_model_is_open_to_others(server: Server, home: Path) -> None:
    before = os.umask(0)
    try:
        fetch_cut_off(server, after=150_000)
        piece = models_folder() / f"{NAME}.zip.part"
        assert piece.parent.stat().st_mode & 0o077 == 0
        fetch(server)
    finally:
        os.umask(before)
    for path in (home / "data").rglob("*"):
        assert path.stat().st_mode & 0o077 == 0, path


# Where a server may send it


class Redirect(BaseHTTPRequestHandler):
    """Sends every request on to the address that its server holds."""

    def do_GET(self) -> None:
        self.send_response(302)
        self.send_header("Location", self.server.to)  # type: ignore[attr-defined]
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *args: object) -> None: ...


@pytest.fixture
def redirect(server: Server) -> Iterator[ThreadingHTTPServer]:
    with ThreadingHTTPServer(("127.0.0.1", 0), Redirect) as running:
        thread = threading.Thread(target=running.serve_forever, args=(0.01,))
        thread.start()
        yield running
        running.shutdown()
        thread.join()


def test_a_server_may_send_it_on(server: Server, redirect: ThreadingHTTPServer) -> None:
    redirect.to = f"{server.url}{NAME}.zip"  # type: ignore[attr-defined]
    expected = sha256(server.archive).hexdigest()
    url = f"http://127.0.0.1:{redirect.server_port}/"
    assert download(NAME, base_url=url, sha256=expected).is_dir()


def test_it_is_never_sent_on_to_a_file(home: Path, redirect: ThreadingHTTPServer) -> None:
    (home / f"{NAME}.zip").write_bytes(Server.archive)
    redirect.to = f"{home.as_uri()}/{NAME}.zip"  # type: ignore[attr-defined]
    url = f"http://127.0.0.1:{redirect.server_port}/"
    with pytest.raises(DictateError, match="could not be reached"):
        download(NAME, base_url=url, sha256=sha256(Server.archive).hexdigest())


@pytest.mark.parametrize("onward", ["http://example.org/x.zip", "ftp://example.org/x.zip"])
def test_from_an_encrypted_address_it_is_never_sent_on_to_another(onward: str) -> None:
    asked = model.Request("https://example.org/x.zip")
    with pytest.raises(model.URLError, match="not encrypted"):
        model._Redirects().redirect_request(asked, None, 302, "", {}, onward)


def test_the_models_of_the_catalogue_are_encrypted_and_pinned() -> None:
    for each in model.KNOWN_MODELS:
        assert each.base_url.startswith("https://")
        assert re.fullmatch("[0-9a-f]{64}", each.sha256)
