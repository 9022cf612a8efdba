"""What a paired device sees and may do, and what the terminal shows of a boat."""

import datetime as dt
import io
import itertools
import sys

import pytest
import segno
from streamlit.testing.v1 import AppTest

from app import data
from app.cautions import SHORT
from app.doors import boat, rights
from app.doors.boat import changes_of, opened_boat, require_terminal
from app.doors.pairing_page import POLICY, pairing_page
from app.doors.qr_code import BLOCKS, QUIET_ZONE, qr_code
from app.doors.rights import BOAT_VARIABLE
from app.pages import DEVICE_VIEWS, MAIN, VIEWS
from app.parts.header import HOW_TO_FIT, NO_WORKER
from model.base.errors import InputError
from model.service import pairing, stores
from model.service.corrections import ON_A_DEVICE
from model.service.pairing import MOST_FROM_ADDRESS, MOST_PER_CODE, Refusal
from model.service.pairing_file import PairingFile
from model.store.store import Store

LINK = "http://192.168.100.200:8501/pair#K7QM4XTD"


def said(at):
    kinds = ("title", "markdown", "caption", "error", "warning", "success")
    joined = "\n".join(element.value for kind in kinds for element in at.get(kind))
    return joined.replace("\\", "").replace("\u2060", "").replace("\u00a0", " ")


@pytest.fixture
def store(tmp_path, small_campaign, small_pulls, monkeypatch):
    made = Store.create(tmp_path / "store", small_campaign)
    made.add_pulls(small_pulls, "pulls.csv")
    monkeypatch.setenv("KEDGEWISE_STORE", str(made.folder))
    return made


@pytest.fixture
def file(tmp_path, monkeypatch):
    """A boat's file: pages are asked for by whoever holds the token in `holder`."""
    made = PairingFile(tmp_path / "pairing.json")
    made.begin()
    monkeypatch.setenv(BOAT_VARIABLE, str(tmp_path / "pairing.json"))
    monkeypatch.setattr(rights, "_token", lambda: holder.get("token"))
    holder.clear()
    return made


holder: dict[str, str] = {}


@pytest.fixture
def paired(file):
    holder["token"] = file.try_code(file.offer(), address="10.0.0.1")
    return file


def opened(view=DEVICE_VIEWS[0].name):
    at = AppTest.from_file(str(MAIN), default_timeout=30).run()
    if view != DEVICE_VIEWS[0].name:
        at.switch_page(f"views/{view}.py").run()
    return at


# --- what is shown -------------------------------------------------------------------------


def test_who_is_not_paired_sees_nothing_of_the_store(store, file):
    at = opened()
    assert not at.exception
    assert "Not paired" in said(at)
    assert "Small trials" not in said(at)
    assert not at.get("page_link")
    assert not at.get("form_submit_button")


def test_a_device_that_is_paired_no_longer_sees_nothing_at_its_next_run(store, paired, tmp_path):
    at = opened()
    assert "Small trials" in said(at)
    paired.begin()
    at.run()
    assert "Small trials" not in said(at)
    assert "Not paired" in said(at)


def test_without_the_look_at_each_run_it_would(store, file, monkeypatch):
    monkeypatch.setattr(rights.PairingFile, "is_paired", lambda self, token: True)
    assert "Small trials" in said(opened())


def test_every_view_of_a_device_is_for_reading_but_the_first(store, paired):
    assert DEVICE_VIEWS[1:] == VIEWS
    for view in DEVICE_VIEWS:
        at = opened(view.name)
        assert not at.exception
        assert view.title in said(at)
        assert SHORT in said(at)
        labels = [one.proto.label for one in at.get("page_link")]
        assert labels[: len(DEVICE_VIEWS)] == [one.title for one in DEVICE_VIEWS]
        assert not at.get("file_uploader")
        buttons = [one.label for one in at.button]
        assert not {"Take out", "Put it back"} & set(buttons)


def test_the_pulls_page_of_a_device_shows_a_history_and_changes_nothing(store, paired):
    at = opened("pulls")
    at.multiselect(key="chosen").set_value(["day 1/1"]).run()
    assert "stored from pulls.csv" in said(at)
    assert "New pulls" not in said(at)
    assert not [one for one in at.text_input if "Why" in one.label]
    assert not at.button


def test_without_the_look_at_rights_the_pulls_page_would_offer_changes(store, paired, monkeypatch):
    monkeypatch.setattr(data, "may_change", lambda: True)
    at = opened("pulls")
    assert "New pulls" in said(at)


def fill(at, number):
    cells = {one.label: one for one in at.text_input}
    cells["Pull (its number)"].input(number)
    next(one for one in at.selectbox if one.label == "How it ended").select("never set")
    at.button[0].click().run()
    return at


def test_a_device_logs_a_pull_and_is_told(store, paired):
    at = fill(opened(), "77")
    assert not at.exception
    assert "Stored:" in said(at)
    assert "never set" in said(at)
    [kept] = [pull.id for pull in store.pulls() if pull.code == "77"]
    assert store.revisions(kept)[0].source == ON_A_DEVICE
    again = fill(opened(), "77")
    assert "Stored already, word for word: day 2/77" in said(again)
    assert len([pull for pull in store.pulls() if pull.code == "77"]) == 1

    assert len([pull for pull in store.pulls() if pull.code == "77"]) == 1


def test_a_device_that_is_paired_no_longer_logs_nothing(store, paired):
    at = opened()
    paired.begin()
    fill(at, "77")
    assert len(store.pulls()) == 16


def test_the_caution_stands_over_the_form(store, paired):
    assert "no phone while a line is under tension" in said(opened())


# --- what may be done, page or no page -----------------------------------------------------

CHANGES = {
    "correct": lambda found: data.correct(found, {}, "why", "who"),
    "remove": lambda _: data.remove(["day 1/1"], "why", "who"),
    "put back": lambda _: data.put_back(["day 1/1"], "why", "who"),
    "look at an upload": lambda _: data.preview_upload("a.csv", b"pull,anchor\n"),
    "upload": lambda _: data.import_upload("a.csv", b"pull,anchor\n", "why", "who"),
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_device_changes_nothing_however_it_asks(change, store, paired):
    found = data.preview_cells(["day 1/1"], {"notes": "wet"})
    with pytest.raises(InputError, match="log pulls and read, and nothing else"):
        CHANGES[change](found)
    assert len(store.history()[1]) == 16


def test_without_the_look_at_rights_a_device_would_take_pulls_out(store, paired, monkeypatch):
    monkeypatch.setattr(data, "_store_to_change", stores.open_store)
    CHANGES["remove"](None)
    assert len(store.pulls()) == 15


def test_who_is_not_paired_reads_nothing_however_it_asks(store, file):
    for ask in (data.overview, data.pulls, data.removed, lambda: data.history("day 1/1")):
        with pytest.raises(InputError, match="is not paired"):
            ask()


def test_on_the_owners_machine_everything_may_be_done(store):
    assert data.may_change()
    data.remove(["day 1/1"], "why", "who")
    assert len(store.pulls()) == 15


# --- the terminal --------------------------------------------------------------------------


def modules_of(printed):
    """The modules of a code printed as half blocks."""
    cells = {block: halves for halves, block in BLOCKS.items()}
    rows = []
    for line in printed.splitlines():
        tops, bottoms = zip(*(cells[sign] for sign in line), strict=True)
        rows += [list(tops), list(bottoms)]
    return rows


@pytest.mark.parametrize("link", [LINK, "http://[fd12:3456:789a::1234:abcd]:65535/pair#K7QM4XTD"])
def test_the_picture_in_the_terminal_is_the_code_of_the_link(link):
    rows = modules_of(qr_code(link).plain)
    expected = [list(row) for row in segno.make_qr(link, error="m").matrix_iter(border=QUIET_ZONE)]
    height = len(expected)
    assert rows[:height] == expected
    assert not any(itertools.chain.from_iterable(rows[height:]))
    assert max(map(len, rows)) <= 60  # of a terminal's 80


def test_the_picture_of_another_link_is_another():
    assert modules_of(qr_code(LINK).plain) != modules_of(qr_code(LINK[:-1] + "E").plain)


@pytest.mark.parametrize("variables", [{}, {"NO_COLOR": "1"}, {"COLORTERM": "truecolor"}])
def test_it_is_dark_on_light_in_any_terminal(variables, monkeypatch, capsys):
    for name in ("NO_COLOR", "COLORTERM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    from app.terminal import show_picture

    show_picture(qr_code(LINK))
    lines = capsys.readouterr().out.splitlines()
    dark_on_light = ("\x1b[38;2;0;0;0;48;2;255;255;255m", "\x1b[38;5;16;48;5;231m", "\x1b[30;107m")
    assert len(lines) > 15
    assert all(line.startswith(dark_on_light) and line.endswith("\x1b[0m") for line in lines)


def test_a_code_is_shown_in_a_terminal_and_nowhere_else(monkeypatch):
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    with pytest.raises(InputError, match="no terminal"):
        require_terminal(as_json=False)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    require_terminal(as_json=False)
    with pytest.raises(InputError, match="no terminal"):
        require_terminal(as_json=True)


def test_what_is_shown_pairs_and_what_the_process_is_told_does_not(monkeypatch):
    shown, pictures = [], []
    monkeypatch.setattr(boat, "show", shown.append)
    monkeypatch.setattr(boat, "show_picture", lambda one: pictures.append(one.plain))
    with opened_boat() as found:
        found.show_code("http://192.168.4.2:8501")
        code = shown[0].partition(" type ")[2][:9]
        link = f"http://192.168.4.2:8501/pair#{code.replace('-', '')}"
        assert pictures == [qr_code(link).plain]
        assert "/pair#" not in shown[0]
        told = "".join(f"{name}={value}" for name, value in found.environment.items())
        assert code.replace("-", "") not in told
        assert found.file.try_code(code, address="10.0.0.1") not in set(Refusal)
        path = found.path
    assert not path.exists()


def test_what_happens_at_the_door_is_said_once(file, monkeypatch):
    code = file.offer()
    look = changes_of(file)
    assert look() == []
    file.try_code(code, address="10.0.0.7")
    assert look() == ["Paired: a device at 10.0.0.7. Press Enter for a new code."]
    assert look() == []
    file.offer()
    assert look() == []
    for number in range(MOST_PER_CODE):
        file.try_code("wrong", address=f"10.0.1.{number}")
    assert look() == ["The code was guessed at too often. Press Enter for a new code."]
    file.offer()
    assert look() == []
    monkeypatch.setattr(file, "_clock", lambda: dt.datetime.now(dt.UTC) + pairing.CODE_LASTS)
    assert look() == ["The code has expired. Press Enter for a new code."]
    assert look() == []


def test_a_lockout_is_said_once_with_its_end(file, monkeypatch):
    file.offer()
    look = changes_of(file)
    for _ in range(MOST_FROM_ADDRESS - 1):
        file.try_code("wrong", address="10.0.0.7")
        assert look() == []
    file.try_code("wrong", address="10.0.0.7")
    until = file.state().tries["10.0.0.7"].until.astimezone()
    [line] = look()
    assert line.startswith("5 wrong codes from 10.0.0.7: ")
    assert line.endswith(f": locked out until {until:%H:%M}, or until there is a new code.")
    file.try_code("wrong", address="10.0.0.7")
    file.try_code("wrong", address="10.0.0.8")
    assert look() == []
    file.offer()
    assert look() == []
    monkeypatch.setattr(boat, "lockouts", lambda _: {})
    for _ in range(MOST_FROM_ADDRESS):
        file.try_code("wrong", address="10.0.0.7")
    assert look() == []  # without the look at lockouts


def test_a_device_is_not_told_to_fit_what_it_cannot(store, paired, monkeypatch):
    def of_worker(at):
        return next(one.value for one in at.caption if NO_WORKER in one.value)

    assert HOW_TO_FIT not in of_worker(opened())
    monkeypatch.setattr(data, "may_change", lambda: True)
    assert HOW_TO_FIT in of_worker(opened())


def test_the_pairing_page_says_nothing_of_any_store_and_asks_no_other_host():
    for refusal in (None, *Refusal):
        page = pairing_page(refusal)
        assert "http" not in page
        assert "under tension" in page
    assert POLICY.count("sha256-") == 2
