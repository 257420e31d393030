//! The choice of a sheet to import from a workbook with several.

use super::chart_key::ChartKey;
use super::import::Import;
use super::import_list::{conversion_list, range_list};
use crate::exchange::sheets;
use crate::stash::state::State;
use crate::tui::app::screen::Context;
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs};
use crate::tui::widgets::text::shown;

/// A list read from a file.
#[derive(Clone, Debug)]
pub enum List {
    /// A card list.
    Cards {
        /// The file's path.
        path: String,
        /// The range of rows that name none; may be empty.
        range: String,
    },
    /// A range list.
    Range {
        /// The file's path.
        path: String,
        /// The range.
        range: String,
    },
    /// A conversion list.
    Matches {
        /// The file's path.
        path: String,
    },
    /// The chart key of a project.
    Key {
        /// The file's path.
        path: String,
        /// The project.
        project: String,
        /// The range of rows that name none; may be empty.
        range: String,
    },
}

impl List {
    fn path(&self) -> &str {
        match self {
            Self::Cards { path, .. }
            | Self::Range { path, .. }
            | Self::Matches { path }
            | Self::Key { path, .. } => path,
        }
    }

    /// Shows the preview of the list. Asks for the sheet first if its file is a workbook with
    /// several.
    ///
    /// # Errors
    /// Why the file isn't such a list.
    pub fn read(self, context: &mut Context<'_>, bytes: &[u8]) -> Result<(), String> {
        let sheets = sheets(bytes);
        if sheets.len() > 1 {
            context.open(Sheet::form(self, bytes, &sheets));
            return Ok(());
        }
        self.go_on(context, bytes, None)
    }

    fn go_on(
        &self,
        context: &mut Context<'_>,
        bytes: &[u8],
        sheet: Option<&str>,
    ) -> Result<(), String> {
        let (state, now) = (context.stash.state, context.app.now);
        match self {
            Self::Cards { path, range } => {
                let named = (path.as_str(), range.as_str());
                let import = Import::of(context.app, state, named, (bytes.to_vec(), sheet))?;
                context.open(import);
            }
            Self::Range { range, .. } => range_list(context, range, bytes, sheet)?,
            Self::Matches { .. } => conversion_list(context, bytes, sheet)?,
            Self::Key {
                path,
                project,
                range,
            } => {
                let named = (path.as_str(), project.as_str(), range.as_str());
                context.open(ChartKey::read(state, named, (bytes, sheet), now)?);
            }
        }
        Ok(())
    }
}

/// The choice of a sheet.
#[derive(Clone, Debug)]
pub struct Sheet {
    list: List,
    bytes: Vec<u8>,
    sheet: Input,
}

impl Sheet {
    fn form(list: List, bytes: &[u8], sheets: &[String]) -> Form<Self> {
        let first = sheets.first().map_or("", String::as_str);
        Form::new(Self {
            list,
            bytes: bytes.to_vec(),
            sheet: Input::one_of("sheet", "which sheet of it is the list", sheets, first),
        })
    }
}

impl Fields for Sheet {
    fn title(&self, _: &State) -> String {
        format!("{file} has several sheets", file = shown(self.list.path()))
    }

    inputs!(sheet);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let sheet = Some(self.sheet.value());
        self.list.go_on(context, &self.bytes, sheet)?;
        context.close();
        Ok(Asks::Nothing)
    }
}

#[cfg(test)]
mod tests {
    use crate::tui::keymap::Scope;
    use crate::tui::testing::TestApp;
    use crate::tui::theme::Depth;

    fn drawn(desk: &TestApp) -> String {
        desk.drawn((120, 40)).join("\n")
    }

    #[test]
    fn chosen_sheet_of_a_workbook_is_imported() {
        let mut desk = TestApp::sample(Depth::None).after("ibook.xlsx\n\n");
        assert_eq!(desk.app.scope(), Scope::Form);
        assert_eq!(desk.filled("sheet"), "Notes");
        assert!(drawn(&desk).contains("book.xlsx has several sheets"));
        desk.keys("Ca\n");
        assert_eq!(desk.app.scope(), Scope::Matching);
        assert!(drawn(&desk).contains("new dune"), "{}", drawn(&desk));
        desk.keys("\n");
        assert!(desk.state.find_card("Sandbank:15").is_ok());
    }

    #[test]
    fn chart_key_can_be_imported_from_a_sheet() {
        let mut desk = TestApp::sample(Depth::None).after("rnRobin\nbook.xlsx\n\n");
        desk.keys("Key\n");
        assert_eq!(desk.app.scope(), Scope::Intake);
        desk.keys("\n");
        assert_eq!(desk.state.find_ring("Robin").unwrap().key.len(), 7);
    }

    #[test]
    fn unsuitable_sheet_can_be_exchanged() {
        let mut desk = TestApp::sample(Depth::None).after("rnRobin\nbook.xlsx\n\n");
        desk.keys("\n");
        assert_eq!(desk.app.scope(), Scope::Matching);
        desk.keys("\u{1b}");
        assert_eq!(desk.filled("chart key"), "book.xlsx");
        desk.keys("\n\n\n");
        assert_eq!(desk.filled("sheet"), "Notes");
        desk.keys("Key\n");
        assert_eq!(desk.app.scope(), Scope::Intake);
    }

    #[test]
    fn range_list_can_be_imported_from_a_sheet() {
        let mut desk = TestApp::sample(Depth::None).after("Wkk\nbook.xlsx\n");
        desk.keys("Sandbank\nCards\n");
        let range = desk.state.find_range("Sandbank").unwrap();
        assert!(!range.shades.is_empty());
        assert_ne!(desk.app.scope(), Scope::Form);
    }
}
