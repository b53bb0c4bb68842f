from django.urls import path

from apps.woods import layout_views, remove_views, views

app_name = "woods"
urlpatterns = [
    path("", views.woodlots, name="woodlots"),
    path("add/", views.woodlot_add, name="woodlot_add"),
    path("<int:pk>/", views.woodlot, name="woodlot"),
    path("<int:pk>/edit/", views.woodlot_edit, name="woodlot_edit"),
    path("<int:pk>/remove/", remove_views.woodlot_remove, name="woodlot_remove"),
    path("<int:pk>/lines/", views.lines, name="lines"),
    path("<int:pk>/tree/", views.tree, name="tree"),
    path("<int:pk>/layout/", layout_views.layout_check, name="layout"),
    path("<int:pk>/paper/", views.paper, name="paper"),
    path("<int:pk>/lines/add/", views.line_add, name="line_add"),
    path("<int:pk>/lines/carry-taps/", views.carry_taps, name="carry_taps"),
    path("<int:pk>/pump-houses/add/", views.pump_house_add, name="pump_house_add"),
    path("<int:pk>/leases/add/", views.lease_add, name="lease_add"),
    path("lines/<int:pk>/edit/", views.line_edit, name="line_edit"),
    path("lines/<int:pk>/remove/", remove_views.line_remove, name="line_remove"),
    path("pump-houses/<int:pk>/edit/", views.pump_house_edit, name="pump_house_edit"),
    path("pump-houses/<int:pk>/remove/", remove_views.pump_house_remove, name="pump_house_remove"),
    path("leases/<int:pk>/edit/", views.lease_edit, name="lease_edit"),
    path("leases/<int:pk>/remove/", remove_views.lease_remove, name="lease_remove"),
    path("landowners/", views.landowners, name="landowners"),
    path("landowners/add/", views.landowner_add, name="landowner_add"),
    path("landowners/<int:pk>/edit/", views.landowner_edit, name="landowner_edit"),
    path("landowners/<int:pk>/remove/", remove_views.landowner_remove, name="landowner_remove"),
    path("notes/", views.notes, name="notes"),
    path("notes/<int:pk>/void/", views.note_void, name="note_void"),
]
