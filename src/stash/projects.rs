//! What projects need, what the stash has for them, and what has to be bought.
//!
//! # How projects share
//!
//! No strand is promised twice. Thread is promised in this order:
//!
//! 1. Every open project with a key, asked about or not, keeps from the cards on its own ring what
//!    its key still needs, at most what is on them: that thread lies with the work. What is over on
//!    a ring may be split. A ring without a key keeps nothing, since nobody has said what it
//!    needs.
//! 2. Then the projects asked about, in the order given, line by line of their keys: first from
//!    cards on the wall, to hang or elsewhere, then from what is over on other rings, then from
//!    uncut skeins. A missing card gives nothing, but the uncut skeins beside it do.
//!
//! Of each colour one dye lot that lasts for all lines of the project goes before several, even where a
//! skein of it has to be cut while another lot is on a card.
//!
//! What is promised to one is not there for the next, also where it is not enough.
//!
//! What a line still needs is its need less what was used for it ([`needs`]); [`low`] finds what
//! runs out on a ring.

pub mod buy_list;
pub mod kit;
pub mod low;
pub mod needs;
pub mod on_the_way;
pub mod pull;
pub mod supply;
