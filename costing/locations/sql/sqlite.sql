-- The rules of locations for SQLite. Each block: name | table | when it fires [WHEN condition].

-- rule placement_insert | costing_placement | BEFORE INSERT WHEN NEW.after_id IS NOT NULL
SELECT CASE WHEN NOT EXISTS (
  SELECT 1 FROM costing_placement AS earlier
  WHERE earlier.id = NEW.after_id AND earlier.piece_id = NEW.piece_id AND earlier."on" <= NEW."on"
) THEN RAISE(ABORT, 'placement: it must follow an earlier one of the same piece') END;

-- rule placement_update | costing_placement | BEFORE UPDATE
SELECT CASE WHEN NEW.contact_id IS NOT NULL OR NEW.note <> '' OR NEW.id <> OLD.id
  OR NEW.piece_id <> OLD.piece_id OR NEW.after_id IS NOT OLD.after_id OR NEW.location_id IS NOT OLD.location_id
  OR NEW.is_lent <> OLD.is_lent OR NEW."on" <> OLD."on" OR NEW.until IS NOT OLD.until
  OR NEW.recorded_at <> OLD.recorded_at OR NEW.recorded_by_id IS NOT OLD.recorded_by_id
  OR NEW.key <> OLD.key OR NEW.fingerprint <> OLD.fingerprint
THEN RAISE(ABORT, 'placement: where a piece was is never changed') END;

-- rule placement_delete | costing_placement | BEFORE DELETE
SELECT RAISE(ABORT, 'placement: where a piece was is never deleted');
