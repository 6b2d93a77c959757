-- The rules of alerts for PostgreSQL. Each block: name | table | when it fires [WHEN condition]; the body is PL/pgSQL.

-- rule alertevent_update | inventory_alertevent | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'alerts: what happened to an alert is never changed' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule alertevent_delete | inventory_alertevent | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'alerts: what happened to an alert is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule alertevent_no_truncate | inventory_alertevent | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_alertevent) THEN
    RAISE EXCEPTION 'alerts: what happened to an alert is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;

-- rule digest_sent | inventory_digest | BEFORE UPDATE WHEN OLD.sent_at IS NOT NULL
BEGIN
  RAISE EXCEPTION 'alerts: an email that was sent is never changed' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule digest_update | inventory_digest | BEFORE UPDATE
BEGIN
  IF NEW.address <> OLD.address OR NEW.message_id <> OLD.message_id OR NEW.subject <> OLD.subject
     OR NEW.text <> OLD.text OR NEW.html <> OLD.html THEN
    RAISE EXCEPTION 'alerts: an email keeps its name and its text' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule digest_delete | inventory_digest | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'alerts: an email is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule digest_no_truncate | inventory_digest | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_digest) THEN
    RAISE EXCEPTION 'alerts: an email is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;
