-- The rules of printed papers for PostgreSQL. Each block: name | table | when it fires [WHEN condition]; the body is PL/pgSQL.

-- rule printedlist_update | costing_printedlist | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'printed list: it is never changed; print another one'
    USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule printedlist_delete | costing_printedlist | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'printed list: it is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule printedlist_no_truncate | costing_printedlist | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM costing_printedlist) THEN
    RAISE EXCEPTION 'printed list: it is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;
