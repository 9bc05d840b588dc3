"""The addresses of shared outings, under outings/."""

from django.urls import path

from outings.views import members

urlpatterns = [
    path("<int:pk>/members/", members.members, name="members"),
    path("<int:pk>/members/<int:member_pk>/remove/", members.member_remove, name="member_remove"),
    path("shared/<int:member_pk>/join/", members.membership_join, name="membership_join"),
    path("shared/<int:member_pk>/leave/", members.membership_leave, name="membership_leave"),
]
