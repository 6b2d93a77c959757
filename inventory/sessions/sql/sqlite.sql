-- The rules of sessions for SQLite. Each block: name | table | when it fires [WHEN condition].

-- rule judgement_update | inventory_pourjudgement | BEFORE UPDATE
SELECT RAISE(ABORT, 'judgement: what was judged is never changed');

-- rule judgement_delete | inventory_pourjudgement | BEFORE DELETE
SELECT RAISE(ABORT, 'judgement: what was judged is never deleted');

-- rule judgedflaw_update | inventory_judgedflaw | BEFORE UPDATE
SELECT RAISE(ABORT, 'judgement: what was judged is never changed');

-- rule judgedflaw_delete | inventory_judgedflaw | BEFORE DELETE
SELECT RAISE(ABORT, 'judgement: what was judged is never deleted');
