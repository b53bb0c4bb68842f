"""The desk's pages about the woods: a form that needs no script, and what belongs to the phones."""

from django.urls import path

from apps.field import desk_views, phone_desk_views, views

urlpatterns = [
    path("new/", views.check, name="check"),
    path("<uuid:uuid>/", views.saved, name="saved"),
    path("<uuid:uuid>/undo/", views.undo, name="undo"),
    path("<uuid:uuid>/reading/", views.reading_after, name="reading_after"),
    path("sheets/", desk_views.sheets, name="sheets"),
    path("tags/<int:pk>/", desk_views.tags_page, name="tags"),
    path("paper/<int:pk>/", desk_views.paper_form, name="paper"),
    path("paper/<int:pk>/type/", desk_views.paper_entry, name="paper_entry"),
    path("paper/<int:pk>/typed/<uuid:sheet>/", desk_views.paper_typed, name="paper_typed"),
    path("photos/<uuid:uuid>/", phone_desk_views.photo, name="photo"),
    path("phone-help/", phone_desk_views.phone_help, name="phone_help"),
    path("phones/", phone_desk_views.phones, name="phones"),
    path("phones/<uuid:uuid>/revoke/", phone_desk_views.phone_revoke, name="phone_revoke"),
    path("phones/<uuid:uuid>/allow/", phone_desk_views.phone_allow, name="phone_allow"),
]
