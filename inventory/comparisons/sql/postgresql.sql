-- The rules of comparisons for PostgreSQL. Each block: name | table | when it fires [WHEN condition]; the body is PL/pgSQL.

-- rule score_insert | inventory_score | BEFORE INSERT
BEGIN
  IF EXISTS (
    SELECT 1 FROM inventory_comparedpour AS compared JOIN inventory_comparison AS comparison
      ON comparison.id = compared.comparison_id
    WHERE compared.id = NEW.pour_id AND comparison.finished_at IS NOT NULL
  ) THEN
    RAISE EXCEPTION 'comparison: a finished comparison takes no more scores' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule score_update | inventory_score | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'comparison: a score is never changed' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule score_delete | inventory_score | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'comparison: a score is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule score_no_truncate | inventory_score | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_score) THEN
    RAISE EXCEPTION 'comparison: a score is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;

-- rule comparison_finished | inventory_comparison | BEFORE UPDATE WHEN OLD.finished_at IS NOT NULL
BEGIN
  IF NEW.finished_at IS DISTINCT FROM OLD.finished_at OR NEW.is_blind <> OLD.is_blind OR NEW.varied <> OLD.varied
     OR NEW.judged <> OLD.judged THEN
    RAISE EXCEPTION 'comparison: a finished comparison stays finished' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;
