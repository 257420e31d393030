//! The demo stash, shown instead of the user's own until the user leaves it.

use super::EventLoop;
use crate::journal::store::Store;
use crate::tui::app::App;
use crate::tui::app::derived::Derived;
use crate::tui::screens::start::Start;

/// A stash in a temporary folder that is deleted with it.
#[derive(Debug)]
pub struct Throwaway {
    /// The stash.
    pub store: Store,
    /// Its folder.
    pub folder: tempfile::TempDir,
}

/// Builds the demo stash, or says why it can't.
pub type Demo = dyn Fn() -> Result<Throwaway, String>;

/// The user's own stash while the demo is shown.
pub(super) struct Aside {
    app: App,
    store: Store,
    /// The folder of the demo stash.
    folder: tempfile::TempDir,
}

impl EventLoop<'_> {
    /// Shows the demo stash.
    pub(super) fn enter_demo(&mut self) {
        let demo = match (self.demo)() {
            Ok(demo) => demo,
            Err(why) => {
                self.app.complain(why);
                return;
            }
        };
        let own = &self.app;
        let mut app = App {
            keys: own.keys.clone(),
            mouse: own.mouse,
            still: own.still,
            announces: own.announces,
            kept_in: demo.folder.path().display().to_string(),
            demo: true,
            derived: Derived::of(demo.store.state()),
            opened_after: demo.store.history().last_done().map_or(0, |past| past.seq),
            looks: own.looks,
            ..App::new(own.size, own.now, own.theme)
        };
        app.open(Start::of_demo());
        self.planner.stop();
        self.aside = Some(Aside {
            app: std::mem::replace(&mut self.app, app),
            store: std::mem::replace(&mut self.store, demo.store),
            folder: demo.folder,
        });
        self.judge();
    }

    /// Leaves the demo stash; returns whether it was shown.
    pub(super) fn leave_demo(&mut self) -> bool {
        let Some(Aside { app, store, folder }) = self.aside.take() else {
            return false;
        };
        let (size, mouse, looks) = (self.app.size, self.app.mouse, self.app.looks);
        self.app = App { size, mouse, ..app };
        self.app.landed.clear();
        self.app.look(looks);
        self.app.say("Back at your own stash");
        self.planner.stop();
        self.store = store;
        drop(folder);
        self.judge();
        true
    }
}
