//! Documents that attack their reader: each ends with a fault, and no more of it is taken in than the limits allow.

#![allow(clippy::format_push_string, clippy::format_collect)] // Documents of tests are put together where they are read.

use super::cml::faults;
use keyassay::cml::{Content, FaultKind, Reader, Record, read_molecule};
use keyassay::limits::Limits;
use std::cell::Cell;
use std::io::{BufReader, Read};
use std::rc::Rc;

#[test]
fn hostile_documents_end_with_a_fault() {
    let many = |text: &str, count: usize| text.repeat(count);
    let attributes: String = (0..300).map(|number| format!(" a{number}='1'")).collect();
    let cases: Vec<(&str, String, &str)> = vec![
        ("document type", "<!DOCTYPE cml [<!ENTITY a 'b'>]><molecule/>".to_owned(), "DOCTYPE"),
        ("external entity", "<!DOCTYPE cml SYSTEM 'a.dtd'><cml>&file;</cml>".to_owned(), "entity"),
        ("entity in a value", "<molecule id='&a;'/>".to_owned(), "entity"),
        ("entity in text", "<molecule><name>&a;</name></molecule>".to_owned(), "entity"),
        ("character number out of range", "<molecule id='&#x110000;'/>".to_owned(), "well formed"),
        ("lone ampersand", "<molecule><name>a & b</name></molecule>".to_owned(), "well formed"),
        ("deep nesting", many("<list>", 100_000), "nesting"),
        ("deep molecules", many("<molecule>", 100_000), "nesting"),
        ("many attributes", format!("<molecule{attributes}/>"), "attributes"),
        ("many namespaces", format!("<molecule{}/>", attributes.replace(" a", " xmlns:a")), "attributes"),
        ("attribute twice", "<molecule id='a' id='b'/>".to_owned(), "`id` is given twice"),
        ("attribute without quotes", "<molecule id=a/>".to_owned(), "well formed"),
        ("mismatched tags", "<molecule><atomArray></molecule></atomArray>".to_owned(), "well formed"),
        ("cut off", "<cml><molecule><atomArray>".to_owned(), "ends inside <atomArray>"),
        ("cut off in a tag", "<cml><molecule id='a".to_owned(), "ends inside <cml>"),
        ("end tag alone", "</molecule>".to_owned(), "well formed"),
        ("unbound prefix", "<c:molecule/>".to_owned(), "`c`"),
        ("no element", "nothing here".to_owned(), "no element"),
        ("empty", String::new(), "no element"),
        ("open comment", "<cml><!-- ".to_owned(), "ends inside <cml>"),
    ];
    let mut wrong = Vec::new();
    for (name, text, says) in &cases {
        let found = faults(text);
        let [(FaultKind::Record, _, message)] = &found[..] else {
            wrong.push(format!("{name}: {found:?}"));
            continue;
        };
        if !message.contains(says) {
            wrong.push(format!("{name}: {message}"));
        }
        if !text.is_empty() && read_molecule(text, &Limits::default()).1.is_empty() {
            wrong.push(format!("{name}: accepted as a field"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn bytes_that_are_no_text_are_told() {
    for text in [&b"<molecule id='\xe9'/>"[..], b"<molecule><name>\xff\xfe</name></molecule>", b"\xff\xfe<\0m\0/\0>\0"]
    {
        let records: Vec<Record> = Reader::new(text, &Limits::default()).collect();
        let [Record { content: Content::Unreadable(fault), .. }] = &records[..] else {
            panic!("{text:?}: {records:?}");
        };
        assert!(fault.problem.to_string().contains("UTF-8"), "{}", fault.problem);
    }
}

/// A text, then one byte for ever, and how much of it was taken.
struct Endless {
    beginning: &'static [u8],
    then: u8,
    taken: Rc<Cell<usize>>,
}

impl Read for Endless {
    fn read(&mut self, target: &mut [u8]) -> std::io::Result<usize> {
        let mut beginning = self.beginning;
        let count = match beginning.read(target)? {
            0 => {
                target.fill(self.then);
                target.len()
            }
            count => count,
        };
        self.beginning = beginning;
        self.taken.set(self.taken.get() + count);
        Ok(count)
    }
}

#[test]
fn nothing_is_taken_in_without_end() {
    let limits = Limits { record_bytes: 1 << 16, ..Limits::default() };
    let beginnings: [(&[u8], u8); 7] = [
        (b"<molecule><name>", b'x'),
        (b"<molecule id='", b'x'),
        (b"<molecule", b'x'),
        (b"<molecule><!--", b'x'),
        (b"<molecule><![CDATA[", b'x'),
        (b"<cml>", b' '),
        (b"<", b'/'),
    ];
    for (beginning, then) in beginnings {
        let taken = Rc::new(Cell::new(0));
        let source = Endless { beginning, then, taken: Rc::clone(&taken) };
        let records: Vec<Record> = Reader::new(BufReader::with_capacity(1 << 12, source), &limits).collect();
        let told = matches!(&records[..], [Record { content: Content::Unreadable(_), .. }]);
        let name = String::from_utf8_lossy(beginning);
        assert!(told, "{name}: {records:?}");
        assert!(taken.get() < 3 << 16, "{name}: {} bytes were taken", taken.get());
    }
}

#[test]
fn a_record_that_is_too_long_is_passed_over_to_its_end() {
    let limits = Limits { record_bytes: 2_000, ..Limits::default() };
    let small = "<molecule id='m'><atomArray><atom id='a' elementType='F'/></atomArray></molecule>";
    let long = format!("<molecule><atomArray>{}</atomArray></molecule>", "<atom elementType='F'/>".repeat(1_000));
    let text = format!("<cml>{small}\n{long}\n{small}</cml>");
    let records: Vec<Record> = Reader::new(text.as_bytes(), &limits).collect();
    let kinds: Vec<(u64, bool)> =
        records.iter().map(|record| (record.place.line, matches!(record.content, Content::Molecule(_)))).collect();
    assert_eq!(kinds, [(1, true), (2, false), (3, true)]);
}

#[test]
fn limits_on_drawings_name_themselves() {
    let limits = Limits { atoms: 10, bonds: 5, arrows: 3, steps: 2, record_bytes: 1 << 20, ..Limits::default() };
    let atoms = |count: usize| {
        let atom = |at: usize| format!("<atom id='a{at}' elementType='C' hydrogenCount='0'/>");
        format!("<atomArray>{}</atomArray>", (0..count).map(atom).collect::<String>())
    };
    let bond = |at: usize| format!("<bond atomRefs2='a{at} a{}' order='S'/>", at + 1);
    let bonds = |count: usize| format!("<bondArray>{}</bondArray>", (0..count).map(bond).collect::<String>());
    let ids: String = (0..20).map(|at| format!("x{at} ")).collect();
    let elements = "C ".repeat(20);
    let links = "<link from='a' to='b'/>".repeat(9);
    let cases = [
        (format!("<molecule>{}</molecule>", atoms(20)), "atoms"),
        (format!("<molecule><atomArray atomID='{ids}' elementType='{elements}'/></molecule>"), "atoms"),
        (format!("<molecule count='3'>{}</molecule>", atoms(4)), "atoms"),
        (format!("<molecule>{}{}</molecule>", atoms(9), bonds(8)), "bonds"),
        (
            format!(
                "<reaction><reactantList><molecule>{0}</molecule><molecule>{0}</molecule></reactantList></reaction>",
                atoms(6)
            ),
            "atoms",
        ),
        (format!("<reaction><map convention='x:electronFlow'>{links}</map></reaction>"), "arrows"),
        (format!("<reactionStepList>{}</reactionStepList>", "<reaction/>".repeat(3)), "steps"),
    ];
    let mut wrong = Vec::new();
    for (text, name) in &cases {
        let told = format!("{:?}", Reader::new(text.as_bytes(), &limits).collect::<Vec<_>>());
        if told.matches(&format!("limit: \"{name}\"")).count() != 1 {
            wrong.push(format!("{name}: {told}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Sizes at which a reader whose work grows with the square of its input would not come back.
#[test]
fn large_records_are_read_once_through() {
    let count = 40_000;
    let mut chain = String::from("<molecule id='m'><atomArray>");
    for at in 0..count {
        chain += &format!("<atom id='a{at}' elementType='C'/>");
    }
    chain += "</atomArray><bondArray>";
    for at in 1..count {
        chain += &format!("<bond atomRefs2='a{} a{at}' order='S'/>", at - 1);
    }
    chain += "</bondArray></molecule>";
    let (structure, faults) = read_molecule(&chain, &Limits::default());
    assert_eq!((structure.atom_count(), structure.bond_count(), faults.len()), (count, count - 1, 0));

    let same = "<atom id='a' elementType='C'/>".repeat(count);
    let bonds = "<bond atomRefs2='a a' order='S'/>".repeat(count);
    let text = format!("<molecule><atomArray>{same}</atomArray><bondArray>{bonds}</bondArray></molecule>");
    let (_, faults) = read_molecule(&text, &Limits::default());
    assert_eq!(faults.len(), 1_000, "a fault that is repeated without end is reported a thousand times");

    let inner = "<molecule formalCharge='0' spinMultiplicity='1'/>".repeat(count);
    let text = format!("<molecule><atomArray>{}</atomArray>{inner}</molecule>", same.replace("id='a' ", ""));
    assert_eq!(read_molecule(&text, &Limits::default()).0.atom_count(), count);

    let references = "<reactant ref='m'/>".repeat(count);
    let text = format!("<cml>{chain}<reaction><reactantList>{references}</reactantList></reaction></cml>");
    let records: Vec<Record> = Reader::new(text.as_bytes(), &Limits::default()).collect();
    assert_eq!(records.len(), 2);
}
