//! What can be said in the book: one struct a kind, grouped by what it is said about.
//!
//! Refuses to know what the words mean. Parts, terminals, states, faults and observations are names out of a machine
//! file; the machine file is named by its hash.
//!
//! Rules for changing this folder, because old books are read for ever: a kind's name and its fields never change
//! their meaning; a new field is an `Option` or carries `#[serde(default)]`; a new kind gets a new name. No field may
//! hold a person's name, address, telephone number, signature or picture: those go to a sealed record.

pub(crate) mod call;
pub(crate) mod common;
pub(crate) mod job;
pub(crate) mod shop;

/// Declares an enum of facts with the kind names of the format, and how each is read and written. Facts are shared, so that a
/// fold copies none.
macro_rules! facts {
    ($(#[$meta:meta])* $name:ident { $( $variant:ident = $kind:literal ),* $(,)? }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
        #[serde(tag = "kind", content = "body", rename_all = "snake_case")]
        #[allow(missing_docs, reason = "each variant carries the struct of its name, documented there")]
        pub enum $name {
            $( $variant(std::sync::Arc<$variant>), )*
        }

        impl $name {
            /// The kind names in the format, in the order of declaration.
            pub const KINDS: &'static [&'static str] = &[$($kind),*];

            /// Returns the kind name in the format.
            #[must_use]
            pub const fn kind(&self) -> &'static str {
                match self { $( Self::$variant(_) => $kind, )* }
            }

            /// Writes the fields as a JSON value.
            pub(crate) fn to_json(&self) -> serde_json::Result<serde_json::Value> {
                match self { $( Self::$variant(fact) => serde_json::to_value(fact), )* }
            }

            /// Reads the fields of a kind; `None` if the kind is none of these.
            pub(crate) fn from_json(kind: &str, body: &str) -> Option<serde_json::Result<Self>> {
                match kind {
                    $( $kind => Some(serde_json::from_str(body).map(|fact| Self::$variant(std::sync::Arc::new(fact)))), )*
                    _ => None,
                }
            }
        }

        $( impl From<$variant> for $name {
            fn from(fact: $variant) -> Self { Self::$variant(std::sync::Arc::new(fact)) }
        } )*
    };
}

/// Lets a mixed timeline be asked for each kind of a family.
macro_rules! kinds_of_job {
    ($family:ident in $side:ident: $($variant:ident),* $(,)?) => {
        $( impl crate::fold::FactKind for $variant {
            fn of(fact: &crate::fold::Fact) -> Option<&Self> {
                match fact {
                    crate::fold::Fact::$side($family::$variant(fact)) => Some(fact),
                    _ => None,
                }
            }
        } )*
    };
}
pub(crate) use {facts, kinds_of_job};
