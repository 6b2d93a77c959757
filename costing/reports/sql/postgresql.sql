-- The rules of year ends for PostgreSQL. Each block: name | table | when it fires [WHEN condition]; the body is PL/pgSQL.

-- rule writedown_update | costing_writedown | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'write-down: it is never changed; write another one'
    USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule writedown_delete | costing_writedown | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'write-down: it is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule writedown_no_truncate | costing_writedown | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM costing_writedown) THEN
    RAISE EXCEPTION 'write-down: it is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;
