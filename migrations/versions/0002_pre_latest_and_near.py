"""The newest report of each station, codes of airfields, a version to poll, and indexes on the globe.

Latitude and longitude stay plain columns on both databases. What finds the places near a point is
each database's own: an R*Tree on SQLite, a generated ``geog`` column with a GiST index on
PostgreSQL. Neither is among the tables that the code declares; see env.py.
"""

import sqlalchemy as sa
from alembic import op

revision = "0002_pre_latest_and_near"
down_revision = "0001_pre_first_tables"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)
PLACES = ("airfields", "stations")

NEWEST = """
INSERT INTO latest (kind, station, bulletin_id, stamped_at, correction, received_at, valid_from, record)
SELECT '{kind}', station, bulletin_id, {stamp}, correction, received_at, {valid_from}, record FROM (
    SELECT *, row_number() OVER (
        PARTITION BY station ORDER BY {stamp} DESC, correction DESC, received_at DESC, bulletin_id DESC
    ) AS place FROM {table}
) AS ranked WHERE place = 1
"""


def upgrade() -> None:
    op.create_table(
        "latest",
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("station", sa.String(length=8), nullable=False),
        sa.Column("bulletin_id", ID, nullable=False),
        sa.Column("stamped_at", INSTANT, nullable=False),
        sa.Column("correction", sa.SmallInteger(), nullable=False),
        sa.Column("received_at", INSTANT, nullable=False),
        sa.Column("valid_from", INSTANT, nullable=True),
        sa.Column("record", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["bulletin_id"], ["bulletins.id"], name=op.f("fk_latest_bulletin_id_bulletins")),
        sa.PrimaryKeyConstraint("kind", "station", name=op.f("pk_latest")),
    )
    op.create_table(
        "airfield_codes",
        sa.Column("airfield_id", sa.String(length=16), nullable=False),
        sa.Column("rank", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.Column("code", sa.String(length=16), nullable=False),
        sa.ForeignKeyConstraint(
            ["airfield_id"], ["airfields.id"], name=op.f("fk_airfield_codes_airfield_id_airfields")
        ),
        sa.PrimaryKeyConstraint("airfield_id", "rank", name=op.f("pk_airfield_codes")),
    )
    op.create_index(op.f("ix_airfield_codes_code"), "airfield_codes", ["code"])
    op.create_table(
        "versions",
        sa.Column("what", sa.String(length=16), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("what", name=op.f("pk_versions")),
    )
    op.execute("INSERT INTO versions (what, number) VALUES ('data', 1)")
    op.execute(NEWEST.format(kind="METAR", stamp="observed_at", valid_from="NULL", table="observations"))
    op.execute(NEWEST.format(kind="TAF", stamp="issued_at", valid_from="valid_from", table="forecasts"))
    if op.get_bind().dialect.name == "postgresql":
        _upgrade_postgresql()
    else:
        _upgrade_sqlite()


def _upgrade_postgresql() -> None:
    op.execute("CREATE EXTENSION IF NOT EXISTS postgis")
    for table in PLACES:
        op.execute(
            f"ALTER TABLE {table} ADD COLUMN geog geography(Point, 4326)"
            " GENERATED ALWAYS AS (ST_SetSRID(ST_MakePoint(lon_deg, lat_deg), 4326)::geography) STORED"
        )
        op.execute(f"CREATE INDEX ix_{table}_geog ON {table} USING gist (geog)")


def _upgrade_sqlite() -> None:
    for table in PLACES:
        # The row's own number cannot be used: a VACUUM may change it where the key is a text.
        op.execute(
            f"CREATE VIRTUAL TABLE {table}_near USING rtree"
            "(number, south_deg, north_deg, west_deg, east_deg, +place_id TEXT)"
        )
        columns = "(south_deg, north_deg, west_deg, east_deg, place_id)"
        op.execute(f"INSERT INTO {table}_near {columns} SELECT lat_deg, lat_deg, lon_deg, lon_deg, id FROM {table}")  # noqa: S608 - names from above


def downgrade() -> None:
    for table in PLACES:
        if op.get_bind().dialect.name == "postgresql":
            op.execute(f"DROP INDEX ix_{table}_geog")
            op.execute(f"ALTER TABLE {table} DROP COLUMN geog")
        else:
            op.execute(f"DROP TABLE {table}_near")
    # PostGIS stays: others may use it.
    for name in ("versions", "airfield_codes", "latest"):
        op.drop_table(name)
