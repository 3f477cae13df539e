"""Areas of airspace, and what is known of airfields' lights, towers and runway ends."""

import sqlalchemy as sa
from alembic import op

revision = "0004_pre_areas"
down_revision = "0003_pre_run_log"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
FIELDS = (
    ("lights_detail", sa.Text()),
    ("tower", sa.Text()),
    ("time_zone", sa.String(length=64)),
    ("class_b", sa.Boolean()),
)
RUNWAYS = (("ends", sa.Text()), ("source", sa.Text()))


def upgrade() -> None:
    for name, kind in FIELDS:
        op.add_column("airfields", sa.Column(name, kind, nullable=True))
    for name, kind in RUNWAYS:
        op.add_column("runways", sa.Column(name, kind, nullable=True))
    op.create_table(
        "areas",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("west_deg", sa.Float(), nullable=False),
        sa.Column("south_deg", sa.Float(), nullable=False),
        sa.Column("east_deg", sa.Float(), nullable=False),
        sa.Column("north_deg", sa.Float(), nullable=False),
        sa.Column("shape", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_areas")),
    )
    op.create_index(op.f("ix_areas_source"), "areas", ["source"])


def downgrade() -> None:
    op.drop_table("areas")
    for name, _ in RUNWAYS:
        op.drop_column("runways", name)
    for name, _ in FIELDS:
        op.drop_column("airfields", name)
