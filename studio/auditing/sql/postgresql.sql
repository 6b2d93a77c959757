-- The rules of the change log for PostgreSQL. Each block: name | table | when it fires; the body is PL/pgSQL.

-- rule change_no_update | auditlog_logentry | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'record: what was changed is never rewritten' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule change_no_delete | auditlog_logentry | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'record: what was changed is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule change_no_truncate | auditlog_logentry | BEFORE TRUNCATE
BEGIN
  RAISE EXCEPTION 'record: what was changed is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;
