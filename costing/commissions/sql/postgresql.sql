-- The rules of commissions for PostgreSQL. Each block: name | table | when it fires [WHEN condition]; the body is PL/pgSQL.

-- rule commission_update | costing_commission | BEFORE UPDATE
BEGIN
  IF NEW.id <> OLD.id OR (OLD.state = 'cancelled' AND NEW.state = 'sold')
    OR (OLD.state = 'sold' AND NEW.state = 'cancelled')
  THEN
    RAISE EXCEPTION 'commission: one that is closed stays closed' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF OLD.state <> 'open' AND (NEW.price <> OLD.price OR NEW.agreed_on <> OLD.agreed_on) THEN
    RAISE EXCEPTION 'commission: what was agreed is not changed once it is closed'
      USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF NEW.price < (
    SELECT coalesce(sum(amount), 0) FROM costing_commissionpayment
    WHERE commission_id = NEW.id AND kind IN ('received', 'returned')
  ) THEN
    RAISE EXCEPTION 'commission: more than that was paid' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF NEW.state <> 'open' AND OLD.state = 'open' AND 0 <> (
    SELECT coalesce(sum(amount), 0) FROM costing_commissionpayment WHERE commission_id = NEW.id
  ) THEN
    RAISE EXCEPTION 'commission: money is still held for it' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule commission_delete | costing_commission | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'commission: one is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule commission_no_truncate | costing_commission | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM costing_commission) THEN
    RAISE EXCEPTION 'commission: one is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;

-- rule commissionpayment_insert | costing_commissionpayment | BEFORE INSERT
BEGIN
  IF NOT EXISTS (SELECT 1 FROM costing_commission WHERE id = NEW.commission_id AND state = 'open') THEN
    RAISE EXCEPTION 'commission: it is closed' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF 0 > NEW.amount + (
    SELECT coalesce(sum(amount), 0) FROM costing_commissionpayment WHERE commission_id = NEW.commission_id
  ) THEN
    RAISE EXCEPTION 'commission: less than nothing would be held' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF NEW.kind IN ('received', 'returned') AND NEW.amount + (
    SELECT coalesce(sum(amount), 0) FROM costing_commissionpayment
    WHERE commission_id = NEW.commission_id AND kind IN ('received', 'returned')
  ) > (SELECT price FROM costing_commission WHERE id = NEW.commission_id) THEN
    RAISE EXCEPTION 'commission: more than the agreed price would be paid'
      USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF NEW.reverses_id IS NOT NULL AND NOT EXISTS (
    SELECT 1 FROM costing_commissionpayment AS earlier
    WHERE earlier.id = NEW.reverses_id AND earlier.reverses_id IS NULL
      AND earlier.commission_id = NEW.commission_id AND earlier.kind = NEW.kind
      AND earlier.amount = -NEW.amount AND earlier.fee = -NEW.fee AND earlier."on" <= NEW."on"
      AND earlier.channel_id IS NOT DISTINCT FROM NEW.channel_id
  ) THEN
    RAISE EXCEPTION 'commission: it does not mirror what it reverses'
      USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule commissionpayment_update | costing_commissionpayment | BEFORE UPDATE
BEGIN
  IF NEW.reason <> '' OR NEW.id <> OLD.id OR NEW.commission_id <> OLD.commission_id
    OR NEW.kind <> OLD.kind OR NEW."on" <> OLD."on" OR NEW.amount <> OLD.amount OR NEW.fee <> OLD.fee
    OR NEW.channel_id IS DISTINCT FROM OLD.channel_id OR NEW.reverses_id IS DISTINCT FROM OLD.reverses_id
    OR NEW.recorded_at <> OLD.recorded_at OR NEW.recorded_by_id IS DISTINCT FROM OLD.recorded_by_id
    OR NEW.key <> OLD.key OR NEW.fingerprint <> OLD.fingerprint
  THEN
    RAISE EXCEPTION 'commission: a payment is never changed' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule commissionpayment_delete | costing_commissionpayment | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'commission: a payment is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule commissionpayment_no_truncate | costing_commissionpayment | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM costing_commissionpayment) THEN
    RAISE EXCEPTION 'commission: a payment is never deleted' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;
