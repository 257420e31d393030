//! A project driven by keys: its key, its kit, its thread and the buy list.

use crate::model::thread::Strands;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::ring;
use crate::stash::event::Act;
use crate::stash::projects::buy_list::Purchase;
use crate::text;
use crate::tui::key::{Code, Key};
use crate::tui::keymap::Scope;
use crate::tui::message::Message;
use crate::tui::screens::buy::Buy;
use crate::tui::testing::{ROBIN, TestApp, now};
use crate::tui::theme::Depth;

fn robin() -> TestApp {
    TestApp::sample(Depth::None).after(ROBIN)
}

fn screen(desk: &TestApp) -> String {
    desk.drawn((100, 30)).join("\n")
}

fn key(desk: &TestApp) -> Vec<String> {
    let ring = desk.state.find_ring("Robin").unwrap();
    ring.key.iter().map(text::thread::line_in_brief).collect()
}

/// The buy list for Robin.
fn to_buy(desk: &TestApp) -> Vec<Purchase> {
    let robin = desk.state.find_ring("Robin").unwrap().id;
    Buy::of(vec![robin]).list(&desk.state)
}

fn on(desk: &TestApp, card: &str) -> String {
    let id = desk.state.find_card(card).unwrap();
    text::places::place_of(&desk.state, desk.state.card(id).unwrap())
}

#[test]
fn imported_key_shows_the_state_of_each_colour() {
    let asked = TestApp::sample(Depth::None).after("rnRobin\nkey.csv\n\n");
    let text = screen(&asked);
    assert!(
        text.contains("7 lines for the chart key of 'Robin'"),
        "{text}"
    );
    assert!(text.contains("1 colour isn't in the stash"), "{text}");
    assert!(text.contains("Sandbank 99"), "{text}");
    assert!(asked.state.find_ring("Robin").is_none());
    let text = screen(&robin());
    for words in [
        "Robin",
        "7 lines",
        "enough, on A01",
        "split off from Heron",
        "missing",
        "not owned",
        "14 count over 1 thread",
    ] {
        assert!(text.contains(words), "{words} in\n{text}");
    }
}

#[test]
fn ring_bars_fit_on_usual_screens() {
    let desk = robin();
    for size in [(100, 30), (120, 40)] {
        let rows = desk.drawn(size);
        let heading = rows.iter().any(|row| row.contains("on the ring  "));
        assert!(heading, "{rows:?}");
        // The state of each colour still fits in full.
        assert!(rows.iter().any(|row| row.contains("split off from Heron")));
    }
}

#[test]
fn fetching_follows_board_order_and_marks_missing_cards() {
    let mut desk = robin();
    desk.keys("t");
    // Sandbank 10 on A01, then two that wait to be hung or hang on the other board.
    assert!(screen(&desk).contains("take it off"), "{}", screen(&desk));
    assert_eq!(
        desk.state.hook_name(desk.app.hook(&desk.state).unwrap()),
        "A01"
    );
    desk.keys("\n");
    assert_eq!(on(&desk, "Sandbank:10"), "on the ring 'Robin'");
    assert!(screen(&desk).contains("take it off"), "{}", screen(&desk));
    assert_eq!(
        desk.state.hook_name(desk.app.hook(&desk.state).unwrap()),
        "2-A01"
    );
    desk.keys("m");
    assert!(
        on(&desk, "Meadow:10").starts_with("missing"),
        "{}",
        on(&desk, "Meadow:10")
    );
    desk.keys("A");
    assert_eq!(
        desk.question(),
        "Mark the 1 card left as taken? One undo reverts that."
    );
    let no = desk.after("n");
    assert_eq!(
        (no.commits(), no.app.scope()),
        (desk.commits(), Scope::Pull)
    );
    desk.keys("y");
    assert_eq!(on(&desk, "80"), "on the ring 'Robin'");
    let text = screen(&desk);
    assert!(text.contains("split off 1 length 3 strands"), "{text}");
    desk.keys("\n");
    let split_cards: Vec<_> = desk
        .state
        .cards()
        .filter(|kept| kept.card.parent.is_some())
        .collect();
    assert_eq!(split_cards.len(), 1);
    // 50 hangs with Kite and is split off, too; then the walk ends.
    desk.keys("\n");
    assert_eq!(desk.app.scope(), Scope::Project);
    let said = desk.app.notice.as_ref().unwrap().text.clone();
    assert!(said.contains("in this order"), "{said}");
    // The summary counts missing colours and short ones.
    assert!(
        said.contains("3 colours are not there and 1 colour is short of thread"),
        "{said}"
    );
    desk.keys("t");
    assert!(
        screen(&desk).contains("nothing to fetch"),
        "{}",
        screen(&desk)
    );
}

#[test]
fn one_key_counts_thread_down_and_undo_restores_it() {
    let mut desk = robin().after("tAy\u{1b}");
    let left = |desk: &TestApp| {
        let id = desk.state.find_card("Sandbank:10").unwrap();
        desk.state.card(id).unwrap().strands()
    };
    assert_eq!(left(&desk), Strands(48));
    desk.keys("-");
    assert_eq!(left(&desk), Strands(42));
    desk.keys(",");
    assert_eq!(left(&desk), Strands(41));
    desk.keys("n2\n3\n");
    assert_eq!(left(&desk), Strands(26));
    assert_eq!(desk.app.scope(), Scope::Project);
    desk.keys("uuu");
    assert_eq!(left(&desk), Strands(48));
    desk.keys("j-");
    assert!(screen(&desk).contains("No card of 20 is on this ring"));
}

#[test]
fn colour_splits_off_another_ring_and_rejoins() {
    let mut desk = robin().after("jd");
    let text = screen(&desk);
    assert!(
        text.contains("off Sandbank:20") || text.contains("off 20"),
        "{text}"
    );
    desk.take(Message::Key(Key::ctrl('s')));
    let split_card = desk
        .state
        .cards()
        .find(|kept| kept.card.parent.is_some())
        .unwrap();
    let robin = desk.state.find_ring("Robin").unwrap().id;
    assert_eq!(split_card.place.at, Whereabouts::Ring { ring: robin });
    desk.keys("w");
    assert!(desk.state.cards().all(|kept| kept.card.parent.is_none()));
}

#[test]
fn key_lines_can_be_added_edited_moved_and_deleted() {
    let mut desk = robin();
    assert_eq!(key(&desk), ["10", "20", "10", "80", "60", "99", "50"]);
    desk.keys("e\u{13}");
    assert!(
        screen(&desk).contains("says just that already"),
        "{}",
        screen(&desk)
    );
    desk.keys("\u{1b}e");
    desk.take(Message::Key(Key::ctrl('u')));
    desk.keys("11\u{13}");
    assert_eq!(key(&desk)[0], "11");
    desk.keys("a77");
    desk.take(Message::Key(Key::plain(Code::Tab)));
    desk.take(Message::Key(Key::plain(Code::Tab)));
    desk.take(Message::Key(Key::ctrl('u')));
    desk.keys("Meadow\n*\nburr\n2\n120\u{13}");
    let ring = desk.state.find_ring("Robin").unwrap();
    let line = ring.key.last().unwrap();
    assert_eq!(
        (
            text::thread::line_in_brief(line).as_str(),
            line.stitches().full,
            line.threads()[0].strands
        ),
        ("77", 120, 2)
    );
    assert_eq!(
        (line.symbol.as_str(), line.threads()[0].name.as_str()),
        ("*", "burr")
    );
    // Select the new line; move the changed one down two and delete it.
    desk.keys(&"k".repeat(7));
    desk.keys(">>X");
    assert_eq!(key(&desk), ["20", "10", "80", "60", "99", "50", "77"]);
    desk.keys("u");
    assert_eq!(key(&desk)[2], "11");
    desk.keys("ax\u{13}");
    assert_eq!(key(&desk).len(), 9, "{}", screen(&desk));
    desk.keys("a\u{13}");
    assert!(
        screen(&desk).contains("write the number"),
        "{}",
        screen(&desk)
    );
}

#[test]
fn new_count_sets_usual_threads_unless_others_are_entered() {
    let fabric = |desk: &TestApp| {
        let fabric = desk.state.find_ring("Robin").unwrap().fabric.unwrap();
        (fabric.count, fabric.over)
    };
    let mut desk = robin().after("f28");
    assert_eq!(desk.filled("over"), "2");
    let text = screen(&desk);
    assert!(text.contains("covers about"), "{text}");
    assert_eq!(fabric(&desk.after("\u{13}")), (28, 2));
    assert_eq!(fabric(&desk.after("\n1\u{13}")), (28, 1));
    desk.keys("\u{8}\u{8}16");
    assert_eq!(desk.filled("over"), "1");
    assert_eq!(fabric(&desk.after("\u{13}")), (16, 1));
    // An error takes its place.
    let wrong = screen(&desk.after("x\u{13}"));
    assert!(!wrong.contains("covers about"), "{wrong}");
}

#[test]
fn page_and_walk_name_the_lot_or_warn_of_mixing() {
    let lasts = TestApp::sample(Depth::None)
        .after("NK7\n6\u{13}NV1\n8\u{13}")
        .after(ROBIN);
    for keys in ["", "t"] {
        let text = screen(&lasts.after(keys));
        assert!(
            text.to_lowercase().contains("use lot k7 alone, which"),
            "{text}"
        );
    }
    let short = TestApp::sample(Depth::None).after("NK7\n1\u{13}NV1\n1\u{13}");
    let mixes = short.after(ROBIN);
    let text = screen(&mixes);
    assert!(text.contains("mixes lots, enough"), "{text}");
    assert!(text.contains("dye lots: would mix"), "{text}");
    let text = screen(&mixes.after("t"));
    assert!(text.contains("Would mix"), "{text}");
}

#[test]
fn walk_names_the_thread_and_lot_to_cut() {
    // 10 has one length of each lot and a skein of K7; it needs two lengths.
    let desk = TestApp::sample(Depth::None).after("N\n0\u{13}NK7\n1\n\n\n1\u{13}");
    let desk = desk.after(ROBIN).after("t");
    let text = screen(&desk);
    assert!(text.contains("S cuts 1 length of lot K7"), "{text}");
}

#[test]
fn setting_the_fabric_changes_the_need() {
    let mut desk = robin().after("f");
    desk.take(Message::Key(Key::ctrl('u')));
    desk.keys("28\n");
    desk.take(Message::Key(Key::ctrl('u')));
    desk.keys("2\u{13}");
    let fabric = desk.state.find_ring("Robin").unwrap().fabric.unwrap();
    assert_eq!((fabric.count, fabric.over), (28, 2));
    assert!(screen(&desk).contains("28 count over 2 threads"));
}

#[test]
fn purchase_adds_cards_and_shows_re_hang_plans() {
    let mut desk = robin().after("b");
    let text = screen(&desk);
    assert!(
        text.contains("To buy for Robin") && text.contains("99"),
        "{text}"
    );
    let before = desk.state.cards().len();
    let list = to_buy(&desk);
    let new = list.iter().filter(|line| line.card.is_none()).count();
    assert!(new >= 1 && list.len() > 1);
    desk.keys("\n");
    assert!(desk.app.scope() == Scope::Confirm);
    desk.keys("y");
    assert_eq!(desk.state.cards().len(), before + new);
    assert_eq!(desk.app.scope(), Scope::Plans);
    // A colour with zero skeins is left out.
    let mut desk = robin().after("b");
    let lines = list.len();
    for _ in 0..lines {
        desk.keys("---------j");
    }
    desk.keys("\n");
    assert_eq!(desk.state.cards().len(), before);
    assert_eq!(desk.app.scope(), Scope::Buy);
}

#[test]
fn escape_from_the_buy_list_returns_to_the_rings() {
    let mut desk = robin().after("\u{1b}b");
    assert_eq!(desk.app.scope(), Scope::Buy);
    desk.keys("\u{1b}");
    assert_eq!(desk.app.scope(), Scope::Rings);
    // The selected projects are bought for, in the order they were opened.
    desk.keys("jj b");
    assert!(
        screen(&desk).contains("To buy for Robin "),
        "{}",
        screen(&desk)
    );
    desk.keys("\u{1b}k b");
    assert!(screen(&desk).contains("Robin"), "{}", screen(&desk));
    desk.keys("\u{1b}");
    assert_eq!(desk.app.scope(), Scope::Rings);
}

#[test]
fn using_thread_warns_when_low_given_the_progress() {
    let mut desk = robin().after("tAy\u{1b}");
    // 80 needs more than its card has.
    desk.keys("jjj-");
    let text = screen(&desk);
    assert!(text.contains("80: 7 lengths on the ring"), "{text}");
    assert!(desk.app.notice.as_ref().is_some_and(|notice| notice.wrong));
    desk.keys("%90\n\u{13}");
    assert_eq!(desk.app.scope(), Scope::Project);
    desk.keys("-");
    let text = screen(&desk);
    assert!(text.contains("Used 1 length"), "{text}");
    // The list of rings always shows what runs low.
    desk.keys("uu\u{1b}");
    assert!(screen(&desk).contains("5 % 1 low"), "{}", screen(&desk));
}

/// Import and purchase show plans for the same cards: those a re-hang would hang.
#[test]
fn split_cards_trigger_no_plans_after_import_or_purchase() {
    use crate::stash::command::rehang::to_hang;
    use crate::stash::command::{hang, thread};
    use crate::tui::message::Want;

    let mut desk = TestApp::sample(Depth::None);
    for (card, hook_name) in [("80", "D01"), ("81", "D02")] {
        let card = desk.state.find_card(card).unwrap();
        let event = hang::hang(&desk.state, card, hook_name, now()).unwrap();
        desk.state.apply(&event).unwrap();
    }
    let whole = desk.state.find_card("40").unwrap();
    let split_card =
        thread::split(&desk.state, "Kite", whole, Strands(6), None, "", now()).unwrap();
    desk.state.apply(&split_card).unwrap();
    assert!(desk.state.cards().any(|kept| kept.home.is_none()));
    assert_eq!(to_hang(&desk.state).count(), 0);
    let list = |text: &str| Message::FileRead {
        path: "list.csv".to_owned(),
        want: Want::CardList {
            range: "Sandbank".to_owned(),
        },
        bytes: Ok(text.as_bytes().to_vec()),
    };
    desk.keys("ilist.csv\nSandbank");
    desk.take(list("number,lengths\n40,3\n"));
    assert_eq!(desk.app.scope(), Scope::Matching);
    desk.keys("\n\n");
    assert_eq!(desk.app.scope(), Scope::Board);
    let mut listed = desk.clone();
    listed.keys("ilist.csv\nSandbank");
    listed.take(list("number,lengths\n45,3\n"));
    listed.keys("\n");
    assert!(listed.app.scope() == Scope::Plans);
    assert_eq!(to_hang(&listed.state).count(), 1);
    for (mut bought, plans) in [(desk, false), (listed, true)] {
        let rings = bought.state.rings().map(|ring| ring.id).collect();
        bought.app.open(Buy::of(rings));
        let (skeins, added) = (1, 0);
        bought.take(Message::Recorded(Ok(Act::Bought { skeins, added })));
        assert_eq!(bought.app.scope() == Scope::Plans, plans);
    }
}

#[test]
fn buying_a_missing_card_again_replaces_it() {
    let mut desk = robin();
    let card = desk.state.find_card("Sandbank:10").unwrap();
    let event = ring::missing(&desk.state, &[card], now()).unwrap();
    desk.state.apply(&event).unwrap();
    desk.keys("b");
    let mut words = String::new();
    for line in to_buy(&desk) {
        // The list suggests looking for it first, so buy it explicitly.
        words.push_str(if line.card == Some(card) {
            "+j"
        } else {
            "---------j"
        });
    }
    desk.keys(&format!("{words}\n"));
    let kept = desk.state.card(card).unwrap();
    assert!(kept.is_home());
    assert_eq!(kept.strands(), Strands(48));
    let said = desk.app.notice.as_ref().map(|notice| notice.text.clone());
    let said = said.unwrap_or_default();
    assert!(
        said.contains("takes the place of the missing one; hang it on A01"),
        "{said}"
    );
}

#[test]
fn buy_names_a_hanging_project_if_no_other_is_in_use() {
    let mut desk = robin();
    for ring in ["Heron", "Robin"] {
        let ring = desk.state.find_ring(ring).unwrap().clone();
        let event = ring::hang_up(&desk.state, &ring, "D05", now()).unwrap();
        desk.state.apply(&event).unwrap();
    }
    desk.keys("\u{1b}b");
    let said = &desk.app.notice.as_ref().unwrap().text;
    assert!(
        said.starts_with("'Robin' hangs on a hook. Enter opens it"),
        "{said}"
    );
    // Without any key, no shell command is named.
    let mut desk = TestApp::sample(Depth::None).after("rb");
    let said = desk.app.notice.take().unwrap().text;
    assert!(
        !said.contains("homehook") && said.contains("Begin one with n"),
        "{said}"
    );
}

#[test]
fn undoing_a_new_project_returns_to_the_rings() {
    let mut desk = TestApp::sample(Depth::None).after("rnWren\n\u{13}");
    assert_eq!(desk.app.scope(), Scope::Project);
    desk.keys("u");
    assert_eq!(desk.app.scope(), Scope::Rings);
    assert!(desk.state.find_ring("Wren").is_none());
}

#[test]
fn enter_never_closes_a_ring_and_closed_rings_reopen() {
    let mut desk = TestApp::sample(Depth::None).after("rjp");
    // The second ring of the list has one card.
    let project = "Kite".to_owned();
    assert_eq!(desk.app.scope(), Scope::PutAway, "{}", screen(&desk));
    desk.keys(
        "



",
    );
    assert_eq!(desk.app.scope(), Scope::Confirm);
    let text = screen(&desk);
    assert!(
        text.contains("Press y for yes") && text.contains("leaves it open"),
        "{text}"
    );
    let closed = |desk: &TestApp| desk.state.find_ring(&project).unwrap().is_closed();
    assert!(!closed(&desk));
    assert!(!closed(&desk.after("n")));
    desk.keys("y");
    assert!(closed(&desk));
    // It moves to the end of the list.
    desk.keys("jjjjj");
    let text = screen(&desk);
    assert!(text.contains("closed since today; c reopens it"), "{text}");
    let refused = desk.after("p");
    assert!(screen(&refused).contains("is closed. c reopens it"));
    desk.keys("c");
    assert!(!closed(&desk));
}

#[test]
fn blend_has_a_row_per_thread_and_notion_has_its_own() {
    use crate::stash::command::key;
    use crate::stash::testing::projects::{line_of, notion, thread};
    let mut desk = robin();
    let blend = line_of(
        &[thread(&desk.state, "10", 1), thread(&desk.state, "20", 1)],
        400,
    );
    for (at, line) in [blend, notion("seed bead", 24)].into_iter().enumerate() {
        let robin = desk.state.find_ring("Robin").unwrap();
        let event = key::put(robin, Some(at), line).unwrap().unwrap();
        desk.state.apply(&event).unwrap();
    }
    let text = screen(&desk);
    assert!(text.contains("seed bead: bead, 24 pieces"), "{text}");
    assert_eq!(key(&desk)[..2], ["10+20", "seed bead"]);
    // Both rows of the blend are selected together, with details of each thread below.
    assert!(
        text.lines()
            .any(|line| line.trim_start_matches(['│', ' ']).starts_with("+ ")),
        "{text}"
    );
    desk.keys("j");
    assert!(screen(&desk).matches("seed bead").count() >= 2);
    // Another number of pieces, and the name stays.
    desk.keys("e\n\n\n\n30\u{13}");
    let text = screen(&desk);
    assert!(text.contains("seed bead: bead, 30 pieces"), "{text}");
}

#[test]
fn presenter_remote_steps_through_a_fetch() {
    let mut desk = robin().after("t");
    let before = desk.state.clone();
    let fetched = |desk: &TestApp| {
        let ring = desk.state.find_ring("Robin").unwrap();
        desk.state.cards_on(ring).count()
    };
    for (code, cards) in [
        (Code::PageUp, 0),
        (Code::PageDown, 1),
        (Code::PageUp, 0),
        (Code::PageUp, 0),
    ] {
        desk.take(Message::Key(Key::plain(code)));
        assert_eq!((fetched(&desk), desk.app.scope()), (cards, Scope::Pull));
    }
    assert_eq!(desk.state, before);
}

#[test]
fn fully_split_card_is_not_requested_again() {
    let mut desk = robin().after("tAy");
    let mut asked = Vec::new();
    while desk.app.scope() == Scope::Pull {
        let card = desk.app.card(&desk.state).unwrap().card.id;
        assert!(!asked.contains(&card), "{}", screen(&desk));
        asked.push(card);
        desk.keys("d");
        let top = desk.app.stack.last_mut().unwrap();
        for (input, text) in top.inputs().into_iter().zip(["8", "0"]) {
            input.fill(text);
        }
        desk.keys("\u{13}");
    }
    assert!(asked.len() > 1, "{asked:?}");
}

#[test]
fn missing_colour_is_searched_for_before_buying() {
    let mut desk = robin().after("tAy");
    let card = desk.state.find_card("Sandbank:10").unwrap();
    let skeins = |desk: &TestApp| {
        let list = to_buy(desk).into_iter();
        let mut of = list.filter(|line| line.card == Some(card));
        of.next().map(|line| (line.skeins, line.missing))
    };
    assert_eq!(skeins(&desk), None);
    let event = ring::missing(&desk.state, &[card], now()).unwrap();
    desk.state.apply(&event).unwrap();
    assert_eq!(skeins(&desk), Some((0, true)));
    desk.keys("\u{1b}");
    desk.app
        .open(Buy::of(desk.state.rings().map(|ring| ring.id).collect()));
    assert!(screen(&desk).contains("missing: look first"));
}

#[test]
fn split_and_use_take_the_chosen_lot_of_a_card_with_two() {
    let mut desk = TestApp::sample(Depth::None).after("NK7\n6\n\u{13}NV1\n4\u{13}");
    desk = desk.after(ROBIN);
    let thread = |desk: &TestApp, card: &str| {
        let kept = desk
            .state
            .card(desk.state.find_card(card).unwrap())
            .unwrap();
        text::thread::by_lot(&kept.thread, desk.state.put_up(&kept.card))
    };
    // Without a choice it would be V1, the smaller one that lasts.
    desk.keys("d2\n0\nK7\n\u{13}");
    assert_eq!(
        thread(&desk, "Sandbank:10"),
        "4 lengths of lot K7, 4 lengths of lot V1"
    );
    assert_eq!(thread(&desk, "10@Robin"), "2 lengths of lot K7");
    // Split off of both lots, the card on the ring asks for one too.
    desk.keys("d1\n0\nV1\n\u{13}");
    desk.keys("n1\n0\nV1\u{13}");
    assert_eq!(thread(&desk, "10@Robin"), "2 lengths of lot K7");
}
