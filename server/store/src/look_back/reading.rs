//! Who had a list of people shown, and what it was about.

use diesel::prelude::*;
use sellion_rules::look_back::Span;
use uuid::Uuid;

use super::Asked;
use crate::{StoreError, Tx, schema::look_back_readings};

/// How it was shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// As a list.
    List,
    /// As a table to be taken along.
    Export,
}

/// Notes that the caller is about to be shown who stands on something. There is no list without it.
pub fn note_reading(tx: &mut Tx<'_>, asked: Asked, form: Form) -> Result<(), StoreError> {
    let (id, site_id) = (Uuid::now_v7(), tx.site_id());
    asked.known(tx.conn, site_id)?;
    let (word, asked_id, span) = match asked {
        Asked::Lot(id) => ("lot", id, Span::default()),
        Asked::Bottle(id) => ("bottle", id, Span::default()),
        Asked::Fill(id) => ("fill", id, Span::default()),
        Asked::Equipment(id, span) => ("equipment", id, span),
        Asked::Tester(id, span) => ("tester", id, span),
        Asked::Station(id, span) => ("station", id, span),
    };
    diesel::insert_into(look_back_readings::table)
        .values((
            look_back_readings::id.eq(id),
            look_back_readings::site_id.eq(site_id),
            look_back_readings::asked.eq(word),
            look_back_readings::asked_id.eq(asked_id),
            look_back_readings::from_at.eq(span.from),
            look_back_readings::until_at.eq(span.until),
            look_back_readings::form.eq(if form == Form::List { "list" } else { "export" }),
            look_back_readings::recorded_at.eq(tx.now),
            look_back_readings::recorded_by.eq(tx.actor.id),
        ))
        .execute(tx.conn)?;
    tx.touched("look_back_readings", id);
    Ok(())
}
