-- The rules of consignments for SQLite. Each block: name | table | when it fires [WHEN condition].

-- rule consignment_update | costing_consignment | BEFORE UPDATE
SELECT RAISE(ABORT, 'consignment: a note is never changed');

-- rule consignment_delete | costing_consignment | BEFORE DELETE
SELECT RAISE(ABORT, 'consignment: a note is never deleted');

-- rule consignmentline_insert | costing_consignmentline | BEFORE INSERT
SELECT CASE WHEN NOT EXISTS (
  SELECT 1 FROM costing_placement AS placement, costing_consignment AS note
  WHERE placement.id = NEW.placement_id AND note.id = NEW.consignment_id
    AND placement.location_id = note.gallery_id AND placement."on" = note."on"
) THEN RAISE(ABORT, 'consignment: its piece was not taken to that gallery on that day') END;

-- rule consignmentline_update | costing_consignmentline | BEFORE UPDATE
SELECT RAISE(ABORT, 'consignment: a note is never changed');

-- rule consignmentline_delete | costing_consignmentline | BEFORE DELETE
SELECT RAISE(ABORT, 'consignment: a note is never deleted');
