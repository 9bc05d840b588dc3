"""The addresses of what phones handed in from an outing, under outings/."""

from django.urls import path

from outings.views import phones

urlpatterns = [
    path("<int:pk>/phones/", phones.phones, name="phones"),
    path("<int:pk>/phones/conflicts/<int:entry_pk>/", phones.phone_conflict, name="phone_conflict"),
    path("<int:pk>/phones/remarks/add/", phones.remark_add, name="remark_add"),
    path("<int:pk>/phones/remarks/<int:remark_pk>/", phones.remark_edit, name="remark_edit"),
    path("<int:pk>/phones/remarks/<int:remark_pk>/withdraw/", phones.remark_withdraw, name="remark_withdraw"),
]
