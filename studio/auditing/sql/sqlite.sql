-- The rules of the change log for SQLite. Each block: name | table | when it fires.

-- rule change_no_update | auditlog_logentry | BEFORE UPDATE
SELECT RAISE(ABORT, 'record: what was changed is never rewritten');

-- rule change_no_delete | auditlog_logentry | BEFORE DELETE
SELECT RAISE(ABORT, 'record: what was changed is never deleted');
