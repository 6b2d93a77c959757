-- The rules of market days for SQLite. Each block: name | table | when it fires [WHEN condition].

-- rule cashcount_update | costing_cashcount | BEFORE UPDATE
SELECT RAISE(ABORT, 'cash count: a count is never changed');

-- rule cashcount_delete | costing_cashcount | BEFORE DELETE
SELECT RAISE(ABORT, 'cash count: a count is never deleted');
