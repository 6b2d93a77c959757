-- The rules of sales for SQLite. Each block: name | table | when it fires [WHEN condition].

-- rule sale_commission | costing_sale | BEFORE INSERT WHEN NEW.commission_id IS NOT NULL
SELECT CASE WHEN NOT EXISTS (
  SELECT 1 FROM costing_commission WHERE id = NEW.commission_id AND state = 'open'
) THEN RAISE(ABORT, 'sale: its commission is closed') END;

-- rule sale_commission_update | costing_sale | BEFORE UPDATE
SELECT CASE WHEN NEW.paid_before <> OLD.paid_before
  OR (NEW.commission_id IS NOT NULL AND NEW.commission_id IS NOT OLD.commission_id)
THEN RAISE(ABORT, 'sale: which commission it finishes is never changed') END;

-- rule sale_number_insert | costing_sale | BEFORE INSERT WHEN NEW.number IS NOT NULL
SELECT CASE WHEN NEW.number <> 1 + (SELECT coalesce(max(number), 0) FROM costing_sale)
THEN RAISE(ABORT, 'sale: receipt numbers have no gap') END;

-- rule sale_number_update | costing_sale | BEFORE UPDATE
SELECT CASE WHEN NEW.number IS NOT OLD.number THEN RAISE(ABORT, 'sale: a receipt number is never changed') END;

-- rule sale_number_delete | costing_sale | BEFORE DELETE WHEN OLD.number IS NOT NULL
SELECT RAISE(ABORT, 'sale: a numbered receipt is never deleted');

-- rule refund_number_insert | costing_refund | BEFORE INSERT WHEN NEW.number IS NOT NULL
SELECT CASE WHEN NEW.number <> 1 + (SELECT coalesce(max(number), 0) FROM costing_refund)
THEN RAISE(ABORT, 'refund: credit note numbers have no gap') END;

-- rule refund_number_update | costing_refund | BEFORE UPDATE
SELECT CASE WHEN NEW.number IS NOT OLD.number
THEN RAISE(ABORT, 'refund: a credit note number is never changed') END;

-- rule refund_number_delete | costing_refund | BEFORE DELETE WHEN OLD.number IS NOT NULL
SELECT RAISE(ABORT, 'refund: a numbered credit note is never deleted');
