-- The rules of sales for PostgreSQL. Each block: name | table | when it fires [WHEN condition]; the body is PL/pgSQL.

-- rule sale_commission | costing_sale | BEFORE INSERT WHEN NEW.commission_id IS NOT NULL
BEGIN
  IF NOT EXISTS (SELECT 1 FROM costing_commission WHERE id = NEW.commission_id AND state = 'open') THEN
    RAISE EXCEPTION 'sale: its commission is closed' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule sale_commission_update | costing_sale | BEFORE UPDATE
BEGIN
  IF NEW.paid_before <> OLD.paid_before
    OR (NEW.commission_id IS NOT NULL AND NEW.commission_id IS DISTINCT FROM OLD.commission_id)
  THEN
    RAISE EXCEPTION 'sale: which commission it finishes is never changed'
      USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule sale_number_insert | costing_sale | BEFORE INSERT WHEN NEW.number IS NOT NULL
BEGIN
  IF NEW.number <> 1 + (SELECT coalesce(max(number), 0) FROM costing_sale) THEN
    RAISE EXCEPTION 'sale: receipt numbers have no gap' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule sale_number_update | costing_sale | BEFORE UPDATE
BEGIN
  IF NEW.number IS DISTINCT FROM OLD.number THEN
    RAISE EXCEPTION 'sale: a receipt number is never changed' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule sale_number_delete | costing_sale | BEFORE DELETE WHEN OLD.number IS NOT NULL
BEGIN
  RAISE EXCEPTION 'sale: a numbered receipt is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule sale_no_truncate | costing_sale | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM costing_sale WHERE number IS NOT NULL) THEN
    RAISE EXCEPTION 'sale: a numbered receipt is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;

-- rule refund_number_insert | costing_refund | BEFORE INSERT WHEN NEW.number IS NOT NULL
BEGIN
  IF NEW.number <> 1 + (SELECT coalesce(max(number), 0) FROM costing_refund) THEN
    RAISE EXCEPTION 'refund: credit note numbers have no gap' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule refund_number_update | costing_refund | BEFORE UPDATE
BEGIN
  IF NEW.number IS DISTINCT FROM OLD.number THEN
    RAISE EXCEPTION 'refund: a credit note number is never changed' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule refund_number_delete | costing_refund | BEFORE DELETE WHEN OLD.number IS NOT NULL
BEGIN
  RAISE EXCEPTION 'refund: a numbered credit note is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule refund_no_truncate | costing_refund | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM costing_refund WHERE number IS NOT NULL) THEN
    RAISE EXCEPTION 'refund: a numbered credit note is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;
