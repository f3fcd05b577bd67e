"""Serving as a user does it: a process that answers, says where, stops when told, and says when it cannot."""

import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from limbwright.cli.serve import listening
from limbwright.error import Refused

COMMAND = "from limbwright.cli.main import main; main()"
ROOT = Path(__file__).parents[2]


@pytest.fixture
def port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        found: int = probe.getsockname()[1]
    return found


def serving(home: Path, port: int, *more: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", COMMAND, "serve", "--home", str(home), "--port", str(port), *more],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


@pytest.fixture
def served(tmp_path: Path, port: int) -> Iterator[subprocess.Popen[str]]:
    process = serving(tmp_path / "home", port)
    try:
        for _ in range(600):
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/api/health", timeout=2):
                    break
            except (urllib.error.URLError, ConnectionError):
                time.sleep(0.05)
        yield process
    finally:
        process.kill()
        process.communicate()


def test_it_says_where_answers_and_stops_when_told(
    served: subprocess.Popen[str], port: int, tmp_path: Path
) -> None:
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/cases", timeout=20) as page:
        assert page.status == 200
    second = serving(tmp_path / "other", port)
    out, err = second.communicate(timeout=60)
    assert second.returncode == 3
    assert f"port {port} is taken" in err
    assert f"--port {port + 1}" in err.replace("\n", " ")
    assert "Workbench at" not in out
    served.send_signal(signal.SIGINT)
    out, _ = served.communicate(timeout=60)
    assert served.returncode == 0
    assert f"Workbench at http://127.0.0.1:{port}/" in out
    assert "not a medical device" in out
    assert "Stopped" in out


def test_small_answers_are_sent_at_once(port: int) -> None:
    with listening("127.0.0.1", port) as listener:
        assert listener.proto == socket.IPPROTO_TCP  # what the event loop asks before it sets TCP_NODELAY


def test_an_address_of_another_machine_is_refused(port: int) -> None:
    with pytest.raises(Refused, match="cannot be listened on"):
        listening("192.0.2.1", port)


def test_other_machines_ask_for_a_user(tmp_path: Path, port: int) -> None:
    process = serving(tmp_path / "home", port, "--host", "0.0.0.0")
    _, err = process.communicate(timeout=60)
    assert process.returncode == 3
    assert "no user with a password" in err.replace("\n", " ")


@pytest.mark.parametrize(("words", "serves"), [((), True), (("SERVE=no",), False), (("PORT=8799",), True)])
def test_make_demo_ends_by_serving_unless_told_otherwise(words: tuple[str, ...], serves: bool) -> None:
    dry = subprocess.run(
        ["make", "--no-print-directory", "-n", "demo", *words],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert "limbwright demo --into out/demo --store out/workbench" in dry
    last = dry.strip().splitlines()[-1]
    assert ("limbwright serve --home out/workbench" in last) is serves
    assert ("--port 8799" in last) is ("PORT=8799" in words)
