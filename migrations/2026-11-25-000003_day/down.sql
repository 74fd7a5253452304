drop table referrals, calls, visit_answers, visits, stations, days;
