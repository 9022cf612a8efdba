"""Small files that would take very long, or all the memory, are one fault each."""

import time
import tracemalloc

import pytest

from model.base.errors import FaultyFile
from model.ingest import campaign_file, table
from model.ingest.campaign_file import read_campaign_text
from model.ingest.text_file import read_content
from model.ingest.toml_lines import find_lines
from model.records.treatment import Treatment, interaction_faults


def seconds(work):
    begun = time.process_time()
    work()
    return time.process_time() - begun


def test_a_log_of_very_many_rows(rows, faults, monkeypatch):
    text = rows(*({"pull": str(i)} for i in range(5)))
    monkeypatch.setattr(table, "MAX_ROWS", 3)
    [fault] = faults(text)
    assert (fault.line, fault.found) == (5, "more than 3 rows")


def test_as_many_rows_as_are_read(rows, reads, monkeypatch):
    monkeypatch.setattr(table, "MAX_ROWS", 3)
    assert len(reads(rows(*({"pull": str(i)} for i in range(3)))).pulls) == 3


def test_very_many_signs_in_one_cell(rows, faults):
    """Each was held against all before it, spelt out anew: minutes."""
    text = rows({"signs": "|".join(f"s{i}=yes" for i in range(5_000))})
    assert seconds(lambda: faults(text)) < 5


@pytest.mark.parametrize("header", ["[[a{}]]\n", "k{} = 1\n"])
def test_very_many_unknown_keys(header):
    """What may have been meant by each took a millisecond, and lists a copy of all before."""
    text = "".join(header.format(i) for i in range(10_000))
    with pytest.raises(FaultyFile) as caught:
        assert seconds(lambda: read_campaign_text(text, "campaign.toml")) < 5
    assert len(caught.value.faults) > 10_000
    assert "Known: " in str(caught.value)
    assert seconds(lambda: find_lines(text)) < 2


def test_a_campaign_file_that_is_some_other_file(data, monkeypatch):
    monkeypatch.setattr(campaign_file, "MAX_BYTES", 100)
    with pytest.raises(FaultyFile, match="Files up to"):
        campaign_file.read_campaign(data / "campaign.toml")


def test_more_headings_than_a_log_has(data):
    text = (data / "campaign.toml").read_text("utf-8") + "[columns.headings]\n"
    with pytest.raises(FaultyFile, match="501 headings"):
        read_campaign_text(text + "".join(f'h{i} = "x"\n' for i in range(501)), "campaign.toml")


def test_very_many_levels():
    levels = tuple(f"l{i}" for i in range(20_000))
    treatment = Treatment(name="x", baseline="l0", levels=levels)
    assert seconds(lambda: interaction_faults([treatment], [])) < 2


def test_a_small_file_takes_little(tmp_path):
    """Twenty megabytes were set aside for each."""
    path = tmp_path / "log.csv"
    path.write_bytes(b"pull\n1\n")
    tracemalloc.start()
    assert read_content(path) == b"pull\n1\n"
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 1_000_000
