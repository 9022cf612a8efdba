"""Pull logs spoilt on purpose: a valid one changed cell by cell, row by row, byte by byte.

Changes are structural, so that most files get past the first checks of a reader.
"""

import contextlib
import csv
import datetime as dt
import functools
import io
import re
import zipfile
from pathlib import Path

from hypothesis import strategies as st
from openpyxl import Workbook
from openpyxl.cell.cell import MergedCell

DATA = Path(__file__).parents[1] / "ingest" / "data"
SOUND = tuple(
    tuple(row)
    for row in csv.reader(io.StringIO((DATA / "pulls.csv").read_text("utf-8"), newline=""))
)
"""An invented log: every column, slips and turns, a void pull, an old sheet without a ladder."""
SHORT = tuple(tuple(row[i] for i in (0, 1, 4, 6, 7, 12, 14, 19, 28)) for row in SOUND)
"""The same with a few columns only: what is changed there matters more."""

CELLS = st.sampled_from(
    [
        *("", " ", "0", "1", "2", "-1", "3,2", "3.2", "1e9", "1e400", "nan", "inf", "-inf", "٣"),
        *("9" * 40, "0." + "0" * 60, "1.234.567", "6.2", "6.20", "6.3", "99", "1000001", "½", "#"),
        *("day 1", "day 2", "old sheet", "S6", "s6", "W8", "S6b", "firm sand", "soft mud"),
        *("north spit", "inner pool", "chain only", "wire 2 m", "0.4 kg", "none", "900 rpm"),
        *("released", "held", "never set", "stopped", "void", "released then stopped", "Held "),
        *("fresh", "after slip", "after turn", "step", "peak", "upright", "on_side", "yes", "no"),
        *(">0.9", "<0.2", "0.6±0.05", "<", "±", "marker under=yes", "marker under=yes|x=no", "|="),
        *("2026-05-03", "03.05.2026", "0000-00-00", "9999-12-31", "0001-01-01", "2026-02-30"),
        *("09:10", "25:00", "5:1", "1:0", "=cmd()", "'=1", "+1", "@x", "-", "Total", "Sum:"),
        *("\n", "\r", "\t", '"', ",", ";", "a\nb", "\x07", "\x1b[2J", "\u202e", "\ufeff", "\x00"),
        *("😀" * 30, "\uff41", "e\u0301", "\ud800", "x" * 200, "<b>x</b>", "#REF!"),
    ]
) | st.text(max_size=6)
HEADINGS = st.sampled_from(
    [
        *("pull", "outing", "date", "time", "seabed", "site", "anchor", "leader", "scope"),
        *("rode_m", "depth_ft", "bite", "start", "ending", "reading", "step", "load_kn", "load"),
        *("load_lbf", "last_held_kn", "held_s", "start_kn", "resolution_lbf", "mode", "camera"),
        *("buried_m", "buried_cm", "signs", "soak_min", "notes", "reason", "", "own", "Pull ", "x"),
        *("kept_why", "LOAD KN", "load_stone", "loads", "anhcor", "tip balast", "=1", "\n", "\x00"),
    ]
)


@functools.cache  # a strategy that is made anew at each draw is checked anew, at half the time
def upto(most):
    """Whole numbers from 0."""
    return st.integers(0, most)


@functools.cache
def one_of(*options):
    """One of some words."""
    return st.sampled_from(options)


@st.composite
def tables(draw):
    """Rows of a log after up to five changes; none leaves a sound one."""
    rows = [list(row) for row in draw(st.sampled_from([SOUND, SHORT]))]
    for _ in range(draw(one_of(1, 1, 1, 1, 2, 2, 3, 4))):
        rows = draw(st.sampled_from(CHANGES))(draw, rows)
    return rows


def _place(draw, rows):
    row = draw(upto(max(len(rows) - 1, 0)) | st.integers(1, max(len(rows) - 1, 1)))
    row = min(row, max(len(rows) - 1, 0))
    return row, draw(upto(max(len(rows[row]) - 1, 0)) if rows else st.just(0))


def _cell(draw, rows):
    row, column = _place(draw, rows)
    if rows and rows[row]:
        rows[row][column] = draw(HEADINGS if row == 0 else CELLS)
    return rows


def _word(draw, rows):
    """A cell that takes any words, so that odd ones reach the store."""
    free = [i for i, name in enumerate(rows[0]) if name in FREE] if rows else []
    row, _ = _place(draw, rows)
    if free and 0 < row < len(rows):
        column = free[draw(upto(len(FREE))) % len(free)]
        rows[row][column : column + 1] = [draw(CELLS)]
    return rows


def _another(draw, rows):
    """Pulls that are new, so that there is something to store."""
    code = draw(st.integers(100, 999))
    fresh = [list(row) for row in rows[1 : 1 + draw(st.integers(1, 3))]]
    return [*rows, *([f"{code}-{i}", *row[1:]] for i, row in enumerate(fresh))]


def _swap(draw, rows):
    (one, left), (other, right) = _place(draw, rows), _place(draw, rows)
    if rows and rows[one] and rows[other]:
        rows[one][left], rows[other][right] = rows[other][right], rows[one][left]
    return rows


def _take_row(draw, rows):
    row, _ = _place(draw, rows)
    return rows[:row] + rows[row + 1 :]


def _twice(draw, rows):
    row, _ = _place(draw, rows)
    return rows[:row] + [list(each) for each in rows[row : row + 1]] + rows[row:]


def _put_row(draw, rows):
    row, _ = _place(draw, rows)
    width = len(rows[0]) if rows else 3
    kind = draw(one_of("empty", "title", "total", "header", "any"))
    made = {
        "empty": [""] * width,
        "title": ["My trials", *[""] * (width - 1)],
        "total": ["Total", *[""] * (width - 2), "6.2"],
        "header": list(rows[0]) if rows else [],
        "any": draw(st.lists(CELLS, max_size=width + 1)) if kind == "any" else [],
    }[kind]
    return [*rows[:row], made, *rows[row:]]


def _take_column(draw, rows):
    _, column = _place(draw, rows)
    return [row[:column] + row[column + 1 :] for row in rows]


def _put_column(draw, rows):
    heading, cell = draw(HEADINGS), draw(CELLS)
    return [[*row, cell if i else heading] for i, row in enumerate(rows)]


def _units(draw, rows):
    """Another unit than the file's: the same digits mean other loads."""
    unit = draw(one_of("n", "dan", "kgf", "kg", "lbf", "tf", "ft", "cm", "in"))
    if rows:
        rows[0] = [re.sub(r"_(kn|m)$", f"_{unit}", heading) for heading in rows[0]]
    return rows


def _wide(draw, rows):
    width = draw(st.sampled_from([499, 501, 3000]))
    return [[*row, *(f"c{i}" for i in range(width))] for row in rows[:3]]


def _long(draw, rows):
    """A giant cell."""
    row, column = _place(draw, rows)
    if rows and rows[row]:
        rows[row][column] = draw(st.sampled_from("x1 ,")) * draw(st.sampled_from([130, 40_000]))
    return rows


FREE = ("notes", "wind", "sea", "video", "skipper", "reason")
CHANGES = [
    *([_cell] * 16 + [_word] * 10 + [_another] * 10 + [_swap] * 2),
    *(_take_row, _twice, _put_row, _take_column, _put_column, _units, _wide, _long),
]

# --- as text --------------------------------------------------------------------------------------


@st.composite
def csv_logs(draw):
    """Bytes of a .csv."""
    delimiter = draw(st.sampled_from(",,,,,,,,,,,,;;;;;;\t|"))
    end = draw(st.sampled_from(["\n", "\n", "\r\n"] * 3 + ["\r"]))
    quoting = draw(st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]))
    file = io.StringIO(newline="")
    writer = csv.writer(file, delimiter=delimiter, lineterminator=end, quoting=quoting)
    with contextlib.suppress(csv.Error):  # a lone empty cell without quotes
        writer.writerows(draw(tables()))
    text = file.getvalue()
    if draw(upto(7)) == 0:  # mixed line ends
        text = text.replace(end, draw(one_of("\r\n", "\r", "\n\n", "\x0b")), 2)
    encoding = draw(st.sampled_from(["utf-8"] * 20 + ["utf-8-sig", "latin-1", "utf-16"]))
    content = text.encode(encoding, "surrogatepass" if encoding == "utf-8" else "replace")
    return draw(spoilt_bytes(content))


@st.composite
def spoilt_bytes(draw, content):
    """The same bytes, or (one in eight) with some changed."""
    if draw(upto(7)):
        return content
    made = bytearray(content)
    for _ in range(draw(st.integers(1, 3))):
        at = draw(upto(1000)) * len(made) // 1000
        kind = draw(one_of("put", "flip", "cut", "end"))
        if kind == "put":
            made[at:at] = draw(st.sampled_from(JUNK))
        elif kind == "flip" and at < len(made):
            made[at] ^= 1 << draw(upto(7))
        elif kind == "cut":
            del made[at : at + draw(st.integers(1, 200))]
        elif kind == "end":
            del made[at:]
    return bytes(made)


JUNK = [
    *(b"\0", b"\xef\xbb\xbf", b"\n\xef\xbb\xbf", b"\xff", b"\xed\xa0\x80", b"\xc0\x80", b'"', b"'"),
    *(b"\r", b"\n", b";", b",", b"\xf0\x9f\x98\x80", b"[" * 300, b"{" * 300, b"9" * 5000, b"PK"),
]

# --- as a workbook --------------------------------------------------------------------------------


@st.composite
def workbooks(draw):
    """Bytes of an .xlsx."""
    book = Workbook()
    sheet = book.active
    rows = draw(tables())
    typed = draw(st.booleans())
    for i, row in enumerate(rows, start=1):
        for j, text in enumerate(row, start=1):
            if text:
                _fill(sheet.cell(i, j), text, typed=typed and i > 1)
    for _ in range(draw(upto(2))):
        draw(st.sampled_from(SHEET_CHANGES))(draw, book, sheet)
    file = io.BytesIO()
    book.save(file)
    content = _timeless(file.getvalue())
    for _ in range(draw(st.sampled_from([0, 0, 1, 2]))):
        content = draw(rezipped(content, _XML))
    return draw(spoilt_bytes(content)) if draw(upto(2)) == 0 else content


def _timeless(content):
    """Without the time of its making, so that the same draws give the same bytes."""
    with zipfile.ZipFile(io.BytesIO(content)) as book:
        members = [(name, book.read(name)) for name in book.namelist()]
    return zipped(
        [(name, re.sub(rb"\d{4}-\d\d-\d\dT[\d:]+Z", b"", data)) for name, data in members]
    )


def _fill(cell, text, *, typed):
    clean = re.sub("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff]", "?", text)[:32_000]
    try:
        cell.value = float(text) if typed and text[0] in "0123456789" else clean
    except (ValueError, OverflowError):
        cell.value = clean
    if cell.data_type == "f":
        cell.data_type = "s"


TYPED = st.sampled_from(
    [
        *(True, 0, 3, -1, 3.2, 1e308, 1e-300, 2**70, 45000, 46145.5, 0.375, 9e9),
        *(
            dt.date(2026, 5, 3),
            dt.datetime.fromisoformat("2026-05-03T09:10"),
            dt.time(5, 1),
            dt.date(1900, 1, 1),
        ),
        *(
            dt.datetime.fromisoformat("9999-12-31T23:59:59"),
            dt.timedelta(hours=30),
            "=1+1",
            "#REF!",
            "#N/A",
        ),
        *("_xD800_", "_x0000_", "=A1:A3", "=SUM(", " 5:1"),
    ]
)
FORMATS = st.sampled_from(
    [
        *("General", "0.00", "000", "@", "yyyy-mm-dd", "hh:mm", "[h]:mm:ss", "0.0E+00", "0%"),
        *("[Red]0.0;;;", '0.0 "kN"', "0" * 300, "m/d/yy", "#,##0.0", "\\", "[$-407]d. mmm yyyy"),
    ]
)


def _some_cell(draw, sheet):
    return sheet.cell(draw(st.integers(1, 16)), draw(st.integers(1, 32)))


def _write_in(cell, value):
    """Of merged cells only the first takes a value."""
    if not isinstance(cell, MergedCell):
        cell.value = value


def _type(draw, _, sheet):
    _write_in(_some_cell(draw, sheet), draw(TYPED))


def _format(draw, _, sheet):
    _some_cell(draw, sheet).number_format = draw(FORMATS)


def _typed_and_formatted(draw, book, sheet):
    cell = _some_cell(draw, sheet)
    _write_in(cell, draw(TYPED))
    cell.number_format = draw(FORMATS)


def _merge(draw, _, sheet):
    sheet.merge_cells(draw(one_of("A1:B1", "A2:A3", "C4:E9", "A1:AE14", "B20:C21")))


def _hide(draw, book, sheet):
    kind = draw(one_of("row", "column", "sheet", "filter"))
    if kind == "row":
        sheet.row_dimensions[draw(st.integers(1, 14))].hidden = True
    elif kind == "column":
        sheet.column_dimensions["C"].hidden = True
    elif kind == "filter":
        sheet.auto_filter.ref = "A1:C9"
    else:
        book.create_sheet("in sight").append(["pull", "ending"])
        sheet.sheet_state = draw(one_of("hidden", "veryHidden"))


def _sheet(draw, book, _):
    book.create_sheet(draw(st.sampled_from(["day 2", "x" * 25])), draw(upto(1)))


def _far(draw, _, sheet):
    sheet[draw(one_of("XFD1", "A1048576", "ZZ30", "SG2"))] = draw(TYPED)


SHEET_CHANGES = [_type, _type, _format, _typed_and_formatted, _merge, _hide, _sheet, _far]

_XML = {
    rb'r="[A-Z]+\d+"': [b'r="ZZZ99999999"', b'r=""', b'r="A0"', b'r="1A"', b'r="A1"', b""],
    rb"<v>[^<]*</v>": [
        *(b"<v>nan</v>", b"<v>1e999</v>", b"<v>-1</v>", b"<v></v>", b"<v/>", b"<v>99999999999</v>"),
        *(b"<v>x</v>", b"<v>" + b"9" * 5000 + b"</v>", b"<v>2958466</v>", b"<v>0x10</v>"),
    ],
    rb't="[a-z]+"': [
        b't="d"',
        b't="b"',
        b't="e"',
        b't="inlineStr"',
        b't="str"',
        b't="q"',
        b't="n"',
    ],
    rb's="\d+"': [b's="999"', b's="-1"', b's="x"'],
    rb'<row r="\d+"': [b'<row r="0"', b'<row r="-5"', b'<row r="x"', b'<row r="1048577"', b"<row"],
    rb"<t[^>]*>[^<]*</t>": [
        *(b"<t>&#0;</t>", b"<t>&amp;</t>", b"<t>\xff</t>", b"<t></t>", b"<t>&lol;</t>"),
        *(b"<t>_xD800_</t>", b"<t>&#xD800;</t>", b"<t>" + b"x" * 40_000 + b"</t>"),
    ],
    rb"<\?xml[^>]*\?>": [
        b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY lol "ha">]>',
        b'<?xml version="1.0" encoding="utf-7"?>',
        b'<?xml version="1.0" encoding="nonsense"?>',
    ],
    rb"<sheetData>": [b"<sheetData><row><c><v>1</v></c></row>", b"<x>", b"<sheetData/><sheetData>"],
    rb"</worksheet>": [
        b'<mergeCells><mergeCell ref="A1:XFD1048576"/></mergeCells></worksheet>',
        b'<mergeCells><mergeCell ref="nonsense"/></mergeCells></worksheet>',
        b'<conditionalFormatting sqref="A1:Z9"/></worksheet>',
        b'<dataValidations><dataValidation sqref="A1:XFD9"/></dataValidations></worksheet>',
        b"",
    ],
    rb'Target="[^"]*"': [b'Target="/etc/passwd"', b'Target="../../x.xml"', b'Target=""'],
    rb'formatCode="[^"]*"': [b'formatCode=""', b'formatCode="[$-F800]"'],
}


@st.composite
def rezipped(draw, content, patterns):
    """An archive with one member renamed, taken out, put in twice, or changed inside."""
    with zipfile.ZipFile(io.BytesIO(content)) as old:
        members = [(info.filename, old.read(info)) for info in old.infolist()]
    at = draw(upto(len(members) - 1))
    name, data = members[at]
    kind = draw(one_of("inside", "inside", "inside", "take", "name", "twice", "bytes"))
    if kind == "inside":
        found = [pattern for pattern in patterns if re.search(pattern, data)]
        if found:
            pattern = draw(st.sampled_from(found))
            with_ = draw(st.sampled_from(patterns[pattern]))
            skip = draw(upto(30))
            matches = list(re.finditer(pattern, data))
            match = matches[skip % len(matches)]
            members[at] = (name, data[: match.start()] + with_ + data[match.end() :])
    elif kind == "take":
        del members[at]
    elif kind == "name":
        members[at] = (draw(st.sampled_from(["../x", "/etc/x", "a\\b", "", name.upper()])), data)
    elif kind == "twice":
        members.append((name, draw(st.sampled_from([data, b"", b"<x/>", b"[]"]))))
    else:
        members[at] = (name, draw(spoilt_bytes(data)))
    return zipped(members, draw(st.sampled_from([zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2])))


def zipped(members, method=zipfile.ZIP_DEFLATED):
    """An archive of (name, bytes), names standing twice among them."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", method) as archive:
        for name, data in members:
            info = zipfile.ZipInfo(name)
            info.compress_type = method
            archive.NameToInfo.pop(name, None)  # else it warns of a name that stands twice
            archive.writestr(info, data)
    return file.getvalue()
