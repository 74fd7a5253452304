//! Reading back what was stored as a word, a number or JSON. What does not read back is a fault of ours, not a refusal.

use std::str::FromStr;

use serde::{Serialize, de::DeserializeOwned};
use serde_json::Value;

use crate::StoreError;

/// A value of a closed list, from its column.
pub(crate) fn word<T: FromStr>(text: &str) -> Result<T, StoreError> {
    let name = std::any::type_name::<T>();
    text.parse().map_err(|_| StoreError::internal(format!("the stored word \"{text}\" is no {name}")))
}

/// A value from its JSON column.
pub(crate) fn read_json<T: DeserializeOwned>(json: Value) -> Result<T, StoreError> {
    let name = std::any::type_name::<T>();
    serde_json::from_value(json)
        .map_err(|error| StoreError::internal(format!("the stored JSON is no {name}: {error}")))
}

/// A value for its JSON column.
pub(crate) fn to_json<T: Serialize>(value: &T) -> Result<Value, StoreError> {
    serde_json::to_value(value).map_err(|error| StoreError::internal(error.to_string()))
}

/// A count for its column.
pub(crate) fn count(number: u32) -> Result<i32, StoreError> {
    i32::try_from(number).map_err(|error| StoreError::internal(error.to_string()))
}

/// A count from its column.
pub(crate) fn read_count(number: i32) -> Result<u32, StoreError> {
    u32::try_from(number).map_err(|error| StoreError::internal(error.to_string()))
}
