drop table fills, bottle_openings, bottles, lot_marks, lots;
