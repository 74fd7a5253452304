//! Two rule sets beside each other.

use std::collections::BTreeMap;

use serde::Serialize;

use super::document::Document;
use super::values::RuleValue;

/// A value in which two rule sets differ: by what it is, or by how far it can be trusted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Difference {
    /// The value.
    pub key: String,
    /// As the first set has it; none where it has not.
    pub first: Vec<RuleValue>,
    /// As the second set has it; none where it has not.
    pub second: Vec<RuleValue>,
}

/// Every value that only one of the two has, or that differs, in the order of listing.
pub fn diff(first: &Document, second: &Document) -> Vec<Difference> {
    let (first_values, second_values) = (first.values(), second.values());
    let mut differences: Vec<Difference> = Vec::new();
    let mut places: BTreeMap<String, usize> = BTreeMap::new();
    let both = first_values.into_iter().map(|value| (true, value));
    for (is_first, value) in both.chain(second_values.into_iter().map(|value| (false, value))) {
        let place = *places.entry(value.key.clone()).or_insert_with(|| {
            differences.push(Difference { key: value.key.clone(), first: Vec::new(), second: Vec::new() });
            differences.len().saturating_sub(1)
        });
        if let Some(difference) = differences.get_mut(place) {
            if is_first { difference.first.push(value) } else { difference.second.push(value) }
        }
    }
    let what = |values: &[RuleValue]| {
        let mut what: Vec<_> =
            values.iter().map(|value| (value.value.clone(), value.unit.clone(), value.status)).collect();
        what.sort();
        what
    };
    differences.retain(|difference| what(&difference.first) != what(&difference.second));
    differences
}
