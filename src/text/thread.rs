//! Thread: amounts, needs of a chart key, supplies and shortages.

use std::collections::{BTreeMap, BTreeSet};

use super::places::place_of;
use super::{list, one_or_many};
use crate::engine::need::crosses_in_skein;
use crate::model::assumptions::{Assumptions, Way};
use crate::model::card::USUAL_CUT_CM;
use crate::model::ids::CardId;
use crate::model::range::{PerleSize, PutUp, PutUpError, ThreadKind};
use crate::model::ring::{ColourRef, KeyLine, KeyThread, NotionKind};
use crate::model::thread::{Lot, Strands, Thread};
use crate::stash::colours::may_bleed;
use crate::stash::command::import::AmountSaid;
use crate::stash::command::key::{Keyed, NotOwned};
use crate::stash::event::Change;
use crate::stash::find;
use crate::stash::projects::kit::{Availability, ProjectKit, ThreadLine, hanging_with_key};
use crate::stash::projects::low::LowLine;
use crate::stash::projects::supply::{Likeness, Source, Substitute};
use crate::stash::state::{CardState, State};

/// All assumptions, in one line.
#[must_use]
pub(crate) fn assumptions(assumed: &Assumptions) -> String {
    let threads = |n: u8| one_or_many(n, "thread", "threads");
    let way = match assumed.way {
        Way::ThereAndBack => "rows there and back",
        Way::OneByOne => "crosses one by one",
    };
    format!(
        "{count} count over {over} {threads}, {strands} in the needle, {strands2} for \
         backstitch, {way}; working threads up to {working_cm} cm ({inches} in), {tenths} cm of each lost at start and finish; {tenths2} mm of fabric at each pass; {knot_mm} mm in a French \
         knot; {margin_percent} percent more for safety",
        count = assumed.count,
        over = assumed.over,
        threads = threads(assumed.over),
        strands = strands_of(assumed.strands),
        strands2 = strands_of(assumed.backstitch_strands),
        working_cm = assumed.working_cm,
        // Rounded to the nearest inch of 2.54 cm.
        inches = (u32::from(assumed.working_cm) * 100 + 127) / 254,
        tenths = tenths(assumed.waste_mm),
        tenths2 = tenths(assumed.fabric_tenth_mm),
        knot_mm = assumed.knot_mm,
        margin_percent = assumed.margin_percent
    )
}

fn strands_of(n: u8) -> String {
    format!("{n} {}", one_or_many(n, "strand", "strands"))
}

/// A number of tenths: `75` is `7.5`, `100` is `10`.
fn tenths(n: u16) -> String {
    match n % 10 {
        0 => (n / 10).to_string(),
        part => format!("{}.{part}", n / 10),
    }
}

/// Uncut skeins that come with a card: ` and 2 uncut skeins`; empty for none.
#[must_use]
pub(crate) fn and_skeins(skeins: u32) -> String {
    match skeins {
        0 => String::new(),
        n => format!(
            " and {n} uncut {skeins}",
            skeins = one_or_many(n, "skein", "skeins")
        ),
    }
}

/// An amount in lengths and loose strands: `5 lengths`, `1 length 2 strands`, `3 strands`.
#[must_use]
pub(crate) fn amount(amount: Strands, put_up: PutUp) -> String {
    lengths_and_strands(put_up.lengths(amount), put_up.loose(amount))
}

/// A dye lot, for a sentence: `lot K7`, `an unnamed lot`.
#[must_use]
pub(crate) fn lot(lot: &Lot) -> String {
    if lot.is_unknown() {
        "an unnamed lot".to_owned()
    } else {
        format!("lot {lot}")
    }
}

/// Metres of undivided thread: `3.5 m`, `4 m`.
#[must_use]
pub(crate) fn metres(cm: u32) -> String {
    match (cm / 100, cm % 100) {
        (metres, 0) => format!("{metres} m"),
        (metres, part) if part % 10 == 0 => format!("{metres}.{} m", part / 10),
        (metres, part) => format!("{metres}.{part:02} m"),
    }
}

/// All thread of a card, by dye lot where recorded: `7 lengths 2 strands`, `8 lengths + 2 uncut
/// skeins of lot K7, 6 lengths of lot V1`; in metres for a part-used skein. `no thread` if nothing
/// is left.
#[must_use]
pub(crate) fn by_lot(thread: &Thread, put_up: PutUp) -> String {
    let noted = thread.noted_lots().next().is_some();
    let lots = thread.lots().filter(|(_, of)| !of.is_used_up());
    let lots = lots.map(|(of_lot, of)| {
        let cut = (of.strands > Strands(0)).then(|| amount(of.strands, put_up));
        let part = (of.part_cm > 0).then(|| format!("{} part-used", metres(of.part_cm)));
        let uncut = (of.skeins > 0).then(|| {
            let word = one_or_many(of.skeins, "skein", "skeins");
            format!("{} uncut {word}", of.skeins)
        });
        let parts: Vec<String> = [cut, part, uncut].into_iter().flatten().collect();
        let parts = parts.join(" + ");
        if noted {
            format!("{parts} of {}", lot(of_lot))
        } else {
            parts
        }
    });
    let lots: Vec<String> = lots.collect();
    if lots.is_empty() {
        return "no thread".to_owned();
    }
    lots.join(", ")
}

/// The warning that a project would mix dye lots of a colour: `would mix lot K7 and lot V1, while
/// lot V1 alone lasts`; or that one lot is used up and another would follow. `None` otherwise.
#[must_use]
pub(crate) fn mixed_lots(line: &ThreadLine<'_>) -> Option<String> {
    let (last, others) = line.lots.split_last()?;
    if others.is_empty() {
        let used_up: Vec<String> = line.used_up.iter().map(lot).collect();
        return (!used_up.is_empty()).then(|| {
            format!(
                "{used_up} on its ring is used up, and {last} would go on",
                used_up = used_up.join(", "),
                last = lot(last)
            )
        });
    }
    let others: Vec<String> = others.iter().map(lot).collect();
    let hint = line.lasting.as_ref();
    let hint = hint.map_or_else(String::new, |of| format!(", while {} alone lasts", lot(of)));
    Some(format!(
        "would mix {others} and {last}{hint}",
        others = others.join(", "),
        last = lot(last)
    ))
}

/// Which of several dye lots of a colour a project uses: `use lot K7 alone, which lasts`. `None` if
/// there is only one, or if the project would mix them.
#[must_use]
pub(crate) fn lot_to_use(state: &State, line: &ThreadLine<'_>) -> Option<String> {
    let [only] = line.lots.as_slice() else {
        return None;
    };
    let cards = state.cards_of(line.thread.stitched());
    let lots = cards.flat_map(|kept| kept.thread.lots());
    let mut others = lots.filter(|(lot, of)| !of.is_used_up() && *lot != only);
    others.next()?;
    let lasts = match line.lacking {
        Strands(0) => ", which lasts",
        _ => "",
    };
    Some(format!("use {} alone{lasts}", lot(only)))
}

/// Advice on the dye lots of a colour in a project: a warning that it would mix them, otherwise
/// which one to use.
#[must_use]
pub(crate) fn lots_of(state: &State, line: &ThreadLine<'_>) -> Option<String> {
    let mixed = mixed_lots(line).map(|words| format!("{words}. Compare them in daylight first"));
    mixed.or_else(|| lot_to_use(state, line))
}

/// How much of a kit is on its ring, and the state of the rest: `kitted 24 of 26; not on the
/// ring: 447 (at home on hook C07), 96 (not owned)`.
#[must_use]
pub(crate) fn kitted(state: &State, kit: &ProjectKit<'_>) -> String {
    let kitted = kit.kitted(state);
    let lacking = kitted.lacking.iter().map(|line| {
        let number = &line.thread.stitched().number;
        let how = match line.standing {
            Availability::Home => "on the wall".to_owned(),
            Availability::Split => "to split off".to_owned(),
            Availability::Short => rest_of_short(line),
            Availability::Uncounted => "not taken yet".to_owned(),
            Availability::Lost => "missing".to_owned(),
            Availability::NotOwned => "not owned".to_owned(),
            Availability::Done | Availability::OnRing => String::new(),
        };
        let place = state.cards_of(line.thread.stitched()).next();
        match (line.standing, place) {
            (Availability::Home | Availability::Uncounted, Some(kept)) => {
                format!("{number} ({place})", place = place_of(state, kept))
            }
            _ => format!("{number} ({how})"),
        }
    });
    let lacking = list(lacking);
    let (there, colours) = (kitted.there, kitted.colours);
    if lacking.is_empty() {
        format!("kitted {there} of {colours}")
    } else {
        format!("kitted {there} of {colours}; not on the ring: {lacking}")
    }
}

fn rest_of_short(line: &ThreadLine<'_>) -> String {
    match (line.uncut_skeins, line.lacking) {
        (0, _) => format!("short by {}", amount(line.short, line.put_up)),
        (_, Strands(0)) => format!("{} to cut", amount(line.short, line.put_up)),
        (_, lacking) => format!(
            "short by {} with all skeins cut",
            amount(lacking, line.put_up)
        ),
    }
}

/// A kind of thread: `stranded cotton`, `perle 5`.
#[must_use]
pub(crate) fn kind(kind: ThreadKind) -> String {
    match kind {
        ThreadKind::Stranded => "stranded cotton".to_owned(),
        ThreadKind::Silk => "silk".to_owned(),
        ThreadKind::Perle { size } => format!("perle {}", size.get()),
        ThreadKind::Metallic => "metallic".to_owned(),
        ThreadKind::Wool => "wool".to_owned(),
    }
}

/// The form in which a thread is sold: `stranded cotton, 8 m skeins, 6 strands`, `perle 5, 25 m
/// skeins, not divided`.
#[must_use]
pub(crate) fn put_up(put_up: PutUp) -> String {
    let strands = match (put_up.is_divisible(), put_up.strands()) {
        (true, strands) => format!(", {}", strands_of(strands)),
        (false, _) => ", not divided".to_owned(),
    };
    format!(
        "{kind}, {skein} skeins{strands}",
        kind = kind(put_up.kind()),
        skein = metres(put_up.skein_cm())
    )
}

/// The warning that a range's cards have other lengths now, because their strands stay as they were counted. `None` if no
/// card of the range has thread, or as many strands make a length as before.
#[must_use]
pub(crate) fn lengths_changed(state: &State, changes: &[Change]) -> Option<String> {
    let of = changes.iter().find_map(|change| match change {
        Change::Range {
            before: Some(before),
            after: Some(after),
        } if before.put_up.from_lengths(1) != after.put_up.from_lengths(1) => Some(after.id),
        _ => None,
    })?;
    let cards = state.cards().filter(|kept| kept.card.range == of);
    let cards: Vec<String> = cards
        .filter(|kept| kept.strands().0 > 0)
        .map(|kept| state.card_name(kept))
        .collect();
    (!cards.is_empty()).then(|| {
        format!(
            "The strands on record stay, so these cards have other lengths now: {}.",
            list(cards)
        )
    })
}

/// Why no thread is sold in this form.
#[must_use]
pub(crate) fn put_up_error(error: PutUpError) -> String {
    match error {
        PutUpError::Size(size) => format!(
            "there is no perle {size}. Give 1 to {finest}.",
            finest = PerleSize::FINEST
        ),
        PutUpError::NoSize => "perle has sizes. Say which one, such as 5 or 8.".to_owned(),
        PutUpError::SizeOfNoPerle => "only perle has sizes. Leave the size out.".to_owned(),
        PutUpError::Skein(cm) => format!(
            "a skein can't be {skein} long. Give up to {most}.",
            skein = metres(cm),
            most = metres(PutUp::LONGEST_SKEIN_CM)
        ),
        PutUpError::Strands(strands) => format!(
            "a thread can't have {strands} strands. Give 1 to {most}.",
            most = PutUp::MOST_STRANDS
        ),
    }
}

/// The meaning of a length for this thread: `1 m of 6 strands`, `1 m`.
#[must_use]
pub(crate) fn length_of(put_up: PutUp, cut_cm: u16) -> String {
    let metres = metres(cut_cm.into());
    match put_up.in_length() {
        1 => metres,
        strands => format!("{metres} of {strands} strands"),
    }
}

/// The number that stitchers compare: how many full crosses a skein covers in this project. For a
/// thread that is divided.
#[must_use]
pub(crate) fn skein_covers(assumed: &Assumptions, put_up: PutUp) -> String {
    let crosses = crosses_in_skein(assumed, put_up, USUAL_CUT_CM);
    let about = u64::from(crosses.div_ceil(5)) * 5;
    let about = match (about / 1_000, about % 1_000) {
        (0, rest) => rest.to_string(),
        (thousands, rest) => format!("{thousands},{rest:03}"),
    };
    format!(
        "a skein of {skein} covers about {about} full crosses with {strands} in the needle, before \
         the extra for safety (1,700 to 2,000 at 14 count with 2 strands is common practice, no \
         source)",
        skein = metres(put_up.skein_cm()),
        strands = strands_of(assumed.strands)
    )
}

/// The note that working crosses one by one takes more thread than rows there and back: `crosses
/// one by one (common practice, no source), about 7 percent more thread`.
#[must_use]
pub(crate) fn one_by_one(assumed: &Assumptions) -> String {
    let of = |way| {
        crosses_in_skein(
            &Assumptions { way, ..*assumed },
            PutUp::default(),
            USUAL_CUT_CM,
        )
    };
    let (rows, single) = (of(Way::ThereAndBack), of(Way::OneByOne).max(1));
    let more = (rows.saturating_sub(single) * 100 + single / 2) / single;
    let more = match (assumed.way, more) {
        (Way::OneByOne, _) | (_, 0) => String::new(),
        (Way::ThereAndBack, more) => format!(", which takes about {more} percent more"),
    };
    format!("variegated: crosses one by one (common practice, no source){more}")
}

/// The supply of a discontinued colour: `discontinued: 1 uncut skein is the last`; `None` for any
/// other.
#[must_use]
pub(crate) fn scarcity(state: &State, colour: &ColourRef) -> Option<String> {
    if !state.is_discontinued(colour) {
        return None;
    }
    let skeins = state.cards_of(colour);
    let skeins = skeins.fold(0_u32, |sum, kept| sum.saturating_add(kept.skeins()));
    Some(match skeins {
        0 => "discontinued, no uncut skein left".to_owned(),
        1 => "discontinued, this is the last uncut skein".to_owned(),
        skeins => format!("discontinued, {skeins} uncut skeins left"),
    })
}

/// The thread of a card before and after an import: `2 lengths 3 strands`, with uncut skeins if
/// those change, and lot by lot if there are several. The list doesn't count what was split off, so
/// the split cards are named: `3 lengths, besides 447@Harbour`. `None` if the card is gone.
#[must_use]
pub(crate) fn before_and_after(state: &State, of: &AmountSaid) -> Option<(String, String)> {
    let (before, after) = before_and_after_alone(state, of)?;
    let split_cards = state
        .split_cards_of(of.card)
        .filter(|kept| kept.strands().0 > 0);
    let split_cards: Vec<String> = split_cards.map(|kept| state.card_name(kept)).collect();
    let after = match split_cards.as_slice() {
        [] => after,
        names => format!("{after}, besides {names}", names = list(names)),
    };
    Some((before, after))
}

/// The thread of a card before and after an import, without what was split off.
fn before_and_after_alone(state: &State, of: &AmountSaid) -> Option<(String, String)> {
    let put_up = state.put_up(&state.card(of.card)?.card);
    let lots = of.before.lots().chain(of.after.lots());
    let lots: BTreeSet<&Lot> = lots
        .filter(|(_, of)| !of.is_used_up())
        .map(|(lot, _)| lot)
        .collect();
    if lots.len() > 1 {
        return Some((by_lot(&of.before, put_up), by_lot(&of.after, put_up)));
    }
    let [before, after] = of.sums();
    let said = |(strands, skeins): (Strands, u32)| match (before.0 == after.0, skeins) {
        _ if before.1 == after.1 => amount(strands, put_up),
        (true, 1) => "1 uncut skein".to_owned(),
        (true, n) => format!("{n} uncut skeins"),
        (false, n) => format!("{} and {n} uncut", amount(strands, put_up)),
    };
    Some((said(before), said(after)))
}

/// A change of an amount: `8 -> 16 lengths`, naming a shared unit only once.
#[must_use]
pub(crate) fn change(before: &str, after: &str) -> String {
    let unit = |amount: &str| -> Option<&'static str> {
        let (count, unit) = amount.split_once(' ')?;
        let units = [("length", "lengths"), ("strand", "strands")];
        let known = units
            .iter()
            .find(|(one, many)| unit == *one || unit == *many);
        known
            .map(|(_, many)| *many)
            .filter(|_| count.parse::<u32>().is_ok())
    };
    match (unit(before), before.split_once(' ')) {
        (Some(same), Some((count, _))) if unit(after) == Some(same) => {
            format!("{count} -> {after}")
        }
        _ => format!("{before} -> {after}"),
    }
}

/// The total of several threads, in the same words. Loose strands of one put-up add up to lengths.
#[must_use]
pub(crate) fn amounts(amounts: impl Iterator<Item = (Strands, PutUp)>) -> String {
    let mut of_a_length: BTreeMap<u32, (Strands, PutUp)> = BTreeMap::new();
    for (amount, put_up) in amounts {
        let sum = of_a_length
            .entry(put_up.in_length())
            .or_insert((Strands(0), put_up));
        sum.0.0 = sum.0.0.saturating_add(amount.0);
    }
    let (mut lengths, mut loose) = (0_u32, 0_u32);
    for (amount, put_up) in of_a_length.into_values() {
        lengths = lengths.saturating_add(put_up.lengths(amount));
        loose = loose.saturating_add(put_up.loose(amount));
    }
    lengths_and_strands(lengths, loose)
}

fn lengths_and_strands(lengths: u32, loose: u32) -> String {
    let whole = |n: u32| match n {
        1 => "1 length".to_owned(),
        n => format!("{n} lengths"),
    };
    let strands = |n: u32| match n {
        1 => "1 strand".to_owned(),
        n => format!("{n} strands"),
    };
    match (lengths, loose) {
        (lengths, 0) => whole(lengths),
        (0, loose) => strands(loose),
        (lengths, loose) => format!("{} {}", whole(lengths), strands(loose)),
    }
}

/// The used part of a need and the rest: `2 lengths used, 3 lengths still needed`; `None` if
/// nothing was used.
#[must_use]
pub(crate) fn used(used: Strands, left: Option<Strands>, put_up: PutUp) -> Option<String> {
    if used == Strands(0) {
        return None;
    }
    let left = match left {
        None => String::new(),
        Some(Strands(0)) => ", nothing still needed".to_owned(),
        Some(left) => format!(", {amount} still needed", amount = amount(left, put_up)),
    };
    Some(format!(
        "{amount} used{left}",
        amount = amount(used, put_up)
    ))
}

/// `2 skeins`.
#[must_use]
pub(crate) fn skeins(skeins: u32) -> String {
    format!("{skeins} {}", one_or_many(skeins, "skein", "skeins"))
}

/// Cautions for the threads of a project (common practice, no source): dyes that may bleed, and
/// kinds that moths eat. Each without its full stop.
#[must_use]
pub(crate) fn care(state: &State, project: &ProjectKit<'_>) -> Vec<String> {
    let bleeds = |line: &&ThreadLine<'_>| {
        let colour = state.thread_colour(line.thread);
        colour.is_some_and(may_bleed)
    };
    let numbers = |lines: Vec<&ThreadLine<'_>>| {
        let mut numbers: Vec<String> = Vec::new();
        for line in lines {
            let number = line.thread.stitched().number.to_string();
            if !numbers.contains(&number) {
                numbers.push(number);
            }
        }
        numbers
    };
    let bleeding = numbers(project.threads().filter(bleeds).collect());
    let eaten = project
        .threads()
        .filter(|line| matches!(line.put_up.kind(), ThreadKind::Silk | ThreadKind::Wool));
    let eaten = numbers(eaten.collect());
    let bleeding = (!bleeding.is_empty()).then(|| {
        format!(
            "Reds and dark blues may bleed, so test {} in water before you wash the piece",
            list(bleeding)
        )
    });
    let eaten = (!eaten.is_empty()).then(|| {
        format!(
            "Moths eat silk and wool, so keep {} where they can't get in",
            list(eaten)
        )
    });
    [bleeding, eaten].into_iter().flatten().collect()
}

/// The content of a key line in its shortest form: `701`, `447+96` for a blend, the name of a
/// notion.
#[must_use]
pub(crate) fn line_in_brief(line: &KeyLine) -> String {
    let threads = line.threads().iter();
    let numbers: Vec<&str> = threads
        .map(|thread| thread.colour.number.as_str())
        .collect();
    let notion = line.notion().map(|notion| notion.name.to_string());
    notion.unwrap_or_else(|| numbers.join("+"))
}

/// The notion to sew on for a key line, and its number: `seed bead: bead, 24 pieces`; empty for a
/// stitched line.
#[must_use]
pub(crate) fn notion(line: &KeyLine) -> String {
    let Some(notion) = line.notion() else {
        return String::new();
    };
    let kind = match notion.kind {
        NotionKind::Bead => "bead",
        NotionKind::Button => "button",
        NotionKind::MetallicOrnament => "ornament",
        NotionKind::Other => "other",
    };
    let name = &notion.name;
    match notion.pieces {
        0 => format!("{name}: {kind}, pieces not counted"),
        pieces => format!(
            "{name}: {kind}, {pieces} {word}",
            word = one_or_many(pieces, "piece", "pieces")
        ),
    }
}

/// The counts of a key line: `1740 full, 30 half, 120 squares of backstitch`; empty if there are
/// none.
#[must_use]
pub(crate) fn stitches(line: &KeyLine) -> String {
    let entry = line.stitches();
    let counts = [
        (entry.full, "full"),
        (entry.half, "half"),
        (entry.quarter, "quarter"),
        (entry.three_quarter, "three-quarter"),
        (entry.backstitch, "squares of backstitch"),
        (entry.french_knots, "French knots"),
    ];
    let said = counts.iter().filter(|(count, _)| *count > 0);
    let said: Vec<String> = said.map(|(n, what)| format!("{n} {what}")).collect();
    said.join(", ")
}

/// The availability of a thread in a key, and its place: `enough: at home on hook C07`.
#[must_use]
pub(crate) fn availability(state: &State, line: &ThreadLine<'_>) -> String {
    let mut text = without_promises(state, line);
    if !line.standing.is_enough() && !line.others.is_empty() {
        let others = line.others.iter().map(|&(ring, strands)| {
            format!(
                "'{}' {}",
                state.ring(ring).map_or("", |ring| ring.project.as_str()),
                amount(strands, line.put_up)
            )
        });
        text.push_str(&format!(
            " (promised elsewhere: {list})",
            list = list(others)
        ));
    }
    text
}

/// The same, ignoring thread promised to other projects.
fn without_promises(state: &State, line: &ThreadLine<'_>) -> String {
    let place = |card: CardId| {
        state
            .card(card)
            .map_or_else(String::new, |kept| place_of(state, kept))
    };
    let put_up = |card: CardId| {
        let kept = state.card(card);
        kept.map_or(line.put_up, |kept| state.put_up(&kept.card))
    };
    // Counts each card once, whatever its lots.
    let from = |is: fn(Source) -> bool| {
        let mut cards: Vec<(CardId, Strands)> = Vec::new();
        for promise in line.promises.iter().filter(|p| is(p.source)) {
            match cards.iter_mut().find(|(card, _)| *card == promise.card) {
                Some((_, sum)) => sum.0 = sum.0.saturating_add(promise.strands.0),
                None => cards.push((promise.card, promise.strands)),
            }
        }
        let cards = cards.into_iter();
        list(cards.map(|(card, sum)| format!("{} {}", amount(sum, put_up(card)), place(card))))
    };
    let cards = || {
        let cards = state.cards_of(line.thread.stitched());
        list(cards.map(|kept| place_of(state, kept)))
    };
    match line.standing {
        Availability::Done => "enough: all it needs is used".to_owned(),
        Availability::OnRing => "enough: on its ring".to_owned(),
        Availability::Home => {
            let here = line.promises.iter().filter(|p| p.source == Source::Here);
            let mut cards: Vec<CardId> = here.map(|promise| promise.card).collect();
            cards.dedup();
            let mut text = format!("enough: {list}", list = list(cards.into_iter().map(place)));
            if line.promises.iter().any(|p| p.source == Source::OwnRing) {
                text.push_str(", and some on its ring");
            }
            text
        }
        Availability::Split => {
            let unknown = without_key(state, line);
            let where_from = from(|source| matches!(source, Source::OtherRing(_)));
            format!("enough, to split off: {where_from}{unknown}")
        }
        Availability::Short => {
            let there = from(|source| source != Source::Uncut);
            let there = if there.is_empty() {
                String::new()
            } else {
                format!(" (has {there})")
            };
            format!(
                "short by {amount}{there}{rest}",
                amount = amount(line.short, line.put_up),
                rest = rest(line)
            )
        }
        Availability::Uncounted => format!("owned: {cards}", cards = cards()),
        Availability::Lost => format!("{}{}", cards(), rest(line)),
        Availability::NotOwned => "not owned".to_owned(),
    }
}

/// The rings that thread is promised from whose own need is unknown.
fn without_key(state: &State, line: &ThreadLine<'_>) -> String {
    let keyless = line
        .promises
        .iter()
        .filter_map(|promise| match promise.source {
            Source::OtherRing(ring) => state.ring(ring).filter(|ring| ring.key.is_empty()),
            _ => None,
        });
    let names = list(keyless.map(|ring| format!("'{}'", ring.project)));
    if names.is_empty() {
        return names;
    }
    format!(" ({names} has no chart key, so its need is unknown)")
}

/// How far uncut skeins cover a shortage.
fn rest(line: &ThreadLine<'_>) -> String {
    let skeins = skeins(line.uncut_skeins);
    let covers = one_or_many(line.uncut_skeins, "covers", "cover");
    match (line.uncut_skeins, line.lacking) {
        (0, _) => String::new(),
        (_, Strands(0)) => format!("; {skeins} uncut {covers} it"),
        (_, lacking) => format!(
            "; {amount} after {skeins} uncut",
            amount = amount(lacking, line.put_up)
        ),
    }
}

/// `you own its match Cove 12`, `you own its matches Cove 12, Moor 7`; `None` if you own none.
#[must_use]
pub(crate) fn owned_matches(state: &State, cards: impl Iterator<Item = CardId>) -> Option<String> {
    let cards = cards.filter_map(|id| state.card(id));
    let names = cards.map(|kept| {
        let (range, number) = (state.range_name(kept), state.number_and_tag(kept));
        format!("{range} {number}")
    });
    let names: Vec<String> = names.collect();
    let word = one_or_many(names.len(), "match", "matches");
    (!names.is_empty()).then(|| format!("you own its {word} {names}", names = list(names)))
}

/// A possible substitute: that it matches or how different it looks, how much of it is free, and
/// its place.
#[must_use]
pub(crate) fn substitute(state: &State, found: &Substitute) -> String {
    let Some(kept) = state.card(found.card) else {
        return String::new();
    };
    let enough = match found.enough {
        Some(true) => ", enough",
        Some(false) => ", not enough",
        None => "",
    };
    let warning = if found.is_far() {
        "   plainly another colour"
    } else {
        ""
    };
    let likeness = match found.likeness {
        Likeness::Match => "match".to_owned(),
        Likeness::Colour { difference } => format!("differs by {difference:.1}"),
    };
    format!(
        "could stand in: {card}  {name}   {likeness}   {amount} free{enough}, {place}{warning}",
        card = state.card_name(kept),
        name = kept.card.name,
        amount = amount(found.free, state.put_up(&kept.card)),
        place = place_of(state, kept)
    )
}

/// The warning as a sentence without its full stop: `701: 1 length 2 strands on the ring, about 3
/// lengths more needed; 4 lengths at home on hook C07, 1 skein in reserve`.
#[must_use]
pub(crate) fn low(state: &State, low: &LowLine) -> String {
    let name = |id| state.card(id).map(|kept| state.card_name(kept));
    let name = name(low.card).unwrap_or_else(|| low.number.to_string());
    let left = match low.left_on_ring {
        Strands(0) => "none left".to_owned(),
        left => amount(left, low.put_up),
    };
    let needed = match low.more() {
        Some(more) if more > Strands(0) => {
            format!(
                ", about {amount} more needed",
                amount = amount(more, low.put_up)
            )
        }
        _ => ", and the chart key gives no amount".to_owned(),
    };
    let cards = low.elsewhere.iter().filter_map(|&(card, free)| {
        let kept = state.card(card)?;
        let split_card = if kept.place.at.ring().is_some() {
            " to spare"
        } else {
            ""
        };
        let place = place_of(state, kept);
        Some(format!(
            "{}{split_card} {place}",
            amount(free, state.put_up(&kept.card))
        ))
    });
    let uncut = (low.uncut_skeins > 0)
        .then(|| format!("{skeins} uncut", skeins = skeins(low.uncut_skeins)));
    let elsewhere = list(cards.chain(uncut));
    let elsewhere = if elsewhere.is_empty() {
        "there is no more of it".to_owned()
    } else {
        elsewhere
    };
    format!("{name}: {left} on the ring{needed}; {elsewhere}")
}

/// A colour with the name of its range: `Lantern Hill 701`.
#[must_use]
pub(crate) fn colour(state: &State, colour: &ColourRef) -> String {
    let range = state.range(colour.range);
    let range = range.map_or("", |range| range.name.as_str());
    format!("{range} {}", colour.number)
}

/// The colour of a thread in the chart, and its substitute if it has one: `Lantern Hill 701`,
/// `Lantern Hill 701, stitched with Sandbank 9`.
#[must_use]
pub(crate) fn key_thread(state: &State, thread: &KeyThread) -> String {
    let name = colour(state, &thread.colour);
    match &thread.stitched_with {
        None => name,
        Some(with) => format!("{name}, stitched with {other}", other = colour(state, with)),
    }
}

/// The projects of [`hanging_with_key`]: `'Robin' and 'Wren'`; `None` if there are none.
#[must_use]
pub(crate) fn hanging_projects(state: &State) -> Option<String> {
    let hanging = list(hanging_with_key(state).map(|ring| format!("'{}'", ring.project)));
    Some(hanging).filter(|hanging| !hanging.is_empty())
}

/// The note that a colour has no card, with the projects that need it: `not owned; needed by Robin,
/// Wren`.
#[must_use]
pub(crate) fn not_owned(state: &State, of: &find::NotOwned) -> String {
    let rings = of.needed_by.iter().filter_map(|&ring| state.ring(ring));
    let projects: Vec<String> = rings.map(|ring| ring.project.to_string()).collect();
    let needed = (!projects.is_empty()).then(|| format!("needed by {}", list(projects)));
    let matching = owned_matches(state, of.matches.iter().copied());
    let words = [Some("not owned".to_owned()), needed, matching];
    words.into_iter().flatten().collect::<Vec<_>>().join("; ")
}

/// The hint that a key's number exists in another range, which may be the intended one.
#[must_use]
pub(crate) fn owned_elsewhere(of: &NotOwned) -> Option<String> {
    (!of.owned_in.is_empty()).then(|| {
        format!(
            "{number} of {range} isn't owned; you own {number} of {ranges}",
            number = of.number,
            range = of.range,
            ranges = list(of.owned_in.iter().cloned())
        )
    })
}

/// How many colours of a key you own.
#[must_use]
pub(crate) fn owned_colours(keyed: &Keyed) -> String {
    match keyed.owned {
        0 if keyed.colours == 1 => {
            "Its one colour is not in the stash: look at the number and its range.".to_owned()
        }
        _ if keyed.colours == 1 => "Its one colour is in the stash.".to_owned(),
        0 => format!(
            "None of its {colours} colours is in the stash: look at the numbers and their range.",
            colours = keyed.colours
        ),
        owned => format!(
            "{owned} of its {colours} colours {are} in the stash.",
            are = one_or_many(owned, "is", "are"),
            colours = keyed.colours
        ),
    }
}

/// The note that a new card has replaced a missing one, and where to hang it.
#[must_use]
pub(crate) fn replaced(state: &State, kept: &CardState) -> String {
    let card = state.card_name(kept);
    match kept.home {
        Some(home) => format!(
            "a new card of {card} takes the place of the missing one; hang it on {hook_name}",
            hook_name = state.hook_name(home)
        ),
        None => {
            format!("a new card of {card} takes the place of the missing one; it is to hang")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_assumption_is_named() {
        let assumed = Assumptions {
            waste_mm: 75,
            ..Assumptions::default()
        };
        assert_eq!(
            assumptions(&assumed),
            "14 count over 1 thread, 2 strands in the needle, 1 strand for backstitch, rows there \
             and back; working threads up to 50 cm (20 in), 7.5 cm of each lost at start and finish; 0.5 \
             mm of fabric at each pass; 20 mm in a French knot; 10 percent more for safety"
        );
    }

    #[test]
    fn used_thread_is_shown_with_the_rest() {
        let said =
            |spent, left: Option<u32>| used(Strands(spent), left.map(Strands), PutUp::default());
        assert_eq!(said(0, Some(3)), None);
        for (left, words) in [
            (Some(7), "2 strands used, 1 length 1 strand still needed"),
            (Some(0), "2 strands used, nothing still needed"),
            (None, "2 strands used"),
        ] {
            assert_eq!(said(2, left).as_deref(), Some(words));
        }
    }

    #[test]
    fn thread_is_shown_lot_by_lot() {
        let lot = |name: &str| Lot(crate::model::label::Label::new(name).unwrap());
        let of = |strands, part_cm, skeins| crate::model::thread::LotThread {
            strands: Strands(strands),
            part_cm,
            skeins,
            ..Default::default()
        };
        let said = |lots: Vec<(Lot, _)>| by_lot(&lots.into_iter().collect(), PutUp::default());
        assert_eq!(said(vec![]), "no thread");
        assert_eq!(said(vec![(lot(""), of(44, 0, 0))]), "7 lengths 2 strands");
        assert_eq!(
            said(vec![(lot(""), of(6, 350, 1))]),
            "1 length + 3.5 m part-used + 1 uncut skein"
        );
        assert_eq!(
            said(vec![
                (lot(""), of(2, 0, 0)),
                (lot("K7"), of(48, 0, 2)),
                (lot("R5"), of(0, 0, 0)),
                (lot("V1"), of(0, 125, 0)),
            ]),
            "2 strands of an unnamed lot, 8 lengths + 2 uncut skeins of lot K7, 1.25 m part-used of lot V1"
        );
        // A used-up lot stays listed.
        assert_eq!(said(vec![(lot("K7"), of(0, 0, 0))]), "no thread");
    }

    #[test]
    fn a_skein_covers_a_number_stitchers_know() {
        let said = skein_covers(&Assumptions::default(), PutUp::default());
        assert!(
            said.starts_with("a skein of 8 m covers about 1,785 full crosses with 2 strands"),
            "{said}"
        );
        let said = one_by_one(&Assumptions::default());
        assert!(said.ends_with("which takes about 7 percent more"), "{said}");
    }

    #[test]
    fn amounts_match_the_thread_on_the_card() {
        for (strands, words) in [
            (0, "0 lengths"),
            (1, "1 strand"),
            (6, "1 length"),
            (44, "7 lengths 2 strands"),
        ] {
            assert_eq!(amount(Strands(strands), PutUp::default()), words);
        }
    }
}
