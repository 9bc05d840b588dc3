"""The addresses of gear, its pictures and its arrangements: /gear/..."""

from django.urls import path

from equipment.views import arrangements, gear, pictures

urlpatterns = [
    path("", gear.gear_list, name="gear"),
    path("new/", gear.item_kinds, name="item_kinds"),
    path("new/<str:kind>/", gear.item_new, name="item_new"),
    path("<int:pk>/", gear.item, name="item"),
    path("<int:pk>/edit/", gear.item_edit, name="item_edit"),
    path("<int:pk>/copy/", gear.item_copy, name="item_copy"),
    path("<int:pk>/retire/", gear.item_retire, name="item_retire"),
    path("<int:pk>/take-back/", gear.item_take_back, name="item_take_back"),
    path("<int:pk>/delete/", gear.item_delete, name="item_delete"),
    # /gear/<pk>/picture/
    path("<int:pk>/picture/", pictures.picture_edit, name="picture_edit"),
    path("<int:pk>/picture/remove/", pictures.picture_remove, name="picture_remove"),
    path("<int:pk>/picture/<str:name>", pictures.picture, name="picture"),
    # /gear/<pk>/arrangements/ and /gear/arrangements/
    path("<int:antenna_pk>/arrangements/new/", arrangements.arrangement_new, name="arrangement_new"),
    path("arrangements/<int:pk>/", arrangements.arrangement, name="arrangement"),
    path("arrangements/<int:pk>/edit/", arrangements.arrangement_edit, name="arrangement_edit"),
    path("arrangements/<int:pk>/copy/", arrangements.arrangement_copy, name="arrangement_copy"),
    path("arrangements/<int:pk>/retire/", arrangements.arrangement_retire, name="arrangement_retire"),
    path("arrangements/<int:pk>/take-back/", arrangements.arrangement_take_back, name="arrangement_take_back"),
    path("arrangements/<int:pk>/delete/", arrangements.arrangement_delete, name="arrangement_delete"),
]
