//! Whether an XML part ends as it begins: each element closed, in its order, before the part is over.
//!
//! The library waits for the end of elements inside of others; a part that is over before reads as an endless row of nothing there.

use quick_xml::Reader;
use quick_xml::events::Event;
use std::io::BufRead;

/// Goes through a part. Its source lets no piece of text or tag grow beyond what `scan` beside allows.
pub(super) fn check(source: impl BufRead) -> Result<(), String> {
    let mut reader = Reader::from_reader(source);
    reader.config_mut().check_end_names = true;
    let mut buffer = Vec::new();
    let mut open = 0_u64;
    loop {
        buffer.clear();
        let event = reader.read_event_into(&mut buffer).map_err(|error| format!("is not well formed: {error}"))?;
        match event {
            Event::Start(_) => open += 1,
            Event::End(_) => open = open.saturating_sub(1),
            Event::Eof if open > 0 => return Err("ends before its elements do; it may have been cut off".to_owned()),
            Event::Eof => return Ok(()),
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::check;

    #[test]
    fn what_is_closed_in_order_is_well_formed() {
        let cases = [
            ("<a><b x='1>2'/><!-- <c> --><![CDATA[<d>]]></a>", true),
            ("<a><b></a></b>", false),
            ("<a><b>", false),
            ("<a></a></a>", false),
            ("<a><b x='1></a>", false),
            ("", true),
        ];
        let wrong: Vec<_> = cases.iter().filter(|(text, right)| check(text.as_bytes()).is_ok() != *right).collect();
        assert!(wrong.is_empty(), "{wrong:?}");
    }
}
