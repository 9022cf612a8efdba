"""Campaign files and data packages spoilt on purpose: valid ones changed key by key."""

import csv
import io
import json

from fuzzed_logs import CELLS, CHANGES, DATA, JUNK, one_of, rezipped, spoilt_bytes, upto, zipped
from hypothesis import strategies as st

CAMPAIGN = (DATA / "campaign.toml").read_text("utf-8")

VALUES = st.sampled_from(
    [
        *("1", "0", "-1", "5", "6.2", "nan", "inf", "-inf", "1e400", "1e-400", "true", '""', '"x"'),
        *("[]", "[1]", '["a", 1]', "{}", "{a = 1}", "[{}]", "[[]]", '"S6"', '"day 1"', '"unknown"'),
        *("2026-05-03", "2026-05-03T10:00:00", "0001-01-01", "9999-12-31", "2026-02-30", "10:00"),
        *("9" * 400, "0x" + "f" * 400, "9" * 5000, "[" * 2000, '"\\ud800"', '"\\u0000"', '"a\\nb"'),
        *("'''x\ny'''", '"leader=wire 2 m"', '"anchor=S6, leader=wire 2 m"', '["a", "a"]', "[0.5]"),
        *("[0.5, 0.5]", "[1e9]", '"typical"', '"hold"', '"±0.15"', '"1.15"', '"kn"', '"sand"'),
        *(
            '"' + "x" * 200 + '"',
            "{ load = 1, dwell_s = 1e9 }",
            "1_000",
            "0o17",
            "1979-05-27 07:32",
        ),
    ]
) | CELLS.map(json.dumps)
KEYS = st.sampled_from(
    [
        *("name", "code", "mass_kg", "mass", "mass_lb", "top_thrust", "top_thrust_lbf", "steps"),
        *(
            "dwell_s",
            "ladder",
            "boat",
            "site",
            "seabed",
            "seabeds",
            "baseline",
            "levels",
            "measure",
        ),
        *("hold", "band", "a", "b", "class", "date", "since", "modified_from", "points_to", "unit"),
        *('""', '"a b"', "x", "a.b.c", "name.x", ".".join("a" * 60), "decimal_comma", "headings"),
    ]
)
HEADERS = st.sampled_from(
    [
        *(
            "[units]",
            "[[boats]]",
            "[boats]",
            "[ladders.x]",
            "[[outings]]",
            "[[seabeds]]",
            "[[sites]]",
        ),
        *(
            "[[anchors]]",
            "[treatments.x]",
            '[treatments."a b"]',
            "[treatments.load_kn]",
            "[columns]",
        ),
        *(
            "[columns.headings]",
            "[minutes]",
            "[[questions]]",
            "[[signs]]",
            "[x]",
            "[[x]]",
            "[",
            "[]",
        ),
        *("[a.b.c.d]", "[name]", "[[name]]", "[treatments.tip ballast]", "[ladders.unknown]"),
    ]
)


@st.composite
def campaign_files(draw):
    """Bytes of a campaign file after up to five changes of its lines."""
    lines = CAMPAIGN.split("\n")
    for _ in range(draw(one_of(0, 1, 1, 2, 2, 3, 4))):
        lines = draw(st.sampled_from(LINE_CHANGES))(draw, lines)
    end = draw(st.sampled_from(["\n"] * 6 + ["\r\n", "\r"]))
    return draw(spoilt_bytes(end.join(lines).encode("utf-8", "surrogatepass")))


def _at(draw, lines):
    return draw(upto(max(len(lines) - 1, 0)))


def _value(draw, lines):
    at = _at(draw, lines)
    key, equals, _ = lines[at].partition(" = ")
    value = draw(VALUES)
    return [*lines[:at], f"{key} = {value}" if equals else lines[at], *lines[at + 1 :]]


def _word(draw, lines):
    """A changed name: whatever refers to it, or is stored, does no more."""
    at, name = _at(draw, lines), draw(CELLS)
    key, equals, value = lines[at].partition(" = ")
    is_text = equals and value.startswith('"')
    return [*lines[:at], f"{key} = {json.dumps(name)}" if is_text else lines[at], *lines[at + 1 :]]


def _number(draw, lines):
    at = _at(draw, lines)
    key, equals, value = lines[at].partition(" = ")
    number = draw(one_of("7", "6", "15.5", "60", "2e3", "1e-9", "100", "1001"))
    is_number = equals and value[:1].isdigit()
    return [*lines[:at], f"{key} = {number}" if is_number else lines[at], *lines[at + 1 :]]


def _key(draw, lines):
    at = _at(draw, lines)
    _, equals, value = lines[at].partition(" = ")
    return [*lines[:at], f"{draw(KEYS)} = {value}" if equals else lines[at], *lines[at + 1 :]]


def _take(draw, lines):
    at = _at(draw, lines)
    return lines[:at] + lines[at + draw(st.integers(1, 6)) :]


def _put(draw, lines):
    at = _at(draw, lines)
    made = draw(HEADERS) if draw(st.booleans()) else f"{draw(KEYS)} = {draw(VALUES)}"
    return [*lines[:at], made, *lines[at:]]


def _move(draw, lines):
    one, other = _at(draw, lines), _at(draw, lines)
    block = lines[one : one + draw(st.integers(1, 8))]
    return lines[:other] + block + lines[other:]


def _junk(draw, lines):
    at = _at(draw, lines)
    return [*lines[:at], draw(st.sampled_from(JUNK)).decode("utf-8", "replace"), *lines[at:]]


LINE_CHANGES = [
    *([_value] * 3 + [_word] * 6 + [_number] * 6),
    *(_key, _take, _put, _move, _junk),
]

# --- data packages --------------------------------------------------------------------------------


@st.composite
def packages(draw, sound):
    """Bytes of a data package, made of the members of a sound one (name to bytes)."""
    members = dict(sound)
    kinds = [draw(one_of(*PACKAGE_CHANGES)) for _ in range(draw(upto(3)))]
    for kind in kinds:
        if kind == "rows":
            members["pulls.csv"] = _rows(draw, members["pulls.csv"])
        elif kind == "names":
            members["campaigns.json"] = _named(draw, members["campaigns.json"])
        elif kind == "campaigns":
            members["campaigns.json"] = _json(draw, members["campaigns.json"])
    if "rows" in kinds and draw(upto(7)):  # else a changed heading would always end at the door
        members["datapackage.json"] = described(members["datapackage.json"], members["pulls.csv"])
    if "descriptor" in kinds:
        members["datapackage.json"] = draw(_descriptors(members["datapackage.json"]))
    content = zipped(list(members.items()))
    if draw(upto(6)) == 0:
        content = draw(rezipped(content, {rb'"[^"]*"': [b'"\\ud800"', b"null", b"{}", b'"x"']}))
    return draw(spoilt_bytes(content)) if draw(upto(4)) == 0 else content


PACKAGE_CHANGES = (*["rows"] * 5, *["campaigns"] * 4, "names", "descriptor")


def described(descriptor, pulls):
    """A descriptor with the columns that the pulls are headed by, whatever they are called."""
    whole = json.loads(descriptor)
    try:
        headings = next(csv.reader(io.StringIO(pulls.decode("utf-8"), newline="")), [])
    except (csv.Error, UnicodeDecodeError):
        return descriptor
    schema = whole["resources"][0]["schema"]
    known = {field["name"]: field for field in schema["fields"]}
    schema["fields"] = [
        known.get(heading) or {"name": heading, "type": TYPES.get(heading, "string")}
        for heading in headings
    ]
    return json.dumps(whole).encode()


TYPES = {
    **dict.fromkeys(("scope", "held_s", "start_kn", "last_held_kn", "soak_min"), "number"),
    **dict.fromkeys(("load_kn", "resolution_kn"), "number"),
    "bite": "integer",
    "date": "date",
}
SPOILT = st.sampled_from(
    [
        *("version", "path", "name", "type", "primaryKey", "fields", "encoding", "schema"),
        *("format", "decimalChar", "missingValues", "resources", "title", "description"),
    ]
)


@st.composite
def _descriptors(draw, data):
    """A descriptor with one thing changed: by its name, wherever that stands, or anywhere."""
    if draw(st.booleans()):
        return _json(draw, data)
    whole, key = json.loads(data), draw(SPOILT)
    holders = [holder for holder, at in _places(whole) if at == key] or [
        holder for holder, at in _places(whole) if at == "name"
    ]
    holder = holders[draw(upto(len(holders) - 1))]
    value = draw(PLAIN | st.sampled_from(["2.0.0", "1.9", "any", "integer", "number", "pulls"]))
    if draw(upto(3)):
        holder[key] = value
    else:
        holder.pop(key, None)
    return json.dumps(whole).encode()


ODD_NAMES = st.sampled_from(
    [
        *("s6", "\u04056", "S6\u200b", "S\u202e6", "P,x=9", "wire, chain=6 mm", "Day 1", "day  1"),
        *("Firm sand", "wind", "load_kn", "a=b", "0,4 kg", "unknown", "scope", "S 6", "e\u0301"),
    ]
)


def _named(draw, data):
    """A copy of something that the newest campaign lists, under a name that is alike or odd."""
    field, name = draw(st.sampled_from(LISTED)), draw(ODD_NAMES)
    try:
        whole = json.loads(data)
        listed = whole[-1]["campaign"][field]
        listed.append(listed[-1] | {"code" if field == "anchors" else "name": name})
    except (ValueError, RecursionError, LookupError, TypeError, AttributeError):
        return data
    return json.dumps(whole).encode()


LISTED = ("outings", "seabeds", "sites", "anchors", "treatments", "gauges", "signs")


def _rows(draw, data):
    try:
        rows = list(csv.reader(io.StringIO(data.decode("utf-8"), newline="")))
    except (csv.Error, UnicodeDecodeError):
        return data
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\n")
    writer.writerows(draw(st.sampled_from([*CHANGES, *[_history] * 6]))(draw, rows))
    return file.getvalue().encode("utf-8", "surrogatepass")


HISTORY = st.sampled_from(
    [
        *("", "0", "1", "2", "3", "-1", "1.0", "x", "9" * 5000, "true", "false", "null", "1e3"),
        *("2026-05-04T12:00:00+00:00", "2026-05-04", "0001-01-01T00:00:00+23:59", "9999-12-31"),
        *("0001-01-01T00:00:00", "9999-12-31T23:59:59-23:59", "2026-05-04T12:00:00Z", "12:00"),
        *("2026-05-04T12:00:00+00:00:00.000001", str(2**63), "\u0661"),
    ]
)


def _history(draw, rows):
    if rows and rows[0]:
        row = draw(st.integers(1, max(len(rows) - 1, 1))) % len(rows)
        column = draw(upto(6)) % max(len(rows[row]), 1)
        rows[row][column : column + 1] = [draw(HISTORY)]
    return rows


PLAIN = st.sampled_from(
    [
        *(None, True, False, 0, 1, -1, 2**70, 1e308, 6.2, "", "x", "S6", "day 1", "unknown"),
        *([], {}, [[]], [None], {"a": 1}, "\ud800", "\0", "x" * 200, "2026-05-04", "typical"),
        *("0001-01-01T00:00:00+23:59", "2026-05-04T12:00:00+00:00", "1e400", float("nan")),
    ]
)


def _json(draw, data):
    """One value of a JSON text replaced, taken out or put in, however deep it lies."""
    try:
        whole = json.loads(data)
    except (ValueError, RecursionError):
        return data
    if draw(upto(15)) == 0:
        return draw(st.sampled_from([b"[" * 100_000, b"[]", b"{}", b"null", b"9" * 5000, b"NaN"]))
    places = list(_places(whole))
    if places:
        holder, key = places[draw(upto(len(places) - 1))]
        kind = draw(one_of("set", "set", "take", "put"))
        if kind == "set":
            holder[key] = draw(PLAIN)
        elif kind == "take":
            del holder[key]
        elif isinstance(holder, list):
            holder.insert(key, draw(PLAIN))
        else:
            holder[draw(one_of("x", "", "name"))] = draw(PLAIN)
    return json.dumps(whole).encode()


def _places(value):
    """Every place in a nest of lists and tables, as its holder and key."""
    if not isinstance(value, dict | list):
        return
    for key, inner in list(value.items() if isinstance(value, dict) else enumerate(value)):
        yield value, key
        yield from _places(inner)
