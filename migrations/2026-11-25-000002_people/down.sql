drop table respirators, roster_imports, permissions, people;
