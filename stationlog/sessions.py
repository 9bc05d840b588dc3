"""Sessions in the database; what a page remembers for the next one may get lost, what a step stored may not."""

from django.contrib.sessions.backends import db
from django.contrib.sessions.backends.base import UpdateError

from stationlog.views import trouble


class SessionStore(db.SessionStore):
    """Django's, for a disk or a database that takes nothing more.

    A session is saved after the step. If that fails, the step is not called refused for it: a contact would be typed
    again that is in the log. A login, though, is nothing without its session.
    """

    begun = False

    def create(self):
        self.begun = True
        super().create()

    def save(self, must_create=False):
        try:
            super().save(must_create)
        except UpdateError as error:
            reason = error.__context__
            if trouble.reason_of(reason)[0] not in (trouble.FULL, trouble.AWAY):
                raise
            if self.begun:
                raise reason from None
