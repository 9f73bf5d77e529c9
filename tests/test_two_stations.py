"""Two stations chart one case at once, each in a process of its own, on a PostgreSQL that is killed
and started again in the middle: nothing is lost, and nothing doubled."""

import subprocess
import sys
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from threading import Event as Flag

from dictate.cases.stored import stored_session
from dictate.integrity.chain import hashes_of
from dictate.report.record_events import check_events
from dictate.session.session import now_utc
from dictate.store.cases import CaseStore
from tests.test_stations import CASE

EVENTS = 10_000
STATION = """
import random
import sys
import time
from dictate.cases.stored import case_store, load_case, stored_session

name, number = sys.argv[1], int(sys.argv[2])
store = case_store(may_be_away=True)
session = stored_session(store, *load_case(store, "mila-1"))

def look():
    session.shared.take(session.shared.look(len(session.events)))

spooled = 0
for each in range(number):
    assert session.type_text(f"note: {name} {each}").outcome == "charted"
    spooled += session.shared.problem is not None
    time.sleep(random.uniform(0, 0.01))  # nobody speaks without any pause
    if each % 20 == 0:
        print(each, flush=True)
        look()
while session.shared.problem is not None:
    look()
print("spooled", spooled, flush=True)
"""


def test_ten_thousand_events_of_two_stations_are_kept_once(
    postgres, database, tmp_path, monkeypatch
):
    monkeypatch.setenv("DICTATE_STORE", database)
    CaseStore(database).add_case(CASE)
    each_says = EVENTS // 4
    stations = []
    for name in ("one", "two"):
        monkeypatch.setenv("DICTATE_DATA", str(tmp_path / name))
        command = [sys.executable, "-c", STATION, name, str(each_says)]
        stations.append(subprocess.Popen(command, stdout=subprocess.PIPE, text=True))
    for station in stations:
        for line in station.stdout:
            if int(line) >= each_says // 3:
                break
    postgres.kill()
    time.sleep(2)
    postgres.start()
    printed = [station.communicate(timeout=600)[0] for station in stations]
    assert [station.returncode for station in stations] == [0, 0]
    spooled = [int(each.split()[-1]) for each in printed]
    assert all(number > 0 for number in spooled), "the server was not missed"
    store = CaseStore(database)
    _, events = store.load(CASE.id)
    assert [event.sequence for event in events] == list(range(1, EVENTS + 1))
    notes = [event.what.text for event in events if event.what.event == "noted"]
    assert Counter(notes) == Counter(f"{n} {i}" for n in ("one", "two") for i in range(each_says))
    for name in ("one", "two"):
        of_one = [note for note in notes if note.startswith(name)]
        assert of_one == [f"{name} {each}" for each in range(each_says)]
    assert store.as_kept(CASE.id).hashes == tuple(hashes_of(CASE, events))
    check_events(CASE, events)


def test_who_is_overtaken_time_and_again_is_heard_at_the_second_time(place, tmp_path, monkeypatch):
    CaseStore(place).add_case(CASE)
    rooms = []
    for name in ("slow", "quick"):
        monkeypatch.setenv("DICTATE_DATA", str(tmp_path / name))
        store = CaseStore(place)
        rooms.append(stored_session(store, *store.load(CASE.id)))
    slow, quick = rooms
    heard = []

    def now():
        heard.append(now_utc())
        time.sleep(0.3)
        return heard[-1]

    slow._course._now = now
    over = Flag()

    def chart():
        while not over.is_set():
            quick.type_text("note: without a pause")

    with ThreadPoolExecutor(1) as other:
        charting = other.submit(chart)
        try:
            for phrase in ("208 calculus 2", "209 calculus 2", "210 calculus 2"):
                while not slow.shared.look(len(slow.events)).events:
                    time.sleep(0.01)
                assert slow.type_text(phrase).outcome == "charted"
        finally:
            over.set()
        charting.result()
    assert len(heard) == 6
    assert len(slow.chart.findings) == 3
    assert CaseStore(place).load(CASE.id)[1][: len(slow.events)] == slow.events
