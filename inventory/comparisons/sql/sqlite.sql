-- The rules of comparisons for SQLite. Each block: name | table | when it fires [WHEN condition].

-- rule score_insert | inventory_score | BEFORE INSERT
SELECT RAISE(ABORT, 'comparison: a finished comparison takes no more scores')
WHERE EXISTS (
  SELECT 1 FROM inventory_comparedpour AS compared JOIN inventory_comparison AS comparison
    ON comparison.id = compared.comparison_id
  WHERE compared.id = NEW.pour_id AND comparison.finished_at IS NOT NULL
);

-- rule score_update | inventory_score | BEFORE UPDATE
SELECT RAISE(ABORT, 'comparison: a score is never changed');

-- rule score_delete | inventory_score | BEFORE DELETE
SELECT RAISE(ABORT, 'comparison: a score is never deleted');

-- rule comparison_finished | inventory_comparison | BEFORE UPDATE WHEN OLD.finished_at IS NOT NULL
SELECT RAISE(ABORT, 'comparison: a finished comparison stays finished')
WHERE NEW.finished_at IS NOT OLD.finished_at OR NEW.is_blind <> OLD.is_blind OR NEW.varied <> OLD.varied
  OR NEW.judged <> OLD.judged;
