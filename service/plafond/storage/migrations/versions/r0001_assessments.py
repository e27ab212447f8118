"""The table of assessments."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

INDEXED = ("reference", "release_digest", "triage")


def upgrade() -> None:
    """Make the table and its indexes."""
    op.create_table(
        "assessments",
        sa.Column("assessment", sa.String(36), primary_key=True),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("reference", sa.String(64), nullable=False),
        sa.Column("release_version", sa.String(64), nullable=False),
        sa.Column("release_digest", sa.String(71), nullable=False),
        sa.Column("everything", sa.Boolean, nullable=False),
        sa.Column("findings", sa.Text, nullable=False),
        sa.Column("answer_digest", sa.String(71), nullable=False),
        sa.Column("triage", sa.String(16), nullable=False),
    )
    for column in INDEXED:
        op.create_index(f"ix_assessments_{column}", "assessments", [column])


def downgrade() -> None:
    """Take the table away, and everything that was kept in it."""
    for column in INDEXED:
        op.drop_index(f"ix_assessments_{column}", table_name="assessments")
    op.drop_table("assessments")
