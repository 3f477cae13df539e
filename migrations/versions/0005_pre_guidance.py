"""Station guidance: LAMP and the National Blend of Models."""

import sqlalchemy as sa
from alembic import op

revision = "0005_pre_guidance"
down_revision = "0004_pre_areas"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)
NEWEST = ["station", "product", "based_on", "received_at", "bulletin_id"]


def upgrade() -> None:
    op.create_table(
        "guidance",
        sa.Column("bulletin_id", ID, autoincrement=False, nullable=False),
        sa.Column("station", sa.String(length=8), nullable=False),
        sa.Column("product", sa.String(length=4), nullable=False),
        sa.Column("based_on", INSTANT, nullable=False),
        sa.Column("valid_from", INSTANT, nullable=False),
        sa.Column("valid_to", INSTANT, nullable=False),
        sa.Column("received_at", INSTANT, nullable=False),
        sa.Column("decoder", sa.String(length=32), nullable=False),
        sa.Column("record", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["bulletin_id"], ["bulletins.id"], name=op.f("fk_guidance_bulletin_id_bulletins")),
        sa.PrimaryKeyConstraint("bulletin_id", name=op.f("pk_guidance")),
    )
    op.create_index(op.f("ix_guidance_station_product_based_on_received_at_bulletin_id"), "guidance", NEWEST)


def downgrade() -> None:
    op.drop_table("guidance")
