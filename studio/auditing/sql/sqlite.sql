-- The rules of the change log for SQLite. Each block: name | table | when it fires.

-- rule change_no_update | auditlog_logentry | BEFORE UPDATE
SELECT RAISE(ABORT, 'record: what was changed is never rewritten');

-- rule change_no_delete | auditlog_logentry | BEFORE DELETE
SELECT RAISE(ABORT, 'record: what was changed is never deleted');

-- rule changeseal_in_order | studio_changeseal | BEFORE INSERT
SELECT RAISE(ABORT, 'record: a seal of the change log takes the next number')
WHERE NEW.number <> (SELECT COALESCE(MAX(number), 0) + 1 FROM studio_changeseal);

-- rule changeseal_no_update | studio_changeseal | BEFORE UPDATE
SELECT RAISE(ABORT, 'record: a seal of the change log is never changed');

-- rule changeseal_no_delete | studio_changeseal | BEFORE DELETE
SELECT RAISE(ABORT, 'record: a seal of the change log is never deleted');
