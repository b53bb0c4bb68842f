from django.urls import path

from apps.sugarhouse.views import batches, sap, tanks

app_name = "sugarhouse"
urlpatterns = [
    path("sap/", sap.sap, name="sap"),
    path("sap/<int:pk>/", sap.sap_receipt, name="sap_receipt"),
    path("sap/<int:pk>/sugar/", sap.sap_sugar, name="sap_sugar"),
    path("sap/out/<int:pk>/undo/", sap.undo_out, name="undo_sap_out"),
    path("sap/<int:pk>/remove/", sap.remove_sap, name="remove_sap"),
    path("tanks/", tanks.tanks, name="tanks"),
    path("tanks/add/", tanks.tank_add, name="tank_add"),
    path("tanks/<int:pk>/", tanks.tank, name="tank"),
    path("tanks/dips/<int:pk>/void/", tanks.void_dip, name="void_dip"),
    path("tanks/<int:pk>/edit/", tanks.tank_edit, name="tank_edit"),
    path("batches/", batches.batches, name="batches"),
    path("batches/<int:pk>/", batches.batch, name="batch"),
    path("batches/<int:pk>/undo/", batches.undo, name="undo_batch"),
]
