-- The rules of consignments for PostgreSQL. Each block: name | table | when it fires [WHEN condition]; the body is PL/pgSQL.

-- rule consignment_update | costing_consignment | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'consignment: a note is never changed' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule consignment_delete | costing_consignment | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'consignment: a note is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule consignment_no_truncate | costing_consignment | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM costing_consignment) THEN
    RAISE EXCEPTION 'consignment: a note is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;

-- rule consignmentline_insert | costing_consignmentline | BEFORE INSERT
BEGIN
  IF NOT EXISTS (
    SELECT 1 FROM costing_placement AS placement, costing_consignment AS note
    WHERE placement.id = NEW.placement_id AND note.id = NEW.consignment_id
      AND placement.location_id = note.gallery_id AND placement."on" = note."on"
  ) THEN
    RAISE EXCEPTION 'consignment: its piece was not taken to that gallery on that day'
      USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule consignmentline_update | costing_consignmentline | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'consignment: a note is never changed' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule consignmentline_delete | costing_consignmentline | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'consignment: a note is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule consignmentline_no_truncate | costing_consignmentline | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM costing_consignmentline) THEN
    RAISE EXCEPTION 'consignment: a note is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;
