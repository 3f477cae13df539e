"""NOAA's Aviation Weather Center: its caches of METAR, TAF and stations, its winds aloft text."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import product

from refuge.errors import FeedError, UnreachedError
from refuge.feeds.caches import reports_from_csv, reports_from_xml
from refuge.feeds.feed import Fetched, Validators
from refuge.feeds.http import Answer, HttpSettings, get
from refuge.weather.bulletin import Bulletin, Kind
from refuge.weather.winds_aloft import split_winds

BASE_URL = "https://aviationweather.gov"
METARS = "/data/cache/metars.cache.csv.gz"
TAFS = "/data/cache/tafs.cache.xml.gz"
STATIONS = "/data/cache/stations.cache.json.gz"
WINDS = "/api/data/windtemp"
_WINDS_PARTS = tuple(product(("low", "high"), ("06", "12", "24")))


def _at_once() -> bool:
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class AwcFeed:
    """The service at `base_url`, asked now: `received_at` is the receipt of all it answers.

    ``pause`` is called between two requests to one path, and says whether to go on: the service
    wants to be asked the same only once a minute by whoever asks all day.
    """

    received_at: datetime
    base_url: str = BASE_URL
    settings: HttpSettings = field(default_factory=HttpSettings)
    pause: Callable[[], bool] = _at_once

    @property
    def name(self) -> str:
        """Return the address of the service."""
        return self.base_url

    def fetch(self, kind: Kind, since: Mapping[str, Validators]) -> Fetched:
        """Return what the service has of this kind and had not by `since` (see `Feed`)."""
        match kind:
            case Kind.METAR:
                return self._reports(METARS, since, self._csv)
            case Kind.GUIDANCE:
                raise FeedError("has no guidance", where=self.base_url, remedy="name lav, lev, nbh or nbs")
            case Kind.TAF:
                return self._reports(TAFS, since, self._xml)
            case Kind.WINDS:
                try:
                    return self._winds("all", since)
                except UnreachedError:
                    raise
                except FeedError:
                    # Its documentation of 2026 no longer names "all": then the contiguous US at least.
                    return self._winds("us", since)

    def fetch_stations(self, since: Mapping[str, Validators]) -> tuple[bytes | None, Validators]:
        """Return the list of stations as JSON, or ``None`` if it is the same as before, with its validators."""
        answer = self._get(STATIONS, since)
        return answer.content, answer.validators

    def _reports(
        self, path: str, since: Mapping[str, Validators], read: Callable[[bytes, str], Fetched]
    ) -> Fetched:
        answer = self._get(path, since)
        if answer.content is None:
            return Fetched(unchanged=True)
        fetched = read(answer.content, answer.validators.url)
        return Fetched(bulletins=fetched.bulletins, unusable=fetched.unusable, validators=(answer.validators,))

    def _csv(self, content: bytes, source: str) -> Fetched:
        text = content.decode(errors="replace")
        return reports_from_csv(text, kind=Kind.METAR, source=source, received_at=self.received_at)

    def _xml(self, content: bytes, source: str) -> Fetched:
        return reports_from_xml(content, kind=Kind.TAF, source=source, received_at=self.received_at)

    def _winds(self, region: str, since: Mapping[str, Validators]) -> Fetched:
        """Return the bulletins of both heights and the three periods; one that fails spoils no other.

        Where no connection comes about it is broken off: the others are at the same place, minutes apart.
        """
        bulletins: list[Bulletin] = []
        validators: list[Validators] = []
        errors: list[FeedError] = []
        for number, (level, hours) in enumerate(_WINDS_PARTS):
            if number and not self.pause():
                errors.append(FeedError("told to stop before all was asked", where=self.base_url + WINDS))
                break
            params = {"region": region, "level": level, "fcst": hours}
            try:
                answer = self._get(WINDS, since, params)
            except UnreachedError as exc:
                if number == 0:
                    raise
                errors.append(exc)
                break
            except FeedError as exc:
                errors.append(exc)
                continue
            if answer.content is None:
                continue
            text = answer.content.decode(errors="replace").replace("\x00", " ")
            bulletins += winds_bulletins(text, source=answer.validators.url, received_at=self.received_at)
            validators.append(answer.validators)
        if len(errors) == len(_WINDS_PARTS):
            raise errors[0]
        return Fetched(
            bulletins=tuple(bulletins),
            unchanged=not bulletins and not errors,
            validators=tuple(validators),
            errors=tuple(errors),
        )

    def _get(self, path: str, since: Mapping[str, Validators], params: Mapping[str, str] | None = None) -> Answer:
        url = self.base_url.rstrip("/") + path
        return get(url, params=params, since=since, settings=self.settings)


def winds_bulletins(text: str, *, source: str, received_at: datetime) -> list[Bulletin]:
    """Return the winds-aloft bulletins of a text, each whole with its headings."""
    return [Bulletin(kind=Kind.WINDS, raw=raw, source=source, received_at=received_at) for raw in split_winds(text)]
