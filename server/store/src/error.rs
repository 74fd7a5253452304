//! What can go wrong in the store, kept apart by who can do something about it.

use diesel::result::{DatabaseErrorKind, Error as DieselError};
use sellion_rules::refusal::{Code, Refusal};

/// Why a unit of work did not happen. Nothing of it was written.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The caller asked for something the rules or the stored facts do not allow.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// Every connection stayed in use for longer than a caller should wait.
    #[error("all database connections are in use")]
    Busy,
    /// The database cannot be reached; the cause is for the log, never for a client.
    #[error("the database cannot be reached: {0}")]
    Unavailable(String),
    /// A fault of ours or of the database; the cause is for the log, never for a client.
    #[error("{0:#}")]
    Internal(anyhow::Error),
}

impl StoreError {
    /// A row of this kind is not there, or belongs to another site: the two look alike on purpose.
    #[must_use]
    pub fn not_found(noun: &str) -> Self {
        Refusal::new(Code::NotFound, format!("There is no such {noun} here.")).into()
    }

    /// An internal fault with a sentence for the log.
    #[must_use]
    pub fn internal(sentence: impl Into<String>) -> Self {
        Self::Internal(anyhow::anyhow!(sentence.into()))
    }

    /// Whether the same unit of work may succeed when it is simply run again.
    pub(crate) fn is_transient(&self) -> bool {
        match self {
            Self::Internal(cause) => cause.downcast_ref::<DieselError>().is_some_and(|error| {
                matches!(error, DieselError::DatabaseError(DatabaseErrorKind::SerializationFailure, _))
                    || matches!(error, DieselError::DatabaseError(_, info) if info.message() == "deadlock detected")
            }),
            _ => false,
        }
    }
}

impl From<anyhow::Error> for StoreError {
    fn from(error: anyhow::Error) -> Self {
        Self::Internal(error)
    }
}

impl From<DieselError> for StoreError {
    fn from(error: DieselError) -> Self {
        match &error {
            DieselError::DatabaseError(
                DatabaseErrorKind::ClosedConnection | DatabaseErrorKind::UnableToSendCommand,
                info,
            ) => Self::Unavailable(info.message().to_owned()),
            DieselError::DatabaseError(_, info) if connection_is_lost(info.message()) => {
                Self::Unavailable(info.message().to_owned())
            }
            // The one text that JSON can carry and the database cannot: U+0000.
            DieselError::DatabaseError(_, info) if info.message().starts_with("invalid byte sequence") => {
                Refusal::new(Code::InvalidValue, "A text holds a character that cannot be stored.").into()
            }
            DieselError::BrokenTransactionManager => Self::Unavailable(error.to_string()),
            _ => Self::Internal(error.into()),
        }
    }
}

/// libpq reports a lost server as an unnamed error; only its words tell.
fn connection_is_lost(message: &str) -> bool {
    [
        "server closed the connection",
        "terminating connection",
        "no connection to the server",
        "the database system is shutting down",
        "could not receive data from server",
        "connection not open",
    ]
    .iter()
    .any(|words| message.contains(words))
}

/// Turns the violation of a named constraint into the refusal it stands for.
///
/// The constraint is the rule, so that two callers at once cannot both pass a check made beforehand.
pub fn on_constraint<T>(
    result: Result<T, DieselError>,
    constraint: &str,
    refusal: impl FnOnce() -> Refusal,
) -> Result<T, StoreError> {
    match result {
        Err(DieselError::DatabaseError(_, info)) if info.constraint_name() == Some(constraint) => {
            Err(refusal().into())
        }
        other => other.map_err(StoreError::from),
    }
}
