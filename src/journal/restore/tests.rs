use super::*;
use crate::journal::keeper::Keeper;
use crate::journal::life::{Life, bytes_of};
use crate::journal::samples::{folder_with, line_ends};
use crate::journal::{Access, Record};

const NOW: Duration = Duration::ZERO;

/// A stash with sixty events, its `record.end`, and a copy from when it had forty.
fn stash() -> (tempfile::TempDir, Life, PathBuf) {
    let life = Life::sixty();
    let dir = folder_with(&life.bytes());
    let copy = dir.path().join("copy.jsonl");
    fs::write(&copy, bytes_of(&life.entries[..40])).unwrap();
    let chain = proved(&folder::record_in(dir.path())).unwrap().unwrap();
    let mut end = EndFile::open(dir.path()).unwrap();
    end.note(chain.events, chain.sum).unwrap();
    (dir, life, copy)
}

#[test]
fn a_copy_takes_the_records_place_and_the_record_is_kept() {
    let (dir, life, copy) = stash();
    let aside = dir.path().join("record.before-restore-1.jsonl");
    let restored = restore(dir.path(), &copy, NOW).unwrap();
    assert_eq!((restored.events, restored.lacking), (40, 20));
    assert_eq!(restored.aside.as_ref(), Some(&aside));
    assert_eq!(fs::read(&aside).unwrap(), life.bytes());
    let opened = Record::<Event>::open(dir.path()).unwrap();
    assert_eq!(
        (opened.entries, opened.notices),
        (life.entries[..40].to_vec(), Vec::new())
    );
    drop(opened.record);
    // And back again; what was set aside before is not replaced.
    let restored = restore(dir.path(), &aside, NOW).unwrap();
    assert_eq!((restored.events, restored.lacking), (60, 0));
    assert_eq!(
        restored.aside,
        Some(dir.path().join("record.before-restore-2.jsonl"))
    );
    assert_eq!(fs::read(&aside).unwrap(), life.bytes());
    let (keeper, notices) = Keeper::open(dir.path(), NOW).unwrap();
    assert_eq!((keeper.events(), notices), (60, Vec::new()));
    assert_eq!(keeper.state(), &life.state);
}

#[test]
fn a_damaged_or_missing_record_is_restored() {
    let (dir, life, copy) = stash();
    let mut bad = life.bytes();
    let at = line_ends(&bad)[50];
    bad[at + 20] ^= 1;
    fs::write(folder::record_in(dir.path()), &bad).unwrap();
    let restored = restore(dir.path(), &copy, NOW).unwrap();
    assert_eq!(restored.lacking, 20);
    assert_eq!(fs::read(restored.aside.unwrap()).unwrap(), bad);
    fs::remove_file(folder::record_in(dir.path())).unwrap();
    let restored = restore(dir.path(), &copy, NOW).unwrap();
    assert_eq!(
        (restored.events, restored.lacking, restored.aside),
        (40, 0, None)
    );
    assert_eq!(
        Record::<Event>::open(dir.path()).unwrap().access,
        Access::Writer
    );
}

#[test]
fn nothing_changes_where_the_copy_is_not_sound_or_another_writes() {
    let (dir, life, copy) = stash();
    let untouched = || {
        assert_eq!(
            fs::read(folder::record_in(dir.path())).unwrap(),
            life.bytes()
        );
        let files = fs::read_dir(dir.path()).unwrap();
        files
            .map(|file| file.unwrap().file_name())
            .filter(|name| name != "lock")
            .count()
    };
    let there = untouched();
    let good = fs::read(&copy).unwrap();
    let mut bad = good.clone();
    bad[good.len() / 2] ^= 1;
    let mut misfit = life.entries[..40].to_vec();
    misfit.remove(1);
    (1..)
        .zip(&mut misfit)
        .for_each(|(seq, entry)| entry.seq = seq);
    for bytes in [
        &bad[..],
        &good[..good.len() - 9],
        b"",
        b"{\"homehook\":9}\n",
        &bytes_of(&misfit),
    ] {
        fs::write(&copy, bytes).unwrap();
        let refused = restore(dir.path(), &copy, NOW).unwrap_err();
        assert!(matches!(refused, RestoreError::Unsound { .. }), "{refused}");
        assert_eq!(untouched(), there);
    }
    let missing = dir.path().join("no such file");
    let refused = restore(dir.path(), &missing, NOW).unwrap_err();
    assert!(
        matches!(refused, RestoreError::Unreadable { .. }),
        "{refused}"
    );
    fs::write(&copy, good).unwrap();
    let _writer = Record::<Event>::open(dir.path()).unwrap();
    let refused = restore(dir.path(), &copy, NOW).unwrap_err();
    assert!(matches!(refused, RestoreError::Open(Some(_))), "{refused}");
    assert_eq!(untouched(), there);
}

/// Stopped before each step, as by a crash: the folder as it stands then opens without a word, with
/// all events of the one record or all of the other, and the record before is there.
#[test]
fn wherever_it_is_stopped_one_of_the_two_records_is_there_whole() {
    let steps = [
        Step::Bring,
        Step::SetAside,
        Step::Forget,
        Step::Exchange,
        Step::Note,
    ];
    for (number, stop) in steps.into_iter().enumerate() {
        let (dir, life, copy) = stash();
        let mut passed = Vec::new();
        let mut seen = None;
        let stopped = carry_out(dir.path(), &copy, NOW, |step| {
            passed.push(step);
            if step != stop {
                return Ok(());
            }
            // As a crash leaves it, without what is put right when a step only fails.
            let crashed = tempfile::tempdir().unwrap();
            for file in fs::read_dir(dir.path()).unwrap() {
                let file = file.unwrap();
                fs::copy(file.path(), crashed.path().join(file.file_name())).unwrap();
            }
            seen = Some(crashed);
            Err(io::ErrorKind::StorageFull.into())
        });
        assert!(matches!(stopped, Err(RestoreError::Failed { .. })));
        assert_eq!(passed, steps[..=number]);
        for place in [seen.unwrap().path(), dir.path()] {
            let opened = Record::<Event>::open(place).unwrap();
            assert_eq!(
                (opened.access, opened.notices),
                (Access::Writer, Vec::new()),
                "{stop:?}"
            );
            let events = if stop == Step::Note { 40 } else { 60 };
            assert_eq!(opened.entries, life.entries[..events], "{stop:?}");
            let aside = place.join("record.before-restore-1.jsonl");
            if number >= 2 {
                assert_eq!(fs::read(aside).unwrap(), life.bytes(), "{stop:?}");
            }
        }
        // What had been brought is gone again.
        let left = fs::read_dir(dir.path()).unwrap();
        let left = left.map(|file| file.unwrap().file_name().into_string().unwrap());
        assert_eq!(left.filter(|name| name.contains("restored-")).count(), 0);
    }
}
