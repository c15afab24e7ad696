"""`every` runs a test over all rows, and none of them can fail unseen."""

import pytest

from tests.rows import every


@every("a, b", [(1, 1), (2, 2)])
def test_parts_of_a_row_are_arguments_and_fixtures_are_given(a: int, b: int, tmp_path: object) -> None:
    assert a == b
    assert tmp_path


def test_every_row_that_fails_is_named() -> None:
    @every("row", [1, 2, 3, 4], lambda row: f"row {row}")
    def odd(row: int) -> None:
        assert row % 2

    with pytest.raises(ExceptionGroup, match=r"2 of 4 rows fail: row 2; row 4") as e:
        odd()
    assert len(e.value.exceptions) == 2


def test_no_rows_are_an_error() -> None:
    with pytest.raises(AssertionError, match="nothing tested"):
        every("row", [])
