"""The shipped tables: they load, agree with each other, can be extended, and bad rows are named."""

from __future__ import annotations

import csv
import re
import typing
from collections import Counter
from pathlib import Path
from typing import Any

import periodictable
import pytest
from scipy.optimize import linprog

from alloysolve.errors import TableError
from alloysolve.pieces.constructions import CONSTRUCTIONS
from alloysolve.published.load import KEYS, RECORDS, Tables, default_tables, folder
from alloysolve.published.metals import Metal

# Where the package prints a figure known to be another form or an old one, per cent it may differ.
FORM_DIFFERS = {
    "N": 30.0,  # liquid there, frozen here; it takes no volume beside metals
    "C": 3.0,  # 2.2 there is porous carbon, ours is graphite 2.26
    "Mn": 1.5,  # sources print 7.2 to 7.47
    "Ti": 0.9,  # 4.54 there is an old handbook figure, the cell gives 4.50
}
# Sums of the same alloys differ from 100 by rounding and by interstitials that were left out.
SUM_TOLERANCE = 0.6


def _lines(name: str) -> list[dict[str, str]]:
    path = folder() / f"{name}.csv"
    if not path.is_file():
        pytest.skip(f"{name}.csv does not exist yet")
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _types(name: str) -> dict[str, Any]:
    return typing.get_type_hints(RECORDS[name])


def _write(path: Path, rows: list[dict[str, str]]) -> Path:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return path


def _symbols(row: object) -> set[str]:
    """Every symbol a row speaks of; "Fe-fcc" is iron. Groups of metals may be wider than the table."""
    out: set[str] = set()
    for column in ("composition", "limits"):
        out |= {s for named in getattr(row, column, {}) for s in named.split("+")}
    for column in ("first", "second", "beside", "symbol", "metal", "system"):
        value = getattr(row, column, "")
        out |= {s.removesuffix("-fcc") for s in value.split()} if isinstance(value, str) else set()
    return out


def _materials(row: object) -> set[str]:
    """What a row names as a material of skins, faces or parts."""
    return {*getattr(row, "skins", {}), *filter(None, (getattr(row, column, "") for column in ("faces", "part")))}


@pytest.mark.parametrize("name", RECORDS)
def test_table_loads_and_no_key_stands_twice(name: str) -> None:
    lines = _lines(name)
    assert lines
    assert len(Tables().rows(name)) == len(lines)


@pytest.mark.parametrize("name", RECORDS)
def test_every_source_key_resolves(name: str) -> None:
    known = {s.key for s in default_tables().rows("SOURCES")}
    for line in _lines(name):
        for column in line:
            if column.startswith("source"):
                assert set(filter(None, line[column].split(";"))) <= known, line


def test_every_row_of_data_names_a_source() -> None:
    for name in ("metals", "grades", "families", "claims", "density_points", "resistivity_points", "coins"):
        assert all(row.source for row in default_tables().rows(name)), name
    for grade in default_tables().grades.values():
        assert bool(grade.source_conductivity) == (grade.conductivity_iacs is not None), grade.name


def test_sources_say_whether_they_were_seen() -> None:
    for source in default_tables().rows("SOURCES"):
        assert source.seen in {"yes", "memory"}
        assert source.citation
        assert source.address or source.seen == "memory" or source.key.startswith("fit-")
        assert source.seen == "memory" or not source.key.startswith("memory")


def test_a_source_is_called_by_what_it_is_and_not_by_a_site() -> None:
    sites = re.compile(r"\b[\w-]+\.(?:com|org|net|info|co|de|uk|us)\b")
    assert [s.citation for s in default_tables().rows("SOURCES") if sites.search(s.citation)] == []


def test_every_source_is_a_work_that_a_row_cites() -> None:
    """A repository is an address, not a work; a source nobody cites is left over."""
    cited = {
        key
        for name in RECORDS
        for line in _lines(name)
        for column in line
        if column.startswith("source")
        for key in line[column].split(";")
    }
    for source in default_tables().rows("SOURCES"):
        assert "github.com" not in source.address, source
        assert source.key in cited, source


@pytest.mark.parametrize("name", RECORDS)
def test_every_symbol_is_a_metal_of_the_table(name: str) -> None:
    _lines(name)
    known = set(default_tables().metals)
    for row in default_tables().rows(name):
        assert _symbols(row) <= known, row


@pytest.mark.parametrize("name", ["claim_priors", "clad", "inserts"])
def test_every_material_is_a_metal_or_a_row_of_the_skins(name: str) -> None:
    known = {*default_tables().metals, *(r.name for r in default_tables().rows("skins"))}
    for row in default_tables().rows(name):
        assert _materials(row), row
        assert _materials(row) <= known, row


def test_skins_are_thinkable() -> None:
    classes = {m.magnetic for m in default_tables().rows("magnet")}
    metals = default_tables().metals
    for skin in default_tables().rows("skins"):
        assert skin.magnetic in classes, skin
        assert (skin.mu_r > 1) == (skin.magnetic != "none"), skin  # what a magnet draws guides the field
        # no layer conducts better than silver, 1.587 uohm cm at 20 degC (CRC Handbook), nor worse than 200
        assert skin.resistivity_uohm_cm is None or 1.58 < skin.resistivity_uohm_cm <= 200, skin
        if set(skin.composition) <= set(metals) and len(skin.composition) == 1:  # plated: never better than the metal
            (symbol,) = skin.composition
            plated = skin.resistivity_uohm_cm or metals[symbol].resistivity_uohm_cm or 0.0
            assert plated >= 0.95 * (metals[symbol].resistivity_uohm_cm or 0.0), skin  # carbon has no one value


def test_shares_of_constructions_are_shares() -> None:
    kinds, keys = default_tables().claim_priors, {c.key for c in CONSTRUCTIONS if c.inserted}
    for kind in kinds.values():
        assert 0 <= kind.enriched < 1, kind  # of the bare pieces
        assert sum(getattr(r, kind.kind) for r in default_tables().rows("strikes")) < 1, kind
        assert sum(kind.skins.values()) == pytest.approx(1.0), kind
        inserted = [r for r in default_tables().rows("inserts") if getattr(r, kind.kind, 0.0) > 0]
        for key in keys:  # a share needs something to put in, and only a claim has a shell
            some = any(r.construction == key for r in inserted)
            assert (getattr(kind, key) > 0) == some, kind
    assert {r.construction for r in default_tables().rows("inserts")} == keys
    for insert in default_tables().rows("inserts"):
        assert 0 < insert.least < insert.most < 1, insert


def test_clad_stock_is_that_of_its_coins() -> None:
    """The core is a family or one composition; the faces have that which the Mint states for the coins."""
    families, skins = default_tables().families, {r.name: r.composition for r in default_tables().rows("skins")}
    assert default_tables().rows("clad")
    for stock in default_tables().rows("clad"):
        assert stock.core in skins or families[stock.core].system.split() == ["Cu"], stock
        assert 0 < stock.share - 3 * stock.u_share < stock.share + 3 * stock.u_share < 1, stock
    assert skins["copper-nickel"] == {"Cu": 75, "Ni": 25}  # quarter and half dollar since 1965 (US Mint)
    assert skins["manganese brass"] == {"Cu": 77, "Zn": 12, "Mn": 7, "Ni": 4}  # dollar since 2000 (US Mint)


def test_counts() -> None:
    tables = default_tables()
    assert len(tables.metals) >= 40
    assert len(tables.grades) >= 130
    assert len(tables.families) >= 60
    assert sum(m.precious for m in tables.metals.values()) == 8  # gold, silver, six platinum metals


@pytest.mark.parametrize("name", ["grades", "density_points", "resistivity_points", "coins", "skins"])
def test_compositions_sum_to_a_hundred(name: str) -> None:
    for row in default_tables().rows(name):
        if row.composition:
            assert sum(row.composition.values()) == pytest.approx(100, abs=SUM_TOLERANCE), row


def _elements() -> list[tuple[str, Metal]]:
    """The metals but for the iron of austenite, which is no bulk element."""
    return [(s, m) for s, m in default_tables().metals.items() if s != "Fe-fcc"]


def test_element_densities_against_an_independent_package() -> None:
    for symbol, metal in _elements():
        other = getattr(periodictable, symbol).density  # g/cm3
        allowed = FORM_DIFFERS.get(symbol, 0.7)
        assert metal.density_g_cm3 == pytest.approx(other, rel=allowed / 100), symbol


def test_molar_masses_against_an_independent_package() -> None:
    for symbol, metal in _elements():
        assert metal.molar_mass_g_mol == pytest.approx(getattr(periodictable, symbol).mass, rel=2e-4), symbol


def test_uncertainties_are_honest() -> None:
    """No published figure is better than 0.05 %; metals.csv holds cells, which are."""
    for name in ("grades", "density_points"):
        for row in default_tables().rows(name):
            assert 0.0005 < row.u_density_g_cm3 / row.density_g_cm3 < 0.035, row
    for metal in default_tables().metals.values():
        assert 0.0002 < metal.u_density_g_cm3 / metal.density_g_cm3 < 0.03, metal.symbol


def test_copper_carries_its_dispute() -> None:
    copper = default_tables().metals["Cu"]
    assert copper.density_g_cm3 == 8.935
    assert "8.93" in copper.caveat
    assert "8.96" in copper.caveat


@pytest.mark.parametrize(
    ("grade", "density", "tolerance"),
    [
        ("cartridge brass 70/30", 8.53, 0.001),  # mill data page and ASM Metals Handbook vol. 1 p. 52
        ("nickel silver 55-18", 8.70, 0.001),  # mill data page and ASM Metals Handbook vol. 1 p. 52
        ("antimonial lead 6 %", 10.88, 0.001),  # ASM Metals Handbook vol. 1 p. 52
        ("platinum-iridium 90/10", 21.55, 0.003),  # kilogram prototypes 21.548 to 21.552
        ("crown gold 916.7 copper", 17.46, 0.01),  # specific gravity 17.48 times water at 15 degC, 0.9991
    ],
)
def test_published_densities_were_copied_right(grade: str, density: float, tolerance: float) -> None:
    assert default_tables().grades[grade].density_g_cm3 == pytest.approx(density, abs=tolerance)


def test_grades_lie_in_their_family() -> None:
    """Metals of the family inside its limits, others only in small shares."""
    for grade in default_tables().grades.values():
        limits = default_tables().families[grade.family].limits
        for symbol, (low, high) in limits.items():
            assert low - 0.02 <= grade.composition.get(symbol, 0) <= high + 0.02, grade.name
        assert sum(w for s, w in grade.composition.items() if s not in limits) <= 3.5, grade.name


def test_ideal_rule_finds_no_misprint() -> None:
    """A misprinted density stands out: the ideal rule misses no sound alloy by more than 8 %."""
    metals = default_tables().metals
    for grade in default_tables().grades.values():
        if grade.family == "cemented carbide":  # a compound
            continue
        volume = sum(w / metals[s].density_g_cm3 for s, w in grade.composition.items() if s != "C")
        ideal = sum(grade.composition.values()) / volume
        assert grade.density_g_cm3 == pytest.approx(ideal, rel=0.08), grade.name


def test_family_words_and_classes_are_known() -> None:
    words = {w.word for w in default_tables().rows("commonness")} if _lines("commonness") else set()
    classes = {m.magnetic for m in default_tables().rows("magnet")} if _lines("magnet") else set()
    for family in default_tables().families.values():
        said = {getattr(family, k) for k in ("none", "silver", "gold", "platinum", "palladium", "base")}
        assert said <= words, family.family
        assert family.magnetic in classes, family.family
        assert family.iron in {"", "fcc"}
        assert len(family.words) <= 28
        assert family.system.split()[0] == next(iter(family.limits)), family.family
        assert family.words == family.words.lower()


@pytest.mark.parametrize("name", ["families", "claims"])
def test_regions_are_not_empty(name: str) -> None:
    for row in default_tables().rows(name):
        assert sum(low for low, _ in row.limits.values()) <= 100, row
        assert sum(high for _, high in row.limits.values()) >= 100, row


def test_every_asked_fineness_is_a_claim() -> None:
    claims = {c.claim for c in default_tables().rows("claims")}
    asked = [f"silver {f}" for f in ("999", "958", "925", "900", "835", "800", "500")]
    asked += [f"gold {f}" for f in ("900", "916.7", "986", "999.9")]
    asked += [f"platinum {f}" for f in ("999", "950", "900")]
    asked += [f"palladium {f}" for f in ("999", "950", "500")]
    assert set(asked) <= claims
    for carat in (9, 10, 14, 18, 21, 22, 24):
        assert any(c.startswith(f"gold {carat} ct") for c in claims)
    for colour in ("yellow", "red", "white nickel", "white palladium"):
        assert f"gold 18 ct {colour}" in claims


def test_names_of_claims_are_unique_and_lower_case() -> None:
    claims = default_tables().rows("claims")
    names = Counter(n for c in claims for n in [c.claim, *filter(None, c.also.split(";"))])
    assert all(n == n.lower() for n in names)
    assert names.most_common(1)[0][1] == 1
    for claim in claims:
        assert next(iter(claim.limits)) == claim.metal


def _density_range(limits: dict[str, tuple[float, float]]) -> tuple[float, float]:
    """Lowest and highest ideal density of a region."""
    metals = [s for s in limits if "+" not in s]
    sums = [s for s in limits if "+" in s]
    volumes = [1 / default_tables().metals[s].density_g_cm3 for s in metals]
    rows = [[sign * float(m in s.split("+")) for m in metals] for s in sums for sign in (1, -1)]
    ends = []
    for sign in (1, -1):
        found = linprog(
            [sign * v for v in volumes],
            A_ub=rows or None,
            b_ub=[end for s in sums for end in (limits[s][1], -limits[s][0])] or None,
            A_eq=[[1.0] * len(metals)],
            b_eq=[100.0],
            bounds=[limits[m] for m in metals],
        )
        ends.append(100 / abs(found.fun))
    return min(ends), max(ends)


def test_width_of_18_ct_over_all_colours() -> None:
    """From the nickel white gold with most zinc (75/2.2/17.3/5.5) to a palladium white gold, by the ideal rule."""
    claims = default_tables().rows("claims")
    ranges = [_density_range(c.limits) for c in claims if c.claim.startswith("gold 18 ct")]
    lightest = 100 / (75 / 19.288 + 2.2 / 8.935 + 17.3 / 8.908 + 5.5 / 7.134)  # densities of metals.csv
    assert min(low for low, _ in ranges) == pytest.approx(lightest, rel=0.01)
    assert max(high for _, high in ranges) == pytest.approx(16.8, abs=0.1)


@pytest.mark.parametrize("name", RECORDS)
def test_a_path_replaces_and_adds_rows(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Tables, "_check", lambda *_: None)  # how rows are merged, whatever they hold
    lines, types = _lines(name), _types(name)
    keys = KEYS[name]
    free = next(c for c in reversed(types) if c not in keys and types[c] is str)
    text_key = next(c for c in reversed(keys) if types[c] is str)
    changed = {**lines[0], free: "changed"}
    added = {**lines[0], text_key: lines[0][text_key] + "-new"}
    rows = Tables([_write(tmp_path / f"{name}.csv", [changed, added])]).rows(name)
    assert len(rows) == len(lines) + 1
    assert getattr(rows[0], free) == "changed"
    assert getattr(rows[-1], text_key) == lines[0][text_key] + "-new"
    assert getattr(default_tables().rows(name)[0], free) != "changed"


@pytest.mark.parametrize("name", RECORDS)
def test_a_bad_cell_is_named_with_file_line_column_and_value(name: str, tmp_path: Path) -> None:
    lines = _lines(name)
    column = next((c for c, t in _types(name).items() if t is not str), None)
    if column is None:
        pytest.skip("every column is free text: nothing can be unreadable")
    path = _write(tmp_path / f"{name}.csv", [lines[0], {**lines[0], column: "nonsense:x"}])
    with pytest.raises(TableError) as caught:
        Tables([path]).rows(name)
    assert f"{name}.csv:3:{column}" in str(caught.value)
    assert "nonsense:x" in str(caught.value)


@pytest.mark.parametrize("name", RECORDS)
def test_a_short_row_is_named_with_file_and_line(name: str, tmp_path: Path) -> None:
    lines = _lines(name)
    path = _write(tmp_path / f"{name}.csv", [lines[0]])
    path.write_text(path.read_text(encoding="utf-8") + "alone\n", encoding="utf-8")
    with pytest.raises(TableError, match=rf"{name}\.csv:3: 1: "):
        Tables([path]).rows(name)


def test_a_table_of_unknown_name_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "stones.csv"
    path.write_text("name\n", encoding="utf-8")
    with pytest.raises(TableError, match=r"stones\.csv"):
        Tables([path])


def test_a_mark_that_is_no_word_of_the_list_is_refused(tmp_path: Path) -> None:
    lines = _lines("grades")
    path = _write(tmp_path / "grades.csv", [{**lines[0], "mark": "A"}])
    with pytest.raises(TableError, match=r"grades\.csv:2:mark.*three digits, coarse, one decimal, computed, memory"):
        Tables([path]).rows("grades")


def _with(name: str, tmp_path: Path, **cells: str) -> Tables:
    """The shipped tables with the first row of one of them changed by an own file."""
    return Tables([_write(tmp_path / f"{name}.csv", [_lines(name)[0] | cells])])


@pytest.mark.parametrize(
    ("name", "column", "cell"),
    [
        ("grades", "family", "bras"),
        ("grades", "composition", "Cu:50"),
        ("grades", "composition", "Cu:150;Zn:50"),
        ("grades", "composition", "Cu:99;Xx:1"),
        ("grades", "composition", "Cu:101;Zn:-1"),
        ("grades", "density_g_cm3", "-8.54"),
        ("grades", "density_g_cm3", "8540"),
        ("grades", "density_g_cm3", "nan"),
        ("grades", "u_density_g_cm3", "-0.1"),
        ("grades", "source", "nowhere"),
        ("metals", "density_g_cm3", "0"),
        ("metals", "density_g_cm3", "nan"),
        ("metals", "molar_mass_g_mol", "inf"),
        ("families", "limits", "Xx:0-1"),
        ("families", "silver", "often"),
        ("claim_priors", "plated", "50"),
        ("claim_priors", "claim", "1"),
        ("claim_priors", "other", "1"),
        ("claim_priors", "skins", "Xx:1"),
        ("spans", "share", "50"),
        ("clad", "core", "unobtainium"),
        ("coins", "composition", "Cu:50;Ni:25"),
    ],
)
def test_an_own_row_that_cannot_be_right_is_an_error_that_names_it(name, column, cell, tmp_path):
    with pytest.raises(TableError) as error:
        _with(name, tmp_path, **{column: cell}).rows(name)
    assert error.value.path == f"{name}.csv:2:{column}"
    assert len(str(error.value)) < 300


@pytest.mark.parametrize("name", RECORDS)
def test_the_shipped_rows_pass_the_checks_of_own_ones(name, tmp_path):
    copy = tmp_path / f"{name}.csv"
    copy.write_bytes(b"\xef\xbb\xbf" + (folder() / f"{name}.csv").read_bytes())  # as a spreadsheet saves it
    assert Tables([copy]).rows(name) == default_tables().rows(name)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda text: text.replace(",", ";"), "commas between the columns"),
        (lambda text: text.replace("temper,", "tempre,", 1), "no column 'tempre'"),
        (lambda text: text.replace("name,", "name,name,", 1), "one column 'name'"),
    ],
)
def test_a_header_that_is_another_says_how(change, words, tmp_path):
    file = tmp_path / "grades.csv"
    file.write_text(change((folder() / "grades.csv").read_text(encoding="utf-8")), encoding="utf-8")
    with pytest.raises(TableError, match=words) as error:
        Tables([file]).rows("grades")
    assert len(str(error.value)) < 300


def test_a_source_may_stand_in_a_file_beside_the_table(tmp_path):
    grades = _write(tmp_path / "grades.csv", [_lines("grades")[0] | {"source": "own-assay"}])
    sources = _write(tmp_path / "SOURCES.csv", [_lines("SOURCES")[0] | {"key": "own-assay"}])
    assert Tables([grades, sources]).rows("grades")[0].source == "own-assay"
