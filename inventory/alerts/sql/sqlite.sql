-- The rules of alerts for SQLite. Each block: name | table | when it fires [WHEN condition].

-- rule alertevent_update | inventory_alertevent | BEFORE UPDATE
SELECT RAISE(ABORT, 'alerts: what happened to an alert is never changed');

-- rule alertevent_delete | inventory_alertevent | BEFORE DELETE
SELECT RAISE(ABORT, 'alerts: what happened to an alert is never deleted');

-- rule digest_sent | inventory_digest | BEFORE UPDATE WHEN OLD.sent_at IS NOT NULL
SELECT RAISE(ABORT, 'alerts: an email that was sent is never changed');

-- rule digest_update | inventory_digest | BEFORE UPDATE
SELECT RAISE(ABORT, 'alerts: an email keeps its name and its text')
WHERE NEW.address <> OLD.address OR NEW.message_id <> OLD.message_id OR NEW.subject <> OLD.subject
  OR NEW.text <> OLD.text OR NEW.html <> OLD.html;

-- rule digest_delete | inventory_digest | BEFORE DELETE
SELECT RAISE(ABORT, 'alerts: an email is never deleted');
