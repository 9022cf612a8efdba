"""Revisions with who, when and why; what stood when a posterior's facts were read.

Version 1 is what a store was before migrations: its tables are made by nobody
any more, so that this one comes first.
"""

import sqlalchemy as sa
from alembic import op

revision = "2"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns; a posterior rests on what had been stored before it was."""
    op.add_column("pull", sa.Column("who", sa.Text(), nullable=False, server_default=""))
    op.add_column("pull", sa.Column("why", sa.Text(), nullable=False, server_default=""))
    op.add_column(
        "pull", sa.Column("is_removed", sa.Boolean(), nullable=False, server_default=sa.false())
    )
    for name, table in (("last_campaign_row", "campaign"), ("last_pull_row", "pull")):
        op.add_column(
            "posterior", sa.Column(name, sa.Integer(), nullable=False, server_default="0")
        )
        op.execute(
            f"UPDATE posterior SET {name} = COALESCE((SELECT MAX(id) FROM {table} "  # noqa: S608
            f"WHERE {table}.stored_at <= posterior.stored_at), 0)"
        )
    op.execute("UPDATE schema_version SET version = 2")
