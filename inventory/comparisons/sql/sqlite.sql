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

-- rule comparison_opened | inventory_comparison | BEFORE UPDATE WHEN OLD.opened_at IS NOT NULL
SELECT RAISE(ABORT, 'comparison: who showed the arms stays on record')
WHERE NEW.opened_at IS NOT OLD.opened_at OR NEW.opened_by_id IS NOT OLD.opened_by_id OR NEW.is_blind <> OLD.is_blind;

-- rule photocount_update | inventory_photocount | BEFORE UPDATE
SELECT RAISE(ABORT, 'comparison: a count keeps its photo, its windows and its end')
WHERE OLD.finished_at IS NOT NULL OR NEW.seed <> OLD.seed OR NEW.places <> OLD.places OR NEW.side <> OLD.side
  OR NEW.squares <> OLD.squares OR NEW.corners <> OLD.corners OR NEW.photo_id <> OLD.photo_id
  OR NEW.pour_id <> OLD.pour_id OR NEW.criterion_id <> OLD.criterion_id OR NEW.stage <> OLD.stage
  OR NEW.judge_id <> OLD.judge_id OR NEW.height <> OLD.height OR NEW.width <> OLD.width
  OR NEW.is_round <> OLD.is_round;

-- rule photocount_delete | inventory_photocount | BEFORE DELETE WHEN OLD.finished_at IS NOT NULL
SELECT RAISE(ABORT, 'comparison: a finished count is never deleted');

-- rule photomark_insert | inventory_photomark | BEFORE INSERT
SELECT RAISE(ABORT, 'comparison: a finished count takes no more marks')
WHERE EXISTS (SELECT 1 FROM inventory_photocount WHERE id = NEW.count_id AND finished_at IS NOT NULL);

-- rule photomark_update | inventory_photomark | BEFORE UPDATE
SELECT RAISE(ABORT, 'comparison: a mark is never moved');

-- rule photomark_delete | inventory_photomark | BEFORE DELETE
SELECT RAISE(ABORT, 'comparison: a finished count keeps its marks')
WHERE EXISTS (SELECT 1 FROM inventory_photocount WHERE id = OLD.count_id AND finished_at IS NOT NULL);
