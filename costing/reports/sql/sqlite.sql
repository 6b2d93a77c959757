-- The rules of year ends for SQLite. Each block: name | table | when it fires [WHEN condition].

-- rule writedown_update | costing_writedown | BEFORE UPDATE
SELECT RAISE(ABORT, 'write-down: it is never changed; write another one');

-- rule writedown_delete | costing_writedown | BEFORE DELETE
SELECT RAISE(ABORT, 'write-down: it is never deleted');
