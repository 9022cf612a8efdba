"""The trail of each standing question: its answer pull by pull, kept as it was worked out."""

import sqlalchemy as sa
from alembic import op

revision = "3"
down_revision = "2"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table; it fills as answers are worked out."""
    op.create_table(
        "trail",
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("fingerprint", sa.String(80), nullable=False),
        sa.Column("question", sa.Text(), nullable=False),
        sa.Column("fit", sa.String(80), nullable=False),
        sa.Column("state", sa.String(20), nullable=False),
        sa.Column("pull_count", sa.Integer(), nullable=False),
        sa.Column("last_pull", sa.Text(), nullable=False),
        sa.Column("summary", sa.Text(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("answered_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("number"),
        sa.UniqueConstraint("fingerprint", "question", "state", "fit"),
    )
    op.execute("UPDATE schema_version SET version = 3")
