"""The first tables: bulletins, what they say, who was heard, stations, airfields."""

import sqlalchemy as sa
from alembic import op

revision = "0001_pre_first_tables"
down_revision = None
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.create_table(
        "airfields",
        sa.Column("id", sa.String(length=16), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("lat_deg", sa.Float(), nullable=False),
        sa.Column("lon_deg", sa.Float(), nullable=False),
        sa.Column("elevation_ft", sa.Float(), nullable=True),
        sa.Column("country", sa.String(length=8), nullable=False),
        sa.Column("station_id", sa.String(length=8), nullable=True),
        sa.Column("runways_known", sa.Boolean(), nullable=False),
        sa.Column("lights", sa.String(length=16), nullable=False),
        sa.Column("private", sa.Boolean(), nullable=True),
        sa.Column("source", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_airfields")),
    )
    op.create_index(op.f("ix_airfields_lat_deg"), "airfields", ["lat_deg"])

    op.create_table(
        "bulletins",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("digest", sa.String(length=32), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("raw", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("received_at", INSTANT, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bulletins")),
        sa.UniqueConstraint("digest", name=op.f("uq_bulletins_digest")),
    )
    op.create_index(op.f("ix_bulletins_received_at"), "bulletins", ["received_at"])

    op.create_table(
        "documents",
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("stored_at", INSTANT, nullable=False),
        sa.PrimaryKeyConstraint("kind", "id", name=op.f("pk_documents")),
    )
    op.create_table(
        "feed_state",
        sa.Column("url", sa.Text(), nullable=False),
        sa.Column("etag", sa.Text(), nullable=True),
        sa.Column("last_modified", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("url", name=op.f("pk_feed_state")),
    )
    op.create_table(
        "hearing",
        sa.Column("station", sa.String(length=8), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("first_heard", INSTANT, nullable=False),
        sa.Column("last_heard", INSTANT, nullable=False),
        sa.Column("ceiling_first_known", INSTANT, nullable=True),
        sa.Column("visibility_first_known", INSTANT, nullable=True),
        sa.PrimaryKeyConstraint("station", "kind", name=op.f("pk_hearing")),
    )
    op.create_table(
        "hearing_hours",
        sa.Column("station", sa.String(length=8), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("hour_utc", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.Column("first_heard", INSTANT, nullable=False),
        sa.PrimaryKeyConstraint("station", "kind", "hour_utc", name=op.f("pk_hearing_hours")),
    )
    op.create_table(
        "imports",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("what", sa.String(length=16), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("imported_at", INSTANT, nullable=False),
        sa.Column("counts", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_imports")),
    )
    op.create_table(
        "stations",
        sa.Column("id", sa.String(length=8), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("lat_deg", sa.Float(), nullable=False),
        sa.Column("lon_deg", sa.Float(), nullable=False),
        sa.Column("elevation_ft", sa.Float(), nullable=True),
        sa.Column("country", sa.String(length=8), nullable=False),
        sa.Column("reports", sa.Boolean(), nullable=False),
        sa.Column("forecasts", sa.Boolean(), nullable=False),
        sa.Column("faa_id", sa.String(length=8), nullable=True),
        sa.Column("listed_elevation_ft", sa.Float(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stations")),
    )
    op.create_index(op.f("ix_stations_lat_deg"), "stations", ["lat_deg"])

    op.create_table(
        "forecasts",
        sa.Column("bulletin_id", ID, autoincrement=False, nullable=False),
        sa.Column("station", sa.String(length=8), nullable=False),
        sa.Column("issued_at", INSTANT, nullable=False),
        sa.Column("valid_from", INSTANT, nullable=True),
        sa.Column("valid_to", INSTANT, nullable=True),
        sa.Column("received_at", INSTANT, nullable=False),
        sa.Column("correction", sa.SmallInteger(), nullable=False),
        sa.Column("amended", sa.Boolean(), nullable=False),
        sa.Column("cancelled", sa.Boolean(), nullable=False),
        sa.Column("nil", sa.Boolean(), nullable=False),
        sa.Column("decoder", sa.String(length=32), nullable=False),
        sa.Column("record", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["bulletin_id"], ["bulletins.id"], name=op.f("fk_forecasts_bulletin_id_bulletins")),
        sa.PrimaryKeyConstraint("bulletin_id", name=op.f("pk_forecasts")),
    )
    op.create_index(op.f("ix_forecasts_station_issued_at"), "forecasts", ["station", "issued_at"])

    op.create_table(
        "levels",
        sa.Column("bulletin_id", ID, autoincrement=False, nullable=False),
        sa.Column("product", sa.String(length=16), nullable=False),
        sa.Column("based_on", INSTANT, nullable=False),
        sa.Column("valid_at", INSTANT, nullable=False),
        sa.Column("use_from", INSTANT, nullable=False),
        sa.Column("use_to", INSTANT, nullable=False),
        sa.Column("received_at", INSTANT, nullable=False),
        sa.Column("decoder", sa.String(length=32), nullable=False),
        sa.Column("record", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["bulletin_id"], ["bulletins.id"], name=op.f("fk_levels_bulletin_id_bulletins")),
        sa.PrimaryKeyConstraint("bulletin_id", name=op.f("pk_levels")),
    )
    op.create_index(op.f("ix_levels_use_to"), "levels", ["use_to"])

    op.create_table(
        "observations",
        sa.Column("bulletin_id", ID, autoincrement=False, nullable=False),
        sa.Column("station", sa.String(length=8), nullable=False),
        sa.Column("observed_at", INSTANT, nullable=False),
        sa.Column("received_at", INSTANT, nullable=False),
        sa.Column("correction", sa.SmallInteger(), nullable=False),
        sa.Column("nil", sa.Boolean(), nullable=False),
        sa.Column("decoder", sa.String(length=32), nullable=False),
        sa.Column("record", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["bulletin_id"], ["bulletins.id"], name=op.f("fk_observations_bulletin_id_bulletins")
        ),
        sa.PrimaryKeyConstraint("bulletin_id", name=op.f("pk_observations")),
    )
    op.create_index(
        op.f("ix_observations_station_observed_at_correction_received_at"),
        "observations",
        ["station", "observed_at", "correction", "received_at"],
    )

    op.create_table(
        "refused",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("bulletin_id", ID, nullable=True),
        sa.Column("digest", sa.String(length=32), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("station", sa.String(length=8), nullable=True),
        sa.Column("raw", sa.Text(), nullable=False),
        sa.Column("error", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("received_at", INSTANT, nullable=False),
        sa.Column("decoder", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["bulletin_id"], ["bulletins.id"], name=op.f("fk_refused_bulletin_id_bulletins")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_refused")),
        sa.UniqueConstraint("digest", name=op.f("uq_refused_digest")),
    )
    op.create_index(op.f("ix_refused_bulletin_id"), "refused", ["bulletin_id"])
    op.create_index(op.f("ix_refused_station_received_at"), "refused", ["station", "received_at"])

    op.create_table(
        "runways",
        sa.Column("airfield_id", sa.String(length=16), nullable=False),
        sa.Column("ordinal", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.Column("idents", sa.Text(), nullable=False),
        sa.Column("length_ft", sa.Integer(), nullable=True),
        sa.Column("width_ft", sa.Integer(), nullable=True),
        sa.Column("surface", sa.String(length=8), nullable=False),
        sa.Column("surface_text", sa.Text(), nullable=False),
        sa.Column("lighted", sa.Boolean(), nullable=True),
        sa.Column("closed", sa.Boolean(), nullable=False),
        sa.Column("heading_deg_true", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["airfield_id"], ["airfields.id"], name=op.f("fk_runways_airfield_id_airfields")),
        sa.PrimaryKeyConstraint("airfield_id", "ordinal", name=op.f("pk_runways")),
    )


def downgrade() -> None:
    for name in (
        "runways",
        "refused",
        "observations",
        "levels",
        "forecasts",
        "stations",
        "imports",
        "hearing_hours",
        "hearing",
        "feed_state",
        "documents",
        "bulletins",
        "airfields",
    ):
        op.drop_table(name)
