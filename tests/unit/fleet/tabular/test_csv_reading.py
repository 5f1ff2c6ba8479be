"""CSV: letters, delimiters, quotes, bounds."""

import resource
from pathlib import Path

import pytest

from fleet.tabular import EncodingAsked, TableRefused, open_table


def read(content: bytes, encoding: str | None = None) -> list[list[str]]:
    rows = open_table(content, name="register.csv", encoding=encoding).rows()
    return [[cell.text for cell in row.cells] for row in rows]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_finds_the_delimiter_beneath_a_title(delimiter: str) -> None:
    lines = ["Hose register, 2024; yard", "", "Machine_Size_Length, mm_WP", "EX-07_1/2_1,250_350"]
    quoted = [",".join(lines[:1]), "", *(_quoted(line, delimiter) for line in lines[2:])]
    rows = read("\n".join(quoted).encode())
    assert rows[-1] == ["EX-07", "1/2", "1,250", "350"]


def _quoted(line: str, delimiter: str) -> str:
    return delimiter.join(f'"{part}"' if delimiter in part else part for part in line.split("_"))


def test_obeys_a_first_line_that_names_the_delimiter() -> None:
    assert read(b"sep=;\r\nA;B, C\r\n1;2\r\n") == [["A", "B, C"], ["1", "2"]]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_reads_letters_of_any_script(encoding: str) -> None:
    text = "Gerät;Стрела;位置\r\nÄ;Ж;前\r\n"
    assert read(text.encode(encoding)) == [["Gerät", "Стрела", "位置"], ["Ä", "Ж", "前"]]


def test_asks_which_letters_are_meant_and_never_guesses() -> None:
    content = "Gerät;Länge\r\nBagger;12\r\n".encode("cp1252")
    with pytest.raises(EncodingAsked) as asked:
        read(content)
    assert asked.value.line_number == 1
    assert asked.value.readings[0].sample == "Gerät;Länge"
    assert asked.value.readings[2].sample == "Gerдt;Lдnge"
    assert read(content, encoding="cp1252")[0] == ["Gerät", "Länge"]


def test_refuses_an_encoding_that_does_not_fit() -> None:
    with pytest.raises(TableRefused, match="does not have"):
        read("x;\n\xff".encode("latin-1"), encoding="cp1253")
    with pytest.raises(TableRefused, match="not one of the tables"):
        read(b"\xff;", encoding="rot13")


def test_inch_marks_need_no_quotes_of_their_own() -> None:
    assert read(b'Size,WP\n3/4",350\n"1/2""",210\n')[1:] == [['3/4"', "350"], ['1/2"', "210"]]


@pytest.mark.parametrize(
    "content", [b'A,B\n1,"2\n3,4\n', b'A,B\n1,"3/4""\n3,"4"\n', b'A,B\n"1"x,2\n']
)
def test_refuses_a_quote_that_is_not_closed_and_says_in_which_line(content: bytes) -> None:
    with pytest.raises(TableRefused, match="begins in line 2") as refused:
        read(content)
    assert refused.value.code == "quotes"


def test_refuses_a_quote_that_swallows_the_file() -> None:
    with pytest.raises(TableRefused) as refused:
        read(b'A,B\n1,"' + b"x,y\n" * 1_000_000)
    assert refused.value.code == "quotes"


def test_numbers_rows_as_a_spreadsheet_does() -> None:
    table = open_table(b'A,B\n\n"1\nmore",2\n3,4\n', name="a.csv")
    assert [row.number for row in table.rows()] == [1, 2, 3, 4]


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "empty"),
        (b"A,B\n1,\0\n", "nul"),
        ("A,B\n1,2\n".encode("utf-16-le"), "nul"),
        (b"A\xff\xfe,B\n1,\0\n", "encoding"),
        (b"," * 5_000 + b"\n", "columns"),
        (b"a," * 3_000_000, "line_size"),
        (b"a" * 3_000_000, "line_size"),
        (b"A,B\n" + b"1,2\n" * 600_000, "rows"),
        (b"A,B\n1," + b"x" * 40_000, "cell_size"),
        (b"%PDF-1.7 ...", "pdf"),
        (b"<html><table><tr><td>1</td></tr></table></html>", "markup"),
        (b'<?xml version="1.0"?><Workbook/>', "markup"),
        (b"\x1f\x8b\x08\x00", "archive"),
        (b"{\\rtf1 a}", "rtf"),
        ("a,b".encode("utf-32"), "encoding"),
        ("a,b".encode("utf-16") + b"\x00", "encoding"),
    ],
)
def test_refuses_what_is_not_a_table(content: bytes, code: str) -> None:
    with pytest.raises(TableRefused) as refused:
        read(content)
    assert refused.value.code == code


def test_a_renamed_text_is_not_taken_for_a_workbook() -> None:
    with pytest.raises(TableRefused, match="not a workbook"):
        open_table(b"A,B\n1,2\n", name="register.xlsx")


def test_exported_error_values_are_errors() -> None:
    row = next(open_table(b"#N/A,########,a#\n", name="a.csv").rows())
    assert [cell.kind for cell in row.cells] == ["error", "error", "text"]


def test_streams_a_long_file_in_little_memory(tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    with path.open("w") as out:
        out.write("Tag,Machine,Size,Length\n")
        out.writelines(f"H{n},EX-{n % 90:02},1/2,{n % 3000}\n" for n in range(300_000))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    count = sum(1 for _ in open_table(path, name="long.csv").rows())
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    assert count == 300_001
    assert (after - before) / 1000 < 100
