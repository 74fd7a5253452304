//! Badges per second: a thousand cards in one PDF, asked for over HTTP.

use std::time::Instant;

use anyhow::ensure;
use diesel::{QueryableByName, RunQueryDsl, sql_types::Uuid as SqlUuid};
use sellion_rules::roles::Role;
use serde_json::{Value, json};
use uuid::Uuid;

use crate::hospital::Hospital;

const CARDS: usize = 1000;

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

pub(crate) fn measure(hospital: &Hospital) -> anyhow::Result<Value> {
    let (desk, _) = hospital.signed_in(Role::BadgeDesk)?;
    let rows: Vec<Row> = diesel::sql_query("select id from badges order by status_index limit 1000")
        .load(&mut hospital.db()?)?;
    let ids: Vec<Uuid> = rows.into_iter().map(|row| row.id).collect();
    let mut layouts = serde_json::Map::new();
    for layout in ["card", "a4_sheet"] {
        let started = Instant::now();
        let reply = desk.post("/api/v1/badge_sheets", &json!({ "layout": layout, "badge_ids": ids }));
        let seconds = started.elapsed().as_secs_f64();
        ensure!(reply.status == 200, "{}", reply.text());
        #[allow(clippy::cast_precision_loss, reason = "a rate")]
        let per_second = ids.len().min(CARDS) as f64 / seconds;
        layouts.insert(
            layout.to_owned(),
            json!({ "badges": ids.len(), "seconds": seconds, "per_second": per_second.round(), "bytes": reply.body.len() }),
        );
    }
    Ok(layouts.into())
}
