"""Files made to take all the time or memory there is, each within the sizes that are read."""

import json

from fuzzed_files import CAMPAIGN, described
from fuzzed_logs import SHORT, zipped

HEADER = "pull,outing,seabed,anchor,ending,load_kn,notes\n"
ROW = "{},day 1,firm sand,S6,released,2.6,x\n"
MOST = 19_900_000
"""Bytes of a log: just below what is read."""
MOST_TOML = 495_000


def _until(most, pieces):
    """Pieces put together up to so many characters."""
    parts, size = [], 0
    for piece in pieces:
        size += len(piece)
        if size > most:
            break
        parts.append(piece)
    return "".join(parts)


def _count():
    number = 0
    while True:
        number += 1
        yield number


def sheet(rows, *, strings=(), dimension=""):
    """A workbook of one sheet, its rows as XML."""
    main = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    link = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    types = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    shared = "".join(f"<si><t>{text}</t></si>" for text in strings)
    part = '<Override PartName="/xl/{}.xml" ContentType="' + types + '.{}+xml"/>'
    parts = (
        part.format("workbook", "sheet.main")
        + part.format("worksheets/sheet1", "worksheet")
        + part.format("sharedStrings", "sharedStrings")
    )
    relation = '<Relationship Id="{}" Type="' + link + '/{}" Target="{}"/>'
    relations = (
        "<Relationships xmlns="
        '"http://schemas.openxmlformats.org/package/2006/relationships">{}</Relationships>'
    )
    members = {
        "[Content_Types].xml": "<Types "
        'xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
        f'<Default Extension="xml" ContentType="application/xml"/>{parts}</Types>',
        "_rels/.rels": relations.format(relation.format("r1", "officeDocument", "xl/workbook.xml")),
        "xl/workbook.xml": f'<workbook {main} xmlns:r="{link}"><sheets>'
        '<sheet name="a" sheetId="1" r:id="r1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": relations.format(
            relation.format("r1", "worksheet", "worksheets/sheet1.xml")
            + relation.format("r2", "sharedStrings", "sharedStrings.xml")
        ),
        "xl/sharedStrings.xml": f"<sst {main}>{shared}</sst>",
        "xl/worksheets/sheet1.xml": f"<worksheet {main}>{dimension}<sheetData>{rows}</sheetData>"
        "</worksheet>",
    }
    return zipped([(name, text.encode()) for name, text in members.items()])


def _shared_cells():
    """One text of 30,000 characters that 20,000 pulls share."""
    words = [*SHORT[0][:7], "notes", "day 1", "firm sand", "S6", "released", "z" * 30_000]
    head = ["pull", "outing", "seabed", "anchor", "ending", "load_kn", "notes"]
    words = [*head, "day 1", "firm sand", "S6", "released", "z" * 30_000]
    at = {word: place for place, word in enumerate(words)}

    def cell(word):
        return f'<c t="s"><v>{at[word]}</v></c>'

    rows = ["<row>" + "".join(map(cell, head)) + "</row>"]
    names = "".join(map(cell, ["day 1", "firm sand", "S6", "released"]))
    rows += [
        f"<row><c><v>{i}</v></c>{names}<c><v>2.6</v></c>{cell('z' * 30_000)}</row>"
        for i in range(19_000)
    ]
    return sheet("".join(rows), strings=words)


LOGS = {
    "many short rows": lambda: (HEADER + _until(MOST, ("1\n" for _ in _count()))),
    "many empty lines": lambda: ("\n" * MOST),
    "many rows of commas": lambda: (HEADER + ",,,,,,\n" * (MOST // 7)),
    "as many pulls as are read": lambda: (
        HEADER + "".join(ROW.format(i) for i in range(19_999))
    ),
    "as many pulls nobody knows": lambda: (
        HEADER + "".join(f"{i},day x,mud x,S{i},dragged,x,x\n" for i in range(19_999))
    ),
    "one pull of as many bites": lambda: (HEADER + ROW.format(1) * 19_999),
    "one row very often": lambda: (HEADER + ROW.format(1) * (MOST // 40)),
    "100,000 columns": lambda: (
        ",".join(f"c{i}" for i in range(100_000)) + "\n" + "," * 99_999 + "\n"
    ),
    "a giant cell": lambda: (HEADER + "1,day 1,firm sand,S6,released,2.6," + "x" * MOST),
    "a quote never closed": lambda: (HEADER + '"' + "1,2\n" * (MOST // 4)),
    "quotes and nothing else": lambda: ('"' * MOST),
    "giant digits": lambda: (
        HEADER + _until(MOST, (f"{i},day 1,firm sand,S6,released,{'9' * 90_000},x\n"
                               for i in _count()))
    ),
    "giant names": lambda: (
        HEADER + _until(MOST, (f"{'p' * 90_000},{'d' * 30_000},a,b,c,d,e\n" for _ in _count()))
    ),
    "very many signs": lambda: (
        HEADER.replace("notes", "signs")
        + "1,day 1,firm sand,S6,released,2.6," + "|".join(f"s{i}=yes" for i in range(12_000)) + "\n"
    ),
}  # fmt: skip
WORKBOOKS = {
    "a bomb": lambda: zipped([("xl/workbook.xml", b"\0" * 300_000_000)]),
    "many cells": lambda: sheet(
        _until(19_000_000, ("<row>" + "<c><v>1</v></c>" * 500 + "</row>" for _ in _count()))
    ),
    "many rows": lambda: sheet(
        _until(19_000_000, ("<row><c><v>1</v></c></row>" for _ in _count()))
    ),
    "many empty rows": lambda: sheet(_until(19_000_000, ("<row/>" for _ in _count()))),
    "deep": lambda: sheet("<row>" + "<c>" * 4_000_000),
    "one giant cell": lambda: sheet('<row><c t="str"><v>' + "x" * 19_000_000 + "</v></c></row>"),
    "one text shared by all pulls": _shared_cells,
    "a dimension without end": lambda: sheet(
        "<row><c><v>1</v></c></row>", dimension='<dimension ref="A1:XFD1048576"/>'
    ),
}
CAMPAIGNS = {
    "unknown keys": lambda: CAMPAIGN.split("\n[")[0]
    + _until(MOST_TOML, (f"\nk{i} = 1" for i in _count())),
    "very many tables": lambda: _until(MOST_TOML, (f"[a{i}]\n" for i in _count())),
    "very many lists": lambda: _until(MOST_TOML, (f"[[a{i}]]\n" for i in _count())),
    "one list very often": lambda: _until(MOST_TOML, ("[[outings]]\n" for _ in _count())),
    "very many outings": lambda: CAMPAIGN
    + _until(MOST_TOML - 3000, (f'\n[[outings]]\nname = "o{i}"' for i in _count())),
    "very many anchors": lambda: CAMPAIGN
    + _until(MOST_TOML - 3000, (f'\n[[anchors]]\ncode = "o{i}"\nmass_kg = 1' for i in _count())),
    "very many levels": lambda: CAMPAIGN
    + '\n[treatments.x]\nbaseline = "l1"\nlevels = ['
    + _until(MOST_TOML - 9000, (f'"l{i}",' for i in _count()))
    + "]",
    "very many steps": lambda: CAMPAIGN
    + "\n[ladders.x]\ndwell_s = 1\nfinal_hold_s = 1\nsteps = ["
    + _until(MOST_TOML - 9000, (f"{i}e-5," for i in _count()))
    + "]",
    "labels that are loads": lambda: CAMPAIGN
    + "\n[ladders.x]\ndwell_s = 1\nfinal_hold_s = 1\nsteps = ["
    + _until(MOST_TOML // 2, (f'{{load={i}e-3,label="{i}e"}},' for i in _count()))
    + "]",
    "questions": lambda: CAMPAIGN
    + _until(MOST_TOML - 9000, (f'\n[[questions]]\nname="q{i}"\na="anchor=S6"\nb="anchor=W8"'
                                for i in _count())),
    "headings": lambda: CAMPAIGN
    + "\n[columns.headings]\n"
    + _until(MOST_TOML - 9000, (f'h{i} = "x{i}"\n' for i in _count())),
    "brackets": lambda: "a = " + "[" * MOST_TOML,
    "inline tables": lambda: "a = " + "{a=" * (MOST_TOML // 3),
    "dotted": lambda: ".".join("a" * (MOST_TOML // 2)) + " = 1",
    "49 dots": lambda: _until(MOST_TOML, (".".join(["a"] * 49) + f".k{i} = 1\n" for i in _count())),
    "a giant whole number": lambda: "a = " + "9" * MOST_TOML,
    "a giant name": lambda: 'name = "' + "x" * MOST_TOML + '"',
    "spaces": lambda: "name" + " " * MOST_TOML,
    "quotes": lambda: '"' * MOST_TOML,
    "dates that are none": lambda: "a = [" + "2026-99-99," * (MOST_TOML // 11),
}  # fmt: skip


HISTORY = "kept_revision,kept_is_removed,kept_campaign,kept_source,kept_who,kept_why,kept_stored_at"


def packages_from(sound):
    """Hostile packages, made of the parts of a sound one (name to bytes)."""
    campaigns = sound["campaigns.json"].decode()
    pulls = sound["pulls.csv"].decode()
    descriptor = sound["datapackage.json"].decode()
    one = json.loads(campaigns)[:1]
    row = pulls.split("\n")[1]

    def _package(*, pulls="", campaigns="[]", descriptor=descriptor):
        members = {"datapackage.json": descriptor, "pulls.csv": pulls, "campaigns.json": campaigns}
        return zipped([(name, text.encode()) for name, text in members.items()])

    def _fitting(pulls):
        """The same with a descriptor of these columns, so that the rows are read."""
        fitting = described(sound["datapackage.json"], pulls[:1000].encode())
        return _package(campaigns=campaigns, pulls=pulls, descriptor=fitting.decode())

    def _with(change):
        whole = json.loads(campaigns)[-1:]
        change(whole[0]["campaign"])
        return _package(campaigns=json.dumps(whole), pulls=pulls)

    def _names(count, write):
        return _with(
            lambda campaign: campaign["treatments"][0]["levels"].extend(map(write, range(count)))
        )

    return {
        "a bomb": lambda: _package(pulls="0" * 190_000_000),
        "many lists": lambda: _package(campaigns="[" + "[]," * 19_000_000 + "[]]"),
        "deep": lambda: _package(campaigns="[" * 20_000_000),
        "very many campaigns": lambda: _package(
            campaigns=json.dumps(one * (9_900_000 // len(campaigns))), pulls=pulls
        ),
        "many short rows": lambda: _fitting(
            f"{HISTORY},pull,outing,bite\n" + "1\n" * 19_900_000
        ),
        "many wide rows": lambda: _package(
            campaigns=campaigns,
            pulls=",".join(f"c{i}" for i in range(100_000)) + "\n" + "1\n" * 9999,
        ),
        "many pulls": lambda: _package(
            campaigns=campaigns,
            pulls=pulls.split("\n")[0] + "\n" + "\n".join(
                row.replace(",1,day 1,", f",{i},day 1,", 1) for i in range(150_000)
            ),
        ),
        "one pull of very many rows": lambda: _package(
            campaigns=campaigns, pulls=pulls.split("\n")[0] + f"\n{row}" * 150_000
        ),
        "giant digits": lambda: _package(campaigns="[" + "9" * 9_900_000 + "]"),
        "very many names": lambda: _names(99_000, lambda i: f"l{i}"),
        "very many names that hide": lambda: _names(99_000, lambda i: f"{i}\u200b"),
        "very many names taken apart": lambda: _names(99_000, lambda i: f"x,{i}="),
        "very many values that are no names": lambda: _with(
            lambda campaign: campaign["treatments"][0].update(levels=[1] * 3_000_000)
        ),
        "giant digits of a descriptor": lambda: _package(descriptor="9" * 1_999_999),
        "a deep descriptor": lambda: _package(descriptor="[" * 1_999_999),
        "a descriptor of lists": lambda: _package(
            descriptor='{"resources": [' + "[]," * 600_000 + "[]]}"
        ),
        "a descriptor of many fields": lambda: _package(
            descriptor=descriptor.replace('"fields": [', '"fields": [' + "{}," * 600_000, 1)
        ),
        "a descriptor of many resources": lambda: _package(
            descriptor=descriptor.replace(
                '"resources": [', '"resources": [' + '{"name":""},' * 150_000, 1
            )
        ),
        "a giant descriptor": lambda: _package(descriptor='{"title": "' + "x" * 190_000_000),
    }  # fmt: skip
