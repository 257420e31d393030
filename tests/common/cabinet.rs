//! Lists of a cabinet, for the start of the trade stories.

use rust_xlsxwriter::Workbook;

/// Three stranded colours, of one dye lot, in a workbook.
pub fn workbook() -> Vec<u8> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    let rows = [
        ["Number", "Colour", "Lengths", "Dye lot", "Hook"],
        ["701", "lamp black", "8", "K7", "A01"],
        ["96", "sea glass", "2", "K7", "A02"],
        ["12", "sail white", "8", "K7", "A03"],
    ];
    for (row, cells) in (0..).zip(rows) {
        for (column, cell) in (0..).zip(cells) {
            sheet.write(row, column, cell).unwrap();
        }
    }
    book.save_to_buffer().unwrap()
}

/// Two hand-dyed colours, in Windows-1252.
pub const DYED: &[u8] =
    b"number;name;skeins;hook\n301;caf\xe9 cr\xe8me;2;A05\n302;for\xeat;1;A06\n";
