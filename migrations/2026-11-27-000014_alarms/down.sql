drop table alarm_acknowledgements;
