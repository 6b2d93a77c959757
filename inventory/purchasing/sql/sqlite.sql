-- The rules of orders for SQLite. Each block: name | table | when it fires [WHEN condition].

-- rule orderchase_update | inventory_orderchase | BEFORE UPDATE
SELECT RAISE(ABORT, 'order: what a supplier promised is never changed');

-- rule orderchase_delete | inventory_orderchase | BEFORE DELETE
SELECT RAISE(ABORT, 'order: what a supplier promised is never deleted');
