"""Lists as shops keep them: delimited text of any locale, Excel, own columns, and nothing of the shop's replaced."""

from __future__ import annotations

import csv
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from alloysolve.answer.solution import solve
from alloysolve.batch.files import Row, open_source
from alloysolve.batch.run import Summary as BatchSummary
from alloysolve.batch.run import solve_many
from alloysolve.errors import InputError
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings, find_settings, write_settings
from alloysolve.words.amounts import amount_sentences
from alloysolve.words.batch import heads_text, summary_text
from alloysolve.words.language import language
from tests.conftest import EXAMPLES, Run

SHELF = EXAMPLES / "shelf.csv"
GERMAN = {"name": "Stück", "claim": "angegeben als", "mass": "Gewicht (g)", "displaced": "verdrängt"}
HEAD = "Stück;angegeben als;Gewicht (g);verdrängt;Fach"


def rows_of(file: Path, mapping: Mapping[str, str] | None = None) -> list[Row]:
    return list(open_source(file, mapping).rows())


def written(tmp_path: Path, text: str, name: str = "list.csv", encoding: str = "utf-8") -> Path:
    file = tmp_path / name
    file.write_bytes(text.encode(encoding))
    return file


def excel(file: Path, sheets: Mapping[str, list[list[Any]]]) -> Path:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    book.save(file)
    return file


def cells(file: Path, delimiter: str = ",") -> list[dict[str, str]]:
    with file.open(encoding="utf-8-sig", newline="") as opened:
        return list(csv.DictReader(opened, delimiter=delimiter))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_a_list_of_another_country_is_read_in_any_encoding(tmp_path: Path, encoding: str, ends: str) -> None:
    text = f"{HEAD}\n\nB1;silver 999;31,180;3,64;Süd\n;;;;\nB2;Silber;48,2;4,66;\n".replace("\n", ends)
    found = rows_of(written(tmp_path, text, encoding=encoding), GERMAN)
    assert [r.number for r in found] == [3, 5]
    assert found[0].own == {"Gewicht (g)": "31,180", "verdrängt": "3,64", "Fach": "Süd"}  # as they came
    assert found[0].fields["name"] == "B1"
    piece = Piece.from_dict(found[0].fields)
    assert piece.mass is not None
    assert (piece.mass.value, piece.displaced[0].value) == (31.18, 3.64)  # no thousands mark where semicolons divide


def test_tabs_are_told_from_the_head(tmp_path: Path) -> None:
    found = rows_of(written(tmp_path, "Name\tMass\tin water\tprice\nR, 1\t31,18\t27,54\t12,50\n", "list.txt"))
    assert found[0].fields == {"name": "R, 1", "mass": "31,18", "in_water": "27,54"}
    assert found[0].own == {"Mass": "31,18", "in water": "27,54", "price": "12,50"}


def test_a_thousands_mark_is_still_refused_where_commas_divide(tmp_path: Path) -> None:
    found = rows_of(written(tmp_path, 'claim,mass\nsilver 999,"31,180"\n'))
    with pytest.raises(InputError, match="thousands mark"):
        Piece.from_dict(found[0].fields)


@pytest.mark.parametrize(
    ("head", "cell", "grams"),
    [
        ("mass (dwt)", "20", 31.1034768),  # 24 grains each, NIST Handbook 44, app. C
        ("Mass [g]", "31.1", 31.1),
        ("weight_g", "31.1", 31.1),
        ("mass (dwt)", "31.1 g", 31.1),  # what the cell says counts
        ("mass (gross)", "31.1", None),
    ],
)
def test_the_unit_of_a_head_holds_for_bare_numbers(tmp_path: Path, head: str, cell: str, grams: float | None) -> None:
    file = written(tmp_path, f"claim,{head}\nsilver 999,{cell}\n")
    piece = Piece.from_dict(rows_of(file)[0].fields)
    assert (piece.mass.value if piece.mass else None) == (grams if grams is None else pytest.approx(grams))


def test_an_ambiguous_unit_of_a_head_is_not_overlooked(tmp_path: Path) -> None:
    file = written(tmp_path, "claim,mass (oz)\nsilver 999,1\n")
    with pytest.raises(InputError, match="troy"):
        Piece.from_dict(rows_of(file)[0].fields)


def test_a_title_above_the_head_is_passed_over(tmp_path: Path) -> None:
    found = rows_of(written(tmp_path, "sep=;\nList of May;;\n\nclaim;mass;displaced\nsilver 999;31,1;2,97\n"))
    assert [(r.number, r.fields["claim"]) for r in found] == [(5, "silver 999")]


def test_the_shops_own_columns_are_carried_through_untouched(tmp_path: Path) -> None:
    text = 'Name,claim,density,shelf,price,answer,country\nA,silver 999,8.53 g/cm3,=A1,"1,250.00",old,"Peru\nand"\n'
    file = written(tmp_path, text)
    solve_many(file, tmp_path / "out.csv", settings=Settings())
    row = cells(tmp_path / "out.csv")[0]
    assert (row["price"], row["country"], row["answer (list)"]) == ("1,250.00", "Peru\nand", "old")
    assert row["shelf"] == "'=A1"  # no formula comes out of a list
    assert row["name"] == "A"
    assert row["answer"] == "these readings speak against it"


def test_the_answers_are_delimited_as_the_list_was(tmp_path: Path) -> None:
    file = written(tmp_path, f"{HEAD}\nB1;silver 999;31,18;3,64;Süd\n", encoding="cp1252")
    solve_many(file, tmp_path / "out.csv", settings=Settings(columns=tuple(GERMAN.items())))
    assert (
        (tmp_path / "out.csv")
        .read_bytes()
        .startswith("\ufeffline;name;Gewicht (g);verdrängt;Fach;said to be;".encode())
    )
    assert cells(tmp_path / "out.csv", ";")[0]["Fach"] == "Süd"


@pytest.mark.parametrize(
    ("head", "said"),
    [
        ("claim,densty", 'did you mean "density"'),
        ("claim,mass,dispalced", 'did you mean "displaced"'),
        ("claim,conductivty", 'did you mean "conductivity"'),
        ("claim,Wieght (g)", r'did you mean "Weight \(g\)"'),
        ("claim,wieght", 'did you mean "weight"'),
        ("claim,pushed asside,mass", 'did you mean "pushed aside"'),
        ("claim,claim", "stands twice"),
        ("claim,price,price", "stands twice"),
        ("mass,weight", "two stand for this one"),
        ("Art,Gewicht", r"\[columns\]"),
    ],
)
def test_a_head_in_error_names_what_it_may_mean(tmp_path: Path, head: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        open_source(written(tmp_path, f"{head}\n1,2\n"))


@pytest.mark.parametrize("claim", ["said to be", "Claimed as", "described as", "claim"])
@pytest.mark.parametrize("water", ["pushed aside", "Water pushed aside (g)", "displaced", "water displaced"])
def test_usual_names_of_claim_and_water_are_known(tmp_path: Path, claim: str, water: str) -> None:
    source = open_source(written(tmp_path, f"{claim},Weight (g),{water}\nsilver 999,31.1,2.96\n"))
    assert next(source.rows()).fields.keys() == {"claim", "mass", "displaced"}
    assert source.lacking == ()


@pytest.mark.parametrize(
    ("head", "lacks"),
    [
        ("made of,mass,displaced", ("claim",)),
        ("claim,heavy,displaced", ("mass",)),
        ("claim,mass,away", ("water",)),
        ("claim,mass,in water", ()),
        ("claim,mass,bar", ()),
        ("claim,density", ()),
    ],
)
def test_what_a_list_lacks_is_told_first(tmp_path: Path, head: str, lacks: tuple[str, ...]) -> None:
    file = written(tmp_path, f"{head}\n")
    assert open_source(file).lacking == lacks
    said = heads_text(open_source(file), language())
    assert ("No column " in said) == bool(lacks)
    assert ("under [columns] in the settings" in said) == bool(lacks)


def test_columns_that_are_not_read_are_named_before_any_row_is_solved(run: Callable[..., Run], tmp_path: Path) -> None:
    file = written(tmp_path, "Name,claim,weight,Zustand,Fach\nA,silver 999,31.1,gut,3\n")
    said = run("batch", str(file), "-o", str(tmp_path / "out.csv"), "--jobs", "1")
    assert said.err.startswith('Not read, only carried through: "Zustand", "Fach".\nNo column holds the water pushed')
    assert 'displaced = "its name"' in " ".join(said.err.split())
    assert '"weight"' not in said.err


@pytest.mark.parametrize("head", ["Water (g)", "Water g", "water [g]", "pushed aside (g)", "Displaced g"])
def test_water_with_a_unit_of_mass_is_the_water_pushed_aside(tmp_path: Path, head: str) -> None:
    source = open_source(written(tmp_path, f"claim,Weight g,{head}\nsilver 999,31.1,2.96\n"))
    assert next(source.rows()).fields == {"claim": "silver 999", "mass": "31.1 g", "displaced": "2.96 g"}


def test_water_with_a_temperature_stays_its_temperature(tmp_path: Path) -> None:
    source = open_source(written(tmp_path, "claim,mass,Water (degC)\nsilver 999,31.1,21\n"))
    assert next(source.rows()).fields["water"] == "21 degC"


@pytest.mark.parametrize("cell", ["?", "-", "unknown", "Unbekannt", "desconocido"])
def test_a_cell_that_says_unknown_is_an_empty_one(tmp_path: Path, cell: str) -> None:
    source = open_source(written(tmp_path, f"name,claim,mass,magnet\nA,{cell},31.1,{cell}\n"))
    assert next(source.rows()).fields == {"name": "A", "mass": "31.1"}
    lines = open_source(written(tmp_path, f'{{"claim": "{cell}", "mass": "31.1 g"}}\n', "list.jsonl"))
    assert next(lines.rows()).fields == {"mass": "31.1 g"}


def test_the_summary_counts_rows_that_are_likeliest_as_claimed_as_such() -> None:
    found = BatchSummary()
    for what, metals in (("as claimed", []), ("as claimed", []), ("system", ["Cu", "Zn"])):
        row = {"what": what, "metals": metals, "probability": 0.9}
        answer = {"error": None, "decision": "undecided", "notes": [], "cautions": [], "rows": [row]}
        found.add(answer | {"systems": [{"metals": ["Ag"]}]})
    assert "Likeliest: 2 as claimed, 1 copper-zinc." in summary_text(found, language())


@pytest.mark.parametrize(
    ("head", "cell", "is_asked"),
    [
        ("water", "2,96", True),
        ("water", "52.3", True),
        ("water", "20,5", False),
        ("water", "2.96 degC", False),
        ("water", "", False),
        ("water (degC)", "2,96", False),
        ("water pushed aside", "2,96", False),
    ],
)
def test_water_that_is_hardly_a_temperature_is_asked_back(tmp_path: Path, head: str, cell: str, is_asked: bool) -> None:
    file = written(tmp_path, f"claim;mass;{head}\nsilver;31,1;20\nsilver;31,1;{cell}\n")
    if is_asked:
        with pytest.raises(InputError, match=r"row 3.*water pushed aside, or its temperature\?"):
            open_source(file)
    else:
        assert open_source(file).count == 2


def test_cells_beyond_the_first_line_are_named(tmp_path: Path) -> None:
    file = written(tmp_path, "claim,density\nsilver 999,8.53 g/cm3,x,,y\n")
    found = solve_many(file, tmp_path / "out.csv", settings=Settings())
    assert found.first_errors == ["2: row: it has 5 cells and the first line of the list 2; too many: 'x', 'y'"]
    assert "No row was answered." in summary_text(found, language())


@pytest.mark.parametrize("head", ["country", "shelf", "price", "date", "seller", "box", "coin", "remark", "place"])
def test_usual_columns_of_a_shop_are_no_slips(tmp_path: Path, head: str) -> None:
    assert open_source(written(tmp_path, f"claim,density,{head}\n")).own == ("density", head)


def test_what_the_shop_calls_its_columns_stands_in_the_settings(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    file.write_text('[columns]\nmass = "Gewicht (g)"\n"conductivity.frequency" = "Frequenz"\n', encoding="utf-8")
    shop = find_settings(file)
    assert Settings.from_dict(shop.to_dict()).columns == shop.columns
    write_settings(shop, file)  # keeps it
    assert dict(find_settings(file).columns)["mass"] == "Gewicht (g)"
    with pytest.raises(InputError, match='nearest known is "mass"'):
        open_source(SHELF, {"maas": "Gewicht"})
    with pytest.raises(InputError, match="a table of names"):
        Settings.from_dict({"columns": "Gewicht"})


def test_the_example_list_and_the_same_in_excel_are_answered_alike(tmp_path: Path) -> None:
    with SHELF.open(encoding="utf-8", newline="") as opened:
        table = list(csv.reader(opened, delimiter=";"))
    numbers = [[_number(cell) for cell in row] for row in table]
    same = excel(tmp_path / "shelf.xlsx", {"notes": [["bought in May"]], "shelf": numbers, "empty": []})
    texts, sheets = rows_of(SHELF), rows_of(same)
    measured = ("Weight (g)", "pushed aside", "asking price")  # text in one, numbers in the other
    assert len(texts) == len(sheets) == 40
    for text, sheet in zip(texts, sheets, strict=True):
        assert text.number == sheet.number
        assert {k: v for k, v in text.own.items() if k not in measured}.items() <= sheet.own.items()
        if text.own["No."] != "L-027":
            assert _weighed(text) == _weighed(sheet)


def _number(cell: str) -> str | float:
    try:
        return float(cell.replace(",", "."))
    except ValueError:
        return cell


def _weighed(row: Row) -> tuple[str, float | None, list[float]]:
    piece = Piece.from_dict(row.fields)
    return piece.claim, piece.mass and piece.mass.value, [q.value for q in piece.displaced]


def test_an_excel_file_of_answers_holds_text_and_no_formulas(tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    file = written(tmp_path, "name,claim,density,price\n=1+1,silver 999,8.53 g/cm3,-5\x07\n")
    for name in ("a.xlsx", "b.xlsx"):
        solve_many(file, tmp_path / name, settings=Settings())
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()
    head, row = list(openpyxl.load_workbook(tmp_path / "a.xlsx").active.iter_rows())
    told = dict(zip([cell.value for cell in head], row, strict=True))
    assert (told["name"].value, told["name"].data_type, told["price"].value) == ("=1+1", "s", "-5")
    assert told["answer"].value == "these readings speak against it"
    with zipfile.ZipFile(tmp_path / "a.xlsx") as inside:
        assert b"<f>" not in inside.read("xl/worksheets/sheet1.xml")


@pytest.mark.parametrize(("delimiter", "mark", "other"), [(",", ".", ","), (";", ",", ".")])
def test_an_excel_file_of_answers_has_numbers_as_numbers_and_wraps_sentences(
    tmp_path: Path, delimiter: str, mark: str, other: str
) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    cells = ["silver 999", f"31{mark}18", f"3{mark}64", "007", f'"1{other}250"', "40"]
    head = ["claim", "mass", "displaced", "No.", "price", "shelf"]
    file = written(tmp_path, f"{delimiter.join(head)}\n{delimiter.join(cells)}\n")
    solve_many(file, tmp_path / "out.xlsx", settings=Settings())
    sheet = openpyxl.load_workbook(tmp_path / "out.xlsx").active
    heads, row = list(sheet.iter_rows())
    told = dict(zip([cell.value for cell in heads], row, strict=True))
    assert [told[key].value for key in head[1:]] == [31.18, 3.64, "007", f"1{other}250", 40]
    assert told["cautions"].alignment.wrap_text
    assert not told["mass"].alignment.wrap_text
    widths = {key: sheet.column_dimensions[cell.column_letter].width for key, cell in told.items()}
    assert widths["cautions"] > 2 * widths["displaced"]


def test_of_an_excel_file_the_sheet_with_the_list_is_read(tmp_path: Path) -> None:
    table = [["claim", "mass"], ["silver 999", 31.1]]
    two = excel(tmp_path / "two.xlsx", {"May": table, "June": table})
    with pytest.raises(InputError, match=r"'May, June'.*save each"):
        open_source(two)
    with pytest.raises(InputError, match="a head and rows"):
        open_source(excel(tmp_path / "none.xlsx", {"empty": []}))


def test_a_unit_that_only_the_format_of_a_cell_shows_is_not_lost(tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.append(["claim", "mass"])
    book.active.append(["silver 999", 20])
    book.active["B2"].number_format = '0.00" dwt"'
    book.save(tmp_path / "dwt.xlsx")
    piece = Piece.from_dict(rows_of(tmp_path / "dwt.xlsx")[0].fields)
    assert piece.mass is not None
    assert piece.mass.value == pytest.approx(31.1034768)  # 20 pennyweights are a troy ounce


@pytest.mark.parametrize(
    ("name", "raw", "said"),
    [
        ("quote.csv", b'claim,density\nsilver 999,"8.5\nsilver 925,8.6\n', "line 2: 'an open quote'"),
        ("damaged.xlsx", b"PK\x03\x04 and no more", "whole Excel file"),
        ("damaged.parquet", b"PAR1 and no more", "whole Parquet file"),
        ("excel.csv", b"PK\x03\x04\x00", "another kind of file"),
        ("empty.csv", b"", "a head and rows"),
        ("old.xls", b"", "save it as .xlsx"),
    ],
)
def test_an_unreadable_file_gives_one_line_and_writes_nothing(
    run: Callable[..., Run], tmp_path: Path, name: str, raw: bytes, said: str
) -> None:
    file = tmp_path / name
    file.write_bytes(raw)
    done = run("batch", str(file), "-o", str(tmp_path / "out.csv"))
    assert (done.code, done.err.count("\n")) == (2, 1)
    assert said in done.err
    assert list(tmp_path.iterdir()) == [file]


def test_neither_the_list_nor_another_file_is_replaced(run: Callable[..., Run], tmp_path: Path) -> None:
    file = written(tmp_path, "claim,density\nsilver 999,8.5 g/cm3\n")
    before = file.read_bytes()
    other = written(tmp_path, "mine", "other.csv")
    for out, more, said in (
        (file, ("--overwrite",), "another file than the list"),
        (other, (), "--overwrite"),
        (tmp_path, ("--overwrite",), "ends in .csv"),
    ):
        done = run("batch", str(file), "-o", str(out), *more)
        assert (done.code, done.err.count("\n")) == (2, 1)
        assert said in done.err
    folder = tmp_path / "folder.csv"
    folder.mkdir()
    assert "this is a folder" in run("batch", str(file), "-o", str(folder), "--overwrite").err
    assert (file.read_bytes(), other.read_bytes()) == (before, b"mine")
    assert run("batch", str(file), "-o", str(other), "--overwrite", "--jobs", "1").code == 0
    assert other.read_bytes() != b"mine"


def test_a_row_says_what_it_was_said_to_be_what_it_holds_and_what_to_do(tmp_path: Path) -> None:
    text = "claim,mass,displaced\ngold 999,31.1 g,1.61 g\nsilver 999,31.1 g,2.97 2.97 3.4 g\nsilver 925,x,1 g\n"
    solve_many(written(tmp_path, text), tmp_path / "out.csv", settings=Settings())
    gold, apart, wrong = cells(tmp_path / "out.csv")
    assert gold["said to be"] == "gold 999"
    assert gold["likely"].startswith("as claimed (")
    solved = solve({"claim": "gold 999", "mass": "31.1 g", "displaced": "1.61 g"}, Settings()).document
    assert gold["holds"] == " ".join(amount_sentences(solved, language()))
    assert (gold["mass"], gold["displaced"]) == ("31.1 g", "1.61 g")
    assert apart["next"].startswith("Its weighings disagree")
    assert (wrong["said to be"], wrong["answer"]) == ("silver 925", "")
    assert wrong["error"].startswith("mass: 'x'")


def test_a_row_that_is_looked_up_is_in_words_too(tmp_path: Path) -> None:
    file = written(tmp_path, "claim,density,magnet\nsilver 999,8.53 g/cm3,none\nsilver 999,10.3 g/cm3,none\n")
    solve_many(file, tmp_path / "out.csv", settings=Settings(), wide=True)
    first, second = cells(tmp_path / "out.csv")
    assert first["likely"].startswith("brass, bare or under a layer of silver (")
    assert second["holds"].startswith("If it is as claimed, it holds ")
    assert second["answer"] == "these readings cannot decide"
    assert "alloysolve solve" in second["next"]
