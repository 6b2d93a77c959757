-- The ledger's rules for SQLite. Each block: name | table | when it fires [WHEN condition].

-- rule entry_after_seal | inventory_entry | BEFORE INSERT
SELECT RAISE(ABORT, 'ledger: this posting is already sealed')
WHERE EXISTS (SELECT 1 FROM inventory_posting WHERE number = NEW.posting_id);
SELECT RAISE(ABORT, 'ledger: an entry for a lot must name the material of that lot')
WHERE NEW.lot_id IS NOT NULL
  AND NEW.material_id <> (SELECT material_id FROM inventory_lot WHERE id = NEW.lot_id);

-- rule entry_no_update | inventory_entry | BEFORE UPDATE
SELECT RAISE(ABORT, 'ledger: entries are never changed');

-- rule entry_no_delete | inventory_entry | BEFORE DELETE
SELECT RAISE(ABORT, 'ledger: entries are never deleted');

-- rule posting_in_order | inventory_posting | BEFORE INSERT
SELECT RAISE(ABORT, 'ledger: a posting takes the next number')
WHERE NEW.number IS NOT (SELECT last_number + 1 FROM inventory_books WHERE id = 1);
SELECT RAISE(ABORT, 'ledger: the chain is broken')
WHERE NEW.previous_hash IS NOT (SELECT last_hash FROM inventory_books WHERE id = 1);
SELECT RAISE(ABORT, 'ledger: recorded time never falls')
WHERE NEW.recorded_at < (SELECT last_recorded_at FROM inventory_books WHERE id = 1);
SELECT RAISE(ABORT, 'ledger: this period is closed')
WHERE NEW.effective_on <= (SELECT closed_through FROM inventory_books WHERE id = 1);

-- rule posting_seal | inventory_posting | AFTER INSERT
SELECT RAISE(ABORT, 'ledger: a posting has at least one whole move')
WHERE NEW.lines < 2
   OR NEW.lines <> (SELECT COUNT(*) FROM inventory_entry WHERE posting_id = NEW.number)
   OR NEW.lines <> (SELECT MAX(line) FROM inventory_entry WHERE posting_id = NEW.number);
SELECT RAISE(ABORT, 'ledger: giver and taker of a move must balance')
WHERE EXISTS (
  SELECT 1 FROM inventory_entry WHERE posting_id = NEW.number GROUP BY (line + 1) / 2
  HAVING COUNT(*) <> 2 OR SUM(quantity) <> 0 OR SUM(money) <> 0 OR MIN(material_id) <> MAX(material_id)
     OR MIN(effective_on) <> MAX(effective_on)
);
-- What a correction corrects, or its reversal puts back, stands on the days of what was corrected.
SELECT RAISE(ABORT, 'ledger: only money may move on another day than its posting, or what was corrected, and in an open period')
WHERE EXISTS (
  SELECT 1 FROM inventory_entry e WHERE e.posting_id = NEW.number AND (
    (e.effective_on <> NEW.effective_on AND e.quantity <> 0 AND (
      e.place NOT IN ('work', 'sold', 'loss')
      OR (SELECT place FROM inventory_entry o WHERE o.posting_id = NEW.number AND o.line = e.line - 1 + 2 * (e.line % 2))
         NOT IN ('work', 'sold', 'loss')
      OR (NEW.corrects_id IS NULL AND NEW.reverses_id IS NULL)
    ) AND COALESCE(NEW.corrects_id, (SELECT corrects_id FROM inventory_posting WHERE number = NEW.reverses_id)) IS NULL)
    OR e.effective_on <= (SELECT closed_through FROM inventory_books WHERE id = 1)
  )
);
SELECT RAISE(ABORT, 'ledger: a mix must give out all the money it took in')
WHERE EXISTS (
  SELECT 1 FROM inventory_entry WHERE posting_id = NEW.number AND mix_id IS NOT NULL GROUP BY mix_id HAVING SUM(money) <> 0
);
SELECT RAISE(ABORT, 'ledger: a reversal cannot itself be reversed')
WHERE NEW.reverses_id IS NOT NULL
  AND (SELECT reverses_id FROM inventory_posting WHERE number = NEW.reverses_id) IS NOT NULL;
SELECT RAISE(ABORT, 'ledger: a reversal mirrors its posting')
WHERE NEW.reverses_id IS NOT NULL AND (
  NEW.lines < (SELECT lines FROM inventory_posting WHERE number = NEW.reverses_id)
  OR EXISTS (
    SELECT 1 FROM inventory_entry a LEFT JOIN inventory_entry b ON b.posting_id = NEW.reverses_id AND b.line = a.line
    WHERE a.posting_id = NEW.number AND (
      (b.id IS NULL AND a.quantity <> 0
        AND NOT EXISTS (SELECT 1 FROM inventory_posting WHERE corrects_id IS NOT NULL))
      OR (b.id IS NOT NULL AND (
        a.place <> b.place OR a.material_id <> b.material_id OR a.lot_id IS NOT b.lot_id OR a.mix_id IS NOT b.mix_id
        OR a.pour_id IS NOT b.pour_id OR a.reason_id IS NOT b.reason_id OR a.quantity <> -b.quantity OR a.money <> -b.money
      ))
    )
  )
);
-- Said here before the CHECKs say it: INSERT OR IGNORE or OR FAIL would reach into this trigger and step over them.
SELECT RAISE(ABORT, 'ledger: no lot holds less than nothing, and an empty one holds no cost')
WHERE EXISTS (
  SELECT 1 FROM (
    SELECT COALESCE(b.quantity, 0) + SUM(e.quantity) AS quantity, COALESCE(b.money, 0) + SUM(e.money) AS money
    FROM inventory_entry e LEFT JOIN inventory_lotbalance b ON b.lot_id = e.lot_id
    WHERE e.posting_id = NEW.number AND e.lot_id IS NOT NULL GROUP BY e.lot_id
  )
  WHERE quantity NOT BETWEEN 0 AND 9000000000000000 OR money NOT BETWEEN 0 AND 9000000000000000
     OR (quantity = 0 AND money <> 0)
);
SELECT RAISE(ABORT, 'ledger: no lot is below zero, or holds cost without stock, at the end of any business day')
WHERE EXISTS (
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
    )
  )
  WHERE quantity < 0 OR money < 0 OR (quantity = 0 AND money <> 0)
);
UPDATE inventory_lotbalance SET
  quantity = quantity + (SELECT SUM(quantity) FROM inventory_entry e
                         WHERE e.posting_id = NEW.number AND e.lot_id = inventory_lotbalance.lot_id),
  money = money + (SELECT SUM(money) FROM inventory_entry e
                   WHERE e.posting_id = NEW.number AND e.lot_id = inventory_lotbalance.lot_id),
  last_posting_id = NEW.number
WHERE lot_id IN (SELECT lot_id FROM inventory_entry WHERE posting_id = NEW.number AND lot_id IS NOT NULL);
INSERT INTO inventory_lotbalance (lot_id, quantity, money, last_posting_id)
SELECT e.lot_id, SUM(e.quantity), SUM(e.money), NEW.number FROM inventory_entry e
WHERE e.posting_id = NEW.number AND e.lot_id IS NOT NULL
  AND NOT EXISTS (SELECT 1 FROM inventory_lotbalance b WHERE b.lot_id = e.lot_id)
GROUP BY e.lot_id;
UPDATE inventory_books SET last_number = NEW.number, last_hash = NEW.hash, last_recorded_at = NEW.recorded_at WHERE id = 1;

-- rule posting_no_update | inventory_posting | BEFORE UPDATE
SELECT RAISE(ABORT, 'ledger: postings are never changed; reverse a mistake');

-- rule posting_no_delete | inventory_posting | BEFORE DELETE
SELECT RAISE(ABORT, 'ledger: postings are never deleted; reverse a mistake');

-- rule balance_first | inventory_lotbalance | BEFORE INSERT
SELECT RAISE(ABORT, 'ledger: only a posting changes a balance')
WHERE EXISTS (SELECT 1 FROM inventory_entry WHERE lot_id = NEW.lot_id AND posting_id < NEW.last_posting_id)
   OR (SELECT COUNT(*) FROM inventory_posting WHERE number = NEW.last_posting_id) = 0
   OR (SELECT COUNT(*) FROM inventory_entry WHERE lot_id = NEW.lot_id AND posting_id = NEW.last_posting_id) = 0
   OR NEW.quantity <> (SELECT SUM(quantity) FROM inventory_entry WHERE lot_id = NEW.lot_id AND posting_id = NEW.last_posting_id)
   OR NEW.money <> (SELECT SUM(money) FROM inventory_entry WHERE lot_id = NEW.lot_id AND posting_id = NEW.last_posting_id);

-- rule balance_moves | inventory_lotbalance | BEFORE UPDATE
SELECT RAISE(ABORT, 'ledger: only a posting changes a balance')
WHERE NEW.lot_id <> OLD.lot_id OR NEW.last_posting_id <= OLD.last_posting_id
   OR (SELECT COUNT(*) FROM inventory_posting WHERE number = NEW.last_posting_id) = 0
   OR (SELECT COUNT(*) FROM inventory_entry WHERE lot_id = NEW.lot_id AND posting_id = NEW.last_posting_id) = 0
   OR NEW.quantity - OLD.quantity
      <> (SELECT SUM(quantity) FROM inventory_entry WHERE lot_id = NEW.lot_id AND posting_id = NEW.last_posting_id)
   OR NEW.money - OLD.money
      <> (SELECT SUM(money) FROM inventory_entry WHERE lot_id = NEW.lot_id AND posting_id = NEW.last_posting_id);

-- rule balance_no_delete | inventory_lotbalance | BEFORE DELETE
SELECT RAISE(ABORT, 'ledger: balances are never deleted');

-- rule books_head | inventory_books | BEFORE UPDATE
SELECT RAISE(ABORT, 'ledger: the head follows the last posting')
WHERE NEW.id <> OLD.id
   OR NEW.last_number <> COALESCE((SELECT MAX(number) FROM inventory_posting), 0)
   OR NEW.last_hash <> COALESCE(
        (SELECT hash FROM inventory_posting WHERE number = NEW.last_number),
        '0000000000000000000000000000000000000000000000000000000000000000')
   OR NEW.last_recorded_at IS NOT (SELECT recorded_at FROM inventory_posting WHERE number = NEW.last_number);
SELECT RAISE(ABORT, 'ledger: the cost flow is chosen before the first posting')
WHERE NEW.costing_method <> OLD.costing_method AND OLD.last_number > 0;
SELECT RAISE(ABORT, 'ledger: a closed period stays closed')
WHERE OLD.closed_through IS NOT NULL AND (NEW.closed_through IS NULL OR NEW.closed_through < OLD.closed_through);

-- rule books_no_delete | inventory_books | BEFORE DELETE
SELECT RAISE(ABORT, 'ledger: the head is never deleted');

-- rule lot_keeps_material | inventory_lot | BEFORE UPDATE
SELECT RAISE(ABORT, 'ledger: a lot never becomes another material')
WHERE NEW.material_id <> OLD.material_id OR NEW.id <> OLD.id;
