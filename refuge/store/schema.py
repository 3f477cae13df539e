"""The tables. Plain latitude and longitude everywhere, so that one schema serves every database.

Every table that an answer as of an instant reads carries ``received_at``, or first times that
only ever move back: what was known at any instant can be told later.
"""

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    SmallInteger,
    String,
    Table,
    Text,
    UniqueConstraint,
)

from refuge.store.types import UtcInstant

HEAD = "0005_pre_guidance"
"""The newest revision in migrations/: compared with the store's by one SELECT, without Alembic."""

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)

_ID = BigInteger().with_variant(Integer, "sqlite")


def _bulletin_id() -> Column[int]:
    return Column("bulletin_id", _ID, ForeignKey("bulletins.id"), primary_key=True, autoincrement=False)


bulletins = Table(
    "bulletins",
    metadata,
    Column("id", _ID, primary_key=True, autoincrement=True),
    Column("digest", String(32), nullable=False),
    Column("kind", String(8), nullable=False),
    Column("raw", Text, nullable=False),
    Column("source", Text, nullable=False),
    Column("received_at", UtcInstant, nullable=False),
    UniqueConstraint("digest"),
    Index(None, "received_at"),
)
"""Raw texts, append-only. ``digest`` is what makes two receipts one bulletin; the first receipt stays."""

observations = Table(
    "observations",
    metadata,
    _bulletin_id(),
    Column("station", String(8), nullable=False),
    Column("observed_at", UtcInstant, nullable=False),
    Column("received_at", UtcInstant, nullable=False),
    Column("correction", SmallInteger, nullable=False),
    Column("nil", Boolean, nullable=False),
    Column("decoder", String(32), nullable=False),
    Column("record", Text, nullable=False),
    Index(None, "station", "observed_at", "correction", "received_at"),
)
"""Decoded METAR and SPECI. ``correction`` is 0, 1 for COR and CCA, 2 for CCB and so on."""

forecasts = Table(
    "forecasts",
    metadata,
    _bulletin_id(),
    Column("station", String(8), nullable=False),
    Column("issued_at", UtcInstant, nullable=False),
    Column("valid_from", UtcInstant),
    Column("valid_to", UtcInstant),
    Column("received_at", UtcInstant, nullable=False),
    Column("correction", SmallInteger, nullable=False),
    Column("amended", Boolean, nullable=False),
    Column("cancelled", Boolean, nullable=False),
    Column("nil", Boolean, nullable=False),
    Column("decoder", String(32), nullable=False),
    Column("record", Text, nullable=False),
    Index(None, "station", "issued_at"),
)

levels = Table(
    "levels",
    metadata,
    _bulletin_id(),
    Column("product", String(16), nullable=False),
    Column("based_on", UtcInstant, nullable=False),
    Column("valid_at", UtcInstant, nullable=False),
    Column("use_from", UtcInstant, nullable=False),
    Column("use_to", UtcInstant, nullable=False),
    Column("received_at", UtcInstant, nullable=False),
    Column("decoder", String(32), nullable=False),
    Column("record", Text, nullable=False),
    Index(None, "use_to"),
)

guidance = Table(
    "guidance",
    metadata,
    _bulletin_id(),
    Column("station", String(8), nullable=False),
    Column("product", String(4), nullable=False),
    Column("based_on", UtcInstant, nullable=False),
    Column("valid_from", UtcInstant, nullable=False),
    Column("valid_to", UtcInstant, nullable=False),
    Column("received_at", UtcInstant, nullable=False),
    Column("decoder", String(32), nullable=False),
    Column("record", Text, nullable=False),
    Index(None, "station", "product", "based_on", "received_at", "bulletin_id"),
)
"""Blocks of LAMP and National Blend guidance. Elements are read from the raw text when asked for."""

refused = Table(
    "refused",
    metadata,
    Column("id", _ID, primary_key=True, autoincrement=True),
    Column("bulletin_id", _ID, ForeignKey("bulletins.id")),
    Column("digest", String(32), nullable=False),
    Column("kind", String(8), nullable=False),
    Column("station", String(8)),
    Column("raw", Text, nullable=False),
    Column("error", Text, nullable=False),
    Column("source", Text, nullable=False),
    Column("received_at", UtcInstant, nullable=False),
    Column("decoder", String(32), nullable=False),
    UniqueConstraint("digest"),
    Index(None, "station", "received_at"),
    Index(None, "bulletin_id"),
)
"""Texts that could not be read, with the error. ``bulletin_id`` is null where a feed's row was no bulletin."""

latest = Table(
    "latest",
    metadata,
    Column("kind", String(8), primary_key=True),
    Column("station", String(8), primary_key=True),
    Column("bulletin_id", _ID, ForeignKey("bulletins.id"), nullable=False),
    Column("stamped_at", UtcInstant, nullable=False),
    Column("correction", SmallInteger, nullable=False),
    Column("received_at", UtcInstant, nullable=False),
    Column("valid_from", UtcInstant),
    Column("record", Text, nullable=False),
)
"""Of each station the newest report and forecast of all that the store has, whenever received; see `latest`."""

hearing = Table(
    "hearing",
    metadata,
    Column("station", String(8), primary_key=True),
    Column("kind", String(8), primary_key=True),
    Column("first_heard", UtcInstant, nullable=False),
    Column("last_heard", UtcInstant, nullable=False),
    Column("ceiling_first_known", UtcInstant),
    Column("visibility_first_known", UtcInstant),
)
"""Which stations this store ever heard. Nothing that is missing ever takes from it."""

hearing_hours = Table(
    "hearing_hours",
    metadata,
    Column("station", String(8), primary_key=True),
    Column("kind", String(8), primary_key=True),
    Column("hour_utc", SmallInteger, primary_key=True, autoincrement=False),
    Column("first_heard", UtcInstant, nullable=False),
)

stations = Table(
    "stations",
    metadata,
    Column("id", String(8), primary_key=True),
    Column("name", Text, nullable=False),
    Column("lat_deg", Float, nullable=False),
    Column("lon_deg", Float, nullable=False),
    Column("elevation_ft", Float),
    Column("country", String(8), nullable=False),
    Column("reports", Boolean, nullable=False),
    Column("forecasts", Boolean, nullable=False),
    Column("faa_id", String(8)),
    Column("listed_elevation_ft", Float),
    Index(None, "lat_deg"),
)
"""``elevation_ft`` is what to believe; ``listed_elevation_ft`` what the list of stations said."""

airfields = Table(
    "airfields",
    metadata,
    Column("id", String(16), primary_key=True),
    Column("name", Text, nullable=False),
    Column("lat_deg", Float, nullable=False),
    Column("lon_deg", Float, nullable=False),
    Column("elevation_ft", Float),
    Column("country", String(8), nullable=False),
    Column("station_id", String(8)),
    Column("runways_known", Boolean, nullable=False),
    Column("lights", String(16), nullable=False),
    Column("lights_detail", Text),
    Column("tower", Text),
    Column("time_zone", String(64)),
    Column("class_b", Boolean),
    Column("private", Boolean),
    Column("source", Text, nullable=False),
    Index(None, "lat_deg"),
)
"""``runways_known`` false is ``runways=None``: no runway data, which differs from no runways.
``lights_detail`` and ``tower`` are JSON objects (refuge.store.airfield_rows)."""

runways = Table(
    "runways",
    metadata,
    Column("airfield_id", String(16), ForeignKey("airfields.id"), primary_key=True),
    Column("ordinal", SmallInteger, primary_key=True, autoincrement=False),
    Column("idents", Text, nullable=False),
    Column("length_ft", Integer),
    Column("width_ft", Integer),
    Column("surface", String(8), nullable=False),
    Column("surface_text", Text, nullable=False),
    Column("lighted", Boolean),
    Column("closed", Boolean, nullable=False),
    Column("heading_deg_true", Float),
    Column("ends", Text),
    Column("source", Text),
)

areas = Table(
    "areas",
    metadata,
    Column("id", _ID, primary_key=True, autoincrement=True),
    Column("name", Text, nullable=False),
    Column("kind", String(16), nullable=False),
    Column("source", Text, nullable=False),
    Column("west_deg", Float, nullable=False),
    Column("south_deg", Float, nullable=False),
    Column("east_deg", Float, nullable=False),
    Column("north_deg", Float, nullable=False),
    Column("shape", LargeBinary, nullable=False),
    Index(None, "source"),
)
"""Areas of airspace: ``shape`` is WKB, longitude first, without a jump at 180 degrees (so it may pass it)."""

airfield_codes = Table(
    "airfield_codes",
    metadata,
    Column("airfield_id", String(16), ForeignKey("airfields.id"), primary_key=True),
    Column("rank", SmallInteger, primary_key=True, autoincrement=False),
    Column("code", String(16), nullable=False),
    Index(None, "code"),
)
"""The codes that an airfield goes or went by, the most trusted first (rank 0)."""

versions = Table(
    "versions",
    metadata,
    Column("what", String(16), primary_key=True),
    Column("number", BigInteger, nullable=False),
)
"""Numbers that grow with every change of what answers rest on, to be polled: see `version`."""

feed_state = Table(
    "feed_state",
    metadata,
    Column("url", Text, primary_key=True),
    Column("etag", Text),
    Column("last_modified", Text),
)
"""What each address answered last, for conditional requests; written only once its content is stored."""

imports = Table(
    "imports",
    metadata,
    Column("id", _ID, primary_key=True, autoincrement=True),
    Column("what", String(16), nullable=False),
    Column("source", Text, nullable=False),
    Column("imported_at", UtcInstant, nullable=False),
    Column("counts", Text, nullable=False),
)
"""What was imported when, from where; ``counts`` is a JSON object of numbers by name."""

documents = Table(
    "documents",
    metadata,
    Column("kind", String(16), primary_key=True),
    Column("id", Text, primary_key=True),
    Column("text", Text, nullable=False),
    Column("stored_at", UtcInstant, nullable=False),
)
"""Aircraft and minimums files by id, as written."""

runs = Table(
    "runs",
    metadata,
    Column("id", _ID, primary_key=True, autoincrement=True),
    Column("feed", String(16), nullable=False),
    Column("worker", Text, nullable=False),
    Column("started_at", UtcInstant, nullable=False),
    Column("ended_at", UtcInstant),
    Column("outcome", String(16), nullable=False),
    Column("fetched", Integer),
    Column("new", Integer),
    Column("changed", Integer),
    Column("known", Integer),
    Column("refused", Integer),
    Column("late_median_s", Float),
    Column("late_max_s", Float),
    Column("error", Text),
    Index(None, "feed", "started_at"),
)
"""What the worker did: one row for each run of a feed. Numbers are null where a run did not come so far."""
