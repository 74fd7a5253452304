drop table scans, devices, gate_policy_respirators, gate_policies, gates,
    badge_endings, badge_respirators, badges, signing_keys, clearances;
