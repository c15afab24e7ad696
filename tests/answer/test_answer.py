"""An answer read back from its document says what the fresh one said, is small, and is sent between processes."""

import copy
import json
import pickle
from concurrent.futures import ThreadPoolExecutor

import jsonschema
import pytest

from alloysolve import Answer, InputError, Settings, Solution, find_settings, read_piece, schema, solve
from alloysolve.words.terminal import answer as words
from tests.conftest import EXAMPLES

FILES = sorted(EXAMPLES.glob("0*.toml"))


@pytest.fixture(scope="module", params=FILES, ids=lambda f: f.stem)
def fresh(request):
    return solve(read_piece(request.param))


def test_it_offers_what_the_fresh_answer_offered(fresh):
    kept = Solution.from_json(fresh.to_json())
    assert type(kept) is Answer
    assert kept.to_json() == fresh.to_json()
    assert kept == Answer.from_dict(fresh.to_dict())
    assert kept.systems.equals(fresh.systems)
    assert kept.candidates.equals(fresh.candidates)
    assert repr(kept) == repr(fresh).replace("Solution", "Answer")
    assert kept._repr_html_() == fresh._repr_html_().replace("Solution", "Answer")
    assert words(kept.document) == words(fresh.document)


def test_its_values_are_those_of_the_fresh_answer_rounded(fresh):
    kept = Answer.from_dict(fresh.to_dict())
    assert (kept.decision is None) == (fresh.decision is None)
    if fresh.decision:
        assert kept.claim.text == fresh.claim.text
        assert kept.decision.code == fresh.decision.code
        assert [r.code for r in kept.decision.reasons] == [r.code for r in fresh.decision.reasons]
        assert kept.decision.p == pytest.approx(fresh.decision.p, rel=5e-3)
        assert kept.decision.false_alarm == fresh.decision.false_alarm
    assert (kept.density is None) == (fresh.density is None)
    if fresh.density:
        assert kept.density.value == pytest.approx(fresh.density.value, abs=fresh.density.u / 10)
        assert kept.density.u == pytest.approx(fresh.density.u, rel=0.05)
    assert set(kept.precious) == set(fresh.precious)
    for symbol, m in kept.precious.items():
        was = fresh.precious[symbol]
        assert (m.value, m.u, m.unit) == (
            pytest.approx(was.value, abs=was.u / 10),
            pytest.approx(was.u, 0.05),
            was.unit,
        )
    for name in ("conflicts", "next_readings", "blind_spots"):
        assert [set(x) for x in getattr(kept, name)] == [set(x) for x in getattr(fresh, name)]
    assert [x["kind"] for x in kept.next_readings] == [x["kind"] for x in fresh.next_readings]


def test_a_solution_is_sent_as_its_document_alone(fresh):
    text = pickle.dumps(fresh)
    assert len(text) < 100_000
    assert pickle.loads(text) == Answer.from_dict(fresh.to_dict())
    assert copy.copy(fresh) is fresh  # a copy loses nothing
    assert copy.deepcopy(fresh) is fresh


def test_its_own_piece_and_settings_are_accepted_back(fresh):
    d = fresh.to_dict()
    assert solve(d["inputs"], d["settings"]).to_json() == fresh.to_json()


def test_the_settings_of_a_file_are_accepted_back_and_say_that_they_were_chosen():
    shop = find_settings(EXAMPLES / "counter.toml")
    d = solve(read_piece(FILES[0]), shop).to_dict()
    again = Settings.from_dict(d["settings"])
    assert (again.origin, again.scale.step, again.readings) == ("option", shop.scale.step, shop.readings)
    assert solve(d["inputs"], again).to_dict() == d
    jsonschema.Draft202012Validator(schema("settings")).validate(d["settings"])
    with pytest.raises(InputError, match="origin"):
        Settings.from_dict({"origin": "elsewhere"})


@pytest.mark.parametrize(
    ("given", "path"),
    [
        ("no JSON", "answer"),
        ("[]", "answer"),
        ("{}", "answer"),
        ('{"schema": "alloysolve.solution/9"}', "answer"),
        ('{"schema": "alloysolve.solution/1"}', "answer.version"),
    ],
)
def test_what_is_no_answer_is_an_error_that_says_what_to_do(given, path):
    with pytest.raises(InputError) as e:
        Answer.from_json(given)
    assert e.value.path == path
    assert e.value.next_step


def test_threads_read_frames_of_one_solution_alike():
    s = solve({"claim": "silver 999", "mass": "31.18 g", "displaced": "3.64 g"})
    with ThreadPoolExecutor(4) as pool:
        texts = set(pool.map(lambda _: s.candidates.to_csv() + s.to_json() + json.dumps(s.to_dict()), range(8)))
    assert len(texts) == 1
