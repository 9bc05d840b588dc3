"""Where and when, what was worked, and the files it came from."""

from .contacts import Contact, ContactConflict
from .demo import DemoScenario
from .field import FieldEntry, Remark
from .files import ImportedFile, ImportFinding
from .notes import Note
from .outings import ChecklistLine, Outing, OutingMember, OutingPicture, StandingLine
from .reception import ReceptionFile, ReceptionReport
from .sharing import SharedPage
from .sites import Site
from .stints import Pause, Stint, StintError
from .switching import SwitchingBlock, SwitchingPlan

__all__ = [
    "ChecklistLine", "Contact", "ContactConflict", "DemoScenario", "FieldEntry", "ImportFinding", "ImportedFile",
    "Note", "Outing", "OutingMember", "OutingPicture", "Pause", "ReceptionFile", "ReceptionReport", "Remark",
    "SharedPage", "Site", "StandingLine", "Stint", "StintError", "SwitchingBlock", "SwitchingPlan",
]
