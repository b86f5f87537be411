//! Judges banks given as text, in this process, and compares what is found with what is expected.

use keyassay::bank::{Format, Settings as BankSettings, open};
use keyassay::findings::{Class, Context, Finding, Settings, judge};
use std::io::Cursor;
use std::sync::Arc;

/// One judged item.
pub(super) struct Judged {
    pub(super) class: Class,
    pub(super) findings: Vec<Finding>,
    pub(super) marks_passed_over: u32,
}

impl Judged {
    /// What was found, in order: `name`, or `step:name` for a step of a sequence; notes in brackets.
    pub(super) fn names(&self) -> String {
        let name = |finding: &Finding| {
            let step = if finding.step == 0 { String::new() } else { format!("{}:", finding.step) };
            match finding.severity.name() {
                "note" => format!("[{step}{}]", finding.name),
                _ => format!("{step}{}", finding.name),
            }
        };
        self.findings.iter().map(name).collect::<Vec<_>>().join(" ")
    }

    /// All messages, one a line.
    pub(super) fn messages(&self) -> String {
        self.findings.iter().map(|finding| finding.message()).collect::<Vec<_>>().join("\n")
    }
}

/// Judges the items of a text.
pub(super) fn judged(text: &str, format: Format, settings: &Settings) -> Vec<Judged> {
    let reader = Box::new(Cursor::new(text.as_bytes().to_vec()));
    let mut source = open("bank", format, reader, &Arc::new(BankSettings::default())).expect("a bank");
    let mut items = Vec::new();
    while let Some(batch) = source.next_batch().expect("a text") {
        let (chunk, records) = batch.records();
        let context = Context::new(settings, &chunk);
        for record in records {
            let judgement = judge(&context, &record, "bank");
            items.push(Judged {
                marks_passed_over: judgement.stereo_not_judged(),
                class: judgement.class,
                findings: judgement.findings,
            });
        }
    }
    items
}

/// One case: an item, what is found in it, and words that the messages hold (separated by `|`).
pub(super) type Case = (&'static str, &'static str, &'static str);

/// Holds items, each a line of JSON or the rows of a table under one header, to what is expected of them.
pub(super) fn hold(header: &str, format: Format, settings: &Settings, cases: &[Case]) {
    let mut failures = Vec::new();
    for (item, expected, words) in cases {
        let items = judged(&format!("{header}{item}\n"), format, settings);
        let [only] = items.as_slice() else {
            failures.push(format!("{item}\n    is {} items", items.len()));
            continue;
        };
        if only.names() != *expected {
            failures.push(format!(
                "{item}\n    found    {}\n    expected {expected}\n{}",
                only.names(),
                only.messages()
            ));
        }
        for word in words.split('|').filter(|word| !word.is_empty()) {
            if !only.messages().contains(word) {
                failures.push(format!("{item}\n    does not say '{word}':\n{}", only.messages()));
            }
        }
    }
    assert!(failures.is_empty(), "{} failures\n{}", failures.len(), failures.join("\n"));
}
