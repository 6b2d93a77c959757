-- The rules of issued papers for SQLite. Each block: name | table | when it fires [WHEN condition].

-- rule issuedpaper_update | studio_issuedpaper | BEFORE UPDATE WHEN NEW.addressee <> '[]' OR NEW.id <> OLD.id OR NEW.kind <> OLD.kind OR NEW.about <> OLD.about OR NEW.version <> OLD.version OR NEW.title <> OLD.title OR NEW.issued_at <> OLD.issued_at OR NEW.contents <> OLD.contents OR NEW.recorded_by_id IS NOT OLD.recorded_by_id
SELECT RAISE(ABORT, 'issued paper: it is never changed; only whom it went to can be erased');

-- rule issuedpaper_delete | studio_issuedpaper | BEFORE DELETE
SELECT RAISE(ABORT, 'issued paper: it is never deleted');
