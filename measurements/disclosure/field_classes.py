"""Every stored field of every table, and the widest circle that may ever read it as it is stored.

A total table: a field that is not listed here, or a listed one that is not stored any more, fails a test.
Whoever adds a field decides here, in the same commit, who may see it.

public     everybody
members    whoever is signed in (the public at most coarsened, see `evidence_view`)
owner      whose device, test or account it is; the operators of its night; stewards
operator   the operators of the night; stewards
steward    stewards
never      stays on the server: row numbers, secrets, hashes of secrets, the ledger of who voted

A reference to another row is classed by the fact that it states, whatever key is shown for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Literal, get_args

FieldClass = Literal["public", "members", "owner", "operator", "steward", "never"]
CLASS_NAMES: tuple[FieldClass, ...] = get_args(FieldClass)

_SOURCED_FIELDS = "source basis as_of note"  # what every reference row has

# table -> class -> names of fields
_CLASSES_BY_TABLE: dict[str, dict[FieldClass, str]] = {
    # people
    "Member": {
        "never": "id password last_login sessions_ended",
        "owner": "name role keeps_kit in_pool",
        "steward": "is_active joined_at",
    },
    "SignInLink": {"never": "id member secret_sha256 made_at expires_at used_at made_on_server"},
    "Passkey": {
        "never": "id member credential_id_sha256 credential sign_count",
        "owner": "key label made_at",
    },
    "CodeApp": {"never": "id member secret_encrypted last_step", "owner": "made_at"},
    "RecoveryCode": {"never": "id member code_sha256"},
    "AccessToken": {
        "never": "digest user",
        "owner": "token_key label created expiry scope last_used_on",
    },
    "KeptReply": {
        "never": "id member place_sha256 request_sha256 begun_at status",
        "owner": "location body",
    },
    # the instrument is its owner's alone; evidence holds nothing of it
    "DescribedAnalyser": {
        "never": "id member",
        "owner": "key name calibration stated measured description checked_on described_at",
    },
    "Contributor": {
        "never": "id key person",
        "owner": "member is_group",
        "operator": "guest_name",
        "steward": "confirmed_at confirmed_by",
    },
    # designs and devices: a recipe is published and holds no free text
    "Design": {
        "never": "id recipe_sha256",
        "public": "merged_into key recipe title purpose principle ratio mix core core_count turns style",
    },
    "Device": {
        # whose votes they are is the ledger's to know
        "never": "id voter",
        "owner": "key contributor design tag origin built_on notes registered_at version "
        "place baseline retired_on is_check_standard kind ratio make",
    },
    # the group's own yardstick: every operator reads its chart; who waits for it reads what was found
    "CheckStandard": {
        "never": "id",
        "operator": "key device marked_by marked_at counts_from ended_at",
    },
    "CheckHold": {
        "never": "id",
        "owner": "kind method night measured_on findings advice made_at ended_at ended_how",
        "operator": "key standard test_key recorded_by ended_by reason",
    },
    # kit in many hands
    "Handover": {
        "never": "id giver receiver",
        "owner": "key device to_group name offered_at answer answered_at",
    },
    "Loan": {"never": "id", "owner": "key device borrower lent_on returned_on lent_by"},
    "KitChange": {"never": "id made_by", "owner": "key made_at undone_at"},
    "KitChangeRow": {"never": "id", "owner": "change device before after marked"},
    "LabelCode": {"never": "id", "owner": "code device made_by made_at bound_at"},
    # tests
    "Test": {
        "never": "id content_sha256",
        "owner": "key device recorded_by kind settings measured_on recorded_at night excluded_reason "
        "excluded_at recipe_doubt recipe_confirmed_at is_private",
        "steward": "reviewed_at shares_bytes",
    },
    "SweepFile": {
        "never": "id",
        "owner": "test role name raw raw_sha256 ports points freq_hz s z0_ohm measured magnitude_only "
        "source notes",
    },
    "Result": {
        "never": "id current",
        "owner": "test engine_version computed_at figures trace_names traces counts_as_evidence "
        "evidence_curve published",
        "steward": "flagged",
    },
    "StagedUpload": {"never": "id made_at claim_sha256", "owner": "key member role name raw expires_at"},
    # upkeep: what keeps a device in service beside its tests
    "Inspection": {
        "never": "id content_sha256",
        "owner": "key device inspected_on recorded_by recorded_at night findings dc_ohm notes",
    },
    "DeviceState": {
        "never": "id standard repeats asks_repeats pool",
        "owner": "device state codes reason next_step due_on newest_on next_change_on judged_on",
    },
    "StateChange": {"never": "id device_number contributor_number"},
    "DueMark": {"never": "id", "owner": "device event since reason marked_at marked_by batch"},
    "DevicePhoto": {
        "never": "id raw_sha256",
        "owner": "key device caption media_type width_px height_px content small added_at",
    },
    "FaultSearch": {
        "never": "id",
        "owner": "key device begun_by begun_at symptom answers finding ended_at version",
    },
    "FaultStep": {"never": "id", "owner": "search step test added_at"},
    "WatchedDesign": {"never": "id member", "owner": "design since watched_at"},
    "CalendarFeed": {"never": "id member secret_sha256", "owner": "label made_at last_used_on of_group"},
    # club nights: a night names guests, so only its operators and stewards see it
    "Night": {
        "never": "id",
        "operator": "key held_on title instrument analyser jig calibrated calibration resistors notes "
        "opened_by opened_at closed_at jig_figures version",
    },
    "NightOperator": {"never": "id", "operator": "night member"},
    "NightContributor": {"never": "id", "operator": "key night name contributor"},
    "NightDevice": {
        "never": "id",
        "owner": "night device brought_at opened_by opened_how ended_at ended_by_owner",
    },
    # whether there is such a device is the owner's to know
    "BenchRequest": {
        "never": "id",
        "owner": "key device answer answered_at",
        "operator": "night name tag asked_by asked_at",
    },
    "NightJigFile": {"never": "id", "operator": "night role name raw raw_sha256"},
    "ClaimCode": {"never": "id contributor code_sha256 made_at used_at"},
    "TestMove": {
        "never": "id",
        "operator": "key night made_by made_at tests devices undone_at",
    },
    "Intake": {
        "never": "id worker alive_until",
        "operator": "key night made_by made_at state finished_at",
    },
    "IntakeFile": {
        "never": "id",
        "operator": "intake number name assignment unit raw raw_sha256 state reason question test",
    },
    # bundles between servers: whoever runs the server trusts a key; marks and pseudonyms stay here
    "TrustedKey": {"never": "id", "operator": "key name added_at"},
    "BundlePerson": {"never": "id source ref contributor", "steward": "confirmed_there"},
    "BundleMark": {"never": "id source table key fields made_at taken_at"},
    "BundleImport": {
        "never": "id raw worker alive_until",
        "operator": "key made_by made_at apply decisions state finished_at outcome refusal",
    },
    # the pool of groups, at a group: an owner learns that an own test was sent, nobody the pseudonyms
    "PoolSeat": {
        "never": "id last_sha256",
        "members": "group_name joined_at left_at is_open",
        "steward": "keeper_address keeper_key source last_number last_sent_at last_problem standing",
    },
    "SentVote": {
        "never": "id design kind contributor_key device_key person device vote standing",
        "owner": "test_key",
    },
    "PoolCopy": {"never": "id", "public": "number manifest made_at fetched_at", "steward": "gained"},
    "PoolCopyRow": {"never": "id copy", "public": "recipe_sha256 kind band figures"},
    # the pool of groups, at its keeper: records of single votes, offsets of single groups stay inside
    "KeptInvitation": {"never": "id code_sha256", "steward": "name made_at expires_at used_at"},
    "KeptGroup": {
        "never": "id last_sha256",
        "steward": "key name joined_at left_at aside_at aside_reason last_number last_taken_at",
    },
    "KeptDesign": {"never": "id", "public": "recipe_sha256 recipe_form recipe rows title"},
    "KeptRecord": {"never": "id group design kind vote person device bands u_class curve quarter withdrawn"},
    "KeptSet": {"never": "id group design kind votes votes_sha256"},
    "KeptRelease": {
        "never": "after_set usual_spreads",
        "public": "number made_at core_bands counts manifest_sha256",
    },
    "KeptState": {"never": "id design kind first_release last_release votes weights figures"},
    "KeptReleaseFile": {"never": "id", "public": "release name media_type content sha256"},
    # in the reply to the group's own signed sending, and nowhere else
    "KeptOffset": {"never": "id group release kind band offset low high certain"},
    # evidence: identity-free by construction, so nothing here belongs to an owner
    "Release": {
        "never": "salt usual_spreads",
        "public": "number made_at engine_version region thresholds counts content_sha256",
    },
    # a row's own `circle` narrows this: the files of members are neither listed for nor given to the public
    "ReleaseFile": {
        "never": "id",
        "public": "release name circle media_type size sha256 withdrawn",
    },
    "ReleaseFilePart": {"never": "id", "public": "file number content"},
    "Cell": {
        # figures of single devices, and exact ones: what leaves is made of them and rounded
        "never": "id persons one_jig worst_db spread_curves curves content_sha256",
        "public": "design kind band first_release last_release bands",
        "members": "devices contributors",
    },
    # the ledger: an owner learns that an own test is published, nobody learns the other owners
    "PublishedVote": {"never": "id cell contributor_key device_key", "owner": "test_key"},
    # how well the group repeats a measurement is what members read of a pool
    "PublishedPool": {"never": "id release", "members": "name figures"},
    "PoolVote": {"never": "id pool contributor_key device_key", "owner": "test_key"},
    # a row's own `circle` narrows this
    "ReleaseAnswer": {"never": "id", "public": "release circle name content"},
    # reference data
    "Allocation": {
        "never": "id",
        "public": f"{_SOURCED_FIELDS} region band start_hz stop_hz valid_from valid_to",
    },
    "Benchmark": {"never": "id", "public": f"{_SOURCED_FIELDS} kind metric value unit"},
    "Mix": {
        "never": "id",
        "public": f"{_SOURCED_FIELDS} name initial_permeability curie_c resistivity_ohm_cm rows",
    },
    "Core": {
        "never": "id",
        "public": f"{_SOURCED_FIELDS} part shape outer_mm inner_mm height_mm mix al_nh al_tolerance_percent",
    },
    "CoreAlias": {"never": "id", "steward": "shape outer_mm inner_mm height_mm mix core"},
    "Conductor": {"never": "id", "public": f"{_SOURCED_FIELDS} name outer_mm"},
    "GroupSetting": {"steward": "changed_at", "public": "name value"},
    # learned from what is published to the row's own circle, which narrows this
    "LearnedModel": {"never": "id", "public": "release circle engine_version figures validation"},
    # running the house
    "AuditEntry": {"never": "id", "steward": "at actor action subject detail"},
    "UseCount": {"never": "id key window uses"},
}


def _list_field_classes(
    table: Mapping[str, Mapping[FieldClass, str]],
) -> Iterator[tuple[tuple[str, str], FieldClass]]:
    """Yield ((model, field), class) pairs. Raises ValueError for a field that is listed twice."""
    seen: set[tuple[str, str]] = set()
    for model, classes in table.items():
        for field_class, names in classes.items():
            for name in names.split():
                if (model, name) in seen:
                    raise ValueError(f"{model}.{name} is listed twice.")
                seen.add((model, name))
                yield (model, name), field_class


FIELD_CLASSES: Mapping[tuple[str, str], FieldClass] = dict(_list_field_classes(_CLASSES_BY_TABLE))
