"""Test data: plain functions that make one row each, complete enough to be used, every value open to change."""

from stationlog.models import Invitation, Operator

PASSWORD = "three loose guy lines"


def an_operator(call_sign="Q1ABC", *, password=PASSWORD, **fields):
    """An operator who can log in with PASSWORD; make the second one with a call sign of its own."""
    fields.setdefault("name", "Robin Fielding")
    fields.setdefault("home_grid", "JO62qm")
    return Operator.objects.create_user(call_sign, password, **fields)


def an_invitation(keeper=None, note="Q2DEF, who helps with the masts"):
    """The code of an invitation by a keeper, who is made if need be."""
    return Invitation.objects.make(keeper or an_operator("Q9KEEP", keeper=True), note)
