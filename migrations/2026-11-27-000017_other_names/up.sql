-- What people call a respirator besides its make and model, to find it by. Empty where nobody calls it anything else, so
-- that digests of older rows stay what they were.

alter table respirators
    add column other_names text[] constraint respirators_other_names check (cardinality(other_names) between 1 and 8);
