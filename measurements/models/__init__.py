"""Tables, constraints and indexes; no rules, no signals, no save() override.

Only `services` (writes) and `selectors` (reads) import this room. Django needs every model importable
from here; that is the only reason for the list below. Start reading at `testing.py`.
"""

from measurements.models.accounts import Contributor, Member, SignInLink
from measurements.models.analysers import DescribedAnalyser
from measurements.models.bundles import BundleImport, BundleMark, BundlePerson, TrustedKey
from measurements.models.check_standards import CheckHold, CheckStandard
from measurements.models.designs import Design, Device
from measurements.models.evidence import Cell
from measurements.models.group_facts import GroupSetting
from measurements.models.intakes import Intake, IntakeFile
from measurements.models.kept_pools import (
    KeptDesign,
    KeptGroup,
    KeptInvitation,
    KeptOffset,
    KeptRecord,
    KeptRelease,
    KeptReleaseFile,
    KeptSet,
    KeptState,
)
from measurements.models.kept_states import DeviceState, StateChange
from measurements.models.kit import Handover, KitChange, KitChangeRow, LabelCode, Loan
from measurements.models.ledger import PublishedVote
from measurements.models.nights import (
    BenchRequest,
    ClaimCode,
    Night,
    NightContributor,
    NightDevice,
    NightJigFile,
    NightOperator,
)
from measurements.models.operations import AuditEntry, UseCount
from measurements.models.pooling import PoolCopy, PoolCopyRow, PoolSeat, SentVote
from measurements.models.pools import PoolVote, PublishedPool, ReleaseAnswer
from measurements.models.reference import Allocation, Benchmark, Conductor, Core, CoreAlias, Mix
from measurements.models.releases import LearnedModel, Release, ReleaseFile, ReleaseFilePart
from measurements.models.second_factors import CodeApp, Passkey, RecoveryCode
from measurements.models.tests import Result, StagedUpload, SweepFile, Test, TestMove
from measurements.models.upkeep import (
    CalendarFeed,
    DevicePhoto,
    DueMark,
    FaultSearch,
    FaultStep,
    Inspection,
    WatchedDesign,
)

__all__ = [
    "Allocation",
    "AuditEntry",
    "BenchRequest",
    "Benchmark",
    "BundleImport",
    "BundleMark",
    "BundlePerson",
    "CalendarFeed",
    "Cell",
    "CheckHold",
    "CheckStandard",
    "ClaimCode",
    "CodeApp",
    "Conductor",
    "Contributor",
    "Core",
    "CoreAlias",
    "DescribedAnalyser",
    "Design",
    "Device",
    "DevicePhoto",
    "DeviceState",
    "DueMark",
    "FaultSearch",
    "FaultStep",
    "GroupSetting",
    "Handover",
    "Inspection",
    "Intake",
    "IntakeFile",
    "KeptDesign",
    "KeptGroup",
    "KeptInvitation",
    "KeptOffset",
    "KeptRecord",
    "KeptRelease",
    "KeptReleaseFile",
    "KeptSet",
    "KeptState",
    "KitChange",
    "KitChangeRow",
    "LabelCode",
    "LearnedModel",
    "Loan",
    "Member",
    "Mix",
    "Night",
    "NightContributor",
    "NightDevice",
    "NightJigFile",
    "NightOperator",
    "Passkey",
    "PoolCopy",
    "PoolCopyRow",
    "PoolSeat",
    "PoolVote",
    "PublishedPool",
    "PublishedVote",
    "RecoveryCode",
    "Release",
    "ReleaseAnswer",
    "ReleaseFile",
    "ReleaseFilePart",
    "Result",
    "SentVote",
    "SignInLink",
    "StagedUpload",
    "StateChange",
    "SweepFile",
    "Test",
    "TestMove",
    "TrustedKey",
    "UseCount",
    "WatchedDesign",
]
