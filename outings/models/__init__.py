"""Where and when, what was worked, and the files it came from."""

from .contacts import Contact, ContactConflict
from .demo import DemoScenario
from .field import FieldEntry, Remark
from .files import ImportedFile, ImportFinding
from .notes import Note
from .outings import ChecklistLine, Outing, OutingMember, OutingPicture, StandingLine
from .sites import Site
from .stints import Pause, Stint, StintError

__all__ = [
    "ChecklistLine", "Contact", "ContactConflict", "DemoScenario", "FieldEntry", "ImportFinding", "ImportedFile",
    "Note", "Outing", "OutingMember", "OutingPicture", "Pause", "Remark", "Site", "StandingLine", "Stint",
    "StintError",
]
