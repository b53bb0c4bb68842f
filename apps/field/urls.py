"""Three doors: the phone's pages and its intake under /field/, the desk's beside them."""

from django.urls import include, path

from apps.field.desk_urls import urlpatterns as desk
from apps.field.intake_urls import urlpatterns as intake
from apps.field.phone_urls import urlpatterns as phone

app_name = "field"
urlpatterns = [
    # Everything under /field/ lies in reach of the phone's service worker, and nothing else does.
    path("field/", include([*intake, *phone])),
    path("checks/", include(desk)),
]
