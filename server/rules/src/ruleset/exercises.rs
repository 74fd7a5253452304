//! Lists of exercises, and what several of them come to together.

use std::collections::{BTreeMap, BTreeSet};

use super::protocol::Exercise;
use super::values::{RuleSetVersion, RuleStatus};
use super::written::Row;

/// The list of exercises that one rule set gives for a method.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct SaidList {
    pub(super) name: String,
    pub(super) rows: Vec<Row>,
    pub(super) by: RuleSetVersion,
    /// Whether it may be used.
    pub(super) counts: bool,
}

/// An exercise that is not scored: how many scored ones come before it, its name, and which of that name it is there.
type Between<'a> = (usize, &'a str, usize);

/// A list that is at least as strict as each: of scored exercises, which have to be the same ones in the same order,
/// the longest seconds; and every exercise that is not scored.
pub(super) fn merged(lists: &[&SaidList]) -> Result<Vec<Row>, String> {
    let Some((first, others)) = lists.split_first() else { return Ok(Vec::new()) };
    let same = |other: &&SaidList| {
        first.rows.iter().map(|row| &row.exercise).eq(other.rows.iter().map(|row| &row.exercise))
    };
    if others.iter().all(same) {
        let place = |index: usize| lists.iter().filter_map(move |list| list.rows.get(index));
        return Ok((0..first.rows.len())
            .filter_map(|index| strictest(&place(index).collect::<Vec<_>>()))
            .collect());
    }
    let mut scored: Vec<Vec<&Row>> = Vec::new();
    let mut between: BTreeMap<Between<'_>, Vec<&Row>> = BTreeMap::new();
    for list in lists {
        let keys = keys_of_scored(list);
        if keys_of_scored(first) != keys {
            return Err(format!(
                "the exercises of {} ({}) are not those of {} ({})",
                first.by,
                keys_of_scored(first).join(", "),
                list.by,
                keys.join(", ")
            ));
        }
        sort_in(list, &mut scored, &mut between);
    }
    let mut rows = Vec::new();
    for before in 0..=scored.len() {
        let unscored = between.iter().filter(|((place, ..), _)| *place == before);
        rows.extend(unscored.filter_map(|(_, rows)| strictest(rows)));
        rows.extend(scored.get(before).and_then(|rows| strictest(rows)));
    }
    if rows.len() > usize::from(u8::MAX) {
        return Err("together there are more than 255 exercises".to_owned());
    }
    for (number, row) in (1..=u8::MAX).zip(&mut rows) {
        row.exercise.number = number;
    }
    Ok(rows)
}

/// Whether `one` is at least as strict as `other`: merging the other one in changes nothing.
pub(super) fn is_at_least_as_strict(one: &[Row], other: &SaidList) -> bool {
    let one = SaidList { rows: one.to_vec(), ..other.clone() };
    let exercises = |rows: &[Row]| rows.iter().map(|row| row.exercise.clone()).collect::<Vec<_>>();
    merged(&[&one, other]).is_ok_and(|merged| exercises(&merged) == exercises(&one.rows))
}

/// Where the list is measured, the exercises that are; elsewhere all of them are watched alike.
fn is_scored(list: &SaidList, row: &Row) -> bool {
    row.exercise.measurements > 0 || list.rows.iter().all(|row| row.exercise.measurements == 0)
}

fn keys_of_scored(list: &SaidList) -> Vec<&str> {
    list.rows.iter().filter(|row| is_scored(list, row)).map(|row| row.exercise.key.as_str()).collect()
}

fn sort_in<'a>(
    list: &'a SaidList,
    scored: &mut Vec<Vec<&'a Row>>,
    between: &mut BTreeMap<Between<'a>, Vec<&'a Row>>,
) {
    let mut before = 0_usize;
    let mut seen: BTreeMap<(usize, &str), usize> = BTreeMap::new();
    for row in &list.rows {
        if is_scored(list, row) {
            match scored.get_mut(before) {
                Some(rows) => rows.push(row),
                None => scored.push(vec![row]),
            }
            before = before.saturating_add(1);
        } else {
            let key = row.exercise.key.as_str();
            let nth = seen.entry((before, key)).or_default();
            between.entry((before, key, *nth)).or_default().push(row);
            *nth = nth.saturating_add(1);
        }
    }
}

/// One exercise out of several of the same name: what any of them asks for, and what all of them allow.
fn strictest(rows: &[&Row]) -> Option<Row> {
    let first = rows.first()?;
    let most = |of: fn(&Exercise) -> u32| rows.iter().map(|row| of(&row.exercise)).max().unwrap_or(0);
    let texts = |of: fn(&Exercise) -> Option<&String>| {
        let texts: BTreeSet<_> =
            rows.iter().filter_map(|row| of(&row.exercise)).map(String::as_str).collect();
        (!texts.is_empty()).then(|| texts.into_iter().collect::<Vec<_>>().join("; "))
    };
    let alternative = first.exercise.alternative.clone();
    let allowed_by_all = rows.iter().all(|row| row.exercise.alternative == alternative);
    let sources: BTreeSet<_> = rows.iter().map(|row| row.source.as_str()).collect();
    Some(Row {
        exercise: Exercise {
            number: first.exercise.number,
            key: first.exercise.key.clone(),
            seconds: most(|exercise| exercise.seconds),
            alternative: alternative.filter(|_| allowed_by_all),
            measurements: rows.iter().map(|row| row.exercise.measurements).max().unwrap_or(0),
            measuring_seconds: most(|exercise| exercise.measuring_seconds),
            breaths: texts(|exercise| exercise.breaths.as_ref()),
            sampling: texts(|exercise| exercise.sampling.as_ref()),
        },
        source: sources.into_iter().collect::<Vec<_>>().join("; "),
        status: rows.iter().map(|row| row.status).max().unwrap_or(RuleStatus::Unconfirmed),
    })
}
