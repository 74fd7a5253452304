//! Rule sets: those of the program, and the site's own.

use std::sync::{Arc, LazyLock};

use diesel::PgConnection;
use sellion_rules::{
    refusal::{Code, Refusal},
    ruleset::RuleSet,
};
use uuid::Uuid;

use crate::StoreError;

/// The rule sets of the program, read once: every check-in and every run asks for one.
static OF_PROGRAM: LazyLock<Vec<Arc<RuleSet>>> =
    LazyLock::new(|| RuleSet::load_embedded().unwrap_or_default().into_iter().map(Arc::new).collect());

/// A rule set by its name and version.
pub fn named(
    _conn: &mut PgConnection,
    _site_id: Uuid,
    name: &str,
    version: &str,
) -> Result<Arc<RuleSet>, StoreError> {
    let known = OF_PROGRAM.iter().find(|set| set.name == name && set.version == version).cloned();
    Ok(known.ok_or_else(|| unknown(name, version))?)
}

fn unknown(name: &str, version: &str) -> Refusal {
    let sentence = format!("This server knows no rule set {name}, version {version}.");
    Refusal::new(Code::InvalidValue, sentence).field("rule_set")
}
