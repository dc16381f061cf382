"""The stand's process: how it begins, what it serves over HTTPS, and that it ends with its front."""

from __future__ import annotations

import contextlib
import datetime
import hashlib
import json
import os
import select
import signal
import socket
import ssl
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from introit.errors import StandError
from introit.stand.certificate import certificate
from introit.stand.devices import Devices
from introit.stand.launch import start_stand
from introit.testing.stand_front import stand_front

PATIENCE = 30.0
NOW = datetime.datetime(2030, 1, 1, tzinfo=datetime.UTC)


def ended(pid: int) -> bool:
    """Waits until a process that is not our child has ended."""
    with contextlib.suppress(ProcessLookupError):
        descriptor = os.pidfd_open(pid)
        try:
            return bool(select.select([descriptor], [], [], PATIENCE)[0])
        finally:
            os.close(descriptor)
    return True


def test_it_serves_what_the_front_shows() -> None:
    with (
        stand_front(port=0) as front,
        urllib.request.urlopen(front.stand.serving["url"] + "events") as stream,
    ):
        assert front.stand.serving["pairing"] is False
        seen = {}
        while len(seen) < 3:
            kind = stream.readline().strip().removeprefix(b"event: ").decode()
            seen[kind] = json.loads(stream.readline().removeprefix(b"data: "))
            stream.readline()
        assert seen["snapshot"]["title"] == front.tunes[0].title
        assert len(seen["set"]["tunes"]) == len(front.tunes)


def test_it_ends_when_its_front_lets_go() -> None:
    stand = start_stand(port=0)
    stand.end.close()
    assert stand.process.wait(PATIENCE) == 0
    stand.stop()


@pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="no way to wait for another's child here")
def test_it_ends_when_its_front_is_killed() -> None:
    code = """
import sys
from introit.stand.launch import start_stand
print(start_stand(port=0).process.pid, flush=True)
sys.stdin.read()
"""
    front = subprocess.Popen([sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert front.stdout is not None
    pid = int(front.stdout.readline())
    front.send_signal(signal.SIGKILL)
    front.communicate()
    assert ended(pid)


def test_a_stand_that_is_stopped_or_killed_never_holds_up_its_front() -> None:
    with stand_front(port=0) as front:
        front.stand.process.send_signal(signal.SIGSTOP)
        for beat in range(5000):
            front.tell(beat, "beat")
        front.stand.process.kill()
        front.stand.process.wait(PATIENCE)
        for beat in range(100):
            front.tell(beat, "beat")


def test_a_port_that_is_taken_is_told_in_one_line() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(StandError, match=f"127.0.0.1, port {port}: Address already in use"):
            start_stand(port=port)


@pytest.mark.parametrize("listen", ["no.such.name.invalid", "192.0.2.1"])
def test_an_address_that_is_not_ours_is_told_in_one_line(listen: str) -> None:
    with pytest.raises(StandError, match=listen):
        start_stand(listen=listen, port=0)


def test_it_needs_pairing_where_others_can_come() -> None:
    with stand_front(listen="0.0.0.0", port=0) as front:
        assert front.stand.serving["pairing"] is True


def test_https_with_the_certificate_whose_fingerprint_is_told(tmp_path: Path) -> None:
    with stand_front(port=0, tls=True, data=tmp_path) as front:
        url, fingerprint = front.stand.serving["url"], front.stand.serving["fingerprint"]
        context = ssl.create_default_context(cafile=str(tmp_path / "certificate.pem"))
        with urllib.request.urlopen(url + "time", context=context) as answer:
            assert json.load(answer)["ns"] > 0
        host, port = url.removeprefix("https://").rstrip("/").split(":")
        served = ssl.PEM_cert_to_DER_cert(ssl.get_server_certificate((host, int(port))))
    assert fingerprint.replace(":", "").lower() == hashlib.sha256(served).hexdigest()


def test_a_certificate_is_kept_and_made_anew_only_where_it_must_be(tmp_path: Path) -> None:
    folder = tmp_path / "stand"
    first = certificate(folder, ["127.0.0.1", "lamp.local"], NOW)
    assert first.key.stat().st_mode & 0o777 == 0o600
    assert folder.stat().st_mode & 0o777 == 0o700
    assert certificate(folder, ["lamp.local"], NOW + datetime.timedelta(days=700)) == first
    other = certificate(folder, ["10.1.2.3"], NOW)
    assert other.fingerprint != first.fingerprint
    assert certificate(folder, ["127.0.0.1", "lamp.local", "10.1.2.3"], NOW) == other, (
        "it knows the old ones too"
    )
    assert certificate(folder, ["10.1.2.3"], NOW + datetime.timedelta(days=815)) != other
    assert first.key.stat().st_mode & 0o777 == 0o600


def test_a_key_that_others_could_read_is_thrown_away(tmp_path: Path) -> None:
    first = certificate(tmp_path, ["127.0.0.1"], NOW)
    first.key.chmod(0o644)
    assert certificate(tmp_path, ["127.0.0.1"], NOW).fingerprint != first.fingerprint
    assert first.key.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("name", ["certificate.pem", "key.pem"])
def test_a_damaged_certificate_is_made_anew(tmp_path: Path, name: str) -> None:
    first = certificate(tmp_path, ["127.0.0.1"], NOW)
    (tmp_path / name).write_bytes(b"-----BEGIN NONSENSE-----")
    assert certificate(tmp_path, ["127.0.0.1"], NOW).fingerprint != first.fingerprint


def test_devices_stay_paired_from_one_evening_to_the_next_and_no_token_is_kept(tmp_path: Path) -> None:
    token, device = Devices(tmp_path).add("tablet", 1.0, view=False)
    path = tmp_path / "devices.json"
    assert Devices(tmp_path).find(token, 2.0) == device
    assert token not in path.read_text()
    assert path.stat().st_mode & 0o777 == 0o600


def test_a_device_that_is_revoked_elsewhere_is_revoked_here(tmp_path: Path) -> None:
    here = Devices(tmp_path)
    token, device = here.add("tablet", 1.0, view=False)
    assert Devices(tmp_path).revoke(device.id)
    here.reread()
    assert here.find(token, 2.0) is None


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"version":9}', '{"version":1,"devices":[{"id":1}]}', "[" * 9999]
)
def test_a_damaged_file_is_put_aside_and_told_of(tmp_path: Path, text: str) -> None:
    (tmp_path / "devices.json").write_text(text)
    said: list[str] = []
    devices = Devices(tmp_path, said.append)
    assert devices.all() == []
    assert len(said) == 1
    assert (tmp_path / "devices.damaged").read_text() == text
    assert devices.add("tablet", 1.0, view=True)
