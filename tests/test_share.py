"""What opens the second screen: codes, addresses, the certificate."""

import ssl
import stat
from datetime import UTC, datetime, timedelta
from itertools import count

import pytest

from dictate.errors import DictateError
from dictate.share.address import ShareAddress, read_address, shared_address
from dictate.share.certificate import certificate_for
from dictate.share.codes import WRONG_TRIES, Gate, looks_like_a_code, new_code
from dictate.share.seats import Seats

NOW = datetime(2026, 5, 4, 8, 2, tzinfo=UTC)
TABLET, STRANGER = "192.168.1.30", "192.168.1.66"


def gate_of(told=lambda: None):
    numbers = count()
    return Gate(lambda: f"abcd{next(numbers):04}", told)


def refused(gate, code, who=STRANGER, now_s=0.0):
    with pytest.raises(DictateError) as caught:
        gate.admit(code, who, now_s)
    return str(caught.value)


def test_a_code_is_read_in_two_halves_however_it_is_typed():
    gate = gate_of()
    assert gate.code == "abcd-0000"
    gate.admit(" ABCD 0000 ", TABLET, 0)


def test_a_code_admits_once():
    gate = gate_of()
    gate.admit(gate.code, TABLET, 0)
    assert gate.code == "abcd-0001"
    assert "not the code" in refused(gate, "abcd-0000")


def test_a_wrong_code_makes_the_next_try_wait_longer_each_time():
    gate = gate_of()
    waits = []
    now = 0.0
    for _ in range(3):
        refused(gate, "wrong", now_s=now)
        step = 0
        while "Wait" in refused(gate, "also wrong", now_s=now + step):
            step += 1
            if step > 100:
                break
        waits.append(step)
        now += 1000
    assert waits == sorted(waits)
    assert waits[0] < waits[-1]


def test_the_right_code_too_has_to_wait_and_who_did_not_err_need_not():
    gate = gate_of()
    refused(gate, "wrong")
    assert "Wait 1 s" in refused(gate, gate.code, now_s=0.5)
    gate.admit(gate.code, TABLET, 0.5)


def test_too_many_wrong_codes_change_the_code_wherever_they_come_from():
    told = []
    gate = gate_of(lambda: told.append(gate.code))
    for number in range(WRONG_TRIES):
        assert gate.code == "abcd-0000"
        refused(gate, "wrong", who=f"192.168.1.{number}")
    assert gate.code == "abcd-0001"
    assert told[-1] == "abcd-0001"
    assert gate.wrong_in_all == WRONG_TRIES
    assert "not the code" in refused(gate, "abcd-0000", who=TABLET)


def test_tries_while_waiting_do_not_count():
    gate = gate_of()
    for _ in range(2 * WRONG_TRIES):
        refused(gate, "wrong")
    assert gate.code == "abcd-0000"


def test_a_shut_gate_admits_nobody():
    gate = gate_of()
    code = gate.code
    gate.shut()
    assert gate.code == ""
    refused(gate, code)
    refused(gate, "")


def test_no_two_codes_are_alike_and_none_is_easily_misread():
    codes = {new_code() for _ in range(500)}
    assert len(codes) == 500
    assert not set("".join(codes)) & set("01iloIO")
    assert all(looks_like_a_code(each) for each in codes)


@pytest.mark.parametrize("phrase", ["208 calculus 2", "yes", "undo", "208", "note: well"])
def test_a_phrase_is_not_taken_for_a_code(phrase):
    assert not looks_like_a_code(phrase)


@pytest.mark.parametrize(
    ("text", "origin"),
    [
        ("192.168.1.20", "https://192.168.1.20:8470"),
        ("192.168.1.20:9000", "https://192.168.1.20:9000"),
        ("127.0.0.1:9000", "http://127.0.0.1:9000"),
        ("[fd00::2]:9000", "https://[fd00::2]:9000"),
        ("[::1]", "http://[::1]:8470"),
        ("fd00::2", "https://[fd00::2]:8470"),
    ],
)
def test_all_is_encrypted_but_on_this_machine(text, origin):
    assert read_address(text).origin == origin


@pytest.mark.parametrize(
    "text", ["", "0.0.0.0", "::", "practice.local", "1.2.3", "224.0.0.1", "a:b"]
)
def test_an_address_is_one_address_of_a_machine(text):
    with pytest.raises(DictateError, match="give one address of this machine"):
        read_address(text)


@pytest.mark.parametrize("port", ["80", "0", "70000"])
def test_a_port_that_cannot_be_used_is_refused(port):
    with pytest.raises(DictateError, match="choose one from 1024 to 65535"):
        read_address(f"192.168.1.20:{port}")


def test_nothing_is_shared_unless_asked_for():
    assert shared_address(False, None) is None
    assert shared_address(True, None) == ShareAddress("127.0.0.1")
    assert shared_address(False, "192.168.1.20") == ShareAddress("192.168.1.20")


def test_a_certificate_is_kept_privately_and_used_again(tmp_path):
    folder = tmp_path / "second_screen"
    first = certificate_for("192.168.1.20", folder, NOW)
    again = certificate_for("192.168.1.20", folder, NOW + timedelta(days=300))
    assert again == first
    assert stat.S_IMODE(first.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert isinstance(first.context(), ssl.SSLContext)


@pytest.mark.parametrize("spoilt", [b"", b"not a certificate"])
def test_a_certificate_that_cannot_be_read_is_made_anew(tmp_path, spoilt):
    first = certificate_for("192.168.1.20", tmp_path / "s", NOW)
    first.path.write_bytes(spoilt)
    assert certificate_for("192.168.1.20", tmp_path / "s", NOW).fingerprint != first.fingerprint


def test_a_certificate_is_made_anew_before_it_ends(tmp_path):
    first = certificate_for("192.168.1.20", tmp_path / "s", NOW)
    later = certificate_for("192.168.1.20", tmp_path / "s", NOW + timedelta(days=380))
    assert later.fingerprint != first.fingerprint


def test_the_fingerprint_is_the_sha_256_of_what_browsers_are_sent(tmp_path):
    import hashlib

    made = certificate_for("192.168.1.20", tmp_path / "s", NOW)
    pem = made.path.read_text()
    der = ssl.PEM_cert_to_DER_cert(pem[pem.index("-----BEGIN CERTIFICATE") :])
    assert made.fingerprint.replace(" ", "") == hashlib.sha256(der).hexdigest().upper()


def test_a_seat_is_known_by_its_own_cookie_only():
    seats = Seats()
    one, other = seats.take(), seats.take()
    assert seats.of(one.name, one.secret) is one
    assert seats.of(one.name, other.secret) is None
    assert seats.of("", "") is None


def test_the_oldest_seat_is_given_up_for_one_too_many():
    seats = Seats(most=2)
    first, *_ = taken = [seats.take() for _ in range(3)]
    assert seats.of(first.name, first.secret) is None
    assert all(seats.of(each.name, each.secret) for each in taken[1:])
