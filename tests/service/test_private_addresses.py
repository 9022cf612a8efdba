import pytest

from model.base.errors import InputError
from model.service.private_addresses import OwnAddress, choose_private, is_private

LOOPBACK = OwnAddress(address="127.0.0.1", adapter="lo")
BOAT = OwnAddress(address="192.168.4.2", adapter="wlan0")
CABLE = OwnAddress(address="10.0.0.7", adapter="eth0")
PUBLIC = OwnAddress(address="203.0.113.9", adapter="wwan0")
LINK_6 = OwnAddress(address="fe80::1", adapter="wlan0")
UNIQUE_6 = OwnAddress(address="fd12:3456::2", adapter="wlan0")


@pytest.mark.parametrize(
    "address",
    ["10.0.0.1", "172.16.0.1", "172.31.255.1", "192.168.0.1", "169.254.3.4", "fd00::1", "fc00::1"],
)
def test_private(address):
    assert is_private(address)


@pytest.mark.parametrize(
    "address",
    [
        *("127.0.0.1", "::1", "0.0.0.0", "::", "localhost", "", "192.168.0.1:80"),  # noqa: S104
        *("172.32.0.1", "172.15.0.1", "11.0.0.1", "192.169.0.1", "8.8.8.8", "2001:db8::1"),
        *("100.64.0.1", "192.0.2.2", "198.18.0.1", "224.0.0.1", "255.255.255.255", "fe80::1"),
    ],
)
def test_not_private(address):
    assert not is_private(address)


def test_one_private_address_is_chosen_by_itself():
    assert choose_private([LOOPBACK, PUBLIC, LINK_6, BOAT]) == BOAT.address
    assert choose_private([LOOPBACK, UNIQUE_6]) == UNIQUE_6.address


def test_of_several_one_must_be_chosen():
    with pytest.raises(InputError, match=r"10\.0\.0\.7 \(eth0\)") as caught:
        choose_private([LOOPBACK, CABLE, BOAT])
    assert "192.168.4.2 (wlan0)" in caught.value.message
    assert "--address" in caught.value.hint
    assert choose_private([LOOPBACK, CABLE, BOAT], BOAT.address) == BOAT.address
    assert choose_private([UNIQUE_6], "FD12:3456:0::2") == "fd12:3456::2"


def test_without_one_it_says_what_to_do():
    with pytest.raises(InputError, match="no private address") as caught:
        choose_private([LOOPBACK, PUBLIC, LINK_6])
    assert "network" in caught.value.hint


@pytest.mark.parametrize(
    "wanted",
    ["0.0.0.0", "::", "203.0.113.9", "127.0.0.1", "localhost", "", "192.168.4.2/24"],  # noqa: S104
)
def test_any_other_is_refused_until_there_is_a_sign_in(wanted):
    with pytest.raises(InputError, match="is no private address") as caught:
        choose_private([LOOPBACK, PUBLIC, BOAT], wanted)
    assert "no sign-in yet" in caught.value.hint


def test_what_is_not_of_this_machine_or_what_browsers_cannot_open_is_said():
    with pytest.raises(InputError, match="no address of this machine"):
        choose_private([LOOPBACK, BOAT], "192.168.4.3")
    with pytest.raises(InputError, match="no browser can open"):
        choose_private([LINK_6, BOAT], "fe80::1")
