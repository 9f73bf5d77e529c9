"""Speech models: where they live, which is installed, and how one is fetched by its name."""

from __future__ import annotations

import hashlib
import re
import stat
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from http.client import HTTPException
from pathlib import Path, PurePosixPath
from typing import Any, TypeAlias
from urllib.error import HTTPError, URLError
from urllib.request import HTTPRedirectHandler, Request, build_opener

from dictate.errors import DictateError
from dictate.folders import OTHERS, data_folder, make_private

Progress: TypeAlias = Callable[[int, int | None], None]
"""Called with the bytes that have arrived and the bytes of the whole, None where not known."""

# An honest English archive is about 41 MB and unpacks to less than twice that.
MOST_ARCHIVE_BYTES = 300_000_000
MOST_UNPACKED_BYTES = 600_000_000
MOST_EXPANSION = 20

_TIMEOUT_S = 30.0
_BLOCK_BYTES = 64 * 1024
_ENGLISH_NAME = re.compile(r"vosk-model-(small-)?en-")


@dataclass(frozen=True)
class KnownModel:
    """A model that can be asked for: `base_url` + `name` + ".zip" is its archive."""

    name: str
    base_url: str
    sha256: str


KNOWN_MODELS = (
    KnownModel(
        name="vosk-model-small-en-us-0.15",
        base_url="https://alphacephei.com/vosk/models/",
        # From memory and not checked against a download made here: the publisher prints no
        # checksum. Several public projects pin this same value. `download` takes another.
        sha256="30f26242c4eb449f948e42cb302dd7a686cb29a3423a8367f99ff41780942498",
    ),
)


class _UnreachableError(Exception):
    """The network or the server failed; the text says how, in a few words."""


class _CannotResumeError(_UnreachableError):
    """The server will not continue from what is here: begin again."""


def models_folder() -> Path:
    """Return the folder that holds the models; it need not exist yet.

    It is `models` in the folder named by DICTATE_DATA, else in the user's data folder.
    """
    return data_folder() / "models"


def installed_english_model() -> Path | None:
    """Return the folder of an unpacked English Vosk model, or None.

    Models of the catalogue come first, then any other by name. A folder inside a folder of
    the same name is found too, since that is what unpacking by hand often leaves.
    """
    known = [models_folder() / model.name for model in KNOWN_MODELS]
    others = sorted(f for f in models_folder().glob("vosk-model-*") if _ENGLISH_NAME.match(f.name))
    for folder in known + others:
        for candidate in (folder, folder / folder.name):
            if is_model_folder(candidate):
                return candidate
    return None


def is_model_folder(folder: Path) -> bool:
    """Tell whether `folder` is laid out as a Vosk model: `am` beside `conf` or `graph`."""
    return (folder / "am").is_dir() and any((folder / part).is_dir() for part in ("conf", "graph"))


def download(
    model_name: str,
    *,
    base_url: str | None = None,
    sha256: str | None = None,
    progress: Progress | None = None,
    folder: Path | None = None,
) -> Path:
    """Fetch a model of the catalogue, check it, unpack it and return its folder.

    A model already there is returned without a request. `base_url` (http, https or file) is a
    mirror, `sha256` (64 hexadecimal digits) replaces the catalogue's checksum, `folder`
    replaces `models_folder()`. A download that was cut off goes on from where it stopped.

    Raises DictateError: for a name not in the catalogue, a server that cannot be reached, a
    checksum that differs, an archive that is unsafe or holds no model, or a full disk.
    """
    model = _known(model_name)
    folder = folder or models_folder()
    destination = folder / model.name
    if is_model_folder(destination):
        return destination
    if destination.exists():
        raise DictateError(f"{destination} is there but holds no Vosk model, so remove it first.")
    url = (base_url or model.base_url).rstrip("/") + f"/{model.name}.zip"
    part = folder / f"{model.name}.zip.part"
    try:
        make_private(folder)
        _fetch(url, part, progress or (lambda done, total: None))
        _verify(part, sha256 or model.sha256)
        _unpack(part, destination)
        _forget(part)
    except _UnreachableError as problem:
        raise DictateError(
            f"The model could not be reached at {url} ({problem}), so ask again to go on from "
            f"where it stopped, or get the archive by hand and unpack it as {destination}."
        ) from problem
    except OSError as problem:
        raise DictateError(
            f"The model could not be written to {folder}: {problem.strerror or problem}."
        ) from problem
    return destination


def _known(model_name: str) -> KnownModel:
    models = {model.name: model for model in KNOWN_MODELS}
    if model_name not in models:
        names = ", ".join(models)
        raise DictateError(f"There is no model called {model_name!r}; known are: {names}.")
    return models[model_name]


def _validator_file(part: Path) -> Path:
    # Remembers which version of the archive `part` is a piece of.
    return part.with_name(part.name + ".etag")


def _forget(part: Path) -> None:
    part.unlink(missing_ok=True)
    _validator_file(part).unlink(missing_ok=True)


def _fetch(url: str, part: Path, progress: Progress) -> None:
    """Bring `part` up to the whole archive, from the beginning if it cannot be continued."""
    try:
        _fetch_rest(url, part, progress)
    except _CannotResumeError:
        _forget(part)
        _fetch_rest(url, part, progress)


def _fetch_rest(url: str, part: Path, progress: Progress) -> None:
    have = part.stat().st_size if part.exists() else 0
    with _open(url, _resume_headers(part, have)) as response:
        if response.code == 416 and response.headers.get("Content-Range") == f"bytes */{have}":
            return
        resumed = _continues_from(have, response)
        if not resumed:
            have = 0
            _validator_file(part).write_text(_validator(response))
        length = response.headers.get("Content-Length", "")
        total = have + int(length) if length.isdecimal() else None
        done = have
        with part.open("ab" if resumed else "wb") as file:
            progress(done, total)
            for block in _blocks(response):
                file.write(block)
                done += len(block)
                progress(done, total)
                if done > MOST_ARCHIVE_BYTES:
                    break
    if done > MOST_ARCHIVE_BYTES:
        _forget(part)
        raise DictateError(f"What {url} sends is far too large to be the model and was deleted.")
    if total is not None and done < total:
        raise _UnreachableError(f"cut off after {done} of {total} bytes")


def _resume_headers(part: Path, have: int) -> dict[str, str]:
    """Return the request headers that ask for what follows the first `have` bytes."""
    headers = {"User-Agent": "dictate", "Accept-Encoding": "identity"}
    if have:
        headers["Range"] = f"bytes={have}-"
        remembered = _validator_file(part)
        if remembered.exists() and (validator := remembered.read_text().strip()):
            headers["If-Range"] = validator
    return headers


def _validator(response: Any) -> str:
    # RFC 9110, section 13.1.5: a weak ETag must not be used with If-Range.
    etag = str(response.headers.get("ETag", "W/"))
    return str(response.headers.get("Last-Modified", "")) if etag.startswith("W/") else etag


def _continues_from(have: int, response: Any) -> bool:
    """Tell whether the answer goes on after `have` bytes (True) or is the whole (False)."""
    if response.code == 416:
        raise _CannotResumeError("HTTP status 416")
    if response.code != 206:
        return False
    if not str(response.headers.get("Content-Range", "")).startswith(f"bytes {have}-"):
        raise _CannotResumeError("the server sent another piece than was asked for")
    return True


class _Redirects(HTTPRedirectHandler):
    """Goes where a server sends it, but never from an encrypted address to one that is not."""

    def redirect_request(
        self, req: Request, fp: Any, code: int, msg: str, headers: Any, newurl: str
    ) -> Request | None:
        """Return the request for where it leads to; raise URLError where it goes no further."""
        if req.type == "https" and not newurl.startswith("https:"):
            raise URLError("the server sends it on to an address that is not encrypted")
        return super().redirect_request(req, fp, code, msg, headers, newurl)


def _open(url: str, headers: dict[str, str]) -> Any:
    try:
        # A mirror may be a file; no command names one, and a server leads to none.
        asked = Request(url, headers=headers)  # noqa: S310
        return build_opener(_Redirects).open(asked, timeout=_TIMEOUT_S)
    except HTTPError as answer:
        if answer.code == 416:
            return answer
        raise _UnreachableError(f"HTTP status {answer.code}") from answer
    except (OSError, HTTPException, ValueError) as problem:
        raise _UnreachableError(str(problem)) from problem


def _blocks(response: Any) -> Iterator[bytes]:
    """Yield the body; a failure of the network is told apart from one of the disk."""
    while True:
        try:
            block: bytes = response.read(_BLOCK_BYTES)
        except (OSError, HTTPException) as problem:
            raise _UnreachableError(str(problem)) from problem
        if not block:
            return
        yield block


def _verify(part: Path, sha256: str) -> None:
    with part.open("rb") as file:
        found = hashlib.file_digest(file, "sha256").hexdigest()
    if found != sha256.strip().lower():
        _forget(part)
        raise DictateError(
            f"The model's archive is not the one expected (sha256 {found}, not {sha256}) and was "
            "deleted, so ask for it again."
        )


def _unpack(archive: Path, destination: Path) -> None:
    """Unpack beside `destination`, then rename: it is there whole or not at all."""
    with tempfile.TemporaryDirectory(
        dir=destination.parent, prefix=f".{destination.name}-"
    ) as beside:
        unpacked = Path(beside) / "unpacked"
        unpacked.mkdir(mode=0o700)
        try:
            with zipfile.ZipFile(archive) as opened:
                _refuse_unsafe(opened.infolist(), archive.stat().st_size)
                # zipfile makes no links and reads no more of an entry than the size it declares.
                opened.extractall(unpacked)
            for each in unpacked.rglob("*"):
                each.chmod(stat.S_IMODE(each.stat().st_mode) & ~OTHERS)
            _model_within(unpacked).rename(destination)
        except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, ValueError) as problem:
            _forget(archive)
            raise DictateError(
                f"The model's archive is not fit to unpack ({problem}) and was deleted."
            ) from problem


def _model_within(unpacked: Path) -> Path:
    for folder in (unpacked, *sorted(unpacked.iterdir())):
        if is_model_folder(folder):
            return folder
    raise ValueError("it holds no Vosk model")


def _refuse_unsafe(entries: list[zipfile.ZipInfo], archive_bytes: int) -> None:
    """Raise ValueError unless every entry is a plain file or folder inside, of a fair size."""
    for entry in entries:
        path = PurePosixPath(entry.filename)
        if path.is_absolute() or ".." in path.parts or re.search(r"[\\:]", entry.filename):
            raise ValueError(f"{entry.filename!r} lies outside it")
        if stat.S_IFMT(entry.external_attr >> 16) not in (0, stat.S_IFREG, stat.S_IFDIR):
            raise ValueError(f"{entry.filename!r} is a link")
        if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise ValueError(f"{entry.filename!r} is packed in an unknown way")
    size = sum(entry.file_size for entry in entries)
    if size > min(MOST_UNPACKED_BYTES, MOST_EXPANSION * archive_bytes):
        raise ValueError(f"it would unpack to {size} bytes")
