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

-- rule comparison_opened | inventory_comparison | BEFORE UPDATE WHEN OLD.opened_at IS NOT NULL
BEGIN
  IF NEW.opened_at IS DISTINCT FROM OLD.opened_at OR NEW.opened_by_id IS DISTINCT FROM OLD.opened_by_id
     OR NEW.is_blind <> OLD.is_blind THEN
    RAISE EXCEPTION 'comparison: who showed the arms stays on record' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule photocount_update | inventory_photocount | BEFORE UPDATE
BEGIN
  IF OLD.finished_at IS NOT NULL OR NEW.seed <> OLD.seed OR NEW.places <> OLD.places OR NEW.side <> OLD.side
     OR NEW.squares <> OLD.squares OR NEW.corners <> OLD.corners OR NEW.photo_id <> OLD.photo_id
     OR NEW.pour_id <> OLD.pour_id OR NEW.criterion_id <> OLD.criterion_id OR NEW.stage <> OLD.stage
     OR NEW.judge_id <> OLD.judge_id OR NEW.height <> OLD.height OR NEW.width <> OLD.width
     OR NEW.is_round <> OLD.is_round THEN
    RAISE EXCEPTION 'comparison: a count keeps its photo, its windows and its end' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule photocount_delete | inventory_photocount | BEFORE DELETE WHEN OLD.finished_at IS NOT NULL
BEGIN
  RAISE EXCEPTION 'comparison: a finished count is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule photocount_no_truncate | inventory_photocount | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_photocount WHERE finished_at IS NOT NULL) THEN
    RAISE EXCEPTION 'comparison: a finished count is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;

-- rule photomark_insert | inventory_photomark | BEFORE INSERT
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_photocount WHERE id = NEW.count_id AND finished_at IS NOT NULL) THEN
    RAISE EXCEPTION 'comparison: a finished count takes no more marks' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule photomark_update | inventory_photomark | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'comparison: a mark is never moved' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule photomark_delete | inventory_photomark | BEFORE DELETE
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_photocount WHERE id = OLD.count_id AND finished_at IS NOT NULL) THEN
    RAISE EXCEPTION 'comparison: a finished count keeps its marks' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN OLD;
END;

-- rule photomark_no_truncate | inventory_photomark | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_photocount WHERE finished_at IS NOT NULL) THEN
    RAISE EXCEPTION 'comparison: a finished count keeps its marks' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;
