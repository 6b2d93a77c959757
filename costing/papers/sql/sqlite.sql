-- The rules of printed papers for SQLite. Each block: name | table | when it fires [WHEN condition].

-- rule printedlist_update | costing_printedlist | BEFORE UPDATE
SELECT RAISE(ABORT, 'printed list: it is never changed; print another one');

-- rule printedlist_delete | costing_printedlist | BEFORE DELETE
SELECT RAISE(ABORT, 'printed list: it is never deleted');
