from django.urls import path

from apps.outlook import run_views, score_views, season_views, views

app_name = "outlook"
urlpatterns = [
    path("run-days/", run_views.run_days, name="run_days"),
    path("forecast-scores/", score_views.scores_page, name="scores"),
    path("season-end/", season_views.season_end_page, name="season_end"),
    path("first-runs/", season_views.first_runs_page, name="first_runs"),
    path("brief/", season_views.brief_page, name="brief"),
    path("start-date/", views.start_date, name="start_date"),
    path("start-date/crew-plan/", views.crew_plan, name="crew_plan"),
    path("start-date/snow/", views.snow, name="snow"),
]
