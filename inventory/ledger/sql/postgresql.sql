-- The ledger's rules for PostgreSQL. Each block: name | table | when it fires [WHEN condition]; the body is PL/pgSQL.

-- rule entry_after_seal | inventory_entry | BEFORE INSERT
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_posting WHERE number = NEW.posting_id) THEN
    RAISE EXCEPTION 'ledger: this posting is already sealed' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF NEW.lot_id IS NOT NULL AND NEW.material_id <> (SELECT material_id FROM inventory_lot WHERE id = NEW.lot_id) THEN
    RAISE EXCEPTION 'ledger: an entry for a lot must name the material of that lot' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule entry_no_update | inventory_entry | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'ledger: entries are never changed' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule entry_no_delete | inventory_entry | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'ledger: entries are never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule entry_no_truncate | inventory_entry | BEFORE TRUNCATE
BEGIN
  RAISE EXCEPTION 'ledger: entries are never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule posting_in_order | inventory_posting | BEFORE INSERT
DECLARE
  head inventory_books%ROWTYPE;
BEGIN
  SELECT * INTO head FROM inventory_books WHERE id = 1 FOR UPDATE;
  IF head.id IS NULL OR NEW.number <> head.last_number + 1 THEN
    RAISE EXCEPTION 'ledger: a posting takes the next number' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF NEW.previous_hash <> head.last_hash THEN
    RAISE EXCEPTION 'ledger: the chain is broken' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF NEW.recorded_at < head.last_recorded_at THEN
    RAISE EXCEPTION 'ledger: recorded time never falls' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF NEW.effective_on <= head.closed_through THEN
    RAISE EXCEPTION 'ledger: this period is closed' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule posting_seal | inventory_posting | AFTER INSERT
DECLARE
  entry_count bigint;
  last_line bigint;
BEGIN
  SELECT COUNT(*), MAX(line) INTO entry_count, last_line FROM inventory_entry WHERE posting_id = NEW.number;
  IF NEW.lines < 2 OR NEW.lines <> entry_count OR NEW.lines <> last_line THEN
    RAISE EXCEPTION 'ledger: a posting has at least one whole move' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF EXISTS (
    SELECT 1 FROM inventory_entry WHERE posting_id = NEW.number GROUP BY (line + 1) / 2
    HAVING COUNT(*) <> 2 OR SUM(quantity) <> 0 OR SUM(money) <> 0 OR MIN(material_id) <> MAX(material_id)
       OR MIN(effective_on) <> MAX(effective_on)
  ) THEN
    RAISE EXCEPTION 'ledger: giver and taker of a move must balance' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  -- What a correction corrects, or its reversal puts back, stands on the days of what was corrected.
  IF EXISTS (
    SELECT 1 FROM inventory_entry e WHERE e.posting_id = NEW.number AND (
      (e.effective_on <> NEW.effective_on AND e.quantity <> 0 AND (
        e.place NOT IN ('work', 'sold', 'loss')
        OR (SELECT place FROM inventory_entry o WHERE o.posting_id = NEW.number AND o.line = e.line - 1 + 2 * (e.line % 2))
           NOT IN ('work', 'sold', 'loss')
        OR (NEW.corrects_id IS NULL AND NEW.reverses_id IS NULL)
      ) AND COALESCE(NEW.corrects_id, (SELECT corrects_id FROM inventory_posting WHERE number = NEW.reverses_id)) IS NULL)
      OR e.effective_on <= (SELECT closed_through FROM inventory_books WHERE id = 1)
    )
  ) THEN
    RAISE EXCEPTION 'ledger: only money may move on another day than its posting, or what was corrected, and in an open period'
      USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF EXISTS (
    SELECT 1 FROM inventory_entry WHERE posting_id = NEW.number AND mix_id IS NOT NULL GROUP BY mix_id HAVING SUM(money) <> 0
  ) THEN
    RAISE EXCEPTION 'ledger: a mix must give out all the money it took in' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF NEW.reverses_id IS NOT NULL THEN
    IF (SELECT reverses_id FROM inventory_posting WHERE number = NEW.reverses_id) IS NOT NULL THEN
      RAISE EXCEPTION 'ledger: a reversal cannot itself be reversed' USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    IF NEW.lines < (SELECT lines FROM inventory_posting WHERE number = NEW.reverses_id) OR EXISTS (
      SELECT 1 FROM inventory_entry a LEFT JOIN inventory_entry b ON b.posting_id = NEW.reverses_id AND b.line = a.line
      WHERE a.posting_id = NEW.number AND (
        (b.id IS NULL AND a.quantity <> 0
          AND NOT EXISTS (SELECT 1 FROM inventory_posting WHERE corrects_id IS NOT NULL))
        OR (b.id IS NOT NULL AND (
          a.place <> b.place OR a.material_id <> b.material_id OR a.lot_id IS DISTINCT FROM b.lot_id
          OR a.mix_id IS DISTINCT FROM b.mix_id OR a.pour_id IS DISTINCT FROM b.pour_id
          OR a.reason_id IS DISTINCT FROM b.reason_id OR a.quantity <> -b.quantity OR a.money <> -b.money
        ))
      )
    ) THEN
      RAISE EXCEPTION 'ledger: a reversal mirrors its posting' USING ERRCODE = 'integrity_constraint_violation';
    END IF;
  END IF;
  UPDATE inventory_lotbalance b SET
    quantity = b.quantity + moved.quantity, money = b.money + moved.money, last_posting_id = NEW.number
  FROM (
    SELECT lot_id, SUM(quantity)::bigint AS quantity, SUM(money)::bigint AS money
    FROM inventory_entry WHERE posting_id = NEW.number AND lot_id IS NOT NULL GROUP BY lot_id
  ) moved
  WHERE b.lot_id = moved.lot_id;
  INSERT INTO inventory_lotbalance (lot_id, quantity, money, last_posting_id)
  SELECT e.lot_id, SUM(e.quantity)::bigint, SUM(e.money)::bigint, NEW.number FROM inventory_entry e
  WHERE e.posting_id = NEW.number AND e.lot_id IS NOT NULL
    AND NOT EXISTS (SELECT 1 FROM inventory_lotbalance b WHERE b.lot_id = e.lot_id)
  GROUP BY e.lot_id;
  IF EXISTS (
    SELECT 1 FROM (
      SELECT SUM(quantity) OVER (PARTITION BY lot_id ORDER BY effective_on) AS quantity,
             SUM(money) OVER (PARTITION BY lot_id ORDER BY effective_on) AS money
      FROM (
        SELECT lot_id, effective_on, SUM(quantity) AS quantity, SUM(money) AS money FROM inventory_entry
        WHERE lot_id IN (
          SELECT e.lot_id FROM inventory_entry e WHERE e.posting_id = NEW.number AND e.lot_id IS NOT NULL
            AND EXISTS (SELECT 1 FROM inventory_entry l WHERE l.lot_id = e.lot_id AND l.effective_on > e.effective_on)
        )
        GROUP BY lot_id, effective_on
      ) AS by_day
    ) AS ends
    WHERE quantity < 0 OR money < 0 OR (quantity = 0 AND money <> 0)
  ) THEN
    RAISE EXCEPTION 'ledger: no lot is below zero, or holds cost without stock, at the end of any business day'
      USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  UPDATE inventory_books SET last_number = NEW.number, last_hash = NEW.hash, last_recorded_at = NEW.recorded_at WHERE id = 1;
  RETURN NULL;
END;

-- rule posting_no_update | inventory_posting | BEFORE UPDATE
BEGIN
  RAISE EXCEPTION 'ledger: postings are never changed; reverse a mistake' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule posting_no_delete | inventory_posting | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'ledger: postings are never deleted; reverse a mistake' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule posting_no_truncate | inventory_posting | BEFORE TRUNCATE
BEGIN
  RAISE EXCEPTION 'ledger: postings are never deleted; reverse a mistake' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule balance_first | inventory_lotbalance | BEFORE INSERT
DECLARE
  moved_quantity bigint;
  moved_money bigint;
BEGIN
  SELECT SUM(quantity)::bigint, SUM(money)::bigint INTO moved_quantity, moved_money
  FROM inventory_entry WHERE lot_id = NEW.lot_id AND posting_id = NEW.last_posting_id;
  IF EXISTS (SELECT 1 FROM inventory_entry WHERE lot_id = NEW.lot_id AND posting_id < NEW.last_posting_id)
     OR NOT EXISTS (SELECT 1 FROM inventory_posting WHERE number = NEW.last_posting_id)
     OR NEW.quantity IS DISTINCT FROM moved_quantity OR NEW.money IS DISTINCT FROM moved_money THEN
    RAISE EXCEPTION 'ledger: only a posting changes a balance' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule balance_moves | inventory_lotbalance | BEFORE UPDATE
DECLARE
  moved_quantity bigint;
  moved_money bigint;
BEGIN
  SELECT SUM(quantity)::bigint, SUM(money)::bigint INTO moved_quantity, moved_money
  FROM inventory_entry WHERE lot_id = NEW.lot_id AND posting_id = NEW.last_posting_id;
  IF NEW.lot_id <> OLD.lot_id OR NEW.last_posting_id <= OLD.last_posting_id
     OR NOT EXISTS (SELECT 1 FROM inventory_posting WHERE number = NEW.last_posting_id)
     OR (NEW.quantity - OLD.quantity) IS DISTINCT FROM moved_quantity
     OR (NEW.money - OLD.money) IS DISTINCT FROM moved_money THEN
    RAISE EXCEPTION 'ledger: only a posting changes a balance' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule balance_no_delete | inventory_lotbalance | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'ledger: balances are never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule balance_no_truncate | inventory_lotbalance | BEFORE TRUNCATE
BEGIN
  RAISE EXCEPTION 'ledger: balances are never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule books_head | inventory_books | BEFORE UPDATE
DECLARE
  last inventory_posting%ROWTYPE;
BEGIN
  SELECT * INTO last FROM inventory_posting ORDER BY number DESC LIMIT 1;
  IF NEW.id <> OLD.id OR NEW.last_number <> COALESCE(last.number, 0) OR NEW.last_hash <> COALESCE(last.hash, repeat('0', 64))
     OR NEW.last_recorded_at IS DISTINCT FROM last.recorded_at THEN
    RAISE EXCEPTION 'ledger: the head follows the last posting' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF NEW.costing_method <> OLD.costing_method AND OLD.last_number > 0 THEN
    RAISE EXCEPTION 'ledger: the cost flow is chosen before the first posting' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  IF OLD.closed_through IS NOT NULL AND (NEW.closed_through IS NULL OR NEW.closed_through < OLD.closed_through) THEN
    RAISE EXCEPTION 'ledger: a closed period stays closed' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule books_no_delete | inventory_books | BEFORE DELETE
BEGIN
  RAISE EXCEPTION 'ledger: the head is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule books_no_truncate | inventory_books | BEFORE TRUNCATE
BEGIN
  RAISE EXCEPTION 'ledger: the head is never deleted' USING ERRCODE = 'integrity_constraint_violation';
END;

-- rule lot_keeps_material | inventory_lot | BEFORE UPDATE
BEGIN
  IF NEW.material_id <> OLD.material_id OR NEW.id <> OLD.id THEN
    RAISE EXCEPTION 'ledger: a lot never becomes another material' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;
