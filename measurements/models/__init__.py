"""Tables, constraints and indexes; no rules, no signals, no save() override.

Only `ingest` (writes) and `queries` (reads) import this room. Django needs every model importable
from here; that is the only reason for the list below. Start reading at `testing.py`.
"""

from measurements.models.audit import AuditEntry
from measurements.models.designs import Design, Device
from measurements.models.evidence import Cell, EvidenceSample, Release
from measurements.models.group_settings import GroupSetting
from measurements.models.intake import Intake, IntakeFile
from measurements.models.learned import LearnedModel
from measurements.models.ledger import PublishedVote
from measurements.models.marks import DecisionMark, EvidenceChange, MovedDevice
from measurements.models.nights import (
    ClaimCode,
    Night,
    NightContributor,
    NightDevice,
    NightJigFile,
    NightOperator,
)
from measurements.models.people import Contributor, Member, SignInLink
from measurements.models.reference import Allocation, Benchmark, Conductor, Core, CoreAlias, Mix
from measurements.models.release_files import ReleaseFile, ReleaseFilePart
from measurements.models.staging import StagedUpload
from measurements.models.testing import Result, SweepFile, Test
from measurements.models.upkeep import CalendarFeed, DevicePhoto, FaultSearch, FaultStep, Inspection
from measurements.models.usage import UseCount

__all__ = [
    "Allocation",
    "AuditEntry",
    "Benchmark",
    "CalendarFeed",
    "Cell",
    "ClaimCode",
    "Conductor",
    "Contributor",
    "Core",
    "CoreAlias",
    "DecisionMark",
    "Design",
    "Device",
    "DevicePhoto",
    "EvidenceChange",
    "EvidenceSample",
    "FaultSearch",
    "FaultStep",
    "GroupSetting",
    "Inspection",
    "Intake",
    "IntakeFile",
    "LearnedModel",
    "Member",
    "Mix",
    "MovedDevice",
    "Night",
    "NightContributor",
    "NightDevice",
    "NightJigFile",
    "NightOperator",
    "PublishedVote",
    "Release",
    "ReleaseFile",
    "ReleaseFilePart",
    "Result",
    "SignInLink",
    "StagedUpload",
    "SweepFile",
    "Test",
    "UseCount",
]
