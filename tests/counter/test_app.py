"""What the counter answers, to whom, and what it never does."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path
from typing import Any

import html5lib
import numpy as np
import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

import alloysolve.counter.desk as desks
from alloysolve.answer.solution import solve
from alloysolve.counter.app import counter_app
from alloysolve.counter.desk import Desk
from alloysolve.counter.form import form, names
from alloysolve.counter.guard import MOST_BYTES
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings, find_settings, today
from alloysolve.words.language import language
from alloysolve.words.terminal import answer
from tests.conftest import EXAMPLES

PORT, TOKEN, START = 4779, "token", "once"
HERE = f"http://127.0.0.1:{PORT}"
FROM_HERE = {"Host": f"127.0.0.1:{PORT}", "Origin": HERE}
BAR = {"claim": "silver 999", "mass": "31.18", "displaced": "3.64"}
HOSTILE = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>&amp;" * 200  # 12 kB


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    shop = tmp_path / "shop.toml"
    shop.write_text(f'records.folder = "{tmp_path / "records"}"\n')
    return Desk(str(shop))


@pytest.fixture
def client(desk: Desk) -> FlaskClient:
    return counter_app(desk, TOKEN, PORT, START).test_client()


def get(client: FlaskClient, path: str = f"/{TOKEN}/", **headers: str) -> TestResponse:
    return client.get(path, headers={"Host": f"127.0.0.1:{PORT}"} | headers)


def post(client: FlaskClient, given: dict[str, Any], do: str = "answer", **headers: str | None) -> TestResponse:
    wanted = {name: value for name, value in (FROM_HERE | headers).items() if value is not None}
    return client.post(f"/{TOKEN}/", data={"form": "a", "turn": "1", "do": do} | given, headers=wanted)


def by_id(reply: TestResponse, name: str) -> str:
    """The text of an element of a page that must be valid HTML."""
    tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(reply.text)
    found = next(e for e in tree.iter() if e.get("id") == name)
    return " ".join(" ".join(found.itertext()).split())


def test_the_first_page_is_an_empty_form(client: FlaskClient) -> None:
    reply = get(client)
    assert (reply.status_code, reply.mimetype) == (200, "text/html")
    assert by_id(reply, "answer") == language().say("counter", "start")
    for name in names(form(Settings(), language())):
        assert f'name="{name}"' in reply.text
    assert "Access-Control-Allow-Origin" not in reply.headers


def test_the_answer_has_the_words_of_the_terminal(client: FlaskClient, tmp_path: Path) -> None:
    reply = post(client, BAR)
    d = solve(Piece(**BAR), find_settings(tmp_path / "shop.toml")).document
    short, last = answer(d, page="x").rstrip().rsplit("\n", 1)
    assert "alloysolve" in last  # how to print and keep it at a terminal; here there are buttons
    assert by_id(reply, "answer") == " ".join(short.split())
    assert by_id(reply, "more") == " ".join(answer(d, more=True).split())
    assert 'value="31.18"' in reply.text


def test_a_slip_is_told_next_to_its_field_and_nothing_is_answered(client: FlaskClient) -> None:
    reply = post(client, BAR | {"mass": "31.1x"})
    assert by_id(reply, "e-mass").startswith("mass: '31.1x': expected a mass in g")
    assert by_id(reply, "answer") == "No answer until this is put right: mass."
    assert 'value="31.1x"' in reply.text


def test_without_a_reading_it_waits(client: FlaskClient) -> None:
    assert by_id(post(client, {"claim": "silver 999"}), "answer") == language().say("counter", "start")


def test_a_hostile_name_is_only_text(client: FlaskClient) -> None:
    reply = post(client, BAR | {"name": HOSTILE, "mass": HOSTILE[:60]})
    kept = post(client, BAR | {"name": HOSTILE}, do="keep")
    sheet = post(client, BAR | {"name": HOSTILE}, do="page")
    for shown in (reply, kept, sheet):
        assert shown.status_code == 200
        assert "<script>alert" not in shown.text
        assert "<img" not in shown.text
        html5lib.HTMLParser(strict=True).parse(shown.text)
    assert " ".join(HOSTILE.split()) in by_id(kept, "records")


def test_a_record_is_kept_once_for_one_asking(client: FlaskClient, tmp_path: Path) -> None:
    assert not (tmp_path / "records").exists()
    first, again = post(client, BAR, do="keep"), post(client, BAR, do="keep")
    assert [f.name for f in (tmp_path / "records").iterdir()] == ["000001.json"]
    assert by_id(first, "answer").startswith("Record 1 is kept. These readings")
    assert by_id(again, "answer").startswith("Record 1 is kept already. ")
    post(client, BAR | {"form": "another"}, do="keep")  # a second coin of the same weight
    post(client, BAR | {"magnet": "none"}, do="keep")  # the same piece, read further
    assert sorted(f.name for f in (tmp_path / "records").iterdir()) == ["000001.json", "000002.json", "000003.json"]
    assert by_id(get(client), "records").split()[0] == "3"


def test_records_of_other_days_and_damaged_ones_are_not_listed(
    client: FlaskClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    post(client, BAR, do="keep")
    (tmp_path / "records" / "000002.json").write_text("{")
    assert by_id(get(client), "records").split()[0] == "1"

    tomorrow = today() + timedelta(days=1)
    monkeypatch.setattr(desks, "today", lambda: tomorrow)
    assert by_id(get(client), "records") == language().say("counter", "none_kept")


def test_the_day_may_be_that_of_source_date_epoch(client: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1000043200")  # 2001-09-09, 13:46 UTC
    post(client, BAR, do="keep")
    assert by_id(get(client), "records").split()[0] == "1"
    assert "2001-09-09" in post(client, BAR, do="page").text
    monkeypatch.delenv("SOURCE_DATE_EPOCH")
    assert by_id(get(client), "records") == language().say("counter", "none_kept")


def test_nothing_is_kept_of_what_is_wrong_and_the_field_is_named(client: FlaskClient, tmp_path: Path) -> None:
    reply = post(client, BAR | {"magnet": "none", "conductivity": "29 %IACS", "conductivity.u": "much"}, do="keep")
    fields = "conductivity: uncertainty, if known"
    assert by_id(reply, "answer") == f"Nothing was kept. No answer until this is put right: {fields}."
    assert not (tmp_path / "records").exists()


def test_the_page_for_the_seller_has_no_script_and_is_that_of_the_piece(client: FlaskClient) -> None:
    sheet = post(client, BAR | {"name": "0117"}, do="page")
    assert "Piece 0117" in sheet.text
    assert "script" not in sheet.headers["Content-Security-Policy"]
    post(client, BAR | {"name": "0117"}, do="keep")
    assert "Piece 0117" in get(client, f"/{TOKEN}/record/1").text
    assert get(client, f"/{TOKEN}/record/9").status_code == 422
    for path in (
        "record/../1",
        "record/%2e%2e/1",
        "record/x",
        "record/1.json",
        "static/../app.py",
        "static/%2e%2e/app.py",
    ):
        assert get(client, f"/{TOKEN}/{path}").status_code == 404, path


def test_the_page_is_in_the_language_of_the_seller(client: FlaskClient) -> None:
    sheet = post(client, BAR | {"language": "de"}, do="page")
    assert '<html lang="de"' in sheet.text
    assert "speak against" in by_id(post(client, BAR | {"language": "de"}), "answer")  # the screen is the tester's
    assert '<option value="de" lang="de" selected>' in post(client, BAR | {"language": "de"}).text
    for other in ("xx", "../words/de", "/etc/passwd"):
        assert post(client, BAR | {"language": other}, do="page").status_code == 422


def test_an_answer_that_is_not_kept_is_dropped_only_when_asked_again(client: FlaskClient) -> None:
    unkept = language().say("counter", "unkept")
    first = post(client, BAR, do="next")
    assert by_id(first, "answer").startswith(unkept)
    assert 'value="31.18"' in first.text
    assert by_id(post(client, BAR | {"magnet": "none"}, do="next"), "answer").startswith(unkept)  # another answer
    assert post(client, BAR | {"magnet": "none"}, do="next").status_code == 303
    post(client, BAR | {"form": "b"}, do="keep")
    assert post(client, BAR | {"form": "b"}, do="next").status_code == 303
    assert by_id(post(client, BAR | {"form": "c"}, do="next"), "answer").startswith(unkept)  # another piece like it


def test_the_next_piece_begins_with_an_empty_form(client: FlaskClient) -> None:
    reply = post(client, {"claim": "silver 999", "mass": "31.18"}, do="next")  # there is no answer yet
    assert (reply.status_code, reply.location) == (303, f"/{TOKEN}/")
    forms = {re.search('name="form" value="(.*?)"', get(client).text)[1] for _ in range(5)}  # type: ignore[index]
    assert len(forms) == 5


def test_pieces_sent_at_once_get_their_own_answers(desk: Desk) -> None:
    app = counter_app(desk, TOKEN, PORT)
    masses = [31.10 + k / 100 for k in range(8)]
    with ThreadPoolExecutor(4) as pool:
        replies = list(pool.map(lambda m: post(app.test_client(), BAR | {"mass": str(m), "form": str(m)}), masses))
    for mass, reply in zip(masses, replies, strict=True):
        assert f": {mass:.2f} g of it would" in by_id(reply, "answer")


def test_a_later_question_of_the_same_form_makes_an_earlier_one_void(client: FlaskClient) -> None:
    assert post(client, BAR | {"turn": "5"}).status_code == 200
    assert post(client, BAR | {"turn": "4"}).status_code == 204
    assert post(client, BAR | {"turn": "4", "form": "b"}).status_code == 200
    for turn in "43":  # what a button asks for is done
        assert "Record 1 is kept" in by_id(post(client, BAR | {"turn": turn}, do="keep"), "answer")


@pytest.mark.parametrize("host", ["evil.example", "evil.example:4779", "127.0.0.1", "127.0.0.1:80", "[::1]:4779", ""])
def test_another_host_name_is_refused(client: FlaskClient, host: str) -> None:
    for path in ("/", f"/{TOKEN}/", f"/{TOKEN}/static/counter.js", f"/start/{START}"):
        assert get(client, path, Host=host).status_code in (400, 403), path
    assert post(client, BAR, Host=host, Origin=f"http://{host}").status_code in (400, 403)


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost"])
def test_both_names_of_this_machine_are_answered(client: FlaskClient, name: str) -> None:
    assert get(client, Host=f"{name}:{PORT}").status_code == 200
    assert post(client, BAR, Host=f"{name}:{PORT}", Origin=f"http://{name}:{PORT}").status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:4780"},
        {"Origin": f"https://127.0.0.1:{PORT}"},
        {"Origin": f"http://127.0.0.1:{PORT}.evil.example"},
        {"Origin": None},
        {"Origin": None, "Referer": "http://evil.example/127.0.0.1:4779/"},
        {"Content-Type": "text/plain"},
        {"Content-Type": "multipart/form-data; boundary=x"},
    ],
)
def test_a_form_of_another_page_is_refused(client: FlaskClient, headers: dict[str, str | None]) -> None:
    assert post(client, BAR, do="keep", **headers).status_code == 403
    assert post(client, BAR, Origin=None, Referer=f"{HERE}/{TOKEN}/").status_code == 200


@pytest.mark.parametrize(
    "path", ["/", "/other/", "/token", "/other/static/counter.js", "/record/1", "/start/", "/start/x"]
)
def test_an_address_that_was_not_given_shows_nothing(client: FlaskClient, path: str) -> None:
    reply = get(client, path)
    assert reply.status_code in ((308,) if path == "/token" else (404,))
    assert "form" not in reply.text


def test_the_address_for_starting_a_browser_works_once(client: FlaskClient) -> None:
    assert get(client, f"/start/{START}").location == f"/{TOKEN}/"
    assert get(client, f"/start/{START}").status_code == 404


def test_each_refusal_has_its_own_words(client: FlaskClient) -> None:
    put = client.put(f"/{TOKEN}/", headers=FROM_HERE)
    large, lost = post(client, {"note": "x" * MOST_BYTES}), get(client, "/other/")
    told = [(put, 405, "method"), (large, 413, "large"), (lost, 404, "elsewhere")]
    for reply, code, words in told:
        assert (reply.status_code, reply.text) == (code, language().say("counter", words) + "\n")
    assert "more was sent" not in client.get(f"/{TOKEN}/", headers={"Host": "x y"}).text


def test_a_large_body_is_refused(client: FlaskClient) -> None:
    assert post(client, {"note": "x" * (MOST_BYTES - 200)}).status_code == 200
    assert post(client, {"note": "x" * MOST_BYTES}).status_code == 413


def test_every_reply_forbids_scripts_in_the_page_and_the_network(client: FlaskClient) -> None:
    replies = [get(client), post(client, BAR), post(client, BAR, do="page"), get(client, "/"), get(client, Host="x")]
    for reply in replies:
        policy = reply.headers["Content-Security-Policy"]
        assert policy.startswith("default-src 'none'")
        assert "base-uri 'none'" in policy
        assert "script-src 'self'" in policy or "script" not in policy
        assert not any(name.startswith("Access-Control") for name, _ in reply.headers)
        assert reply.headers["Cache-Control"] == "no-store"
        assert reply.headers["Referrer-Policy"] == "same-origin"
    assert "unsafe" not in replies[0].headers["Content-Security-Policy"]
    for inline in (r"<script(?![^>]* src=\")", r"\son\w+=", r"<style", r"\sstyle="):
        assert re.search(inline, replies[1].text) is None, inline
    assert re.search(r"(src|href|action)=\"(https?:)?//", replies[1].text) is None


@pytest.fixture
def opened() -> Iterator[list[str]]:
    """The names of all files opened meanwhile."""
    files: list[str] = []
    watching = [True]

    def hear(event: str, args: tuple[Any, ...]) -> None:
        if watching and event == "open":
            files.append(str(args[0]))

    sys.addaudithook(hear)
    yield files
    watching.clear()


def test_no_field_opens_a_file(client: FlaskClient, opened: list[str], tmp_path: Path) -> None:
    from scipy.io import wavfile

    wav, toml = tmp_path / "tap.wav", EXAMPLES / "0117-silver-bar.toml"
    wavfile.write(wav, 44100, np.zeros(44100, dtype="int16"))
    opened.clear()
    for name in [*names(form(Settings(), language())), "resonance.recording", "reading.0.recording", "prior", "tables"]:
        for file in (wav, toml):
            post(client, {"mass": "3 g", "density": "9", name: str(file)})
    assert not [f for f in opened if str(tmp_path / "tap") in f or f == str(toml)]
    assert "not a file" in by_id(post(client, {"resonance": str(wav)}), "e-resonance")


def test_settings_are_read_again_and_a_slip_in_them_is_told(client: FlaskClient, tmp_path: Path) -> None:
    shop = tmp_path / "shop.toml"
    before = by_id(post(client, BAR), "answer")
    shop.write_text(shop.read_text() + 'scale.step = "0.5 g"\n')
    assert by_id(post(client, BAR), "answer") != before
    shop.write_text('scale.stop = "0.5 g"\n')
    reply = post(client, BAR)
    assert reply.status_code == 422
    assert 'the nearest known is "step"' in reply.text
