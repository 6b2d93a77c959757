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

-- rule changeseal_in_order | studio_changeseal | BEFORE INSERT
BEGIN
  IF NEW.number <> (SELECT COALESCE(MAX(number), 0) + 1 FROM studio_changeseal) THEN
    RAISE EXCEPTION 'record: a seal of the change log takes the next number' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule changeseal_no_update | studio_changeseal | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'record: a seal of the change log is never changed' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule changeseal_no_delete | studio_changeseal | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'record: a seal of the change log is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule changeseal_no_truncate | studio_changeseal | BEFORE TRUNCATE
BEGIN
  RAISE EXCEPTION 'record: a seal of the change log is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;
