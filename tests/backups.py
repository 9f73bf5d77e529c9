"""What the tests of backups share: a practice's data with everything in it, and all of a folder."""

import json
import sqlite3
import zipfile
from datetime import timedelta
from hashlib import sha256
from pathlib import Path

import numpy as np

from dictate.backup.archive import opened_archive
from dictate.backup.write import Source, write_backup
from dictate.grammar.spoken import spoken_languages
from dictate.integrity.seal import signer
from dictate.session.session import Session
from dictate.speech.audio import UtteranceAudio
from dictate.store.cases import CaseStore
from dictate.store.clips import ClipStore
from tests.case_store import OPENED, keep, kept_cases

SOUND = (8000 * np.sin(np.arange(16_000) / 20)).astype(np.int16)
NOW = OPENED + timedelta(days=1)
OWN = {
    "settings.toml": "[chart]\nindex_scale = 3 # ours\n",
    "practice.toml": 'name = "Mill Lane"\n',
    "formulary.toml": "# empty\n",
    "words.txt": "niner = nine\n",
    "pronunciations.txt": "mesial M EH S IY AH L\n",
    "voices/ada-lind-0123abcd/mllr": "1\n",
    "voices/ada-lind-0123abcd/voice.json": "{}\n",
}


def source_in(folder):
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return Source(CaseStore(folder / "cases.sqlite"), ClipStore(folder / "clips"), folder)


def sounding(source, case_id, days_ago=1, sound=SOUND, station="", **fields):
    """Keep a case with one note whose sound is kept, then closed and sealed; of one of several
    stations where its id is given."""
    case = keep(source.store, case_id, days_ago, **fields)
    session = Session(
        case,
        spoken_languages(),
        save=lambda new: source.store.append(case.id, new),
        keep_clip=source.clips.keeper(case.id, station),
        sign=signer(source.folder),
        now=lambda: case.opened,
    )
    session.type_text("208 calculus 2")
    session.keep_undecoded(UtteranceAudio(sound, 0.0, 1.0))
    session.type_text("close the chart")
    session.type_text("yes")
    return session


def filled(folder):
    """A practice's data: five cases, one more with sound and seal, own files and a voice."""
    source = source_in(folder)
    kept_cases(folder)
    sounding(source, "tara-1", animal="Tara", owner_reference="K-3")
    for name, text in OWN.items():
        path = folder / name
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        path.write_text(text)
        path.chmod(0o600)
    return source


def rows(folder):
    """Every row of the cases and events in a folder, as they are on disk."""
    with sqlite3.connect(folder / "cases.sqlite") as db:
        cases = db.execute("SELECT * FROM cases ORDER BY id").fetchall()
        kept = "SELECT case_id, sequence, document, hash FROM events ORDER BY case_id, sequence"
        events = db.execute(kept).fetchall()
    db.close()
    return cases, events


def files(folder):
    """Every other file in a folder with its bytes, by name."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.name.startswith("cases.sqlite")
    }


def backed_up(source, path, **wishes):
    write_backup(path, source, NOW, **wishes)
    return path


def altered(path, to, change):
    """Write a backup anew with members changed by `change(members)`, a dict of bytes by name, and
    a manifest that says so; so that only what is looked for is wrong."""
    members = members_of(path)
    change(members)
    manifest = json.loads(members.pop("manifest.json"))
    manifest["members"] = [
        {"name": name, "size": len(content), "sha256": sha256(content).hexdigest()}
        for name, content in members.items()
    ]
    return packed(to, {"manifest.json": json.dumps(manifest).encode(), **members})


def members_of(path):
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(path: Path, members):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return path


def opened(path, passphrase=None):
    return opened_archive(path, passphrase)
