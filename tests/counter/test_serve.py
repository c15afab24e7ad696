"""The program itself: where it listens, how it starts a browser, how it ends."""

from __future__ import annotations

import socket
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from urllib.error import HTTPError
from urllib.parse import urlsplit
from urllib.request import Request, urlopen

import pytest

from alloysolve.cli import counter as command
from tests.conftest import EXAMPLES, Run
from tests.counter.served import served
from tests.test_start import SLOW


def fetched(address: str, given: bytes | None = None, **headers: str) -> str:
    asked = Request(address, given, headers)
    with urlopen(asked) as reply:
        return str(reply.read().decode())


def test_it_answers_on_this_machine_until_ctrl_c() -> None:
    with served("--no-browser", "--settings", str(EXAMPLES / "counter.toml")) as counter:
        at = urlsplit(counter.address)
        assert at.hostname == "127.0.0.1"
        assert len(at.path.strip("/")) == 32  # 24 bytes
        assert "Quayside Buying Counter" in fetched(counter.address)
        origin = {"Origin": f"http://{at.netloc}", "Content-Type": "application/x-www-form-urlencoded"}
        assert "speak against" in fetched(counter.address, b"claim=silver+999&mass=31.18&displaced=3.64", **origin)
        with pytest.raises(HTTPError, match="413"):
            fetched(counter.address, b"note=" + b"x" * 70_000, **origin)
        with pytest.raises(HTTPError, match="404"):
            fetched(f"http://{at.netloc}/")
        assert counter.stop() == (0, "")


def test_another_port_is_taken_only_if_none_is_named(run: Callable[..., Run]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        said = run("counter", "--no-browser", "--port", str(port))
        assert (said.code, said.out) == (2, "")
        assert said.err.startswith(f"error: --port: {port}: expected a port that no other program uses")
    with served("--no-browser", "--port", str(port)) as first:
        assert urlsplit(first.address).port == port
    with served("--no-browser") as first, served("--no-browser") as second:
        assert urlsplit(first.address).netloc != urlsplit(second.address).netloc


def test_the_browser_is_started_with_an_address_that_works_once(tmp_path: Path) -> None:
    told, script = tmp_path / "told", tmp_path / "browser"
    script.write_text(f'#!/bin/sh\necho "$1" > {told}.part && mv {told}.part {told}\n')
    script.chmod(0o700)
    with served(env={"BROWSER": f"{script} %s"}) as counter:
        while not told.exists():
            time.sleep(0.01)
        once = told.read_text().strip()
        assert urlsplit(counter.address).path not in once
        assert 'id="piece"' in fetched(once)
        with pytest.raises(HTTPError, match="404"):
            fetched(once)
        told.unlink()
    with served("--no-browser", env={"BROWSER": f"{script} %s"}) as counter:
        fetched(counter.address)
        assert not told.exists()


def test_without_its_extra_it_says_what_to_install(run: Callable[..., Run], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(command, "find_spec", lambda name: None if name == "waitress" else object())
    said = run("counter")
    assert (said.code, said.out) == (2, "")
    assert "waitress" in said.err
    assert "alloysolve[counter]" in said.err


def test_the_first_page_loads_nothing_slow_and_no_engine() -> None:
    code = (
        "import sys\n"
        "from alloysolve.counter.serve import Desk, counter_app\n"
        "page = counter_app(Desk(), 't', 4779).test_client().get('/t/', headers={'Host': '127.0.0.1:4779'})\n"
        "assert page.status_code == 200\n"
        "print(*sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    slow = SLOW - {"importlib.metadata"} | {
        "alloysolve.answer.solution",
        "alloysolve.page.build",
    }  # Flask loads the first
    assert not set(done.stdout.split()) & slow
