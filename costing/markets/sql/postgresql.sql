-- The rules of market days for PostgreSQL. Each block: name | table | when it fires [WHEN condition]; the body is PL/pgSQL.

-- rule cashcount_update | costing_cashcount | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'cash count: a count is never changed' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule cashcount_delete | costing_cashcount | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'cash count: a count is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule cashcount_no_truncate | costing_cashcount | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM costing_cashcount) THEN
    RAISE EXCEPTION 'cash count: a count is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;
