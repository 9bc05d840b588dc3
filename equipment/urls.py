"""The addresses of gear and kits."""

from django.urls import path

from .views import arrangements, gear, kits, pictures, readings

app_name = "equipment"

urlpatterns = [
    # /gear/
    path("gear/", gear.gear_list, name="gear"),
    path("gear/new/", gear.item_kinds, name="item_kinds"),
    path("gear/new/<str:kind>/", gear.item_new, name="item_new"),
    path("gear/<int:pk>/", gear.item, name="item"),
    path("gear/<int:pk>/edit/", gear.item_edit, name="item_edit"),
    path("gear/<int:pk>/copy/", gear.item_copy, name="item_copy"),
    path("gear/<int:pk>/retire/", gear.item_retire, name="item_retire"),
    path("gear/<int:pk>/take-back/", gear.item_take_back, name="item_take_back"),
    path("gear/<int:pk>/delete/", gear.item_delete, name="item_delete"),
    # /gear/<pk>/picture/
    path("gear/<int:pk>/picture/", pictures.picture_edit, name="picture_edit"),
    path("gear/<int:pk>/picture/remove/", pictures.picture_remove, name="picture_remove"),
    path("gear/<int:pk>/picture/<str:name>", pictures.picture, name="picture"),
    # /gear/<pk>/arrangements/ and /gear/arrangements/
    path("gear/<int:antenna_pk>/arrangements/new/", arrangements.arrangement_new, name="arrangement_new"),
    path("gear/arrangements/<int:pk>/", arrangements.arrangement, name="arrangement"),
    path("gear/arrangements/<int:pk>/edit/", arrangements.arrangement_edit, name="arrangement_edit"),
    path("gear/arrangements/<int:pk>/copy/", arrangements.arrangement_copy, name="arrangement_copy"),
    path("gear/arrangements/<int:pk>/retire/", arrangements.arrangement_retire, name="arrangement_retire"),
    path("gear/arrangements/<int:pk>/take-back/", arrangements.arrangement_take_back, name="arrangement_take_back"),
    path("gear/arrangements/<int:pk>/delete/", arrangements.arrangement_delete, name="arrangement_delete"),
    # /gear/<pk>/readings/ and /gear/readings/
    path("gear/<int:pack_pk>/readings/", readings.reading_list, name="reading_list"),
    path("gear/<int:pack_pk>/readings/new/", readings.reading_new, name="reading_new"),
    path("gear/readings/<int:pk>/edit/", readings.reading_edit, name="reading_edit"),
    path("gear/readings/<int:pk>/withdraw/", readings.reading_withdraw, name="reading_withdraw"),
    path("gear/readings/<int:pk>/bring-back/", readings.reading_bring_back, name="reading_bring_back"),
    # /gear/kits/
    path("gear/kits/", kits.kit_list, name="kit_list"),
    path("gear/kits/new/", kits.kit_new, name="kit_new"),
    path("gear/kits/<int:pk>/", kits.kit, name="kit"),
    path("gear/kits/<int:pk>/edit/", kits.kit_edit, name="kit_edit"),
    path("gear/kits/<int:pk>/copy/", kits.kit_copy, name="kit_copy"),
    path("gear/kits/<int:pk>/retire/", kits.kit_retire, name="kit_retire"),
    path("gear/kits/<int:pk>/take-back/", kits.kit_take_back, name="kit_take_back"),
    path("gear/kits/<int:pk>/delete/", kits.kit_delete, name="kit_delete"),
]
