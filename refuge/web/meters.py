"""What the server counts of itself, for /metrics."""

from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Gauge, Histogram, generate_latest


class Meters:
    """Counters of one server, in a registry of their own."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self.requests = Counter(
            "refuge_http_requests", "Requests answered.", ["route", "status"], registry=self.registry
        )
        self.seconds = Histogram(
            "refuge_http_request_seconds", "Time to answer what had to be worked out.", registry=self.registry
        )
        self.rebuilds = Counter("refuge_world_rebuilds", "Times the store was read anew.", registry=self.registry)
        self.failures = Counter("refuge_world_failures", "Times it could not be read.", registry=self.registry)
        self.rebuild_seconds = Histogram(
            "refuge_world_rebuild_seconds", "Time to read the store and work out what is polled.",
            registry=self.registry, buckets=(0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30, 60),
        )  # fmt: skip
        self.read_at = Gauge(
            "refuge_world_read_timestamp_seconds", "As of when answers are.", registry=self.registry
        )
        self.data_as_of = Gauge(
            "refuge_data_timestamp_seconds", "Receipt of the newest bulletin.", registry=self.registry
        )
        self.ready = Gauge("refuge_answers_ready", "Answers kept ready.", registry=self.registry)
        self.kept_200 = self.requests.labels(route="kept", status="200")
        self.kept_304 = self.requests.labels(route="kept", status="304")

    def text(self) -> bytes:
        """Return everything in Prometheus' text format."""
        return generate_latest(self.registry)

    @property
    def media(self) -> str:
        """Return the media type of `text`."""
        return CONTENT_TYPE_LATEST
