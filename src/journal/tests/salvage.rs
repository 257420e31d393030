use crate::journal::LineError;
use crate::journal::RecordError;
use crate::journal::format::Entry;
use crate::stash::event::Act;
use crate::stash::event::Event;
use std::fs;
use std::path::Path;

use proptest::prelude::*;

use super::Life;
use super::{contents, folder_with, line_ends, new_folder, record_in, write_end_marker};
use crate::journal::check;
use crate::journal::salvage::*;
use crate::journal::store::Store;
use crate::stash::invariants;

/// Salvages the record in a folder, describing each change left out by its act.
fn look_over(dir: &Path) -> Result<Salvage<Act>, RecordError> {
    look(dir, |_, event| event.act.clone())
}

/// Saves the good events of a record; the new stash is sound, and the old one unchanged.
fn saved(bad: &[u8]) -> Salvage<Act> {
    let dir = folder_with(bad);
    let before = contents(dir.path());
    let found = look_over(dir.path()).unwrap();
    let new = new_folder();
    let into = new.path().join("saved");
    write(&into, dir.path(), &found.taken).unwrap();
    assert_eq!(contents(dir.path()), before);
    assert_eq!(check::<Event>(&into).unwrap().problems, []);
    let (store, notices) = Store::open(&into).unwrap();
    assert_eq!((store.unsound(), notices), (None, Vec::new()));
    assert_eq!((store.misfit(), store.state()), (None, &found.state));
    assert_eq!(invariants::check_all(store.state()), []);
    let written: Result<Vec<_>, _> = store.past().unwrap().collect();
    assert_eq!(written.unwrap(), found.taken);
    found
}

/// An event without the numbers that are reassigned.
fn told(entry: &Entry<Event>) -> Entry<Event> {
    let mut entry = entry.clone();
    entry.seq = 0;
    if let Act::Undo { seq } | Act::Redo { seq } = &mut entry.event.act {
        *seq = 0;
    }
    entry
}

/// Whether the first list is a subsequence of the second.
fn is_within(part: &[Entry<Event>], whole: &[Entry<Event>]) -> bool {
    let mut whole = whole.iter().map(told);
    part.iter()
        .map(told)
        .all(|entry| whole.any(|other| other == entry))
}

fn lines(bytes: &[u8]) -> Vec<&[u8]> {
    bytes.split_inclusive(|&byte| byte == b'\n').collect()
}

#[test]
fn a_sound_record_is_taken_whole() {
    let life = Life::sixty();
    let found = saved(&life.bytes());
    assert_eq!((found.taken, found.left_out), (life.entries, Vec::new()));
    let empty = saved(&Life::default().bytes());
    assert_eq!((empty.taken, empty.left_out), (Vec::new(), Vec::new()));
}

#[test]
fn a_moved_or_reformatted_record_is_taken_in_full() {
    let life = Life::sixty();
    let bytes = life.bytes();
    let text = String::from_utf8(bytes.clone()).unwrap();
    let mut swapped = lines(&bytes);
    swapped.swap(20, 30);
    let mut first = lines(&bytes);
    first.swap(0, 1);
    let cases = [
        text.replace('\n', "\r\n").into_bytes(),
        format!("\u{feff}{text}").into_bytes(),
        text.trim_end().as_bytes().to_vec(),
        swapped.concat(),
        first.concat(),
    ];
    for bad in cases {
        assert_eq!(saved(&bad).taken, life.entries);
    }
    let mut doubled = lines(&bytes);
    doubled.insert(25, doubled[7]);
    let found = saved(&doubled.concat());
    assert_eq!(found.taken, life.entries);
    let [left] = &found.left_out[..] else {
        panic!("{:?}", found.left_out)
    };
    assert_eq!((left.line, &left.reason), (Some(26), &Why::Twice));
}

#[test]
fn a_damaged_checksum_loses_nothing_where_the_next_line_proves_it() {
    let life = Life::sixty();
    let bytes = life.bytes();
    for line in [1, 2, 17, 59] {
        let end = line_ends(&bytes)[line];
        for back in (2..26).step_by(7) {
            let mut bad = bytes.clone();
            bad[end - back] ^= 3;
            let found = saved(&bad);
            assert_eq!(
                found.taken, life.entries,
                "line {line}, {back} from its end"
            );
            assert_eq!(found.left_out, []);
        }
    }
}

#[test]
fn a_changed_header_loses_nothing() {
    let life = Life::sixty();
    let mut bad = life.bytes();
    for at in (0..35).step_by(6) {
        bad[at] ^= 2;
        assert_eq!(saved(&bad).taken, life.entries, "byte {at}");
        bad[at] ^= 2;
    }
    let newer = folder_with(b"{\"homehook\":2}\n{}\n");
    let refused = look_over(newer.path()).unwrap_err();
    assert!(
        matches!(refused, RecordError::NewerFormat { .. }),
        "{refused:?}"
    );
}

#[test]
fn a_lost_event_is_named_and_its_dependents_are_left_out() {
    let mut life = Life::begun();
    life.step(0, 0); // line 4: takes the first card to a ring
    life.step(4, 9); // line 5: uses thread of another
    life.step(2, 0); // line 6: gives the first card back
    life.step(8, 0); // line 7: takes that back
    assert_eq!(life.entries.len(), 6);
    let mut bad = life.bytes();
    let end = line_ends(&bad)[2];
    bad[end + 30] ^= 1;
    let found = saved(&bad);
    assert_eq!(found.taken.len(), 3);
    assert_eq!(found.taken[2].event, life.entries[3].event);
    let left: Vec<_> = found
        .left_out
        .iter()
        .map(|left| (left.line, &left.reason))
        .collect();
    assert!(
        matches!(
            left[..],
            [
                (
                    Some(4),
                    Why::LineError(LineError::Changed | LineError::Shape)
                ),
                (Some(6), Why::ApplyError(_)),
                (Some(7), Why::NothingToTurn(5)),
            ]
        ),
        "{left:?}"
    );
    let act = life.entries[4].event.act.clone();
    assert_eq!(found.left_out[1].what, What::Change(act));
}

#[test]
fn another_record_pasted_at_the_end_is_not_mixed_in() {
    let life = Life::sixty();
    // Both records share their past and diverge after two events.
    let mut other = Life::begun();
    (0..90).for_each(|n| other.step(n, u16::from(n) * 13 + 1));
    assert!(other.entries.len() > 30);
    let found = saved(&[life.bytes(), other.bytes()].concat());
    assert_eq!(found.taken, life.entries);
    assert!(
        found
            .left_out
            .iter()
            .any(|left| left.reason == Why::OtherRecord)
    );
    // Nor if the record it was pasted to is damaged.
    let mut bad = life.bytes();
    let at = line_ends(&bad)[40] + 30;
    bad[at] ^= 1;
    let found = saved(&[bad, other.bytes()].concat());
    assert!(is_within(&found.taken, &life.entries));
    assert!(found.taken.len() >= 40);
}

#[test]
fn missing_acknowledged_events_are_reported() {
    let life = Life::sixty();
    let bytes = life.bytes();
    let ends = line_ends(&bytes);
    let dir = folder_with(&bytes);
    write_end_marker(dir.path());
    fs::write(record_in(dir.path()), &bytes[..ends[50]]).unwrap();
    let found = look_over(dir.path()).unwrap();
    assert_eq!(found.taken.len(), 50);
    let [left] = &found.left_out[..] else {
        panic!("{:?}", found.left_out)
    };
    let (first, last) = (51, 60);
    assert_eq!(left.what, What::Gone { first, last });
    let removed = [&bytes[..ends[20]], &bytes[ends[23]..]].concat();
    fs::write(record_in(dir.path()), removed).unwrap();
    let found = look_over(dir.path()).unwrap();
    let gone: Vec<_> = found
        .left_out
        .iter()
        .filter(|left| left.reason == Why::Gone)
        .collect();
    let (first, last) = (21, 23);
    assert_eq!(
        (gone.len(), &gone[0].what),
        (1, &What::Gone { first, last })
    );
}

#[test]
fn a_new_stash_is_written_only_to_an_empty_place() {
    let life = Life::begun();
    let dir = new_folder();
    fs::write(dir.path().join("notes"), "mine").unwrap();
    let like = folder_with(&life.bytes());
    let write = |into: &Path| write(into, like.path(), &life.entries);
    let refused = write(dir.path()).unwrap_err();
    assert!(matches!(refused, WriteError::NotEmpty(_)), "{refused:?}");
    assert_eq!(contents(dir.path()).len(), 1);
    let refused = write(&dir.path().join("notes")).unwrap_err();
    assert!(matches!(refused, WriteError::Failed { .. }), "{refused:?}");
    let empty = new_folder();
    write(empty.path()).unwrap();
    assert_eq!(contents(empty.path()).len(), 2);
}

#[cfg(unix)]
#[test]
fn a_new_stash_has_the_old_ones_mode_and_a_failed_one_leaves_nothing() {
    use std::os::unix::fs::PermissionsExt;
    let life = Life::begun();
    let like = folder_with(&life.bytes());
    let outer = new_folder();
    for mode in [0o600, 0o660] {
        fs::set_permissions(record_in(like.path()), fs::Permissions::from_mode(mode)).unwrap();
        let into = outer.path().join(format!("{mode:o}"));
        write(&into, like.path(), &life.entries).unwrap();
        for file in contents(&into).into_keys() {
            let made = fs::metadata(&file).unwrap().permissions().mode();
            assert_eq!(made & 0o777, mode, "{file:?}");
        }
    }
    let under_a_file = record_in(like.path()).join("saved");
    assert!(write(&under_a_file, like.path(), &life.entries).is_err());
    let deep = outer.path().join("a/b");
    fs::write(outer.path().join("a"), "").unwrap();
    assert!(write(&deep, like.path(), &life.entries).is_err());
    assert_eq!(fs::read(outer.path().join("a")).unwrap(), b"");
}

/// A way to damage a record.
#[derive(Debug, Clone)]
enum Harm {
    Byte(prop::sample::Index, u8),
    Cut(prop::sample::Index),
    Remove(prop::sample::Index),
    Double(prop::sample::Index, prop::sample::Index),
    Swap(prop::sample::Index, prop::sample::Index),
    Hole(prop::sample::Index, u16),
    Insert(prop::sample::Index, Vec<u8>),
    LineEnds,
    ByteOrderMark,
}

fn harm() -> impl Strategy<Value = Harm> {
    use prop::sample::Index;
    prop_oneof![
        4 => (any::<Index>(), 1_u8..).prop_map(|(at, by)| Harm::Byte(at, by)),
        1 => any::<Index>().prop_map(Harm::Cut),
        2 => any::<Index>().prop_map(Harm::Remove),
        2 => any::<(Index, Index)>().prop_map(|(from, to)| Harm::Double(from, to)),
        2 => any::<(Index, Index)>().prop_map(|(from, to)| Harm::Swap(from, to)),
        2 => (any::<Index>(), 1_u16..1500).prop_map(|(at, size)| Harm::Hole(at, size)),
        1 => (any::<Index>(), prop::collection::vec(any::<u8>(), 1..20))
            .prop_map(|(at, bytes)| Harm::Insert(at, bytes)),
        1 => Just(Harm::LineEnds),
        1 => Just(Harm::ByteOrderMark),
    ]
}

fn harmed(bytes: &[u8], harm: &Harm) -> Vec<u8> {
    let mut bad = bytes.to_vec();
    if bad.is_empty() {
        return bad;
    }
    let mut rows: Vec<&[u8]> = lines(bytes);
    match harm {
        Harm::Byte(at, by) => {
            let at = at.index(bad.len());
            bad[at] ^= by;
        }
        Harm::Cut(at) => bad.truncate(at.index(bytes.len() + 1)),
        Harm::Remove(at) => {
            rows.remove(at.index(rows.len()));
            bad = rows.concat();
        }
        Harm::Double(from, to) => {
            let row = rows[from.index(rows.len())];
            rows.insert(to.index(rows.len() + 1), row);
            bad = rows.concat();
        }
        Harm::Swap(from, to) => {
            let (from, to) = (from.index(rows.len()), to.index(rows.len()));
            rows.swap(from, to);
            bad = rows.concat();
        }
        Harm::Hole(at, size) => {
            let from = at.index(bad.len());
            let to = (from + usize::from(*size)).min(bytes.len());
            bad[from..to].fill(0);
        }
        Harm::Insert(at, new) => {
            let at = at.index(bytes.len() + 1);
            bad.splice(at..at, new.iter().copied());
        }
        Harm::LineEnds => {
            bad = rows
                .iter()
                .flat_map(|row| [row.trim_ascii_end(), b"\r\n"])
                .flatten()
                .copied()
                .collect();
        }
        Harm::ByteOrderMark => bad = [b"\xef\xbb\xbf", bytes].concat(),
    }
    bad
}

proptest! {
    #![proptest_config(crate::testing::one_case_in(8))]

    #[test]
    fn whatever_the_damage_the_salvage_is_sound_and_from_this_record(
        steps in prop::collection::vec((any::<u8>(), any::<u16>()), 0..30),
        harms in prop::collection::vec(harm(), 0..3),
    ) {
        let mut life = Life::begun();
        for (kind, number) in steps {
            life.step(kind, number);
        }
        let bytes = life.bytes();
        let bad = harms.iter().fold(bytes.clone(), |bytes, harm| harmed(&bytes, harm));
        let dir = folder_with(&bad);
        match look_over(dir.path()) {
            // A header with a newer version, and no remaining sign of damage.
            Err(RecordError::NewerFormat { .. }) => prop_assert_ne!(&bad, &bytes),
            Err(error) => prop_assert!(false, "{error:?}"),
            Ok(_) => {
                let found = saved(&bad);
                prop_assert!(is_within(&found.taken, &life.entries), "{harms:?}");
                // Lines still in their places, from the first on, are taken.
                let (now, once) = (lines(&bad), lines(&bytes));
                let same = now.iter().zip(&once).take_while(|(now, once)| now == once);
                let good = same.count().saturating_sub(1);
                prop_assert!(found.taken.len() >= good);
                prop_assert_eq!(&found.taken[..good], &life.entries[..good]);
                if bad == bytes {
                    prop_assert_eq!((found.taken, found.left_out), (life.entries, Vec::new()));
                } else if found.left_out.is_empty() {
                    prop_assert_eq!(found.taken.last().map(told), life.entries[..found.taken.len()].last().map(told));
                }
            }
        }
    }
}

#[test]
fn an_unreadable_change_is_reported_with_its_kind_and_time() {
    let life = Life::sixty();
    let mut lines: Vec<Vec<u8>> = (lines(&life.bytes()).into_iter().map(<[u8]>::to_vec)).collect();
    let text = String::from_utf8(lines[9].clone()).unwrap();
    lines[9] = text.replace("\"changes\"", "\"chamges\"").into_bytes();
    let found = look_over(folder_with(&lines.concat()).path()).unwrap();
    let left = &found.left_out[0];
    assert_eq!(left.line, Some(10));
    let What::Fragment { kind, time } = &left.what else {
        panic!("{left:?}")
    };
    assert!(text.contains(&format!("{:?}", kind.as_ref().unwrap())));
    let made = time.as_ref().unwrap().parse().ok();
    assert_eq!(made, Some(life.entries[8].time));
}
