//! What projects need, what the stash has for them, and what to buy.
//!
//! # How projects share
//!
//! No strand is promised twice. Thread is promised in this order:
//!
//! 1. Every open project with a chart key, selected or not, keeps what its key still needs from the
//!    cards on its own ring, at most what is on them: that thread lies with the work. Surplus on a
//!    ring may be split off. A ring without a key keeps nothing, because its need is unknown.
//! 2. Then come the selected projects, in the order given, line by line of their keys: first from
//!    cards on the wall, to hang or elsewhere, then from surplus on other rings, then from uncut
//!    skeins. A missing card gives nothing, but its uncut skeins do.
//!
//! For each colour, one dye lot that lasts for all lines of the project is preferred over several,
//! even if a skein of it has to be cut while another lot is on a card.
//!
//! What is promised to one project isn't available to the next, even if it isn't enough.
//!
//! A line still needs its need minus what was used for it ([`needs`]). [`low`] finds what runs out
//! on a ring.

pub mod buy_list;
pub mod kit;
pub mod low;
pub mod needs;
pub mod on_the_way;
pub mod pull;
pub mod supply;
