//! The rule sets that come with the program. A version that was once here stays here: records stand on it.

use std::sync::OnceLock;

use super::document::Document;
use super::mistake::{Mistake, RuleSetError};
use super::values::{RuleSet, RuleSetVersion};

/// One file each.
const EMBEDDED: &[&str] = &[
    include_str!("../../rulesets/us-29cfr1910-134-1.toml"),
    include_str!("../../rulesets/us-29cfr1910-134.toml"),
    include_str!("../../rulesets/uk-hse-indg479.toml"),
    include_str!("../../rulesets/ca-csa-z94.4.toml"),
    include_str!("../../rulesets/iso-16975-3.toml"),
    include_str!("../../rulesets/au-nzs-1715.toml"),
];

impl Document {
    /// Every rule set that comes with the program, those that nobody may use yet included, or what is wrong in one.
    ///
    /// They are read once.
    pub fn embedded() -> Result<&'static [Self], &'static [Mistake]> {
        static READ: OnceLock<Result<Vec<Document>, Vec<Mistake>>> = OnceLock::new();
        let read = READ.get_or_init(|| EMBEDDED.iter().map(|text| Self::parse(text)).collect());
        read.as_deref().map_err(Vec::as_slice)
    }

    /// The rule set of this name and version, if it comes with the program.
    pub fn find(id: &RuleSetVersion) -> Option<Self> {
        Self::embedded().ok()?.iter().find(|set| set.id == *id).cloned()
    }

    /// The newest version of the rule set of this name, if it comes with the program.
    pub fn newest(name: &str) -> Option<Self> {
        let named = Self::embedded().ok()?.iter().filter(|set| set.id.name == name);
        named.max_by_key(|set| set.id.place()).cloned()
    }
}

impl RuleSet {
    /// Reads one rule set that stands on its own and may be used.
    pub fn parse(text: &str) -> Result<Self, RuleSetError> {
        Document::parse(text).map_err(RuleSetError::Mistakes)?.resolve().map_err(RuleSetError::Open)
    }

    /// Every rule set that comes with the program and may be used as it is.
    pub fn load_embedded() -> Result<Vec<Self>, RuleSetError> {
        static READ: OnceLock<Result<Vec<RuleSet>, RuleSetError>> = OnceLock::new();
        let read = || {
            let all = Document::embedded().map_err(|mistakes| RuleSetError::Mistakes(mistakes.to_vec()))?;
            Ok(all.iter().filter_map(|set| set.resolve().ok()).collect())
        };
        READ.get_or_init(read).clone()
    }

    /// The rule set of that name and version, if it comes with the program and may be used as it is.
    pub fn find(name: &str, version: &str) -> Option<Self> {
        Self::load_embedded().ok()?.into_iter().find(|set| set.name == name && set.version == version)
    }

    /// The newest version of that name, if one comes with the program and may be used as it is.
    pub fn newest(name: &str) -> Option<Self> {
        let named = Self::load_embedded().ok()?.into_iter().filter(|set| set.name == name);
        named.max_by_key(|set| set.id().place())
    }

    /// Its name and version.
    pub fn id(&self) -> RuleSetVersion {
        RuleSetVersion { name: self.name.clone(), version: self.version.clone() }
    }
}
