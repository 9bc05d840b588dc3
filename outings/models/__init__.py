"""Where and when, what was worked, and the files it came from."""

from .contacts import Contact, ContactConflict
from .files import ImportedFile, ImportFinding
from .notes import Note
from .outings import ChecklistLine, Outing, OutingMember, OutingPicture, StandingLine
from .sites import Site
from .stints import Pause, Stint, StintError

__all__ = [
    "ChecklistLine", "Contact", "ContactConflict", "ImportFinding", "ImportedFile", "Note", "Outing", "OutingMember",
    "OutingPicture", "Pause", "Site", "StandingLine", "Stint",
    "StintError",
]
