-- The rules of sessions for PostgreSQL. Each block: name | table | when it fires [WHEN condition]; the body is PL/pgSQL.

-- rule judgement_update | inventory_pourjudgement | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'judgement: what was judged is never changed' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule judgement_delete | inventory_pourjudgement | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'judgement: what was judged is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule judgedflaw_update | inventory_judgedflaw | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'judgement: what was judged is never changed' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule judgedflaw_delete | inventory_judgedflaw | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'judgement: what was judged is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule judgement_no_truncate | inventory_pourjudgement | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_pourjudgement) THEN
    RAISE EXCEPTION 'judgement: what was judged is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;

-- rule judgedflaw_no_truncate | inventory_judgedflaw | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_judgedflaw) THEN
    RAISE EXCEPTION 'judgement: what was judged is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;
