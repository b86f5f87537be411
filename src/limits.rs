//! Every cap on input, in one table, each with its reason.
//!
//! A cap is met with a finding or an error that names it, never with silence. The defaults are generous for what people
//! draw and small enough that a hostile bank ends with a finding in bounded memory. A profile may change them.

use serde::{Deserialize, Serialize};

/// Faults of one kind in one drawing or arrow field that are told one by one; the rest are told as a number. Whoever meets
/// a hundred mends the field, and a field of a million faults must not make a million findings.
pub const TOLD: usize = 100;

/// Arrows of one step that are cut into successive steps where they are several drawn as one. Whole mechanisms have twenty, and
/// the search looks at every pair of places between two arrows.
pub const CUT_ARROWS: usize = 256;

/// The highest value that a profile may give to a cap which counts things that are numbered with 32 bits.
const MOST_COUNTED: u64 = 1 << 30;
/// The highest value for sizes of files and counts of steps.
const MOST_OF_ALL: u64 = 1 << 50;

/// The caps, as counts unless the name says otherwise.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, Serialize)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub struct Limits {
    /// Bytes of one file of a bank. Streams are read in pieces, so this guards the disk's time, not memory.
    pub file_bytes: u64,
    /// Bytes of one record (a CSV row, a line of JSON, an element of a JSON array, a CML reaction).
    pub record_bytes: usize,
    /// Characters of one structure or arrow field. OpenSMILES asks a reader to take at least 100,000.
    pub field_bytes: usize,
    /// Columns of one table, and cells of one row. Spreadsheets end at 16,384.
    pub columns: usize,
    /// Atoms of one drawing, hydrogens that are drawn included.
    pub atoms: usize,
    /// Bonds of one drawing.
    pub bonds: usize,
    /// Arrows of one step. Textbook steps have fewer than ten.
    pub arrows: usize,
    /// Steps of one item.
    pub steps: usize,
    /// Options of one multiple-choice item, and stated contributors of one set.
    pub options: usize,
    /// Open branches of a SMILES. OpenSMILES asks for at least 100; 5,000 are seen in polymers.
    pub branches: usize,
    /// Ring numbers of a SMILES that are in use at once. The notation has a hundred.
    pub ring_numbers: usize,
    /// Nested elements of an XML document. Values of JSON that nest deeper than a field are passed over without recursion.
    pub nesting: usize,
    /// Attributes of one XML element.
    pub attributes: usize,
    /// Entries of a zipped package.
    pub zip_entries: usize,
    /// Bytes of one entry of a zipped package, unpacked.
    pub zip_entry_bytes: u64,
    /// Bytes of all entries of a zipped package, unpacked.
    pub zip_total_bytes: u64,
    /// Unpacked over packed size of an entry; deflate cannot honestly pass 1,032.
    pub zip_ratio: u64,
    /// Texts that a workbook keeps once for all its cells. They are held in memory.
    pub shared_strings: u64,
    /// Cells of a workbook whose format can only be read as a whole (`.ods`, `.xls`), empty ones between them included.
    pub sheet_cells: u64,
    /// Elementary steps of one search for a correspondence of atoms.
    pub search_steps: u64,
    /// Localised forms, and readings of open arrow heads, that are tried for one step of an item.
    pub forms: usize,
    /// Atoms of all drawings together that are tried as the slip behind one mismatch. A textbook molecule of 20 atoms is tried
    /// in thousands of ways, a hostile one of 200,000 in a few.
    pub slip_atoms: u64,
    /// Contributors that are enumerated for one structure.
    pub contributors: usize,
    /// Cards on one page of the report.
    pub page_cards: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            file_bytes: 1 << 40,
            record_bytes: 16 << 20,
            field_bytes: 4 << 20,
            columns: 131_072,
            atoms: 200_000,
            bonds: 400_000,
            arrows: 10_000,
            steps: 1_000,
            options: 1_000,
            branches: 100_000,
            ring_numbers: 100,
            nesting: 256,
            attributes: 256,
            zip_entries: 65_535,
            zip_entry_bytes: 256 << 20,
            zip_total_bytes: 4 << 30,
            zip_ratio: 1_032,
            shared_strings: 4 << 20,
            sheet_cells: 8 << 20,
            search_steps: 200_000,
            forms: 256,
            slip_atoms: 100_000,
            contributors: 4_096,
            page_cards: 200,
        }
    }
}

/// The names of all caps, as profiles call them.
#[must_use]
pub fn names() -> &'static [&'static str] {
    let mut names = Names::default();
    // The derived reader names its fields before it asks for any; nothing is read.
    let _ = Limits::deserialize(&mut names);
    names.0
}

/// The highest value that a profile may give to this cap; `None` where there is no such cap.
#[must_use]
pub fn most(name: &str) -> Option<u64> {
    let is_wide = matches!(name, "file-bytes" | "zip-entry-bytes" | "zip-total-bytes" | "search-steps" | "slip-atoms");
    names().contains(&name).then_some(if is_wide { MOST_OF_ALL } else { MOST_COUNTED })
}

/// Takes note of the fields that a derived reader asks for.
#[derive(Default)]
struct Names(&'static [&'static str]);

impl<'de> serde::Deserializer<'de> for &mut Names {
    type Error = serde::de::value::Error;

    fn deserialize_any<V: serde::de::Visitor<'de>>(self, _visitor: V) -> Result<V::Value, Self::Error> {
        Err(serde::de::Error::custom("there is nothing to read"))
    }

    fn deserialize_struct<V: serde::de::Visitor<'de>>(
        self,
        _name: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Self::Error> {
        self.0 = fields;
        self.deserialize_any(visitor)
    }

    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf option unit unit_struct
        newtype_struct seq tuple tuple_struct map enum identifier ignored_any
    }
}
