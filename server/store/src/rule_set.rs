//! Rule sets: those of the program, and the site's own, which stand upon them.

use std::{
    collections::HashMap,
    sync::{Arc, LazyLock, Mutex, PoisonError},
};

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    dates::local_date,
    refusal::{Code, Refusal},
    ruleset::{Document, Mistake, RuleSet, RuleSetVersion},
};
use uuid::Uuid;

use crate::{StoreError, Tx, insert_once, on_constraint, schema::rule_sets, site};

/// A rule set as it stands, and what of it may be used.
#[derive(Debug)]
pub struct Known {
    /// As it stands.
    pub document: Document,
    /// As it may be used; none while values of it are open.
    pub rules: Option<Arc<RuleSet>>,
}

impl Known {
    fn of(document: Document) -> Arc<Self> {
        let rules = document.resolve().ok().map(Arc::new);
        Arc::new(Self { document, rules })
    }
}

/// The rule sets of the program, read once: every check-in and every run asks for one.
static OF_PROGRAM: LazyLock<Vec<Arc<Known>>> =
    LazyLock::new(|| Document::embedded().unwrap_or_default().iter().cloned().map(Known::of).collect());

/// What was read of sites' own sets, by site and text: a text never changes, and reading it takes a while.
static OF_SITES: LazyLock<Mutex<Read>> = LazyLock::new(Mutex::default);

/// Sets by site and text.
type Read = HashMap<(Uuid, String), Arc<Known>>;

/// A site's own rule set, word for word.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = rule_sets, check_for_backend(diesel::pg::Pg))]
pub struct OwnRuleSet {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
    /// Its text.
    pub document: String,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
}

/// A text of a site's own that was not taken.
#[derive(Debug)]
pub enum NotTaken {
    /// It is wrong in these places.
    Mistakes(Vec<Mistake>),
    /// Anything else.
    Store(StoreError),
}

impl From<StoreError> for NotTaken {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

/// Every rule set that the site can choose: those of the program first, then its own in the order of their making.
pub fn all(conn: &mut PgConnection, site_id: Uuid) -> Result<Vec<Arc<Known>>, StoreError> {
    let own: Vec<OwnRuleSet> = rule_sets::table
        .filter(rule_sets::site_id.eq(site_id))
        .order((rule_sets::recorded_at, rule_sets::id))
        .select(OwnRuleSet::as_select())
        .load(conn)?;
    let mut known = OF_PROGRAM.clone();
    for row in own {
        let read = read(site_id, row.document, &known).map_err(|mistakes| {
            let first = mistakes.first().map(ToString::to_string).unwrap_or_default();
            StoreError::internal(format!("the stored rule set {} {}: {first}", row.name, row.version))
        })?;
        known.push(read);
    }
    Ok(known)
}

/// A rule set that may be used, by its name and version.
pub fn named(
    conn: &mut PgConnection,
    site_id: Uuid,
    name: &str,
    version: &str,
) -> Result<Arc<RuleSet>, StoreError> {
    let id = RuleSetVersion { name: name.to_owned(), version: version.to_owned() };
    let known = match find(&OF_PROGRAM, &id) {
        Some(known) => known,
        None => own(conn, site_id, &id)?,
    };
    Ok(known.rules.clone().ok_or_else(|| open(&known.document))?)
}

/// A site's own rule set. Only one that was not read before needs the others, upon which it may stand.
fn own(conn: &mut PgConnection, site_id: Uuid, id: &RuleSetVersion) -> Result<Arc<Known>, StoreError> {
    let text: Option<String> = rule_sets::table
        .filter(rule_sets::site_id.eq(site_id))
        .filter(rule_sets::name.eq(&id.name))
        .filter(rule_sets::version.eq(&id.version))
        .select(rule_sets::document)
        .first(conn)
        .optional()?;
    let key = (site_id, text.ok_or_else(|| unknown(id))?);
    let read_before = cache().get(&key).cloned();
    match read_before {
        Some(known) => Ok(known),
        None => Ok(find(&all(conn, site_id)?, id).ok_or_else(|| unknown(id))?),
    }
}

/// Takes a site's own rule set, if its text is sound and its version is the newest of its name.
pub fn create(
    tx: &mut Tx<'_>,
    id: Uuid,
    text: &str,
    happened_at: DateTime<Utc>,
) -> Result<Arc<Known>, NotTaken> {
    let site_id = tx.site_id();
    // One at a time, so that versions of one name come in order.
    site::lock(tx)?;
    let known = all(tx.conn, site_id)?;
    let before = stored(tx.conn, site_id, id).map_err(StoreError::from)?;
    if let Some(before) = before {
        let same = before.document == text && before.happened_at == happened_at;
        let again = find(&known, &RuleSetVersion { name: before.name, version: before.version });
        return match again.filter(|_| same) {
            Some(known) => Ok(known),
            None => Err(crate::insert::id_reused().into()),
        };
    }
    let read = read(site_id, text.to_owned(), &known).map_err(NotTaken::Mistakes)?;
    let RuleSetVersion { name, version } = read.document.id.clone();
    newest(&known, &read.document.id)?;
    no_confirmation_to_come(&read.document, local_date(tx.now, site::zone(tx.conn, site_id)?))?;
    let new = OwnRuleSet { id, site_id, name, version, document: text.to_owned(), happened_at };
    let recorded = (rule_sets::recorded_at.eq(tx.now), rule_sets::recorded_by.eq(tx.actor.id));
    insert_once(
        tx.conn,
        &new,
        |conn, new| {
            let made = diesel::insert_into(rule_sets::table).values((new, recorded));
            let made = made.on_conflict(rule_sets::id).do_nothing().execute(conn);
            on_constraint(made, "rule_sets_known_already", || known_already(&read.document.id))
        },
        |conn| stored(conn, site_id, id),
    )?;
    tx.touched("rule_sets", id);
    Ok(read)
}

fn stored(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> QueryResult<Option<OwnRuleSet>> {
    let found = rule_sets::table.find(id).filter(rule_sets::site_id.eq(site_id));
    found.select(OwnRuleSet::as_select()).first(conn).optional()
}

/// A version of a name comes after every other one of that name, and the program's names are the program's.
fn newest(known: &[Arc<Known>], id: &RuleSetVersion) -> Result<(), StoreError> {
    if OF_PROGRAM.iter().any(|set| set.document.id.name == id.name) {
        let detail = "This name belongs to a rule set of the program: give yours a name of its own.";
        return Err(Refusal::new(Code::AlreadyExists, detail).field("name").into());
    }
    let of_name = known.iter().map(|set| &set.document.id).filter(|other| other.name == id.name);
    match of_name.max_by_key(|other| other.place()) {
        Some(last) if last.place() >= id.place() => Err(known_already(last).into()),
        _ => Ok(()),
    }
}

/// Nobody has confirmed anything on a day that has not come.
fn no_confirmation_to_come(document: &Document, today: NaiveDate) -> Result<(), StoreError> {
    let values = document.values();
    match values.iter().find(|value| value.confirmed_on.is_some_and(|day| day > today)) {
        Some(value) => {
            let detail = format!("{} is confirmed on a day that has not come: look at its date.", value.key);
            Err(Refusal::new(Code::InvalidValue, detail).field("document").into())
        }
        None => Ok(()),
    }
}

fn known_already(last: &RuleSetVersion) -> Refusal {
    let detail =
        format!("Version {} of this rule set is stored already: give it a later version.", last.version);
    Refusal::new(Code::AlreadyExists, detail).field("version")
}

fn find(known: &[Arc<Known>], id: &RuleSetVersion) -> Option<Arc<Known>> {
    known.iter().find(|set| set.document.id == *id).cloned()
}

/// Reads a text upon the sets that were there before it.
fn read(site_id: Uuid, text: String, before: &[Arc<Known>]) -> Result<Arc<Known>, Vec<Mistake>> {
    let key = (site_id, text);
    if let Some(known) = cache().get(&key) {
        return Ok(Arc::clone(known));
    }
    let base = |id: &RuleSetVersion| find(before, id).map(|known| known.document.clone());
    let known = Known::of(Document::read_own(&key.1, &base)?);
    cache().insert(key, Arc::clone(&known));
    Ok(known)
}

fn cache() -> std::sync::MutexGuard<'static, Read> {
    OF_SITES.lock().unwrap_or_else(PoisonError::into_inner)
}

fn unknown(id: &RuleSetVersion) -> Refusal {
    let sentence = format!("This server knows no rule set {}, version {}.", id.name, id.version);
    Refusal::new(Code::InvalidValue, sentence).field("rule_set")
}

fn open(document: &Document) -> Refusal {
    let open = document.open();
    let keys: Vec<_> = open.iter().map(|open| open.key.as_str()).collect();
    let sentence = format!(
        "{} cannot be used yet: {} of its values nobody has confirmed. Make a set of your own upon it that confirms them.",
        document.title,
        open.len()
    );
    Refusal::new(Code::RuleSetOpen, sentence).field("rule_set").fact("open", keys.join(", "))
}
