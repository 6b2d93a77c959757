-- The rules of orders for PostgreSQL. Each block: name | table | when it fires [WHEN condition]; the body is PL/pgSQL.

-- rule orderchase_update | inventory_orderchase | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'order: what a supplier promised is never changed' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule orderchase_delete | inventory_orderchase | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'order: what a supplier promised is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule orderchase_no_truncate | inventory_orderchase | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_orderchase) THEN
    RAISE EXCEPTION 'order: what a supplier promised is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;
