//! The columns of all lists: their titles, the headers that mean them, and their meaning for a
//! card. Readers, writers, faults and the screen's page of columns all use this one table.

use std::fmt;

use super::find::fold;

/// A known column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Column {
    /// The maker's range.
    Range,
    /// The number on the card.
    Number,
    /// The range of the matching colour, in a conversion list.
    MatchRange,
    /// The number of the matching colour.
    MatchNumber,
    /// The colour's name.
    Name,
    /// The colour, `#RRGGBB`.
    Hex,
    /// The family.
    Family,
    /// Lengths on the card.
    Lengths,
    /// Skeins, cut onto the card or not; see [`read_cards`](crate::exchange::read_cards).
    Skeins,
    /// Uncut skeins.
    Uncut,
    /// The rest of a part-used skein, in metres.
    PartUsed,
    /// The dye lot.
    DyeLot,
    /// The hook where the card hangs.
    Hook,
    /// A note.
    Note,
    /// Tells a split card from others of its number: the project, as in its name.
    SplitCardOf,
    /// The purchase that the row belongs to, so that it counts only once.
    PurchaseId,
    /// The symbol in the chart.
    Symbol,
    /// Strands in the needle.
    Strands,
    /// Full crosses.
    Stitches,
    /// Half stitches.
    Half,
    /// Quarter stitches.
    Quarter,
    /// Three-quarter stitches.
    ThreeQuarter,
    /// Backstitch, in squares of the chart.
    Backstitch,
    /// Strands in the needle for backstitch.
    BackstitchStrands,
    /// French knots.
    FrenchKnots,
    /// The kind of a notion in a chart key.
    Notion,
    /// Pieces of a notion.
    Pieces,
}

/// The headers that mean a hook.
const HOOK: [&str; 8] = [
    "hook",
    "mark",
    "place",
    "home",
    "position",
    "peg",
    "pegnumber",
    "pegno",
];
/// The headers that mean a name.
const NAME: [&str; 7] = [
    "name",
    "colourname",
    "colorname",
    "shadename",
    "flossname",
    "threadname",
    "description",
];
/// The headers that mean a card's number.
const NUMBER: [&str; 28] = [
    "number",
    "no",
    "nr",
    "num",
    "#",
    "code",
    "floss",
    "flossnumber",
    "flossno",
    "flosscode",
    "threadnumber",
    "threadno",
    "threadcode",
    "bobbin",
    "bobbinnumber",
    "bobbinno",
    "cardnumber",
    "cardno",
    "shade",
    "shadecode",
    "shadenumber",
    "shadeno",
    "colournumber",
    "colornumber",
    "colourno",
    "colorno",
    "colourcode",
    "colorcode",
];

/// The headers that mean the range of the matching colour.
const MATCH_RANGE: [&str; 8] = [
    "matchrange",
    "matchingrange",
    "torange",
    "otherrange",
    "range2",
    "matchmaker",
    "matchbrand",
    "equivalentrange",
];

/// The headers that mean the number of the matching colour.
const MATCH_NUMBER: [&str; 14] = [
    "matchnumber",
    "match",
    "matches",
    "matchno",
    "matchingnumber",
    "tonumber",
    "othernumber",
    "number2",
    "no2",
    "equivalent",
    "equivalentnumber",
    "substitute",
    "conversion",
    "convertsto",
];

/// The headers that mean skeins.
const SKEINS: [&str; 9] = [
    "skeins",
    "skein",
    "skeinsowned",
    "owned",
    "onhand",
    "instock",
    "qty",
    "quantity",
    "hanks",
];

/// The headers that mean full crosses.
const STITCHES: [&str; 8] = [
    "stitches",
    "stitch",
    "stitchcount",
    "crosses",
    "fullstitches",
    "fullcrosses",
    "full",
    "crossstitches",
];

/// Headers in German, French, Spanish, Italian and Dutch, as normalized by [`key`] and separated by
/// spaces, for columns of every kind of list.
const IN_OTHER_LANGUAGES: [(Column, &str); 19] = [
    (
        Column::Range,
        "marke hersteller sortiment marque fabricant gamme marca fabricante produttore gamma \
         merk",
    ),
    (
        Column::Number,
        "nummer farbnummer farbnr farbcode farbennummer garnnummer garnnr numero n° nº \
         numerodecouleur codecouleur numerodecolor codigo codigodecolor numerocolore \
         numerodelcolore codice codicecolore kleurnummer kleurnr kleurcode garennummer",
    ),
    (
        Column::Name,
        "farbname farbbezeichnung bezeichnung nom nomdelacouleur nomcouleur nombre \
         nombredelcolor nombredecolor nome nomecolore nomedelcolore naam kleurnaam",
    ),
    (Column::Hex, "farbe couleur colore kleur"),
    (
        Column::Family,
        "familie farbfamilie farbgruppe gruppe famille familia famiglia groupe grupo gruppo \
         groep kleurfamilie",
    ),
    (
        Column::Skeins,
        "anzahl menge docken strange strangen quantite echevettes echeveaux cantidad madejas \
         quantita matasse aantal strengen strengetjes",
    ),
    (
        Column::DyeLot,
        "farbpartie partie charge bain bainteinture baindeteinture lote lotedetinte lotto \
         bagno verfbad partij",
    ),
    (
        Column::Hook,
        "haken platz crochet gancho gancio haak plaats",
    ),
    (
        Column::Note,
        "notiz notizen bemerkung bemerkungen remarque remarques nota notas opmerking \
         opmerkingen",
    ),
    (Column::Symbol, "zeichen symbole simbolo symbool teken"),
    (
        Column::Strands,
        "faden fadenzahl anzahlfaden brins nombredebrins hebras hilos fili capi draden \
         aantaldraden",
    ),
    (
        Column::Stitches,
        "stiche stichzahl anzahlstiche kreuzstiche kreuze points pointsdecroix croix \
         nombredepoints puntadas puntos puntosdecruz cruces punti crocette punticroce steken \
         kruissteken kruisjes aantalsteken",
    ),
    (
        Column::Half,
        "halbestiche halbekreuze halbstiche demipoints mediaspuntadas mediospuntos mezzipunti \
         halvesteken",
    ),
    (
        Column::Quarter,
        "viertelstiche quartsdepoint cuartosdepunto quartidipunto kwartsteken",
    ),
    (
        Column::ThreeQuarter,
        "dreiviertelstiche troisquartsdepoint trescuartosdepunto trequartidipunto \
         driekwartsteken",
    ),
    (
        Column::Backstitch,
        "ruckstich ruckstiche pointarriere pointsarriere puntoatras pespunte puntoscritto \
         puntoindietro stiksteek stiksteken",
    ),
    (
        Column::FrenchKnots,
        "knotchen knotchenstich knotchenstiche pointdenœud pointsdenœud pointdenoeud \
         pointsdenoeud nudosfranceses puntonodini nodini knoopjes",
    ),
    (
        Column::Pieces,
        "stuck stuckzahl perlen perles piezas cuentas pezzi perline stuks kralen",
    ),
    (Column::Lengths, "langen longueurs largos lunghezze lengtes"),
];

impl Column {
    /// The columns of a card list, in the order they are written. Only a purchase has the last one.
    pub const OF_CARD_LIST: [Self; 14] = [
        Self::Range,
        Self::Number,
        Self::Name,
        Self::Hex,
        Self::Family,
        Self::Lengths,
        Self::Skeins,
        Self::Uncut,
        Self::PartUsed,
        Self::DyeLot,
        Self::Hook,
        Self::Note,
        Self::SplitCardOf,
        Self::PurchaseId,
    ];

    /// The columns of a kind of list in the order in which the user is asked about them: those most
    /// lists have first.
    #[must_use]
    pub fn as_asked(known: &[Self]) -> Vec<Self> {
        let first = [Self::Number, Self::Name, Self::Hex];
        let rest = known.iter().filter(|column| !first.contains(column));
        let first = first.iter().filter(|column| known.contains(column));
        first.chain(rest).copied().collect()
    }

    /// The columns of a range list.
    pub const OF_RANGE_LIST: [Self; 4] = [Self::Number, Self::Name, Self::Hex, Self::Family];

    /// The columns of a conversion list, in the order they are written.
    pub const OF_CONVERSION_LIST: [Self; 4] = [
        Self::Range,
        Self::Number,
        Self::MatchRange,
        Self::MatchNumber,
    ];

    /// The columns of a chart key.
    pub const OF_KEY: [Self; 15] = [
        Self::Symbol,
        Self::Range,
        Self::Number,
        Self::Name,
        Self::Hex,
        Self::Strands,
        Self::Stitches,
        Self::Half,
        Self::Quarter,
        Self::ThreeQuarter,
        Self::Backstitch,
        Self::BackstitchStrands,
        Self::FrenchKnots,
        Self::Notion,
        Self::Pieces,
    ];

    /// The columns of a roll call list.
    pub const OF_ROLL_CALL: [Self; 3] = [Self::Hook, Self::Number, Self::Range];

    /// The English headers that mean this column, as normalized by [`key`]. The first is the one
    /// written. Those of other languages are in [`IN_OTHER_LANGUAGES`].
    const fn headers(self) -> &'static [&'static str] {
        match self {
            Self::Range => &["range", "maker", "brand", "manufacturer", "make"],
            Self::Number => &NUMBER,
            Self::MatchRange => &MATCH_RANGE,
            Self::MatchNumber => &MATCH_NUMBER,
            Self::Name => &NAME,
            Self::Hex => &["hex", "colour", "color", "rgb", "srgb", "hexcode"],
            Self::Family => &["family", "group", "colourfamily", "colorfamily"],
            Self::Lengths => &["lengths", "length", "lengthsleft"],
            Self::Skeins => &SKEINS,
            Self::Uncut => &[
                "uncut",
                "uncutskeins",
                "reserve",
                "spareskeins",
                "reserveskeins",
                "unopened",
            ],
            Self::PartUsed => &["partusedmetres", "partusedm", "partused", "metresleft"],
            Self::DyeLot => &["dyelot", "lot", "lotnumber", "lotno", "batch", "dyebatch"],
            Self::Hook => &HOOK,
            Self::Note => &["note", "notes", "remark", "remarks", "comment", "comments"],
            Self::SplitCardOf => &["splitofproject", "splitof", "splitproject"],
            Self::PurchaseId => &["purchaseid"],
            Self::Symbol => &["symbol", "sign", "sym", "chartsymbol"],
            Self::Strands => &["strands", "strand", "ply", "strandsused", "crossstrands"],
            Self::Stitches => &STITCHES,
            Self::Half => &["half", "halfstitches", "halves", "halfcrosses", "1/2"],
            Self::Quarter => &["quarter", "quarterstitches", "quarters", "1/4"],
            Self::ThreeQuarter => &[
                "threequarter",
                "threequarterstitches",
                "threequarters",
                "3/4",
            ],
            Self::Backstitch => &[
                "backstitch",
                "backstitches",
                "backstitchlength",
                "backstitchsquares",
                "outline",
            ],
            Self::BackstitchStrands => &["backstitchstrands", "outlinestrands"],
            Self::FrenchKnots => &["frenchknots", "frenchknot", "knots", "knot"],
            Self::Notion => &["notion", "notions", "kind", "sewnon"],
            Self::Pieces => &["pieces", "piece", "beads"],
        }
    }

    /// The meaning of a second column with the same title, for lists that have both.
    #[must_use]
    pub const fn second(self) -> Option<Self> {
        match self {
            Self::Range => Some(Self::MatchRange),
            Self::Number => Some(Self::MatchNumber),
            _ => None,
        }
    }

    /// Whether a normalized header means this column.
    fn is_called(self, key: &str) -> bool {
        let mut others = IN_OTHER_LANGUAGES.iter();
        self.headers().contains(&key)
            || others
                .any(|(column, headers)| *column == self && headers.split(' ').any(|of| of == key))
    }

    /// What the column says about a card or a line of a chart key, for a newcomer; empty if neither
    /// list has it.
    #[must_use]
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::Range => "the maker's range",
            Self::Number => "as on the skein; needed",
            Self::Name => "the colour's name",
            Self::Hex => "six hex digits, such as #B4233C",
            Self::Family => "the family it hangs with: blues ...",
            Self::Lengths => "on the card; a skein makes 8",
            Self::Skeins => "cut onto the card; with 'lengths': uncut",
            Self::Uncut => "uncut skeins beside the card",
            Self::PartUsed => "metres left of a part-used skein",
            Self::DyeLot => "as on the skein",
            Self::Hook => "the hook it hangs on now, such as C07",
            Self::Note => "anything else to be kept",
            Self::SplitCardOf => "the project whose split card it is",
            Self::PurchaseId => "from the pocket page; counts once",
            Self::Symbol => "the sign in the chart",
            Self::Strands => "in the needle; 1+2 for the threads of a blend",
            Self::Stitches => "full crosses",
            Self::Half => "half stitches",
            Self::Quarter => "quarter stitches",
            Self::ThreeQuarter => "three-quarter stitches",
            Self::Backstitch => "length of its lines, in squares of the chart",
            Self::BackstitchStrands => "in the needle for backstitch",
            Self::FrenchKnots => "how many French knots",
            Self::Notion => "a bead, button or ornament; empty for thread",
            Self::Pieces => "how many pieces of a notion",
            Self::MatchRange | Self::MatchNumber => "",
        }
    }

    /// The column that a header means in a kind of list. Ignores case, accents, spaces, hyphens,
    /// underscores and a full stop at the end.
    #[must_use]
    pub fn called(header: &str, known: &[Self]) -> Option<Self> {
        let key = key(header);
        let mut known = known.iter();
        known.find(|column| column.is_called(&key)).copied()
    }

    /// Whether a header means its column whatever is below it. Some don't: 'colour' is above names
    /// as often as above hex digits, and 'shade' as often above numbers.
    #[must_use]
    pub fn is_sure(header: &str) -> bool {
        let unsure = [
            "colour", "color", "shade", "floss", "bobbin", "code", "farbe", "couleur", "colore",
            "kleur", // A name in Spanish, a count in French.
            "nombre",
        ];
        !unsure.contains(&key(header).as_str())
    }

    /// Its name on a command line.
    #[must_use]
    pub const fn typed(self) -> &'static str {
        self.headers()[0]
    }

    /// The header it is written under.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::PartUsed => "part-used m",
            Self::DyeLot => "dye lot",
            Self::SplitCardOf => "split of project",
            Self::PurchaseId => "purchase id",
            Self::ThreeQuarter => "three-quarter",
            Self::BackstitchStrands => "backstitch strands",
            Self::FrenchKnots => "french knots",
            Self::MatchRange => "match range",
            Self::MatchNumber => "match number",
            _ => self.headers()[0],
        }
    }
}

impl fmt::Display for Column {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.title())
    }
}

/// The key for comparing headers: lower case, without accents, spaces, hyphens and underscores, and
/// without a full stop or colon at the end.
fn key(header: &str) -> String {
    let kept = |c: &char| !c.is_whitespace() && !matches!(c, '-' | '_');
    let header = header.trim_end().trim_end_matches(['.', ':']);
    fold(header).chars().filter(kept).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_header_means_two_columns() {
        for columns in [
            &Column::OF_CARD_LIST[..],
            &Column::OF_KEY,
            &Column::OF_CONVERSION_LIST,
        ] {
            let others = IN_OTHER_LANGUAGES.iter();
            let others = others.filter(|(column, _)| columns.contains(column));
            let mut all: Vec<_> = (columns.iter().flat_map(|c| c.headers()).copied())
                .chain(others.flat_map(|(_, headers)| headers.split(' ')))
                .collect();
            let count = all.len();
            all.sort_unstable();
            all.dedup();
            assert_eq!(all.len(), count);
            assert!(all.iter().all(|header| key(header) == *header));
        }
    }

    #[test]
    fn a_column_is_recognised_by_its_written_title() {
        for column in Column::OF_CARD_LIST
            .into_iter()
            .chain(Column::OF_KEY)
            .chain(Column::OF_CONVERSION_LIST)
        {
            assert!(column.headers().contains(&key(column.title()).as_str()));
        }
    }

    #[test]
    fn every_column_of_a_list_is_asked_about_once_and_has_a_meaning() {
        for known in [&Column::OF_CARD_LIST[..], &Column::OF_KEY] {
            let asked = Column::as_asked(known);
            assert_eq!(asked.len(), known.len());
            for column in known {
                assert!(
                    asked.contains(column) && !column.meaning().is_empty(),
                    "{column}"
                );
            }
        }
    }

    #[test]
    fn headers_of_other_languages_mean_the_same_with_and_without_accents() {
        use Column::{Name, Number, Skeins, Stitches, Strands, Symbol};
        for (headers, column) in [
            (
                "Nummer, Farbnummer, Numéro, N°, Nº, Número, Codice, Kleurnummer",
                Number,
            ),
            ("Name, Bezeichnung, Nom, Nombre, Nome, Naam", Name),
            (
                "Anzahl, Docken, Échevettes, Madejas, Matasse, Strengen",
                Skeins,
            ),
            ("Zeichen, Symbole, Símbolo, Simbolo, Symbool", Symbol),
            ("Fäden, Faden, Brins, Hebras, Fili, Draden", Strands),
            (
                "Stiche, Kreuzstiche, Points, Puntadas, Punti, Steken",
                Stitches,
            ),
        ] {
            let known = match column {
                Skeins => &Column::OF_CARD_LIST[..],
                _ => &Column::OF_KEY,
            };
            for header in headers.split(", ") {
                assert_eq!(Column::called(header, known), Some(column), "{header}");
            }
        }
    }
}
