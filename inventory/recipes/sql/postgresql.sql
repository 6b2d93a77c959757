-- The rules of recipes for PostgreSQL. Each block: name | table | when it fires [WHEN condition]; the body is PL/pgSQL.

-- rule part_insert | inventory_recipepart | BEFORE INSERT
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_mix WHERE version_id = NEW.version_id) THEN
    RAISE EXCEPTION 'recipe: a version that has been used never changes' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule part_update | inventory_recipepart | BEFORE UPDATE
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_mix WHERE version_id IN (OLD.version_id, NEW.version_id)) THEN
    RAISE EXCEPTION 'recipe: a version that has been used never changes' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;

-- rule part_delete | inventory_recipepart | BEFORE DELETE
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_mix WHERE version_id = OLD.version_id) THEN
    RAISE EXCEPTION 'recipe: a version that has been used never changes' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN OLD;
END;

-- rule part_no_truncate | inventory_recipepart | BEFORE TRUNCATE
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_mix) THEN
    RAISE EXCEPTION 'recipe: a version that has been used never changes' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NULL;
END;

-- rule version_update | inventory_recipeversion | BEFORE UPDATE
BEGIN
  IF EXISTS (SELECT 1 FROM inventory_mix WHERE version_id = OLD.id)
     AND (NEW.id <> OLD.id OR NEW.recipe_id <> OLD.recipe_id OR NEW.number <> OLD.number OR NEW.basis <> OLD.basis) THEN
    RAISE EXCEPTION 'recipe: a version that has been used never changes' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END;
