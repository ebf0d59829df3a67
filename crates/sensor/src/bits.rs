//! Sets of feature bits: an enum that names each bit and a set over it, kept as on the wire.
//!
//! Bits without a name stay in the set, so that a value read and written again is unchanged.

/// Declares an enum of bits with their names in the standard's words, and a set of them.
macro_rules! bit_set {
    (
        $(#[$set_doc:meta])* $set:ident($integer:ty),
        $(#[$bit_doc:meta])* $bit:ident {
            $($variant:ident = $number:literal, $name:literal;)*
        }
    ) => {
        $(#[$bit_doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[repr(u8)]
        pub enum $bit {
            $(#[doc = concat!("Bit ", stringify!($number), ": ", $name, ".")] $variant = $number,)*
        }

        impl $bit {
            /// Every named bit, lowest first.
            pub const ALL: &[Self] = &[$(Self::$variant),*];

            /// The name of the bit in plain words.
            pub fn name(self) -> &'static str {
                match self {
                    $(Self::$variant => $name,)*
                }
            }
        }

        $(#[$set_doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
        pub struct $set(pub $integer);

        impl $set {
            /// The bits to which the standard gives a meaning.
            pub const KNOWN: $integer = $(1 << $number)|*;

            /// The set of the bits listed.
            pub fn of(bits: &[$bit]) -> Self {
                Self(bits.iter().fold(0, |set, &bit| set | 1 << bit as u8))
            }

            /// Whether the bit is set.
            pub fn contains(self, bit: $bit) -> bool {
                self.0 >> bit as u8 & 1 == 1
            }

            /// The named bits that are set, lowest first.
            pub fn iter(self) -> impl Iterator<Item = $bit> {
                $bit::ALL.iter().copied().filter(move |&bit| self.contains(bit))
            }
        }
    };
}

pub(crate) use bit_set;
