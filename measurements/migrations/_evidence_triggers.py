"""Triggers that note what a release's decisions rest on whenever it changes, whoever changes it and how.

`put_on` and `take_off` are for migrations: SQLite loses a table's triggers when Django makes the table anew, and
refuses to rename one that another table's trigger names. A migration that alters one of these tables takes
them off before and puts them on after.
"""

_NOTED = "INSERT INTO measurements_evidencechange (design_id, device_id, test_key)"
_MOVED = "INSERT INTO measurements_moveddevice (device_key)"
_OF_OLD_TEST, _OF_NEW_TEST = (
    f"{_NOTED} SELECT NULL, device_id, '' FROM measurements_test WHERE id = {row}.test_id" for row in ("OLD", "NEW")
)

# (name, table, event, condition, what it does); every column compared is NOT NULL
TRIGGERS = (
    (
        "evidence_result_added",
        "measurements_result",
        "INSERT",
        "NEW.current AND NEW.counts_as_evidence",
        (_OF_NEW_TEST,),
    ),
    (
        "evidence_result_changed",
        "measurements_result",
        "UPDATE OF current, counts_as_evidence, test_id",
        "(OLD.current AND OLD.counts_as_evidence OR NEW.current AND NEW.counts_as_evidence) AND (OLD.current <> "
        "NEW.current OR OLD.counts_as_evidence <> NEW.counts_as_evidence OR OLD.test_id <> NEW.test_id)",
        (_OF_OLD_TEST, _OF_NEW_TEST),
    ),
    (
        "evidence_result_gone",
        "measurements_result",
        "DELETE",
        "OLD.current AND OLD.counts_as_evidence",
        (_OF_OLD_TEST,),
    ),
    # rows may come in any order: foreign keys are looked at when the transaction ends
    (
        "evidence_test_added",
        "measurements_test",
        "INSERT",
        "",
        (
            f"{_NOTED} SELECT NULL, NEW.device_id, '' "
            "WHERE EXISTS (SELECT 1 FROM measurements_result WHERE test_id = NEW.id)",
        ),
    ),
    (
        "evidence_test_changed",
        "measurements_test",
        "UPDATE OF device_id, excluded_reason, key, measured_on, recorded_at",
        "OLD.device_id <> NEW.device_id OR OLD.excluded_reason <> NEW.excluded_reason OR OLD.key <> NEW.key "
        "OR OLD.measured_on <> NEW.measured_on OR OLD.recorded_at <> NEW.recorded_at",
        (
            f"{_NOTED} VALUES (NULL, OLD.device_id, OLD.key)",
            f"{_NOTED} VALUES (NULL, NEW.device_id, '')",
        ),
    ),
    (
        "evidence_test_moved",
        "measurements_test",
        "UPDATE OF device_id",
        "OLD.device_id <> NEW.device_id",
        (f"{_MOVED} SELECT key FROM measurements_device WHERE id IN (OLD.device_id, NEW.device_id)",),
    ),
    (
        "evidence_test_gone",
        "measurements_test",
        "DELETE",
        "",
        (f"{_NOTED} VALUES (NULL, OLD.device_id, OLD.key)",),
    ),
    (
        "evidence_device_changed",
        "measurements_device",
        "UPDATE OF design_id, contributor_id, key",
        "OLD.design_id <> NEW.design_id OR OLD.contributor_id <> NEW.contributor_id OR OLD.key <> NEW.key",
        (
            f"{_NOTED} VALUES (OLD.design_id, NULL, '')",
            f"{_NOTED} VALUES (NEW.design_id, NULL, '')",
        ),
    ),
    (
        "evidence_device_moved",
        "measurements_device",
        "UPDATE OF design_id",
        "OLD.design_id <> NEW.design_id",
        (f"{_MOVED} VALUES (OLD.key)",),
    ),
    (
        "evidence_device_gone",
        "measurements_device",
        "DELETE",
        "",
        (f"{_NOTED} VALUES (OLD.design_id, NULL, '')",),
    ),
    (
        "evidence_contributor_changed",
        "measurements_contributor",
        "UPDATE OF key",
        "OLD.key <> NEW.key",
        (f"{_NOTED} SELECT DISTINCT design_id, NULL::bigint, '' FROM measurements_device WHERE contributor_id = NEW.id",),
    ),
    (
        "evidence_vote_changed",
        "measurements_publishedvote",
        "UPDATE OF contributor_key, device_key, test_key",
        "",
        (f"{_NOTED} SELECT design_id, NULL, '' FROM measurements_cell WHERE id = NEW.cell_id",),
    ),
)
# what happened before the triggers were there nobody noted: a row without anything asks for a look at everything
_LOOK_AT_ALL = f"{_NOTED} VALUES (NULL, NULL, '')"


def put_on(apps, schema_editor):
    for name, table, event, condition, does in TRIGGERS:
        when = f"WHEN ({condition})" if condition else ""
        body = "; ".join(does)
        if schema_editor.connection.vendor == "sqlite":
            body = body.replace("NULL::bigint", "NULL")
            schema_editor.execute(f"CREATE TRIGGER {name} AFTER {event} ON {table} {when} BEGIN {body}; END")
            continue
        schema_editor.execute(
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {body}; RETURN NULL; END $$"
        )
        schema_editor.execute(
            f"CREATE TRIGGER {name} AFTER {event} ON {table} FOR EACH ROW {when} EXECUTE FUNCTION {name}()"
        )
    schema_editor.execute(_LOOK_AT_ALL)


def take_off(apps, schema_editor):
    for name, table, *_ in TRIGGERS:
        if schema_editor.connection.vendor == "sqlite":
            schema_editor.execute(f"DROP TRIGGER {name}")
            continue
        schema_editor.execute(f"DROP TRIGGER {name} ON {table}")
        schema_editor.execute(f"DROP FUNCTION {name}()")
