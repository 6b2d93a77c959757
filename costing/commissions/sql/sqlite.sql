-- The rules of commissions for SQLite. Each block: name | table | when it fires [WHEN condition].

-- rule commission_update | costing_commission | BEFORE UPDATE
SELECT CASE
  WHEN NEW.id <> OLD.id OR (OLD.state = 'cancelled' AND NEW.state = 'sold')
    OR (OLD.state = 'sold' AND NEW.state = 'cancelled')
    THEN RAISE(ABORT, 'commission: one that is closed stays closed')
  WHEN OLD.state <> 'open' AND (NEW.price <> OLD.price OR NEW.agreed_on <> OLD.agreed_on)
    THEN RAISE(ABORT, 'commission: what was agreed is not changed once it is closed')
  WHEN NEW.price < (
    SELECT coalesce(sum(amount), 0) FROM costing_commissionpayment
    WHERE commission_id = NEW.id AND kind IN ('received', 'returned')
  ) THEN RAISE(ABORT, 'commission: more than that was paid')
  WHEN NEW.state <> 'open' AND OLD.state = 'open' AND 0 <> (
    SELECT coalesce(sum(amount), 0) FROM costing_commissionpayment WHERE commission_id = NEW.id
  ) THEN RAISE(ABORT, 'commission: money is still held for it')
END;

-- rule commission_delete | costing_commission | BEFORE DELETE
SELECT RAISE(ABORT, 'commission: one is never deleted');

-- rule commissionpayment_insert | costing_commissionpayment | BEFORE INSERT
SELECT CASE
  WHEN NOT EXISTS (SELECT 1 FROM costing_commission WHERE id = NEW.commission_id AND state = 'open')
    THEN RAISE(ABORT, 'commission: it is closed')
  WHEN 0 > NEW.amount + (
    SELECT coalesce(sum(amount), 0) FROM costing_commissionpayment WHERE commission_id = NEW.commission_id
  ) THEN RAISE(ABORT, 'commission: less than nothing would be held')
  WHEN NEW.kind IN ('received', 'returned') AND NEW.amount + (
    SELECT coalesce(sum(amount), 0) FROM costing_commissionpayment
    WHERE commission_id = NEW.commission_id AND kind IN ('received', 'returned')
  ) > (SELECT price FROM costing_commission WHERE id = NEW.commission_id)
    THEN RAISE(ABORT, 'commission: more than the agreed price would be paid')
  WHEN NEW.reverses_id IS NOT NULL AND NOT EXISTS (
    SELECT 1 FROM costing_commissionpayment AS earlier
    WHERE earlier.id = NEW.reverses_id AND earlier.reverses_id IS NULL
      AND earlier.commission_id = NEW.commission_id AND earlier.kind = NEW.kind
      AND earlier.amount = -NEW.amount AND earlier.fee = -NEW.fee AND earlier."on" <= NEW."on"
      AND earlier.channel_id IS NEW.channel_id
  ) THEN RAISE(ABORT, 'commission: it does not mirror what it reverses')
END;

-- rule commissionpayment_update | costing_commissionpayment | BEFORE UPDATE
SELECT CASE WHEN NEW.reason <> '' OR NEW.id <> OLD.id OR NEW.commission_id <> OLD.commission_id
  OR NEW.kind <> OLD.kind OR NEW."on" <> OLD."on" OR NEW.amount <> OLD.amount OR NEW.fee <> OLD.fee
  OR NEW.channel_id IS NOT OLD.channel_id OR NEW.reverses_id IS NOT OLD.reverses_id
  OR NEW.recorded_at <> OLD.recorded_at OR NEW.recorded_by_id IS NOT OLD.recorded_by_id
  OR NEW.key <> OLD.key OR NEW.fingerprint <> OLD.fingerprint
THEN RAISE(ABORT, 'commission: a payment is never changed') END;

-- rule commissionpayment_delete | costing_commissionpayment | BEFORE DELETE
SELECT RAISE(ABORT, 'commission: a payment is never deleted');
