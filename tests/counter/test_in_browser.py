"""A day at the counter in Debian's Chromium, by keys alone; skipped where there is no Chromium."""

from __future__ import annotations

import json
import signal
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from alloysolve.answer.search import records
from alloysolve.words.language import language
from tests.chromium import ALT, Browser, Tab, browser, chromium
from tests.counter.served import Served, served

SAY = language()
SHOP = 'scale.wetting = "brushed"\nreadings.own = ["magnet", "conductivity"]\nrecords.folder = "kept"\n'
PRINTS = "window.print = () => { window.top.printed = document.body.innerText }"  # there is no printer here
# what is typed at each field of twelve pieces, in the order of the form, and a word of each answer
DAY: tuple[tuple[dict[str, str], str], ...] = (
    ({"name": "1", "claim": "silver 999", "mass": "31.10", "displaced": "2.96", "magnet": "n"}, "silver 999"),
    ({"name": "2", "claim": "silver 999", "mass": "31.18", "displaced": "3.64 3.63", "magnet": "n"}, "speak against"),
    ({"name": "3", "claim": "18 ct yellow", "mass": "2.84", "displaced": "0.19"}, "cannot decide"),
    ({"name": "4", "claim": "18 ct", "mass": "4,20", "displaced": "0,27", "parts": "diamond 0.25 carat"}, "18 ct"),
    ({"name": "5", "claim": "14 ct", "mass": "12.3", "displaced": "1.1", "hollow": "p"}, "14 ct"),
    ({"name": "6", "claim": "silver plated brass", "mass": "200", "displaced": "24.1"}, "silver plated brass"),
    ({"name": "7", "claim": "US-5c", "mass": "5.00", "displaced": "0.56"}, "US-5c"),
    ({"name": "8", "claim": "gold 999", "mass": "1 ozt", "displaced": "1.62", "conductivity": "75 %IACS"}, "gold 999"),
    ({"name": "9", "mass": "15.2", "displaced": "2.1", "magnet": "s"}, "No claim was given"),
    ({"name": "10", "claim": "silver 925", "mass": "62.10", "displaced": "6.05", "count": "2"}, "silver 925"),
    ({"name": "11", "claim": "silver 999", "mass": "31.1", "bar": "50x28x2.6"}, "silver 999"),
    ({"name": "12", "claim": "gold 916", "mass": "7.98", "displaced": "0.46", "disc": "22.05x1.52"}, "gold 916"),
)


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    file = tmp_path / "shop.toml"
    file.write_text(SHOP)
    return file


@pytest.fixture
def counter(shop: Path) -> Iterator[Served]:
    with served("--no-browser", "--settings", str(shop)) as running:
        yield running


@pytest.fixture(scope="module")
def window(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with chromium(tmp_path_factory.mktemp("chromium")) as running:
        yield running


@pytest.fixture
def at_work(window: Browser) -> Browser:
    return window.cleared()


def fill(tab: Tab, given: dict[str, str]) -> None:
    """Types values field by field; a group that is folded away is opened with the space bar."""
    for name, value in given.items():
        if tab.js(f"document.getElementsByName({json.dumps(name)})[0].checkVisibility()") is False:
            tab.tab_to_group_of(name)
            tab.press(" ")
        tab.tab_to(name)
        tab.write(value)


def has(selector: str, text: str) -> str:
    """A condition for `Tab.until`: an element shows a text, and nothing is being worked on."""
    shown = f"document.querySelector({json.dumps(selector)})?.innerText.includes({json.dumps(text)})"
    return f"Boolean({shown}) && document.body.className === ''"


def nothing_to_say(at_work: Browser) -> bool:
    """Whether the console stayed empty: no error, and nothing that the policy had to refuse."""
    return not [e for e in at_work.events if e["method"] in ("Log.entryAdded", "Runtime.exceptionThrown")]


@browser
@pytest.mark.slow
def test_a_day_of_twelve_pieces_by_keys_alone(counter: Served, at_work: Browser, shop: Path) -> None:
    tab = at_work.tab(counter.address, PRINTS)
    for given, word in DAY:
        assert tab.js("document.activeElement.name") == "name"  # ready for the next piece
        fill(tab, given)
        tab.until(has("#answer .short", word))  # as one types
        tab.press("Enter")
        tab.until(has("#answer .short", word))
        assert tab.js("document.querySelectorAll('.wrong:not(:empty)').length") == 0
        tab.press("k", ALT)
        tab.until(has("#answer", "Record "))
        if given["name"] == "2":
            tab.press("p", ALT)
            assert "Piece 2" in tab.until("window.printed")
        tab.press("n", ALT)
        tab.until("document.getElementsByName('mass')[0].value === '' && document.readyState === 'complete'")
    kept = records(shop.parent / "kept")
    assert [r.name for r in kept] == [given["name"] for given, _ in DAY]
    assert tab.text("#records").splitlines()[0].split()[:2] == ["12", "12"]
    assert nothing_to_say(at_work)


@browser
def test_a_slip_is_shown_at_its_field_and_enter_leads_to_it(counter: Served, at_work: Browser) -> None:
    tab = at_work.tab(counter.address)
    fill(tab, {"claim": "silver 999", "mass": "31.1x", "displaced": "3.64"})
    tab.until(has("[id='e-mass']", "mass: '31.1x': expected a mass in g"))
    assert tab.text("#answer") == SAY.say("counter", "mend", fields="mass")  # and no answer to something else
    tab.press("Enter")
    tab.until("document.activeElement.name === 'mass'")
    tab.js("document.activeElement.select()")
    tab.write("31.18")
    tab.until(has("#answer .short", "speak against"))
    assert tab.js("document.querySelectorAll('[aria-invalid]').length") == 0


@browser
def test_a_hostile_name_does_nothing(counter: Served, at_work: Browser) -> None:
    name = "<script>top.hit = 1</script>\"'><img src=x onerror='top.hit = 1'>" * 200
    tab = at_work.tab(counter.address, PRINTS)
    fill(tab, {"name": name, "claim": "silver 999", "mass": "31.18", "displaced": "3.64"})
    tab.until(has("#answer .short", "speak against"))
    tab.press("k", ALT)
    tab.until(has("#records", "<img src=x"))
    tab.press("p", ALT)
    assert "<script>top.hit" in tab.until("window.printed")
    tab.press("n", ALT)
    tab.until(has("#records", "<img src=x"))
    assert tab.js("window.hit") is None
    assert nothing_to_say(at_work)


@browser
def test_the_next_piece_waits_for_a_second_press_where_the_answer_is_not_kept(
    counter: Served, at_work: Browser
) -> None:
    tab = at_work.tab(counter.address)
    assert tab.js("document.getElementById('f-hollow').options[0].text") == "no"
    fill(tab, {"claim": "silver 999", "mass": "31.18", "displaced": "3.64"})
    tab.press("n", ALT)
    tab.until(has("#answer", SAY.say("counter", "unkept")))
    assert tab.js("document.getElementsByName('mass')[0].value") == "31.18"
    tab.press("n", ALT)
    tab.until("document.getElementsByName('mass')[0].value === '' && document.readyState === 'complete'")


@browser
def test_two_tabs_do_not_disturb_each_other(counter: Served, at_work: Browser, shop: Path) -> None:
    one, other = at_work.tab(counter.address), at_work.tab(counter.address)
    one.front()
    fill(one, {"name": "ring", "claim": "gold 750", "mass": "4.20"})
    other.front()
    fill(other, {"name": "bar", "claim": "silver 999", "mass": "31.18", "displaced": "3.64"})
    one.front()
    fill(one, {"displaced": "0.27"})
    one.until(has("#answer .short", "gold 750"))
    other.until(has("#answer .short", "silver 999"))
    for tab in (one, other):
        tab.front()
        tab.press("k", ALT)
        tab.until(has("#answer", "Record "))
    assert [(r.name, r.claim) for r in records(shop.parent / "kept")] == [("ring", "gold 750"), ("bar", "silver 999")]


@browser
def test_what_was_typed_survives_the_program_and_goes_on_with_the_next(
    counter: Served, at_work: Browser, shop: Path
) -> None:
    tab = at_work.tab(counter.address)
    fill(tab, {"claim": "silver 999", "mass": "31.18", "displaced": "3.64"})
    tab.until(has("#answer .short", "speak against"))
    counter.stop(signal.SIGKILL)
    fill(tab, {"magnet": "n"})
    tab.until("document.body.className === 'stale'")
    for key in ("k", "p", "n"):  # no button may lose what was typed
        assert tab.text("#status") == SAY.say("counter", "stopped")
        tab.press(key, ALT)
        tab.until("document.body.className === 'stale'")
    port = urlsplit(counter.address).port
    with served("--no-browser", "--settings", str(shop), "--port", str(port)) as again:
        fill(tab, {"conductivity": "29 %IACS"})
        tab.until(f"document.getElementById('status').innerText === {json.dumps(SAY.say('counter', 'elsewhere'))}")
        at_work.tab(again.address)  # as the program does by itself
        tab.front()
        tab.until(has("#answer .short", "speak against"))
        assert [tab.js(f"document.getElementsByName('{name}')[0].value") for name in ("mass", "magnet")] == [
            "31.18",
            "none",
        ]
        tab.press("k", ALT)
        tab.until(has("#answer", "Record 1 is kept."))


@browser
def test_without_javascript_enter_and_the_buttons_do_the_same(counter: Served, at_work: Browser) -> None:
    tab = at_work.tab("about:blank#")
    tab.call("Emulation.setScriptExecutionDisabled", value=True)
    tab.open(counter.address)
    fill(tab, {"name": "bar", "claim": "silver 999", "mass": "31.18", "displaced": "3.64"})
    tab.press("Enter")
    tab.until("document.querySelector('#answer .short')?.innerText.includes('speak against') === true")
    tab.press("k", ALT)
    tab.until("document.querySelector('#answer').innerText.includes('Record 1 is kept.')")
    assert tab.js("document.getElementsByName('mass')[0].value") == "31.18"
    tab.press("n", ALT)
    tab.until("document.getElementsByName('mass')[0].value === ''")


@browser
@pytest.mark.parametrize(("width", "height"), [(1280, 800), (1024, 768)])
def test_the_form_needs_no_scrolling(counter: Served, at_work: Browser, width: int, height: int) -> None:
    tab = at_work.tab(counter.address)
    tab.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
    assert tab.js("document.getElementById('piece').getBoundingClientRect().bottom") <= height
    assert tab.js("document.documentElement.scrollWidth") <= width
