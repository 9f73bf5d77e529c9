"""Every package is named with its reason, and locked with its hashes within its bounds."""

import re
from collections import defaultdict
from pathlib import Path

import pytest
from packaging.markers import Marker
from packaging.utils import canonicalize_name
from packaging.version import Version

from tests.locks import LOCKS, ROOT, all_asked, asked, locked

_LISTS = {
    "requirements.lock": ("run",),
    "requirements-test.lock": ("run", "test", "build"),
    "requirements-build.lock": ("build", "build-system"),
    "requirements-tools.lock": ("tools",),
}


def _table_names(file: Path, heading: str) -> set[str]:
    """The packages in the first column of the table under a heading."""
    section = file.read_text().split(heading, 1)[1].split("\n#", 1)[0]
    rows = re.findall(r"^\| ([a-z][^|]*)\|", section, re.MULTILINE)[1:]
    words = (word.strip() for row in rows for word in re.sub(r"\(.*?\)", "", row).split(","))
    return {canonicalize_name(word) for word in words}


def test_every_package_is_named_with_its_reason_and_no_other() -> None:
    told = _table_names(ROOT / "DEVELOPERS.md", "## Packages, and why each is here")
    assert told == set(all_asked())


def test_every_package_asked_for_has_its_last_release_and_what_is_done_about_it() -> None:
    told = _table_names(ROOT / "docs/dependencies.md", "## How well each is kept")
    assert set(all_asked()) <= told


@pytest.mark.parametrize("file", LOCKS)
def test_the_lock_holds_what_is_asked_for_within_its_bounds(file: str) -> None:
    pins = defaultdict(list)
    for pin in locked(file):
        pins[pin.name].append(pin)
    for requirement in asked(*_LISTS[file]):
        of_it = pins[canonicalize_name(requirement.name)]
        assert of_it, f"{file} lacks {requirement}: run .ci/lock"
        for pin in of_it:
            assert Version(pin.version) in requirement.specifier, f"{pin}: run .ci/lock"


@pytest.mark.parametrize("file", LOCKS)
def test_every_locked_release_has_its_hashes_and_no_host_is_named(file: str) -> None:
    pins = locked(file)
    assert pins and all(pin.hashes for pin in pins)
    assert not re.search(r"://|--(extra-)?index-url|--find-links", (ROOT / file).read_text())


def test_a_package_is_locked_at_one_release_in_all_files() -> None:
    releases = defaultdict(set)
    for file in LOCKS:
        for pin in locked(file):
            releases[pin.name, pin.marker].add(pin.version)
    assert not {which: several for which, several in releases.items() if len(several) > 1}


@pytest.mark.parametrize("python", ["3.11", "3.12", "3.13"])
@pytest.mark.parametrize("system", ["linux", "darwin", "win32"])
def test_no_package_is_locked_twice_for_one_machine(python: str, system: str) -> None:
    machine = {
        "python_version": python,
        "python_full_version": f"{python}.1",
        "sys_platform": system,
        "implementation_name": "cpython",
        "platform_python_implementation": "CPython",
    }
    for file in LOCKS:
        here = [p.name for p in locked(file) if not p.marker or Marker(p.marker).evaluate(machine)]
        assert len(here) == len(set(here))


def test_the_commands_of_the_readme_install_only_what_is_locked() -> None:
    commands = re.findall(r"```sh\n(.*?)```", (ROOT / "README.md").read_text(), re.DOTALL)[:2]
    for command in commands:
        installs = [line for line in command.splitlines() if "pip install" in line]
        assert installs
        assert all("--require-hashes" in i or "--no-deps" in i for i in installs)
        assert all("--no-build-isolation" in i or "requirements-build.lock" in i for i in installs)
