"""Files that are no table of pulls: one clear fault each, before any row is judged."""

import pytest

from model.base.errors import FaultyFile, InputError
from model.ingest.log_file import read_log
from model.ingest.text_file import MAX_BYTES, read_text

HEADER = "pull,outing,anchor,seabed,ending,load_kn"
ROW = "1,day 1,S6,firm sand,released,2.6"

# name: (text, line, column, found, remedy)
SHAPES = {
    "an empty file": ("", 1, None, "an empty file", "Write a header"),
    "nothing but blanks": ("\n ,,\n\n", 1, None, "an empty file", "Write a header"),
    "a header only": (HEADER + "\n", 1, None, "a header and nothing below", "Add a row"),
    "a header without end": (
        ",".join(f"h{number}" for number in range(501)) + "\n",
        1,
        None,
        "a header of 501 columns",
        "Up to 500 are read",
    ),
    "a row too short": (
        f"{HEADER}\n{ROW}\n2,day 1,S6\n",
        3,
        None,
        "3 cells where the header has 6",
        "as many cells as the header",
    ),
    "a row too long": (
        f"{HEADER}\n{ROW},and,more\n",
        2,
        None,
        "8 cells where the header has 6",
        "quote a cell",
    ),
    "a heading twice": (
        f"{HEADER},Load kN\n{ROW},2.6\n",
        1,
        "Load kN",
        "'Load kN' heads column 6 and column 7",
        "a heading of its own",
    ),
    "an open quote": (
        f'{HEADER}\n{ROW}\n"2,day 1,S6,firm sand,released,2.6\n',
        3,
        None,
        "a row that cannot be told into cells",
        "Close every quote",
    ),
    "a cell under no heading": (
        f"{HEADER},\n{ROW},stray\n",
        2,
        None,
        "'stray' stands under no heading",
        "Give its column a heading",
    ),
    "a unit nobody knows": (
        f"{HEADER.replace('load_kn', 'load_stone')}\n{ROW}\n",
        1,
        "load_stone",
        "'load_stone' names no known unit",
        "Write load_ and one of n, kn, dan, kgf, kg, lbf, lb, tf",
    ),
    "a load without a unit": (
        f"{HEADER.replace('load_kn', 'load')}\n{ROW}\n",
        1,
        "load",
        "'load' names no known unit",
        "Write load_ and one of",
    ),
    "a length in another unit": (
        f"{HEADER},buried_yd\n{ROW},1\n",
        1,
        "buried_yd",
        "'buried_yd' names no known unit",
        "m, ft, cm, in",
    ),
    "one load in two units": (
        f"{HEADER},load_lbf\n{ROW},585\n",
        1,
        "load_lbf",
        "load_lbf and load_kn say the same in two units",
        "Keep one",
    ),
}


@pytest.mark.parametrize("name", SHAPES)
def test_shape(name: str, faults) -> None:
    text, line, column, found, remedy = SHAPES[name]
    fault = faults(text)[0]
    assert (fault.source, fault.line, fault.column) == ("log.csv", line, column)
    assert found in fault.found
    assert remedy in fault.remedy


@pytest.mark.parametrize("needed", ["pull", "anchor", "seabed", "ending"])
def test_missing_column(needed: str, faults) -> None:
    kept = [heading for heading in HEADER.split(",") if heading != needed]
    (fault,) = faults(f"{','.join(kept)}\n{','.join(['x'] * len(kept))}\n")
    assert (fault.line, fault.column) == (1, needed)
    assert fault.found == f"there is no column {needed}"
    assert f"Add a column headed {needed}" in fault.remedy


def test_missing_column_beside_a_misspelt_one(faults) -> None:
    (fault,) = faults(f"{HEADER.replace('ending', 'endng')}\n{ROW}\n")
    assert fault.remedy == "Is it 'endng'? Head that column ending"


def test_neither_load_nor_step(faults) -> None:
    (fault,) = faults("pull,anchor,seabed,ending\n1,S6,firm sand,never set\n")
    assert fault.found == "there is no column with a load or step"


def test_faults_of_rows_beside_ragged_ones(faults) -> None:
    """A row of the wrong length does not hide what is wrong with the others."""
    found = faults(f"{HEADER}\n1,day 1\n{ROW.replace('2.6', 'abc')}\n")
    assert [fault.line for fault in found] == [2, 3]


@pytest.fixture
def refused(tmp_path, hollow_sound):
    """The one fault of a file with the given bytes."""

    def read(content: bytes):
        path = tmp_path / "log.csv"
        path.write_bytes(content)
        with pytest.raises(FaultyFile) as caught:
            read_log(path, hollow_sound)
        (fault,) = caught.value.faults
        return fault

    return read


def test_latin_1_is_refused_by_line_and_byte(refused) -> None:
    content = f"{HEADER},notes\n{ROW},calm\n2{ROW[1:]},".encode() + "gr\xfcn\n".encode("latin-1")
    fault = refused(content)
    assert fault.line == 3
    assert f"byte {content.index(0xFC)}: 0xfc" in fault.found
    assert "Save it as UTF-8" in fault.remedy


def test_byte_offset_counts_the_byte_order_mark(refused) -> None:
    content = b"\xef\xbb\xbf" + HEADER.encode() + b"\xfc\n"
    assert f"byte {content.index(0xFC)}: 0xfc" in refused(content).found


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le"])
def test_utf_16_is_refused(encoding: str, refused) -> None:
    fault = refused(f"{HEADER}\n{ROW}\n".encode(encoding))
    assert fault.line == 1
    assert "UTF-16" in fault.found or "NUL byte" in fault.found
    assert "Save it as UTF-8" in fault.remedy


def test_nul_byte_is_refused(refused) -> None:
    fault = refused(f"{HEADER}\n{ROW}\n2{ROW[1:]}\0\n".encode())
    assert fault.line == 3
    assert "a NUL byte (byte " in fault.found
    assert "no plain text" in fault.remedy


def test_workbook_is_refused(refused) -> None:
    fault = refused(b"PK\x03\x04" + bytes(40))
    assert "a spreadsheet workbook or archive" in fault.found
    assert "CSV UTF-8" in fault.remedy


def test_big_file_is_refused_before_it_is_read(tmp_path, monkeypatch) -> None:
    def read(_path, _most):
        pytest.fail("a file above the limit was read in")

    big = tmp_path / "log.csv"
    with big.open("wb") as file:
        file.truncate(50_000_000)
    monkeypatch.setattr("model.ingest.text_file._read", read)
    with pytest.raises(FaultyFile, match=r"50\.0 MB") as caught:
        read_text(big)
    assert f"up to {MAX_BYTES / 1e6:g} MB" in caught.value.faults[0].remedy


def test_limit_is_what_refuses(tmp_path) -> None:
    """The same file passes once the limit is lifted: nothing else refuses it."""
    path = tmp_path / "log.csv"
    path.write_text("x" * 2000, encoding="utf-8")
    with pytest.raises(FaultyFile):
        read_text(path, max_bytes=1999)
    assert len(read_text(path, max_bytes=2000)) == 2000


@pytest.mark.parametrize("name", ["nowhere.csv", ".", "a\0b.csv"])
def test_no_such_file(name: str, tmp_path, hollow_sound) -> None:
    with pytest.raises(InputError) as caught:
        read_log(tmp_path / name, hollow_sound)
    assert caught.value.exit_code == 2
    assert caught.value.hint
