//! Lists: a page at a time, by an opaque cursor that stays right while rows are added.

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use sellion_rules::refusal::{Code, Refusal};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

const LIMIT_DEFAULT: i64 = 50;
const LIMIT_MAX: i64 = 500;
/// Marks the cursor's form, so that a later form can tell.
const CURSOR_FORM: u8 = 1;

/// Which part of a list.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct PageQuery {
    /// How many items at most: 1 to 500, 50 unless told.
    limit: Option<i64>,
    /// The `next` of the page before.
    cursor: Option<String>,
}

/// One page of a list.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Page<T> {
    /// The items, oldest first.
    pub(crate) items: Vec<T>,
    /// Send as `cursor` for the next page; absent on the last one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) next: Option<String>,
}

/// A page as the store is asked for it: rows with an id after `after`, one more than are shown.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Window {
    pub(crate) after: Uuid,
    pub(crate) limit: i64,
}

impl Window {
    /// What to ask the store for: one row more than a page shows tells whether there is another page.
    pub(crate) fn fetch(self) -> (Uuid, i64) {
        (self.after, self.limit + 1)
    }
}

impl PageQuery {
    pub(crate) fn window(&self) -> Result<Window, Refusal> {
        let limit = self.limit.unwrap_or(LIMIT_DEFAULT);
        if !(1..=LIMIT_MAX).contains(&limit) {
            let sentence = format!("A page has 1 to {LIMIT_MAX} items.");
            return Err(Refusal::new(Code::InvalidValue, sentence).field("limit"));
        }
        let after = self.cursor.as_deref().map_or(Ok(Uuid::nil()), read_cursor)?;
        Ok(Window { after, limit })
    }
}

impl<T> Page<T> {
    /// A page from what the store found for `window`; `id` is what the list is ordered by.
    pub(crate) fn of<R>(
        rows: Vec<R>,
        window: Window,
        id: impl Fn(&R) -> Uuid,
        item: impl Fn(R) -> T,
    ) -> Self {
        let shown = usize::try_from(window.limit).unwrap_or(usize::MAX);
        let more = rows.len() > shown;
        let next = rows.get(shown.saturating_sub(1)).filter(|_| more).map(|last| write_cursor(id(last)));
        Self { items: rows.into_iter().take(shown).map(item).collect(), next }
    }
}

fn write_cursor(id: Uuid) -> String {
    let mut bytes = vec![CURSOR_FORM];
    bytes.extend_from_slice(id.as_bytes());
    URL_SAFE_NO_PAD.encode(bytes)
}

fn read_cursor(text: &str) -> Result<Uuid, Refusal> {
    let bytes = URL_SAFE_NO_PAD.decode(text).ok();
    bytes
        .as_deref()
        .and_then(|bytes| bytes.split_first())
        .filter(|(form, _)| **form == CURSOR_FORM)
        .and_then(|(_, id)| Uuid::from_slice(id).ok())
        .ok_or_else(|| {
            Refusal::new(
                Code::InvalidCursor,
                "Use the `next` of the page before, unchanged, or start without a cursor.",
            )
            .field("cursor")
        })
}
