"""Names that no campaign file may have do not come in by a package either."""

import json
import re

import pytest
from package_files import contents, written

from model.base.errors import FaultyFile, InputError
from model.ingest.record_names import place_within, record_faults
from model.records.columns import Columns
from model.service import package_reader
from model.service.campaigns import LISTS
from model.service.packages import export_package, import_package
from model.store.store import Store


def changed(package, target, change):
    """The package with `change` done to its newest campaign, which is a nest of plain values."""
    files = contents(package)
    campaigns = json.loads(files["campaigns.json"])
    change(campaigns[-1]["campaign"])
    return written(target, files | {"campaigns.json": json.dumps(campaigns)})


def more(field, **named):
    """One more in a list of the campaign: the last one under another name."""
    return lambda campaign: campaign[field].append(campaign[field][-1] | named)


def level(name):
    return lambda campaign: campaign["treatments"][0]["levels"].append(name)


# name: (what is done to the campaign, where the fault is, what is found)
BAD = {
    **{
        f"a {kind} alike but for case": (
            more(field, **{"code" if kind == "anchor" else "name": name}),
            rf"{field}\[\d\]\.(name|code)",
            "but for case, spaces or signs that look alike",
        )
        for kind, field, name in [
            ("boat", "boats", "Workboat"),
            ("gauge", "gauges", "CELL"),
            ("ladder", "ladders", "Steps"),
            ("outing", "outings", "Day 2"),
            ("seabed", "seabeds", "Soft  mud"),
            ("site", "sites", "South"),
            ("anchor", "anchors", "p9"),
            ("treatment", "treatments", "Chain"),
            ("sign", "signs", "Marker under"),
            ("question", "questions", "Leader on S6"),
        ]
    },
    "a letter that looks alike": (
        more("anchors", code="\u04056"),
        r"anchors\[3\]\.code",
        r"'\\u04056', which is 'S6'",
    ),
    "a level alike": (
        level("Wire 2 m"),
        r"treatments\[1\]\.levels",
        "'Wire 2 m', which is 'wire 2 m'",
    ),
    "a sign that nobody sees": (
        more("anchors", code="Q1\u200b"),
        r"anchors\[3\]\.code",
        "holds a sign that nobody sees .zero width space.",
    ),
    "one in the campaign's own name": (
        lambda campaign: campaign.update(name="Trials\u202e"),
        "name",
        "holds a sign that nobody sees",
    ),
    "a code that is two": (
        more("anchors", code="P,x=9"),
        r"anchors\[3\]\.code",
        "'P,x=9' holds ',' and '='",
    ),
    "a level that is two": (
        level("wire, chain=6 mm"),
        r"treatments\[1\]\.levels",
        "at which the text of a question is taken apart",
    ),
    "a treatment called like a column": (
        more("treatments", name="wind"),
        r"treatments\[3\]",
        "a treatment called 'wind'",
    ),
    "a heading that the log knows": (
        lambda campaign: campaign["columns"].update(headings={"load_kn": "scope"}),
        r"columns\.headings\.load_kn",
        "is a heading that the log knows",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_names_that_a_campaign_file_is_refused_for(name, package, lived, tmp_path, monkeypatch):
    change, where, found = BAD[name]
    bad = changed(package, tmp_path / "bad.zip", change)
    before = lived.history()
    for folder in (tmp_path / "new", lived.folder):
        with pytest.raises(FaultyFile, match=found) as caught:
            import_package(bad, folder)
        [fault] = caught.value.faults
        assert fault.source == "bad.zip, campaigns.json"
        assert fault.remedy
        assert re.fullmatch(rf"\[2\]\.campaign\.{where}", fault.column)
        assert package_reader.NAMES_HINT in str(caught.value)
    assert not (tmp_path / "new").exists()
    assert lived.history() == before
    monkeypatch.setattr(package_reader, "record_faults", lambda *_: iter(()))
    assert import_package(bad, tmp_path / "new").is_new  # as it was before they were looked at


LEGAL = ["0,4 kg", "P=9,x", "wire, 2 m", "a=b", "wire & chain", "5:1", "ß6", "été", "S-6"]


def test_odd_names_that_are_legal_go_out_and_in_again(small_campaign, small_pulls, tmp_path):
    leader = small_campaign.treatments[0]
    anchors = [small_campaign.anchors[0].model_copy(update={"code": name}) for name in LEGAL]
    campaign = small_campaign.model_copy(
        update={
            "treatments": (
                leader.model_copy(update={"levels": (*leader.levels, *LEGAL)}),
                *small_campaign.treatments[1:],
            ),
            "anchors": (*small_campaign.anchors, *anchors),
            "columns": Columns(headings={"Kraft": "load_kn", "Vorlauf": "leader"}),
        }
    )
    assert not list(record_faults(campaign, place_within("here")))
    store = Store.create(tmp_path / "odd", campaign)
    rig = {"anchor": "0,4 kg", "levels": {"leader": "a=b"}}
    store.add_pulls([small_pulls[0].model_copy(update=rig), *small_pulls[1:]], "log.csv")
    export_package(store, tmp_path / "odd.zip")
    import_package(tmp_path / "odd.zip", tmp_path / "again")
    assert Store.open(tmp_path / "again").history() == store.history()


def test_what_was_let_in_before_and_put_right_since_is_history(small_campaign, tmp_path):
    """Nobody could change an earlier version, so it stands in no package's way."""
    hidden = small_campaign.anchors[0].model_copy(update={"code": "Q1\u202e"})
    anchors = (*small_campaign.anchors, hidden)
    store = Store.create(tmp_path / "old", small_campaign.model_copy(update={"anchors": anchors}))
    export_package(store, tmp_path / "old.zip")
    with pytest.raises(FaultyFile, match="that nobody sees"):
        import_package(tmp_path / "old.zip", tmp_path / "new")
    store.replace_campaign(small_campaign)  # as the hint says
    export_package(store, tmp_path / "right.zip")
    import_package(tmp_path / "right.zip", tmp_path / "new")
    assert Store.open(tmp_path / "new").history() == store.history()


def test_a_pull_cannot_bring_back_what_only_an_earlier_version_has(package, tmp_path, monkeypatch):
    def drop(campaign):
        campaign["anchors"] = [one for one in campaign["anchors"] if one["code"] != "P9"]
        campaign["questions"] = [one for one in campaign["questions"] if "P9" not in str(one)]

    bad = changed(package, tmp_path / "bad.zip", drop)
    files = contents(bad)
    # Read by an earlier version, under which the name is known.
    pulls = re.sub(r"^(\d,(?:true|false)),2,", r"\1,1,", files["pulls.csv"], flags=re.MULTILINE)
    written(bad, files | {"pulls.csv": pulls})
    with pytest.raises(InputError, match=r"its newest campaign lacks anchor 'P9' \(in \d pulls"):
        import_package(bad, tmp_path / "new")
    assert not (tmp_path / "new").exists()
    monkeypatch.setattr(package_reader, "unknown_names", lambda *_: [])
    assert import_package(bad, tmp_path / "new").is_new


def test_endless_faults_are_cut(package, tmp_path, monkeypatch):
    monkeypatch.setattr(package_reader, "MOST_FAULTS", 3)
    many = changed(
        package,
        tmp_path / "many.zip",
        lambda campaign: campaign["treatments"][0]["levels"].extend(f"x,{i}=" for i in range(9)),
    )
    with pytest.raises(FaultyFile) as caught:
        import_package(many, tmp_path / "new")
    assert len(caught.value.faults) == 3


def test_every_list_of_a_campaign_is_looked_at(small_campaign):
    """A list of a new kind would come in unseen."""
    for kind, field in LISTS.items():
        one = getattr(small_campaign, field)[-1]
        naming = "code" if kind == "anchor" else "name"
        hidden = one.model_copy(update={naming: getattr(one, naming) + "\u200b"})
        campaign = small_campaign.model_copy(
            update={field: (*getattr(small_campaign, field), hidden)}
        )
        faults = list(record_faults(campaign, place_within("here")))
        assert [fault.column.partition("[")[0] for fault in faults] == [field]
