alter table respirators drop column other_names;
