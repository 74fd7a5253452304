drop table referrals, visit_returns, calls, visit_answers, visits, stations, days;
