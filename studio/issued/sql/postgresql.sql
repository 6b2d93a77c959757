-- The rules of issued papers for PostgreSQL. Each block: name | table | when it fires [WHEN condition]; the body is PL/pgSQL.

-- rule issuedpaper_update | studio_issuedpaper | BEFORE UPDATE
BEGIN
  IF NEW.addressee <> '[]'::jsonb
    OR (NEW.id, NEW.kind, NEW.about, NEW.version, NEW.title, NEW.issued_at, NEW.contents, NEW.recorded_by_id)
      IS DISTINCT FROM
      (OLD.id, OLD.kind, OLD.about, OLD.version, OLD.title, OLD.issued_at, OLD.contents, OLD.recorded_by_id)
  THEN
    RAISE EXCEPTION 'issued paper: it is never changed; only whom it went to can be erased'
      USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule issuedpaper_delete | studio_issuedpaper | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'issued paper: it is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule issuedpaper_no_truncate | studio_issuedpaper | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM studio_issuedpaper) THEN
    RAISE EXCEPTION 'issued paper: it is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;
