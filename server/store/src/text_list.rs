//! A list of words in one column.

use diesel::{
    deserialize::{self, FromSql, FromSqlRow},
    expression::AsExpression,
    pg::{Pg, PgValue},
    serialize::{self, Output, ToSql},
    sql_types::{Array, Nullable, Text},
};

/// A `text[]` column without nulls, as plain strings.
#[derive(Debug, Clone, PartialEq, Eq, Default, AsExpression, FromSqlRow)]
#[diesel(sql_type = Array<Nullable<Text>>)]
pub struct TextList(pub Vec<String>);

impl TextList {
    /// From anything that has a stored word.
    pub fn of<'w>(words: impl IntoIterator<Item = &'w str>) -> Self {
        Self(words.into_iter().map(str::to_owned).collect())
    }

    /// The words read back as the type they stand for; words no longer known are left out.
    #[must_use]
    pub fn parsed<T: std::str::FromStr>(&self) -> Vec<T> {
        self.0.iter().filter_map(|word| word.parse().ok()).collect()
    }
}

impl FromSql<Array<Nullable<Text>>, Pg> for TextList {
    fn from_sql(value: PgValue<'_>) -> deserialize::Result<Self> {
        let words = <Vec<Option<String>> as FromSql<Array<Nullable<Text>>, Pg>>::from_sql(value)?;
        Ok(Self(words.into_iter().flatten().collect()))
    }
}

impl ToSql<Array<Nullable<Text>>, Pg> for TextList {
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Pg>) -> serialize::Result {
        let words: Vec<Option<&str>> = self.0.iter().map(|word| Some(word.as_str())).collect();
        ToSql::<Array<Nullable<Text>>, Pg>::to_sql(&words, &mut out.reborrow())
    }
}
