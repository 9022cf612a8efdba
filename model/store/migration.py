"""Bringing the tables of an older store up to date, by Alembic."""

from pathlib import Path
from typing import Final

from sqlalchemy import Connection

MIGRATIONS: Final = Path(__file__).parent / "migrations"


def upgrade(connection: Connection) -> None:
    """Run every migration that a database has not had, inside the connection's transaction."""
    from alembic import command  # only who opens an older store waits for it
    from alembic.config import Config

    config = Config()
    # A per cent sign in the path would be taken for the start of a variable.
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
