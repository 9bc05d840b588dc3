"""The addresses of contacts and of what was changed, under contacts/."""

from django.urls import path

from outings.views import changes, contacts

urlpatterns = [
    path("", contacts.contact_list, name="contact_list"),
    path("mend/", contacts.contact_mend, name="contact_mend"),
    path("changes/", changes.change_list, name="change_list"),
    path("changes/<int:pk>/", changes.change, name="change"),
    path("<int:pk>/", contacts.contact, name="contact"),
    path("<int:pk>/edit/", contacts.contact_edit, name="contact_edit"),
    path("<int:pk>/delete/", contacts.contact_withdraw, name="contact_withdraw"),
    path("<int:pk>/bring-back/", contacts.contact_bring_back, name="contact_bring_back"),
    path("<int:pk>/conflicts/<int:conflict_pk>/", contacts.contact_conflict, name="contact_conflict"),
]
