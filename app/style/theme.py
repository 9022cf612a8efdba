"""The theme as Streamlit's options: for ``.streamlit/config.toml`` and for ``serve``."""

from typing import Final

from app.style import palette

THEME: Final[dict[str, str]] = {
    "base": "light",
    "primaryColor": palette.SIDE_A,
    "backgroundColor": palette.PAPER,
    "secondaryBackgroundColor": palette.PANEL,
    "textColor": palette.INK,
    "linkColor": palette.SIDE_A,
    "borderColor": palette.GRID,
    "blueColor": palette.HIGHER,
    "orangeColor": palette.LOWER,
    "violetColor": palette.NO_DIFFERENCE,
    "grayColor": palette.UNSETTLED,
    "redColor": palette.FAILED,
    "blueTextColor": palette.SIDE_A,
    "orangeTextColor": palette.LOWER,
    "yellowTextColor": palette.INK,
    "codeTextColor": palette.INK,
    "font": palette.FONT,
    "headingFont": palette.FONT,
    "codeFont": "ui-monospace, 'DejaVu Sans Mono', monospace",
    "headingFontSizes": '["2rem", "1.35rem", "1.1rem", "1rem", "1rem", "1rem"]',
    "paddingTop": "0.75rem",  # else an empty band stands above the menu, and below the cautions
    "paddingBottom": "2rem",
}

BEHAVIOUR: Final[dict[str, str]] = {
    "client.toolbarMode": "minimal",  # no button that offers to publish the app elsewhere
    "runner.magicEnabled": "false",  # else a string that stands alone in a view is printed
}


def theme_flags() -> list[str]:
    """Flags for ``streamlit run``: the house's looks from any folder, without the config file."""
    options = {**BEHAVIOUR, **{f"theme.{name}": value for name, value in THEME.items()}}
    return [f"--{name}={value}" for name, value in options.items()]
