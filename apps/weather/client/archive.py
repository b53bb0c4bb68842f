"""Open-Meteo's archive: the hours of past days by one reanalysis, always the same one.

Units: C, degrees, unix seconds.
Validity: from 1940 to about five days ago. One model is pinned: the service's own mixture
changes its source with time and would put a step into a climatology. The last days come as
nulls and are kept as missing.
Source: Open-Meteo API documentation, historical weather (2026). Data licence CC BY 4.0;
ERA5: Hersbach et al. (2020), ERA5-Land: Munoz-Sabater et al. (2021).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from apps.weather.client import question
from apps.weather.client.question import Question
from apps.weather.client.records import FetchOutcome, Provenance, SitePoint
from apps.weather.client.transport import Deadline, Over, Pace, session

# A season of sixty sites is 20 MB.
MOST_SITES = 60


@dataclass(frozen=True)
class Archive:
    """The archive of one Open-Meteo host."""

    base_url: str
    api_key: str = ""
    contact: str = ""
    pace: Pace = field(default_factory=Pace)

    def fetch(
        self,
        points: Sequence[SitePoint],
        first_day: date,
        last_day: date,
        model: str,
        *,
        now: datetime,
    ) -> FetchOutcome:
        """Every hour of the UTC days from the first to the last, both included.

        Never raises for what the network or the service does; `not_before` in the outcome says
        when to come back.
        """
        asked = Question(
            url=self.base_url.rstrip("/") + "/v1/archive",
            model=model,
            first_day=first_day,
            last_day=last_day,
            now=now,
            ahead=False,
            most_sites=MOST_SITES,
        )
        provenance = Provenance(
            provider="open-meteo",
            product="archive",
            model=model,
            attribution=question.ATTRIBUTION,
            licence_url=question.LICENCE_URL,
            native_step_hours=1,
        )
        sent = question.headers(self.contact, "application/json", self.api_key)
        with session(self.pace, sent) as opened:
            over = Over(opened, Deadline(self.pace.refresh_seconds), self.pace)
            return asked.ask(over, points, provenance)
