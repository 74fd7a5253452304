//! One macro for every closed list of words that is both a wire value and a text column.

use std::fmt;

/// A text that names no value of a closed list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownText {
    /// The list that was asked, as its type name.
    pub list: &'static str,
    /// The text that is not in it.
    pub text: String,
}

impl fmt::Display for UnknownText {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "\"{}\" is not a {}", self.text, self.list)
    }
}

impl std::error::Error for UnknownText {}

/// Declares an enum whose values have one stable spelling, used by serde, `FromStr`, `Display` and columns alike.
macro_rules! text_enum {
    (
        $(#[$meta:meta])*
        pub enum $name:ident { $( $(#[$variant_meta:meta])* $variant:ident = $text:literal ),+ $(,)? }
    ) => {
        $(#[$meta])*
        #[derive(
            Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
        )]
        pub enum $name {
            $( $(#[$variant_meta])* #[serde(rename = $text)] $variant ),+
        }

        impl $name {
            /// Every value, in the order of declaration.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The stable spelling, the same on the wire and in the database.
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $text),+ }
            }
        }

        // Written out: the derive cannot read a renaming that comes from a macro's argument.
        #[cfg(feature = "openapi")]
        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
                utoipa::openapi::schema::ObjectBuilder::new()
                    .schema_type(utoipa::openapi::schema::Type::String)
                    .enum_values(Some(Self::ALL.iter().map(|value| value.as_str())))
                    .into()
            }
        }

        #[cfg(feature = "openapi")]
        impl utoipa::ToSchema for $name {}

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.as_str())
            }
        }

        impl std::str::FromStr for $name {
            type Err = $crate::text_enum::UnknownText;

            fn from_str(text: &str) -> Result<Self, Self::Err> {
                match text {
                    $($text => Ok(Self::$variant),)+
                    _ => Err($crate::text_enum::UnknownText {
                        list: stringify!($name),
                        text: text.to_owned(),
                    }),
                }
            }
        }
    };
}

pub(crate) use text_enum;
