//! Parameters of addresses: a misspelt one must not silently widen what is asked for.

use std::{
    collections::{HashMap, HashSet},
    sync::OnceLock,
};

use actix_web::web::Query;
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::Operation,
};
use serde::Deserialize;
use utoipa::{
    IntoParams,
    openapi::{
        RefOr,
        path::{Parameter, ParameterIn},
    },
};

use crate::words::{SHORT, line};

/// A part of what is written on something, to find it by.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct SearchQuery {
    /// Only what has this text in it, in small or capital letters.
    #[param(example = "2231")]
    q: Option<String>,
}

impl SearchQuery {
    /// The text that is looked for.
    pub(crate) fn text(&self) -> Result<Option<String>, Refusal> {
        self.q.as_deref().map(|text| line(text, "q", SHORT)).transpose()
    }
}

type Known = HashMap<Operation, HashSet<String>>;

/// Refuses a query string with a parameter that the document does not give this operation.
///
/// Handlers read the query in parts, and a part cannot know what another one takes; the document knows all of them.
pub(crate) fn refuse_unknown(operation: Operation, query: &str) -> Result<(), Refusal> {
    if query.is_empty() {
        return Ok(());
    }
    // What cannot be read at all is told by whoever reads it.
    let Ok(pairs) = Query::<Vec<(String, String)>>::from_query(query) else { return Ok(()) };
    let known = known().get(&operation);
    let stranger = pairs.iter().find(|(name, _)| !known.is_some_and(|known| known.contains(name)));
    stranger.map_or(Ok(()), |(name, _)| {
        let sentence = format!("This address takes no parameter `{name}`: see /docs/ for those it takes.");
        Err(Refusal::new(Code::InvalidValue, sentence).field(name.as_str()))
    })
}

fn known() -> &'static Known {
    static KNOWN: OnceLock<Known> = OnceLock::new();
    KNOWN.get_or_init(|| {
        let document = crate::spec::document();
        let items = document.paths.paths.values();
        let operations = items.flat_map(|item| {
            [&item.get, &item.post, &item.patch, &item.put, &item.delete].into_iter().flatten()
        });
        operations
            .filter_map(|operation| {
                let id = operation.operation_id.as_deref()?.parse().ok()?;
                let names = operation.parameters.iter().flatten().filter_map(name_in_query);
                Some((id, names.collect()))
            })
            .collect()
    })
}

fn name_in_query(parameter: &RefOr<Parameter>) -> Option<String> {
    match parameter {
        RefOr::T(parameter) if parameter.parameter_in == ParameterIn::Query => Some(parameter.name.clone()),
        _ => None,
    }
}
