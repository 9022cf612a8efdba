import re
import tomllib
from pathlib import Path

from app import serving
from app.style import palette
from app.style.theme import THEME, theme_flags

CONFIG = Path(serving.__file__).parents[1] / ".streamlit" / "config.toml"


def as_options(config):
    return {
        f"{section}.{name}": value
        for section, options in config.items()
        for name, value in options.items()
    }


def as_flag(value):
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return "[" + ", ".join(f'"{one}"' for one in value) + "]"
    return value


def test_config_file_says_what_serve_says():
    options = as_options(tomllib.loads(CONFIG.read_text(encoding="utf-8")))
    hosts = options.pop("server.allowedHosts")
    flags = {f"--{name}={as_flag(value)}" for name, value in options.items()}
    flags |= {f"--server.allowedHosts={host}" for host in hosts}
    only_served = {"--server.port=8501", "--server.fileWatcherType=none"}
    assert flags | only_served == set(serving.command(8501)[5:])


def test_no_usage_statistics_and_this_machine_only():
    options = as_options(tomllib.loads(CONFIG.read_text(encoding="utf-8")))
    assert options["browser.gatherUsageStats"] is False
    assert options["server.address"] == "127.0.0.1"


def test_no_theme_option_names_a_host():
    assert not [flag for flag in theme_flags() if re.search(r"https?:|//|@import", flag)]


def test_colours_of_the_theme_are_those_of_the_palette():
    ours = {value for value in vars(palette).values() if isinstance(value, str)}
    colours = {value for name, value in THEME.items() if name.endswith("Color")}
    assert len(colours) > 5
    assert colours <= ours
