//! Identities that stay the same for the life of a stash.

use std::fmt;

use serde::{Deserialize, Serialize};

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub u32);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
    };
}

id!(
    /// A card, for as long as it exists.
    CardId
);
id!(
    /// A wall board.
    BoardId
);
id!(
    /// A project ring.
    RingId
);
id!(
    /// A maker's range.
    RangeId
);
id!(
    /// A family of colours.
    FamilyId
);
