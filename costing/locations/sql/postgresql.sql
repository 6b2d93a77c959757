-- The rules of locations for PostgreSQL. Each block: name | table | when it fires [WHEN condition]; the body is PL/pgSQL.

-- rule placement_insert | costing_placement | BEFORE INSERT WHEN NEW.after_id IS NOT NULL
BEGIN
  IF NOT EXISTS (
    SELECT 1 FROM costing_placement AS earlier
    WHERE earlier.id = NEW.after_id AND earlier.piece_id = NEW.piece_id AND earlier."on" <= NEW."on"
  ) THEN
    RAISE EXCEPTION 'placement: it must follow an earlier one of the same piece'
      USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule placement_update | costing_placement | BEFORE UPDATE
BEGIN
  IF NEW.contact_id IS NOT NULL OR NEW.note <> '' OR NEW.id <> OLD.id
    OR NEW.piece_id <> OLD.piece_id OR NEW.after_id IS DISTINCT FROM OLD.after_id
    OR NEW.location_id IS DISTINCT FROM OLD.location_id
    OR NEW.is_lent <> OLD.is_lent OR NEW."on" <> OLD."on" OR NEW.until IS DISTINCT FROM OLD.until
    OR NEW.recorded_at <> OLD.recorded_at OR NEW.recorded_by_id IS DISTINCT FROM OLD.recorded_by_id
    OR NEW.key <> OLD.key OR NEW.fingerprint <> OLD.fingerprint
  THEN
    RAISE EXCEPTION 'placement: where a piece was is never changed' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule placement_delete | costing_placement | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'placement: where a piece was is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule placement_no_truncate | costing_placement | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM costing_placement) THEN
    RAISE EXCEPTION 'placement: where a piece was is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;
