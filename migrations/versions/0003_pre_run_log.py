"""The worker's run log."""

import sqlalchemy as sa
from alembic import op

revision = "0003_pre_run_log"
down_revision = "0002_pre_latest_and_near"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.create_table(
        "runs",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("feed", sa.String(length=16), nullable=False),
        sa.Column("worker", sa.Text(), nullable=False),
        sa.Column("started_at", INSTANT, nullable=False),
        sa.Column("ended_at", INSTANT, nullable=True),
        sa.Column("outcome", sa.String(length=16), nullable=False),
        sa.Column("fetched", sa.Integer(), nullable=True),
        sa.Column("new", sa.Integer(), nullable=True),
        sa.Column("changed", sa.Integer(), nullable=True),
        sa.Column("known", sa.Integer(), nullable=True),
        sa.Column("refused", sa.Integer(), nullable=True),
        sa.Column("late_median_s", sa.Float(), nullable=True),
        sa.Column("late_max_s", sa.Float(), nullable=True),
        sa.Column("error", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_runs")),
    )
    op.create_index(op.f("ix_runs_feed_started_at"), "runs", ["feed", "started_at"])


def downgrade() -> None:
    op.drop_table("runs")
