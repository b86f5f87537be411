//! The proposal as a profile, with comments on what each guess reads and on what was not placed.

use super::check::Checked;
use super::table::Column;
use super::{FileGuess, TableGuess};
use crate::source::counted;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

/// A proposal while it is put together.
pub(super) struct Draft<'g> {
    guesses: &'g [FileGuess],
    /// The tables that are banks.
    tables: Vec<&'g TableGuess>,
    /// By field: the names of its columns, each with what is to be said of it.
    columns: Vec<(String, Vec<(String, String)>)>,
    /// What the tables do not agree in.
    quarrels: Vec<String>,
    /// The column that numbers the questions of each table anew, if there is one.
    numbers: Option<String>,
}

/// Fields in the order in which they are printed.
const ORDER: [&str; 14] = [
    "id", "task", "step", "start", "arrows", "answer", "answers", "omits", "accept", "options", "option_", "key",
    "prompt", "tags",
];
/// Names of columns that are listed.
const LISTED: usize = 24;

impl<'g> Draft<'g> {
    /// Puts the guesses together; `None` where none is a bank.
    pub(super) fn new(guesses: &'g [FileGuess]) -> Option<Self> {
        let tables: Vec<&TableGuess> = guesses.iter().flat_map(|own| &own.tables).filter(|own| own.is_bank()).collect();
        if tables.is_empty() {
            return None;
        }
        let numbers = numbers(&tables);
        let mut draft = Self { guesses, tables, columns: Vec::new(), quarrels: Vec::new(), numbers };
        draft.gather();
        Some(draft)
    }

    fn gather(&mut self) {
        let mut owner: BTreeMap<String, String> = BTreeMap::new();
        let mut columns: BTreeMap<(usize, String), Vec<(String, String)>> = BTreeMap::new();
        for table in &self.tables {
            for placed in table.fields.iter().filter(|own| own.field != "id" || self.numbers.is_none()) {
                let own = owner.entry(placed.column.to_lowercase()).or_insert_with(|| placed.field.clone());
                if *own != placed.field {
                    self.quarrels.push(format!(
                        "in {} the column '{}' is '{}', elsewhere '{own}': give that table a profile of its own",
                        table.name, placed.column, placed.field
                    ));
                    continue;
                }
                let at = ORDER.iter().position(|own| placed.field.starts_with(own)).unwrap_or(ORDER.len());
                // `answers` begins with `answer`, `options` with `option`.
                let at = ORDER.iter().position(|own| *own == placed.field).unwrap_or(at);
                let names = columns.entry((at, placed.field.clone())).or_default();
                if !names.iter().any(|(name, _)| name.eq_ignore_ascii_case(&placed.column)) {
                    names.push((placed.column.clone(), placed.note.clone()));
                }
            }
        }
        self.columns = columns.into_iter().map(|((_, field), names)| (field, names)).collect();
    }

    /// The profile, without what was found by reading the bank under it.
    pub(super) fn text(&self) -> String {
        let mut text = String::new();
        self.settings(&mut text);
        self.column_lines(&mut text);
        self.task_lines(&mut text);
        text
    }

    /// The words of the bank's own for tasks.
    fn task_lines(&self, text: &mut String) {
        let words: BTreeSet<_> = self.tables.iter().flat_map(|own| &own.others.task_words).collect();
        let mut of_tasks: BTreeMap<&str, Vec<String>> = BTreeMap::new();
        let mut seen = BTreeSet::new();
        for (task, word) in words.into_iter().filter(|(_, word)| seen.insert(word.to_lowercase())) {
            of_tasks.entry(task).or_default().push(quoted(word));
        }
        if !of_tasks.is_empty() {
            text.push_str("\n[tasks]\n");
        }
        for (task, words) in of_tasks {
            let _ = writeln!(text, "{task} = [{}]", words.join(", "));
        }
    }

    /// The whole.
    pub(super) fn with(&self, checked: &Checked) -> String {
        let mut text = String::from(
            "# Proposed by `keyassay profile` from what the columns hold. Read it, mend it, and save it as keyassay.toml\n# beside the bank.\n",
        );
        for table in &self.tables {
            let header = table.header.map_or("no header".to_owned(), |line| match line {
                0 => "keys".to_owned(),
                line => format!("header in row {line}"),
            });
            let more = if table.is_cut { " (there are more)" } else { "" };
            let _ = writeln!(
                text,
                "# {}: {header}, {} looked at{more}.",
                comment(&table.name),
                counted(table.rows as i64, "row")
            );
        }
        self.report(&mut text, checked);
        let body = self.text();
        if body.is_empty() {
            text.push_str("# The bank is read as it is: it needs no profile.\n");
        } else {
            text.push('\n');
            text.push_str(&body);
        }
        text
    }

    fn report(&self, text: &mut String, checked: &Checked) {
        let Checked { items, sound, faulty, undecided, unreadable, .. } = checked;
        let _ = write!(
            text,
            "# Read so, {}: {sound} sound, {faulty} faulty, {undecided} undecided, {unreadable} unreadable",
            counted(*items as i64, "question")
        );
        let why: Vec<String> = checked.why.iter().map(|(name, count)| format!("{name} {count}")).collect();
        let _ = writeln!(text, "{}.", if why.is_empty() { String::new() } else { format!(" ({})", why.join(", ")) });
        for refused in &checked.refused {
            let _ = writeln!(text, "# Not read: {}", comment(refused));
        }
        for own in &self.quarrels {
            let _ = writeln!(text, "# Not settled: {}", comment(own));
        }
        for table in &self.tables {
            if !table.unplaced.is_empty() {
                let listed: Vec<&str> = table.unplaced.iter().take(LISTED).map(String::as_str).collect();
                let more = table.unplaced.len().saturating_sub(LISTED);
                let more = if more > 0 { format!(" and {more} more") } else { String::new() };
                let place = if self.tables.len() > 1 { format!(" in {}", comment(&table.name)) } else { String::new() };
                let _ = writeln!(text, "# Not placed{place}: {}{more}.", comment(&listed.join(", ")));
            }
            if table.mechanism.answer.is_none() && table.mechanism.options.is_empty() && table.mechanism.list.is_none()
            {
                let _ =
                    writeln!(text, "# No column of {} holds answers: an audit works them out.", comment(&table.name));
            }
        }
        let passed = self.guesses.iter().flat_map(|own| &own.tables).filter(|own| !own.is_bank());
        for table in passed {
            let _ = writeln!(
                text,
                "# {} is no bank: no column holds structures with arrows or answers.",
                comment(&table.name)
            );
        }
    }

    fn settings(&self, text: &mut String) {
        let from_zero = self.tables.iter().filter(|own| own.mechanism.from_zero).count();
        if from_zero > 0 {
            let _ = writeln!(text, "labels = 0             # arrows count the atoms of a start without labels from 0");
        }
        let without = self.tables.iter().filter(|own| own.header.is_none()).count();
        let far = self.tables.iter().find(|own| !own.header_is_near);
        if without * 2 > self.tables.len() {
            let _ =
                writeln!(text, "header_row = 0         # no row names the columns: they are called by their letters");
        } else if let Some(line) = far.and_then(|own| own.header) {
            let _ = writeln!(text, "header_row = {line}");
        }
        let only_contributors = |own: &&&TableGuess| own.mechanism.answers.is_some() && own.mechanism.arrows.is_none();
        if self.tables.iter().filter(only_contributors).count() == self.tables.len()
            && self.tables.iter().all(|own| own.others.task.is_none())
        {
            let _ = writeln!(text, "task = \"contributors\"  # the answers are sets of contributors");
        }
        let mut down = Vec::new();
        if self.tables.iter().any(|own| own.others.id_from_above) {
            down.push("id");
        }
        if self.tables.iter().any(|own| own.mechanism.start_from_above) {
            down.push("start");
        }
        if !down.is_empty() {
            let _ = writeln!(text, "fill_down = {down:?}    # empty cells are those above");
        }
        if let Some(encoding) = self.guesses.iter().find_map(|own| own.encoding) {
            let _ = writeln!(text, "encoding = \"{}\"  # its bytes are no UTF-8", encoding.name());
        }
        if let Some(separator) = self.guesses.iter().find_map(|own| own.separator) {
            let _ = writeln!(text, "separator = {}", quoted(&char::from(separator).to_string()));
        }
    }

    fn column_lines(&self, text: &mut String) {
        let is_own = |(field, names): &&(String, Vec<(String, String)>)| {
            names.iter().all(|(name, _)| name.trim().eq_ignore_ascii_case(field))
        };
        let mut lines = String::new();
        // A column that is called like another field goes on being found, unless the field is given away.
        let given: Vec<&(String, Vec<(String, String)>)> = self.columns.iter().filter(|own| !is_own(own)).collect();
        for (field, names) in &given {
            let list: Vec<String> = names.iter().map(|(name, _)| quoted(name)).collect();
            let value = if let [only] = list.as_slice() { only.clone() } else { format!("[{}]", list.join(", ")) };
            let note = names.first().map_or("", |(_, note)| note.as_str());
            let _ = writeln!(lines, "{:<31} # {}", format!("{field} = {value}"), comment(note));
        }
        if let Some(header) = &self.numbers {
            let what = format!("'{}' numbers each table anew: questions are called by table and row", comment(header));
            let _ = writeln!(lines, "{:<31} # {what}", "id = []");
        }
        let mut told = Vec::new();
        for (header, field) in self.tables.iter().flat_map(|own| &own.misnamed) {
            let is_placed = self.columns.iter().any(|(own, _)| own == field);
            let is_told = *field == "id" && self.numbers.is_some();
            if !is_placed && !is_told && !told.contains(field) {
                told.push(field);
                let _ = writeln!(
                    lines,
                    "{:<31} # the column '{}' holds something else",
                    format!("{field} = []"),
                    comment(header)
                );
            }
        }
        if !lines.is_empty() {
            if !text.is_empty() {
                text.push('\n');
            }
            text.push_str("[columns]\n");
            text.push_str(&lines);
        }
    }
}

/// The column of ids, where tables share most of them: 1, 2, 3 in each sheet.
fn numbers(tables: &[&TableGuess]) -> Option<String> {
    // Ids of a sequence that goes on in the next table are those of one question.
    let own: Vec<&&TableGuess> = tables.iter().filter(|own| !own.ids.is_empty() && own.others.step.is_none()).collect();
    let shared = |pair: &[&&TableGuess]| {
        let [a, b] = pair else { return false };
        a.ids.intersection(&b.ids).count() * 2 > a.ids.len().min(b.ids.len())
    };
    if own.len() < 2 || own.windows(2).filter(|pair| shared(pair)).count() * 2 < own.len() {
        return None;
    }
    let placed = own.first()?.fields.iter().find(|own| own.field == "id")?;
    Some(placed.column.clone())
}

/// A text as a comment has it: on one line.
fn comment(text: &str) -> String {
    text.chars().map(|own| if own.is_control() { ' ' } else { own }).collect()
}

/// A text as a string of the profile (TOML 1.0, basic strings).
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for own in text.chars() {
        match own {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            own if own.is_control() => {
                let _ = write!(out, "\\u{:04X}", u32::from(own));
            }
            own => out.push(own),
        }
    }
    out + "\""
}

/// What a column holds, in a word.
pub(super) fn kind_of(column: &Column) -> String {
    let Column { filled, drawings, lists, arrows, numbers, .. } = *column;
    let what = [(drawings, "structures"), (lists, "lists of structures"), (arrows, "arrows"), (numbers, "numbers")];
    let most = what.into_iter().max_by_key(|(count, _)| *count).filter(|(count, _)| count * 2 > filled);
    format!("{}, {filled} filled", most.map_or("text", |(_, what)| what))
}
