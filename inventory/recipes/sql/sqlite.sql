-- The rules of recipes for SQLite. Each block: name | table | when it fires [WHEN condition].

-- rule part_insert | inventory_recipepart | BEFORE INSERT
SELECT RAISE(ABORT, 'recipe: a version that has been used never changes')
WHERE EXISTS (SELECT 1 FROM inventory_mix WHERE version_id = NEW.version_id);

-- rule part_update | inventory_recipepart | BEFORE UPDATE
SELECT RAISE(ABORT, 'recipe: a version that has been used never changes')
WHERE EXISTS (SELECT 1 FROM inventory_mix WHERE version_id IN (OLD.version_id, NEW.version_id));

-- rule part_delete | inventory_recipepart | BEFORE DELETE
SELECT RAISE(ABORT, 'recipe: a version that has been used never changes')
WHERE EXISTS (SELECT 1 FROM inventory_mix WHERE version_id = OLD.version_id);

-- rule version_update | inventory_recipeversion | BEFORE UPDATE
SELECT RAISE(ABORT, 'recipe: a version that has been used never changes')
WHERE EXISTS (SELECT 1 FROM inventory_mix WHERE version_id = OLD.id)
  AND (NEW.id <> OLD.id OR NEW.recipe_id <> OLD.recipe_id OR NEW.number <> OLD.number OR NEW.basis <> OLD.basis);
