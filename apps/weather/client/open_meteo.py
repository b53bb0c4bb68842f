"""Open-Meteo's forecast and its ensembles: hourly temperature and wind, one model at a time.

Units: C, km/h, degrees, unix seconds; steps in hours.
Validity: from three days ago 00:00 UTC to 15 days ahead, the longest reach; the hours past
the last whole local day are not shown, and the days back cover those that begin before
00:00 UTC. Steps longer than an hour are interpolated by the service; a reply may join hours of
an older run behind the newest one's end.
Source: Open-Meteo API documentation and server source (2026); member counts and native steps
from its ensemble page and source. Data licence CC BY 4.0. The free service is for
non-commercial use; a key goes with the customer host, and to the configured host alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from apps.weather.client import question, runs
from apps.weather.client.question import Question
from apps.weather.client.records import FetchOutcome, Finding, Provenance, SiteMemory, SitePoint
from apps.weather.client.transport import Deadline, Over, Pace, session

# Whole in every zone, the two days before today bear on whether sap runs today.
DAYS_BACK, DAYS_AHEAD = 3, 15
# A thousand are accepted, but a shorter URL passes every proxy on the way, and sixty sites of
# the largest ensemble are 17 MB already.
MOST_SITES = {"forecast": 250, "ensemble": 60}
# Members with the control, and hours between the values the model itself makes.
ENSEMBLES: dict[str, tuple[int, int]] = {
    "ncep_gefs025": (31, 3),
    "ncep_gefs05": (31, 3),
    "ncep_gefs_seamless": (31, 3),
    "ncep_aigefs025": (31, 6),
    "ecmwf_ifs025_ensemble": (51, 3),
    "ecmwf_aifs025_ensemble": (51, 6),
    "cmc_gem_geps": (21, 3),
    "gem_global_ensemble": (21, 3),
    "dwd_icon_global_eps": (40, 1),
    "icon_global_eps": (40, 1),
}


@dataclass(frozen=True)
class OpenMeteo:
    """One product (forecast or ensemble) of one model at one Open-Meteo host."""

    base_url: str
    product: str = "forecast"
    model: str = "best_match"
    api_key: str = ""
    contact: str = ""
    pace: Pace = field(default_factory=Pace)

    @property
    def host(self) -> str:
        return urlsplit(self.base_url).netloc

    @property
    def nominal(self) -> int | None:
        """Members the model should have; None where the model is not known here."""
        return 1 if self.product == "forecast" else ENSEMBLES.get(self.model, (None,))[0]

    @property
    def provenance(self) -> Provenance:
        return Provenance(
            provider="open-meteo",
            product=self.product,
            model=self.model,
            attribution=question.ATTRIBUTION,
            licence_url=question.LICENCE_URL,
            may_join_runs=True,
            native_step_hours=ENSEMBLES[self.model][1] if self.model in ENSEMBLES else None,
        )

    def fetch(
        self,
        points: Sequence[SitePoint],
        *,
        now: datetime,
        memories: Mapping[int, SiteMemory],
        deadline: Deadline,
    ) -> FetchOutcome:
        """Ask for every point, unless all hold the newest run of the model already."""
        sent = question.headers(self.contact, "application/json", self.api_key)
        asked = Question(
            url=self.base_url.rstrip("/") + f"/v1/{self.product}",
            model=self.model,
            first_day=now.date() - timedelta(days=DAYS_BACK),
            last_day=now.date() + timedelta(days=DAYS_AHEAD),
            now=now,
            nominal=self.nominal,
            most_sites=MOST_SITES[self.product],
            apart=frozenset(site for site, memory in memories.items() if memory.refused),
        )
        with session(self.pace, sent) as opened:
            over = Over(opened, deadline, self.pace)
            newest = self._newest_run(over, now)
            if newest and _all_hold(newest.run_time, points, memories):
                return FetchOutcome(
                    self.provenance, unchanged={point.site_id: None for point in points}
                )
            return _of_run(asked.ask(over, points, self.provenance), newest, now)

    def _newest_run(self, over: Over, now: datetime) -> runs.NewestRun | None:
        # What best_match joins has no table of runs of its own.
        if self.product == "forecast":
            return None
        return runs.newest(over, self.base_url, self.model, now)


def _all_hold(
    run_time: datetime, points: Sequence[SitePoint], memories: Mapping[int, SiteMemory]
) -> bool:
    held = [memories.get(point.site_id, SiteMemory()).run_time for point in points]
    return bool(held) and all(one == run_time for one in held)


def _of_run(outcome: FetchOutcome, newest: runs.NewestRun | None, now: datetime) -> FetchOutcome:
    """Note on what came the run it is of, as near as the service's table tells."""
    if newest is None:
        return outcome
    provenance = replace(outcome.provenance, run_time=newest.run_time)
    series = outcome.series
    if newest.overdue_since and now > newest.overdue_since:
        late = Finding("run_overdue", "The service's newest run of this model is overdue.")
        series = {
            site: replace(one, findings=(*one.findings, replace(late, site_id=site)))
            for site, one in series.items()
        }
    return replace(outcome, provenance=provenance, series=series)
