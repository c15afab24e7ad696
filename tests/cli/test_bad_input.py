"""Bad input: one line on stderr, exit code 2, nothing on stdout, nothing written."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Run

KNOWN_CLAIM = '"silver 999", "sterling", "18 ct yellow", "platinum 950", "gold filled 1/20 14 ct" or "brass"'
MASS = 'a mass in g, kg, mg, ozt, "oz av", dwt, grain or tola'
WEIGHED = ("solve", "--mass", "31.18", "--displaced")

# (arguments, files, standard input, stderr)
CASES: list[tuple[tuple[str, ...], dict[str, bytes], str, str]] = [
    ((*WEIGHED, "-3"), {}, "", f"error: displaced: '-3': expected {MASS}, above 0; write for example \"31.18 g\""),
    ((*WEIGHED, "0"), {}, "", f"error: displaced: '0': expected {MASS}, above 0; write for example \"31.18 g\""),
    ((*WEIGHED, "inf"), {}, "", f"error: displaced: 'inf': expected {MASS}; write for example \"31.18 g\""),
    (
        (*WEIGHED, "40"),
        {},
        "",
        "error: displaced: '40 g': expected less than the mass in air, 31.18 g; check that the piece hung free of "
        "the bottom and that the water pushed aside was typed",
    ),
    (
        ("solve", "--mass", "31.18"),
        {},
        "",
        "error: piece: 'mass 31.18 g': expected at least one reading; give mass and displaced (or in_water), "
        "density, conductivity, resistivity or magnet",
    ),
    (
        ("solve",),
        {},
        "",
        "error: piece: nothing given: expected a piece file or what was read; write for example "
        '--claim "silver 999" --mass 31.18 --displaced 3.64, or be asked: alloysolve solve --ask',
    ),
    (
        (*WEIGHED, "3", "--mass", "3.118", "--claim", "silver 999"),
        {},
        "",
        "error: --mass: '31.18, 3.118': expected one value; leave out all but one",
    ),
    (
        ("solve", "--mass", "1 oz", "--displaced", "3"),
        {},
        "",
        'error: mass: \'1 oz\': expected "ozt" (troy ounce, 31.1035 g) or "oz av" (avoirdupois ounce, 28.3495 g); '
        "say which ounce, or give g",
    ),
    (
        ("solve", "--mass", "1,234", "--displaced", "3"),
        {},
        "",
        "error: mass: '1,234': expected a number whose comma cannot be a thousands mark; write 1.234 or 1234",
    ),
    (
        ("solve", "--density", "30"),
        {},
        "",
        "error: density: '30 g/cm3': expected 0.5 to 25 g/cm3; check the decimal mark and the unit",
    ),
    (
        ("solve", "--density", "8.5", "--claim", "unobtainium"),
        {},
        "",
        f"error: claim: 'unobtainium': expected a claim such as {KNOWN_CLAIM}; \"unobtainium\" is not understood; "
        'leave "unobtainium" out if it says nothing of the metal; of a coin, say country, value and '
        'year, for example "US silver dollar 1921"',
    ),
    (
        ("solve", "--density", "8.5", "--claim", "900"),
        {},
        "",
        'error: claim: \'900\': expected the metal too: "gold 900" or "platinum 900" or "silver 900"; write which '
        "metal it is said to be",
    ),
    (
        ("solve", "--density", "8", "--ring", "18x21x2"),
        {},
        "",
        "error: ring: '18 mm x 21 mm x 2 mm': expected an inner diameter below the outer one; give outer diameter, "
        "inner diameter, height in this order",
    ),
    (
        ("solve", "-"),
        {},
        '{"mass": "3 g", "displaced": "1 g", "masss": 1}',
        "error: masss: 'masss': expected a known field of a piece; the nearest known is \"mass\"",
    ),
    (
        ("solve", "piece.toml"),
        {"piece.toml": b""},
        "",
        "error: piece.toml: '': expected a piece file; write for example mass = \"31.18 g\"",
    ),
    (
        ("solve", "piece.toml"),
        {"piece.toml": b'mass = "3 g"\ndisplaced = '},
        "",
        "error: piece.toml:2: 'displaced =': expected a document in TOML; mend line 2: Invalid value",
    ),
    (
        ("solve", "missing.toml"),
        {},
        "",
        "error: missing.toml: 'No such file or directory': expected a file that can be read; check the path",
    ),
    (
        ("solve", "--density", "8.5", "--prior", "wishful"),
        {},
        "",
        'error: prior: \'wishful\': expected "default", "flat" or a CSV file of family and weight; choose one of them',
    ),
    (
        ("solve", "--density", "8.5", "--tables", "nope.csv"),
        {},
        "",
        None,  # names every table; only its beginning is pinned below
    ),
    (
        ("solve", "--density", "8.5", "--save"),
        {},
        "",
        "error: --save: '': expected a piece file to write to; name the file before the options",
    ),
    (
        ("solve", "--mas", "3"),
        {},
        "",
        "error: No such option '--mas'. (Did you mean one of: '--ask', '--mass', '--parts'?) See alloysolve --help, or "
        "--help behind a command.",
    ),
    (
        ("solve", "piece.toml", "--magnet", "none", "--save"),
        {"piece.toml": b'mass = "3 g"\nclaim = "gld 999"\n'},
        "",
        None,
    ),
    (
        ("weigh", "31.18", "3.64", "--settings", "shop.toml"),
        {"shop.toml": b'[scale]\nstepp = "0.1 g"\n'},
        "",
        None,
    ),
]


@pytest.mark.parametrize(("args", "files", "stdin", "stderr"), CASES, ids=lambda x: str(x)[:50])
def test_one_line_on_stderr_and_nothing_written(
    args: tuple[str, ...],
    files: dict[str, bytes],
    stdin: str,
    stderr: str | None,
    run: Callable[..., Run],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    for name, raw in files.items():
        Path(name).write_bytes(raw)
    ended = run(*args, stdin=stdin)
    assert ended.code == 2
    assert ended.out == ""
    assert ended.err.startswith("error: ")
    assert ended.err.count("\n") == 1
    if stderr is not None:
        assert ended.err == stderr + "\n"
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == files


def test_a_bad_table_names_file_line_column_and_value(
    run: Callable[..., Run], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("inclusions.csv").write_text(
        "name,density_g_cm3,u_density_g_cm3,do_not_wet,source,caveat\nmoonstone,heavy,0.01,no,memory,\n"
    )
    ended = run("tables", "inclusions", "--tables", "inclusions.csv")
    assert ended.code == 2
    assert ended.err == "error: inclusions.csv:2:density_g_cm3: 'heavy': expected a number; mend the cell\n"


@pytest.mark.parametrize(
    ("args", "step"),
    [
        (("record", "1"), 'the nearest known is "records"'),
        (("solve", "silver", "999"), '--claim "silver 999" --mass 31.18'),
        (("solve", "31.18", "3.64"), "--displaced 3.64"),
    ],
)
def test_what_a_hurried_person_types_is_answered_with_how_to_write_it(run, args, step):
    ended = run(*args)
    assert (ended.code, ended.out, ended.err.count("\n")) == (2, "", 1)
    assert step in ended.err


def test_one_of_several_parts_is_named_by_the_option(run):
    weighed = ("--mass", "31.18", "--displaced", "2.97", "--claim", "silver 999")
    assert run("solve", *weighed, "--parts", "diamond").err.startswith("error: parts: 'diamond': expected a name and a")
    assert run("solve", *weighed, "--parts=ruby 1 ct", "--parts=opal").err.startswith("error: parts: 'opal'")
